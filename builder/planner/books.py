"""The workbooks of the product, by the folders of their specs."""

PLAN, REGISTER = "plan", "register"
