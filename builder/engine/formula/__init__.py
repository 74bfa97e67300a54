"""Turns formulas with names into formulas with cells, in a dialect that three programs read alike."""
