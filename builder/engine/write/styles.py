"""Style roles of specs/styles.toml as formats of one workbook, made once each."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from builder.engine.spec import SpecError

PLAIN = {"font_name": "Arial", "font_size": 10, "locked": True, "valign": "vcenter"}


class Styles:
    """Formats by role and number format. A role may say `sign`: its numbers carry + or -."""

    def __init__(self, book: Any, roles: Mapping[str, Mapping[str, Any]]) -> None:
        self.book, self.roles = book, roles
        self.said: dict[tuple[str, ...], Mapping[str, Any]] = {}
        self.made: dict[tuple[tuple[str, ...], str], Any] = {}

    def get(self, *roles: str, number: str = "") -> Any:
        """The format that joins the roles, later ones over earlier ones; a role may be several with spaces between."""
        wanted = _single(roles)
        if (wanted, number) not in self.made:
            values = dict(self.values(*wanted))
            if number:
                values["num_format"] = f"+{number};-{number};{number}" if values.get("sign") else number
            values.pop("sign", None)
            self.made[wanted, number] = self.book.add_format(values)
        return self.made[wanted, number]

    def values(self, *roles: str) -> Mapping[str, Any]:
        """What the joined roles say."""
        if roles not in self.said:
            values: dict[str, Any] = dict(PLAIN)
            for role in _single(roles):
                if role not in self.roles:
                    raise SpecError("styles.toml", role, "is not a style role", f"Use one of {', '.join(self.roles)}")
                values |= self.roles[role]
            self.said[roles] = values
        return self.said[roles]


@cache  # the same roles stand at many cells
def _single(roles: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(single for role in roles for single in role.split())


def number_format(decimals: int, date: bool = False) -> str:
    """As in 0.00; a date as year-month-day."""
    return "yyyy-mm-dd" if date else "0" if decimals <= 0 else "0." + "0" * decimals
