"""The catalogue of slips: right cases, each spoilt in one way, and whether the workbook notices."""
