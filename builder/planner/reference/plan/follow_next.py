"""After the operation: what the follow-up of an eye still lacks, for the line that says what to type next."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.cells import EyeValues, Values, flag, there
from builder.planner.reference.plan.follow_plan import NONE, UNKNOWN

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
    _gaps(values, words, where, ~begun | (eye.follow_refused > 0))


def _gaps(values: Values, words: Words, where: Mapping[tuple[str, str], str], not_asked: NDArray[np.bool_]) -> None:
    """The table from which the cells take it: a flag and a sentence for each thing that may be lacking."""
    eye = EyeValues(values)
    lacks = {key: ~there(values.get("eyes", key)) for key in ("judge_visit", "fitted_power", "fitted_cylinder")}
    cylinder = np.nan_to_num(eye.fitted_cylinder)
    table = [
        (not_asked, "", ""),
        (lacks["judge_visit"] & there(eye.visit_to_judge), "next_visit_asked", "seen_sphere"),
        (lacks["judge_visit"], "next_visit", "seen_sphere"),
        (lacks["fitted_power"] & there(eye.implanted_lens), "next_fitted_power", "implanted_power"),
        (lacks["fitted_power"], "next_fitted", "implanted_lens"),
        (lacks["fitted_cylinder"], "next_fitted_cylinder", "implanted_cylinder"),
        (eye.against_place == NONE, "next_plan_moved", "operated_code"),
        (eye.against_place == UNKNOWN, "next_code_unknown", "operated_code"),
        (cylinder == 0, "", ""),
        (~there(eye.fitted_axis), "next_fitted_axis", "implanted_axis"),
        (~there(eye.judged_lens_axis), "next_lens_seen", "seen_lens_axis"),
    ]
    flags = np.stack([flag(holds) for holds, _, _ in table], axis=-1)
    said = np.full(flags.shape, "", dtype=object)
    for number, (_, word, cell) in enumerate(table):
        for side, name in enumerate(EYES):
            said[:, side, number] = words.get("word", word) + where[cell, name] if word else ""
    values.put("follow_gaps", gap_flag=flags, gap_words=said)


def _first(eye: EyeValues, at: tuple[int, ...]) -> tuple[str, str]:
    """The word for what is lacking and the input it is typed into; empty when nothing is."""
    if np.isnan(eye.judge_visit[at]):
        return "next_visit" if np.isnan(eye.visit_to_judge[at]) else "next_visit_asked", "seen_sphere"
    if np.isnan(eye.fitted_power[at]):
        known = there(eye.implanted_lens)[at]  # another lens than the planned one takes no figure of the plan
        return ("next_fitted_power", "implanted_power") if known else ("next_fitted", "implanted_lens")
    if np.isnan(eye.fitted_cylinder[at]):
        return "next_fitted_cylinder", "implanted_cylinder"
    if eye.against_place[at] in (NONE, UNKNOWN):
        return "next_plan_moved" if eye.against_place[at] == NONE else "next_code_unknown", "operated_code"
    if eye.fitted_cylinder[at] > 0 and np.isnan(eye.fitted_axis[at]):
        return "next_fitted_axis", "implanted_axis"
    if eye.fitted_cylinder[at] > 0 and np.isnan(eye.judged_lens_axis[at]):
        return "next_lens_seen", "seen_lens_axis"
    return "", ""
