"""Very many hostile workbooks through the programs, and damaged files through the commands."""
