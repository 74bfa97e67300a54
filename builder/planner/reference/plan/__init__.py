"""The planning workbook computed a second time: typed cells in, a value for every formula cell out.

Everything is computed on arrays of patients and eyes at once. It knows the inputs, the words and the constants of the
specs, and none of their formulas.
"""

from builder.planner.reference.plan.evaluate import Typed, evaluate

__all__ = ["Typed", "evaluate"]
