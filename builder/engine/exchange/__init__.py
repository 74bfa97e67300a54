"""Files that came back, opened with distrust, and the programs that recalculate them."""
