"""The codes of warnings: numbers of which no exchange of two gives the same sum (a Sidon set, modulo a constant)."""

from __future__ import annotations

from collections.abc import Sequence, Set
from itertools import islice

from builder.engine.spec.errors import SpecError
from builder.engine.spec.points import WARNINGS
from builder.engine.spec.workbook import WorkbookSpec

FIRST = 1000  # codes have four digits
OFFERED = 3


def distances(codes: Sequence[int], modulus: int) -> list[int]:
    """The distance from each code to each other one, modulo the number that sums are reduced by.

    No two are alike in a set whose sums of two are all different.
    """
    return [(a - b) % modulus for at, a in enumerate(codes) for other, b in enumerate(codes) if at != other]


def fits(code: int, codes: Sequence[int], modulus: int) -> bool:
    """Whether a code may join others: all its distances from them are new."""
    return _fits(code, codes, set(distances(codes, modulus)), modulus)


def _fits(code: int, codes: Sequence[int], taken: Set[int], modulus: int) -> bool:
    new = [d for other in codes for d in ((code - other) % modulus, (other - code) % modulus)]
    return 0 not in new and len(set(new)) == len(new) and not taken & set(new)


def free_codes(codes: Sequence[int], modulus: int) -> list[int]:
    """The smallest codes that may join those given, at most three."""
    taken = set(distances(codes, modulus))
    free = (code for code in range(FIRST, modulus) if _fits(code, codes, taken, modulus))
    return list(islice(free, OFFERED))


def check_codes(spec: WorkbookSpec) -> None:
    """Each warning has a code that fits beside those of all others and beside the retired ones.

    Raises SpecError for the first that does not; the message names codes that are free.
    """
    if not spec.codes:
        return
    modulus, kept = int(spec.constants[spec.codes].value), list(spec.retired_codes)
    warnings = [point for point in spec.points if point.level in WARNINGS]
    given = [*kept, *(point.code for point in warnings)]
    apart = distances(given, modulus)
    if all(given) and len(set(apart)) == len(apart):
        return
    for point in warnings:
        if point.code and fits(point.code, kept, modulus):
            kept.append(point.code)
            continue
        others = [other.code for other in warnings if other.code and other is not point]
        free = ", ".join(map(str, free_codes([*spec.retired_codes, *others], modulus)))
        wrong = "lacks a code"
        if point.code:
            wrong = f"has the code {point.code}, with which an exchange of two warnings can go unseen"
        todo = f"Write one that is free, such as {free}; once released it is never changed"
        raise SpecError(point.file, point.key, wrong, todo)
