"""Spoils one token of many formulas and looks whether the tests' comparison notices it."""
