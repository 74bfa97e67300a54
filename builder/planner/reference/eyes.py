"""The eyes, in the order in which rows of both hold them: the sides of the planning workbook.

An echo: the sides and their order as the cells have them, read from the same file; nothing is computed.
"""

from builder.engine.spec.reading import SPECS, read_toml

EYES: tuple[str, ...] = tuple(read_toml(SPECS / "plan" / "workbook.toml")["sides"]["keys"])
