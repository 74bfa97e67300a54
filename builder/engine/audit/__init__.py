"""Reads a workbook file whole: cells, styles, settings, drawings."""
