"""What goes into and comes out of workbooks: case files, filling, recalculating, reading back."""
