"""Writes the workbooks from the specs, computes them a second time, and reads back what comes from clinics."""
