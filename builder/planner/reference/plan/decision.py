"""The state of an eye in words, for the sheet of the decision, whose other cells all show what others compute."""

from __future__ import annotations

import numpy as np

from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import EyeValues, Values


def state_in_words(book: Book, values: Values) -> None:
    """The state, whether the check is finished, and where the warnings in force are confirmed."""
    eye, w = EyeValues(values), book.words.get
    said = np.array(eye.status, dtype=object)
    warned = np.full(said.shape, "", dtype=object)
    for at in np.ndindex(said.shape):
        if eye.eye_used[at] == 1 and eye.warnings_live[at] > 0:
            warned[at] = f"{w('word', 'state_warnings')}{eye.warnings_live[at]:.0f}{w('word', 'state_confirmed_in')}"
            warned[at] += book.where["warnings_confirmed_by", EYES[at[1]]]
        unchecked = w("word", "state_unchecked") if eye.unchecked_shown[at] == 1 else ""
        said[at] += unchecked + warned[at]
    values.put("eyes", state_said=said, warnings_said=warned)
