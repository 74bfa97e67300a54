"""The product: the plan for an eye and the register of outcomes, computed, filled, read and tried."""
