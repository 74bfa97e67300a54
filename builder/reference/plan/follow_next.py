"""After the operation: what the follow-up of an eye still lacks, for the line that says what to type next."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from builder.reference.plan.cells import EyeValues, Values, there
from builder.spec.model import EYES
from builder.spec.words import Words

OF_THE_LENS = ("implanted_lens", "implanted_power", "implanted_cylinder", "implanted_axis")
OF_A_VISIT = ("day", "sphere", "cylinder", "axis", "acuity", "lens_axis")  # the vertex distance has a default


def what_lacks(values: Values, words: Words, where: Mapping[tuple[str, str], str]) -> None:
    """Whether anything after the operation is typed, and what is to be typed next: the visit, then the lens."""
    eye = EyeValues(values)
    begun = np.any([there(values.get("eyes", key)) for key in OF_THE_LENS], axis=0)
    for key in OF_A_VISIT:
        begun = begun | np.any(there(values.get("checkups", f"seen_{key}")), axis=-1)
    said = np.full(begun.shape, "", dtype=object)
    for at in np.ndindex(begun.shape):
        if begun[at] and eye.follow_refused[at] == 0:
            side = EYES[at[1]]
            word, cell = _first(eye, at)
            if word:
                said[at] = words.get("word", f"{side}_opening") + words.get("word", word) + where[cell, side]
    values.put("eyes", follow_begun=begun.astype(float), follow_next=said)


def _first(eye: EyeValues, at: tuple[int, ...]) -> tuple[str, str]:
    """The word for what is lacking and the input it is typed into; empty when nothing is."""
    if np.isnan(eye.judge_visit[at]):
        return "next_visit" if np.isnan(eye.visit_to_judge[at]) else "next_visit_asked", "seen_sphere"
    if np.isnan(eye.fitted_power[at]):
        known = there(eye.implanted_lens)[at]  # another lens than the planned one takes no figure of the plan
        return ("next_fitted_power", "implanted_power") if known else ("next_fitted", "implanted_lens")
    if np.isnan(eye.fitted_cylinder[at]):
        return "next_fitted_cylinder", "implanted_cylinder"
    if eye.fitted_cylinder[at] > 0 and np.isnan(eye.fitted_axis[at]):
        return "next_fitted_axis", "implanted_axis"
    if eye.fitted_cylinder[at] > 0 and np.isnan(eye.judged_lens_axis[at]):
        return "next_lens_seen", "seen_lens_axis"
    return "", ""
