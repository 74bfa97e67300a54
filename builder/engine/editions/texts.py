"""What a file of specs/editions/ says: its first line, and the dump whose hash the edition holds.

`edition E of loan`, and below it the dump, compactly; `edition E of loan-es beside F`, and below it what the Spanish
dump says otherwise than the English edition F.
"""

from __future__ import annotations

from collections.abc import Callable

from builder.engine.dump import edition_of
from builder.engine.editions import beside
from builder.engine.editions.compact import compact, expand
from builder.engine.model import Model, load_model
from builder.engine.spec.words import ENGLISH

Lines = list[str]


def edition_text(model: Model) -> str:
    """The file of the edition that the specs build now, with the whole dump."""
    return _file(f"edition {model.edition} of {model.spec.title}", list(compact(model)))


def file_text(model: Model) -> str:
    """As edition_text; of another language than English only what it says otherwise than the English edition."""
    if model.spec.language == ENGLISH:
        return edition_text(model)
    english = load_model(model.spec.name, specs=model.spec.home)
    head = f"edition {model.edition} of {model.spec.title} beside {english.edition}"
    return _file(head, list(beside.told(list(compact(model)), list(compact(english)))))


def _file(head: str, lines: Lines) -> str:
    return "\n".join((head, *lines)) + "\n"


def lines_of(text: str) -> Lines:
    """The lines of a file below its first one."""
    return text.removesuffix("\n").split("\n")[1:]


def expanded(text: str, file: str, text_of: Callable[[str], str]) -> tuple[str, str, Lines]:
    """Edition, workbook and lines of a dump; `text_of` gives the file of another edition, and may raise ValueError.

    Raises ValueError when the lines are not what the edition's hash stands for.
    """
    edition, workbook, other = head_of(text.partition("\n")[0], file)
    try:
        lines = lines_of(text)
        cells = list(expand(beside.whole(lines, lines_of(text_of(other))) if other else lines))
    except (ValueError, IndexError, KeyError) as error:
        raise ValueError(f"{file} is no edition: {error}") from None
    if edition_of(edition.rpartition("-")[0], cells) != edition:
        raise ValueError(f"{file} does not hold edition {edition}: it was changed after it was written")
    return edition, workbook, cells


def head_of(line: str, file: str) -> tuple[str, str, str]:
    """Edition and workbook of a file's first line, and the edition beside which it is told or "". Raises ValueError."""
    words = line.split()
    if len(words) not in (4, 6) or words[0] != "edition":
        raise ValueError(f"{file} is no edition: its first line is not 'edition … of …'")
    return words[1], words[3], words[5] if len(words) == 6 else ""
