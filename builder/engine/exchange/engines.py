"""Recalculate workbooks in independent programs and read the result.

stored       the values in the file, as the last program left them
formulas     the Python library `formulas`
libreoffice  LibreOffice Calc, every formula computed anew on load
gnumeric     Gnumeric, every formula computed anew on load
ironcalc     the compiled library IronCalc
"""

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from builder.engine.exchange import gnumeric, office
from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.formulas_model import FormulasModel, library
from builder.engine.exchange.ironcalc_model import IronCalcModel
from builder.engine.exchange.ironcalc_model import library as compiled_library
from builder.engine.exchange.office import EngineMissing
from builder.engine.exchange.office_values import office_values

INDEPENDENT = ("formulas", "libreoffice", "gnumeric", "ironcalc")


def recalculate(paths: Sequence[Path], engine: str) -> list[Cells]:
    """Values of each workbook by (sheet title, address), computed by the named engine.

    Numbers are float, blank cells and empty texts None, error values texts such as "#VALUE!"; a logical value
    comes as bool so that a test can refuse it. LibreOffice hands over 15 digits, the others 16 or 17.
    Raises EngineMissing, EngineFailed, UnreadableFile; ValueError for an unknown engine.
    """
    if engine not in _ENGINES:
        raise ValueError(f"unknown engine {engine!r}; known: {', '.join(_ENGINES)}")
    return _ENGINES[engine]([Path(path) for path in paths])


def recalculated_text(paths: Sequence[Path], engine: str) -> list[Cells]:
    """As recalculate, but LibreOffice tells plain text, in half the time: 15 digits, of a number below 0.0001 fewer."""
    return office_values(paths, recalculate=True) if engine == "libreoffice" else recalculate(paths, engine)


def shown_on_opening(paths: Sequence[Path]) -> list[Cells]:
    """Values that LibreOffice shows with its default settings, which do not recalculate such files on load.

    Plain text as in recalculated_text."""
    return office_values(paths, recalculate=False)


def missing(engine: str) -> str | None:
    """Why an engine cannot run here and what to install; None when it can."""
    try:
        _PROGRAMS[engine]()
    except EngineMissing as reason:
        return str(reason)
    return None


def _converted(convert: Callable[[Path], list[Path]]) -> list[Cells]:
    with tempfile.TemporaryDirectory(prefix="recalculated-") as name:
        return [read_values(path) for path in convert(Path(name))]


_ENGINES: dict[str, Callable[[Sequence[Path]], list[Cells]]] = {
    "stored": lambda paths: [read_values(path) for path in paths],
    "formulas": lambda paths: [FormulasModel(path).calculate() for path in paths],
    "libreoffice": lambda paths: _converted(lambda target: office.convert(paths, target)),
    "gnumeric": lambda paths: _converted(lambda target: gnumeric.convert(paths, target)),
    "ironcalc": lambda paths: [IronCalcModel(path).calculate() for path in paths],
}
_PROGRAMS: dict[str, Callable[[], object]] = {
    "formulas": library,
    "libreoffice": office.soffice,
    "gnumeric": gnumeric.ssconvert,
    "ironcalc": compiled_library,
}
