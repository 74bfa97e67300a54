"""Writes a laid out workbook: cells, styles, limits, charts, protection. It computes nothing."""
