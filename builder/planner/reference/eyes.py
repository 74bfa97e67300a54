"""The eyes, in the order in which rows of both hold them: the sides of the planning workbook.

An echo: the sides as the cells have them; a workbook with others is refused.
"""

EYES = ("right", "left")
