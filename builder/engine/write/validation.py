"""Drop-downs and limits of the typed cells, each with the message that a person sees.

The alert is of the kind that keeps what was typed: one that stops throws it away and moves the cursor on, so that the
next number lands in another quantity, and over a filled cell the old value stays in force. The judge beside the cell
refuses what was kept, and nothing is released on it.
"""

from __future__ import annotations

from textwrap import wrap
from typing import Any

from builder.engine.layout import Slot
from builder.engine.spec import SpecError
from builder.engine.spec.lines import TABLE as COLUMNS
from builder.engine.spec.model import Input
from builder.engine.write.job import Job

HELP_LINE = 58  # letters of a line of a help box


def add_validation(job: Job, sheet: Any, slot: Slot, item: Input) -> None:
    """Adds the rule of one typed cell; the judge beside it holds the same limits when the rule was pasted away."""
    if slot.block.instances.long and slot.instance != slot.block.instances.keys[0]:
        return  # one rule serves the whole column
    words = job.spec.words
    rule: dict[str, Any] = {
        "ignore_blank": True,
        "error_type": "information",
        "error_title": words.get("word", "error_title"),
    }
    if item.type == "choice":
        rule |= {
            "validate": "list",
            "source": [words.get("choice", key) for key in item.choices],
            "error_message": words.get("word", "error_choice"),
        }
    elif item.type == "listed":
        rule |= {
            "validate": "list",
            "source": _offered(job, item),
            "error_message": words.get("word", "error_choice"),
        }
    elif item.type in ("number", "date"):
        low, high = (_limit_cell(job, slot, item, end) for end in ("lowest", "highest"))
        rule |= {
            "validate": "decimal",
            "criteria": "between",
            "minimum": low,
            "maximum": high,
            "error_message": words.get("word", "error_date" if item.type == "date" else "error_limits"),
        }
    else:
        rule |= {
            "validate": "length",
            "criteria": "<=",
            "value": int(float(str(item.highest))),
            "error_message": words.get("word", "error_text"),
        }
    if words.has("help", item.key):
        rule |= {"input_title": words.label(item.key)[:32], "input_message": _in_lines(words.get("help", item.key))}
    last = slot.place.line + (len(slot.block.instances.keys) - 1 if slot.block.instances.long else 0)
    if sheet.data_validation(slot.place.line, slot.place.column, last, slot.place.column, rule) != 0:
        raise SpecError(
            item.file, item.key, "has a rule that the file format refuses", "Shorten its choices or messages"
        )


def _offered(job: Job, item: Input) -> str:
    """The cells that a drop-down shows, as one area.

    A program that was tried takes no other, such as one that ends where the words do."""
    shown = item.offers or item.list or ""
    cells = [s.place for s in job.layout.cells(job.layout.lists_of[shown][0], shown).values()]
    title = job.spec.sheet_title(cells[0].sheet)
    return f"='{title}'!{_fixed(cells[0].address)}:{_fixed(cells[-1].address)}"


def _in_lines(text: str) -> str:
    """A help text in lines that fit its box: one of the programs does not wrap it."""
    return "\n".join(wrap(text, HELP_LINE))


def _limit_cell(job: Job, slot: Slot, item: Input, end: str) -> str:
    value = getattr(item, end)
    key = value if isinstance(value, str) else f"{end}_{item.key}"
    if key in job.constants:
        place = job.constants[key]
    elif slot.block.instances.long:
        place = job.layout.cells(COLUMNS, f"column_{end}")["", item.key].place
    else:
        cells = job.layout.cells(job.layout.lists_of[key][0], key)
        place = (cells.get((slot.side, slot.side)) or next(iter(cells.values()))).place
    title = job.spec.sheet_title(place.sheet)
    prefix = "" if place.sheet == slot.place.sheet else f"'{title}'!"
    return f"={prefix}{_fixed(place.address)}"


def _fixed(address: str) -> str:
    letters = "".join(c for c in address if c.isalpha())
    return f"${letters}${address[len(letters) :]}"
