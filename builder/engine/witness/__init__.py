"""A fourth witness: the formulas of the cells, translated to Python, in the portable dialect and no wider."""
