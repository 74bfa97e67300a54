"""The workbooks of the product, by the folders of their specs, beside the planning workbook itself."""

REGISTER = "register"
