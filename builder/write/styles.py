"""Style roles of specs/styles.toml as formats of one workbook, made once each."""

from __future__ import annotations

from typing import Any, Mapping

from builder.spec import SpecError


class Styles:
    """Formats by role and number format."""

    def __init__(self, book: Any, roles: Mapping[str, Mapping[str, Any]]) -> None:
        self.book, self.roles = book, roles
        self.made: dict[tuple[tuple[str, ...], str], Any] = {}

    def get(self, *roles: str, number: str = "") -> Any:
        """The format that joins the roles, later ones over earlier ones."""
        wanted = tuple(role for role in roles if role)
        if (wanted, number) not in self.made:
            values: dict[str, Any] = {"font_name": "Arial", "font_size": 10, "locked": True}
            for role in wanted:
                if role not in self.roles:
                    raise SpecError("styles.toml", role, "is not a style role", f"Use one of {', '.join(self.roles)}")
                values |= {key: value for key, value in self.roles[role].items() if key != "base"}
            if number:
                values["num_format"] = number
            self.made[wanted, number] = self.book.add_format(values)
        return self.made[wanted, number]


def number_format(decimals: int, unit: str = "", date: bool = False) -> str:
    """As in 0.00; a date as year-month-day."""
    del unit
    return "yyyy-mm-dd" if date else "0" if decimals <= 0 else "0." + "0" * decimals
