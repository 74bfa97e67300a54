"""What the builder calls itself in files that it writes; each workbook has its own version, in specs/*/changes.toml."""

WRITER = "Planning workbook builder"
VERSION = "0.1.0"
