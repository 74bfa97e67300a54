"""Whether a number that is stored and the same number computed by a program may be shown as two.

They differ in their last bits. That is seen where the digits shown end in a tie, and where one is 0 and the other a
noise that gets a sign.
"""

from __future__ import annotations

from typing import Any

from builder.engine.same import is_number
from builder.engine.spec.model import SIGNED, Row

NEAR = 1e-6  # of the last shown digit
PERCENT = "percent"


def shown_apart(row: Row, stored: Any, computed: Any) -> bool:
    """Of two values that are the same but for arithmetic."""
    if stored == computed or not is_number(stored) or not is_number(computed):
        return False
    styles = row.style.split()
    if SIGNED in styles and 0.0 in (stored, computed):
        return True
    shown = abs(stored) * 10.0 ** (row.decimals + 2 * (PERCENT in styles))
    return abs(shown % 1 - 0.5) < NEAR
