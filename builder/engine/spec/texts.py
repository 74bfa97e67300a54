"""A typed text as formulas take it: without what programs treat each in its own way."""

from __future__ import annotations

GAPS = (14, 6, 3, 2, 2)  # spaces taken for one, one after the other: together they close a gap of up to 399
CAPITALS = ("İ", "I")  # in a Turkish office UPPER makes the first of an i, everywhere else the second
SIGNS = ("*", "?", "~")  # what a search takes for other letters


def closed(text: str) -> str:
    """A typed text without spaces at its ends and with single ones inside, whatever TRIM does within a text."""
    for gap in GAPS:
        text = f'SUBSTITUTE({text},"{" " * gap}"," ")'
    return f"TRIM({text})"
