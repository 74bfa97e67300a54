"""Drawn changes of a workbook's XML: each is found, or leaves all that is shown as it was."""
