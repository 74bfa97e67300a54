"""The eyes, in the order in which rows of both hold them: the sides of the planning workbook."""

from builder.engine.spec.reading import SPECS, read_toml

EYES: tuple[str, ...] = tuple(read_toml(SPECS / "plan" / "workbook.toml")["sides"]["keys"])
