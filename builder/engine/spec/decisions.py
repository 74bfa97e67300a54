"""Rows that choose: `shown` … `when`, `first_of`, and `picked` … `at` or `by`, read and made into formulas in names.

Such a row holds no arithmetic, so nothing in it nests deeper than two, however many cases it has.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from builder.engine.spec.errors import SpecError

WORDS = ("shown", "when", "first_of", "picked", "at", "by", "otherwise")
HEADS = ("shown", "first_of", "picked")  # one of these makes a row choose
NAME = re.compile(r"[A-Za-z_@][\w.@]*")
NESTED = 2  # so many cases are read as IF inside IF; more are counted


def only_names(formulas: Sequence[str]) -> bool:
    """Whether there is a formula, and each one only shows another cell."""
    given = [formula for formula in formulas if formula]
    return bool(given) and all(NAME.fullmatch(formula) for formula in given)


@dataclass(frozen=True)
class Decision:
    """How a row chooses: the value of the first case that holds, or the cell of a list at a place or by its flag.

    `cases`: (flag or condition, value) in their order. `picked`: the list; `at`: the place in it, counted from 1;
    `by`: the list of flags beside it, of which the first 1 counts. `otherwise`: the value when nothing holds.
    """

    cases: tuple[tuple[str, str], ...] = ()
    otherwise: str = '""'
    picked: str = ""
    at: str = ""
    by: str = ""

    @property
    def parts(self) -> tuple[str, ...]:
        """Every name, condition and value that it speaks of."""
        cases = (part for case in self.cases for part in case)
        return tuple(part for part in (*cases, self.picked, self.at, self.by, self.otherwise) if part)

    @property
    def follows(self) -> bool:
        """Whether it only shows what other cells hold: every flag and every value is a name."""
        return all(NAME.fullmatch(part) or part == '""' for part in self.parts)

    @property
    def said(self) -> str:
        """As a person reads it."""
        if self.picked:
            return f"{self.picked} {f'at {self.at}' if self.at else f'by {self.by}'}{self._else()}"
        return "first of " + ", ".join(f"{when}: {value}" for when, value in self.cases) + self._else()

    def _else(self) -> str:
        return "" if self.otherwise == '""' else f", otherwise {self.otherwise}"

    def formula(self, across: bool = False) -> str:
        """In names; `across`: the list lies in one line and not in one column."""
        if self.picked:
            place = self.at or f"MATCH(1,{self.by},0)"
            found = f"INDEX({self.picked},1,{place})" if across else f"INDEX({self.picked},{place},1)"
            there = f"COUNT({self.at})=1" if self.at else f"COUNTIF({self.by},1)>0"
            return f"IF({there},{found},{self.otherwise})"
        tests = [f"{when}=1" if NAME.fullmatch(when) else when for when, _ in self.cases]
        values = [value for _, value in self.cases]
        if len(tests) > NESTED:
            last = len(tests) + 1
            places = ",".join(f"IF({test},{place},{last})" for place, test in enumerate(tests, start=1))
            return f"CHOOSE(MIN({places}),{','.join(values)},{self.otherwise})"
        written = self.otherwise
        for test, value in zip(reversed(tests), reversed(values), strict=True):
            written = f"IF({test},{value},{written})"
        return written


def read_decision(file: str, table: dict[str, Any]) -> Decision | None:
    """What a row chooses; None for a row that computes. Raises SpecError for words that do not go together."""
    key = table["key"]
    heads = [name for name in HEADS if name in table]
    given = {name: table[name] for name in WORDS if name in table}
    if not given:
        return None
    wanted = {"shown": ({"shown", "when"},), "first_of": ({"first_of"},)}
    picked = ({"picked", "at"}, {"picked", "by"})
    fits = len(heads) == 1 and set(given) - {"otherwise"} in wanted.get(heads[0], picked)
    if not fits or {"formula", "formulas"} & set(table) or ("first_of" in table and "otherwise" in table):
        todo = "Give `shown` and `when`, or `first_of`, or `picked` and `at` or `by`, and no formula beside it"
        raise SpecError(file, key, f"has {', '.join(given)}, which do not make one choice", todo)
    otherwise = given.get("otherwise", '""')
    if "picked" in given:
        made = Decision((), otherwise, given["picked"], given.get("at", ""), given.get("by", ""))
    elif "shown" in given:
        made = Decision(((given["when"], given["shown"]),), otherwise)
    else:
        cases = list(given["first_of"])
        otherwise = cases.pop() if isinstance(cases[-1], str) else otherwise
        made = Decision(tuple((when, value) for when, value in cases), otherwise)
    from builder.engine.spec.grammar import (
        demand_formula,  # late: what is kept of a workbook is read without a tokenizer
    )

    demand_formula(file, key, *made.parts)
    return made
