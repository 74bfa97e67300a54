"""One workbook in very many typed states, read back fast: 0.1 s a state where opening a file takes a second.

LibreOffice and Gnumeric open the workbook once and type state after state, taking each back before the next: a macro
does it in LibreOffice, Gnumeric's own library in Gnumeric, which computes every formula anew for each state.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from openpyxl.utils import coordinate_to_tuple, get_column_letter, range_boundaries

from builder.engine.exchange import office
from builder.engine.exchange.cellvalues import Cells, Value, read_values
from builder.planner.reference.plan.judge import ErrorValue
from tests.support.told_states import told_states, whole
from tests.support.typing_macro import play_macro


class TypedFormula(str):
    """A formula typed into an input, without its equals sign."""


class LockedOver(str):
    """A text pasted with its cell, whose lock and number format come along."""


State = Mapping[tuple[str, str], Value]
Areas = Mapping[str, Sequence[str]]  # what is told of a sheet, as "B5:D9" each, by its title

_MACRO = """
Sub Play(jobs As String)
  Dim files, lines, told, document, cell, part, area, rows, r
  Dim formats As New Collection
  Dim language As New com.sun.star.lang.Locale
  Dim options(0) As New com.sun.star.beans.PropertyValue
  options(0).Name = "Hidden" : options(0).Value = True
  files = createUnoService("com.sun.star.ucb.SimpleFileAccess")
  lines = createUnoService("com.sun.star.io.TextInputStream")
  lines.setInputStream(files.openFileRead(jobs))
  lines.setEncoding("UTF-8")
  told = createUnoService("com.sun.star.io.TextOutputStream")
  told.setOutputStream(files.openFileWrite(jobs & ".told"))
  told.setEncoding("UTF-8")
  Do While Not lines.isEOF()
    part = Split(lines.readLine(), Chr(9))
    If part(0) = "open" Then
      document = StarDesktop.loadComponentFromURL(part(1), "_blank", 0, options())
      document.lockControllers() ' no picture is drawn anew for each cell that is typed
      document.addActionLock()
    ElseIf part(0) = "close" Then
      document.close(True)
    ElseIf part(0) = "state" Then
      document.calculate()
      told.writeString("state" & Chr(10))
    ElseIf part(0) = "tell" Then
      area = document.Sheets.getByName(part(1)).getCellRangeByName(part(2))
      told.writeString("area" & Chr(9) & part(1) & Chr(9) & part(2) & Chr(10))
      rows = area.getDataArray()
      For r = 0 To UBound(rows)
        told.writeString("row" & Chr(9) & Join(rows(r), Chr(9)) & Chr(10))
      Next r
    ElseIf part(0) = "kinds" Then
      area = document.Sheets.getByName(part(1)).getCellRangeByName(part(2))
      told.writeString("kinds" & Chr(9) & part(1))
      For r = 0 To 2 ' formulas that give a number, a text, an error
        told.writeString(Chr(9) & area.queryFormulaCells(2 ^ r).RangeAddressesAsString)
      Next r
      told.writeString(Chr(10))
    ElseIf UBound(part) = 3 Then
      cell = document.Sheets.getByName(part(1)).getCellRangeByName(part(2))
      If part(0) = "number" Then cell.setValue(Val(part(3)))
      If part(0) = "text" Then cell.setString(part(3))
      If part(0) = "blank" Then cell.clearContents(1023 - 32)
      If part(0) = "formula" Then cell.setFormula(part(3))
      If part(0) = "logical" Then
        formats.Add(cell.NumberFormat, part(1) & part(2))
        cell.NumberFormat = document.NumberFormats.getStandardFormat(com.sun.star.util.NumberFormat.LOGICAL, language)
        cell.setValue(Val(part(3))) ' last: a picture that reads the cell computes at once
      End If
      If part(0) = "format" Then
        cell.NumberFormat = formats.Item(part(1) & part(2))
        formats.Remove(part(1) & part(2))
      End If
    End If
  Loop
  lines.closeInput()
  told.closeOutput()
End Sub
"""
_GNUMERIC = str(Path(__file__).with_name("gnumeric_states.py"))
_AS_FORMULA = {"#N/A": "=NA()", "#DIV/0!": "=1/0"}


def in_libreoffice(path: Path, states: Sequence[State], areas: Areas) -> list[Cells]:
    """The cells of the areas in each state. An error value comes as SHOWN_ERROR, TRUE as 1 (other tests see both)."""
    at_first = read_values(path)
    script = [f"open\t{path.resolve().as_uri()}"]
    for state in states:
        script += [_line(place, value) for place, value in state.items()]
        script.append("state")
        for sheet, told in areas.items():
            script.append(f"kinds\t{sheet}\t{whole(told)}")
            script += [f"tell\t{sheet}\t{area}" for area in told]
        script += ["\t".join(("format", *place, "")) for place, value in state.items() if isinstance(value, bool)]
        script += [_line(place, at_first[place]) for place in state]
    with tempfile.TemporaryDirectory(prefix="states-") as name, office.profile(recalculate=True) as home:
        play = Path(name) / "jobs.txt"
        play.write_text("\n".join([*script, "close\t"]), encoding="utf-8")
        play_macro(home, _MACRO, play)
        told = play.with_name("jobs.txt.told")
        if not told.exists():
            raise office.EngineFailed(f"LibreOffice told nothing of {path}")
        return told_states(told.read_text(encoding="utf-8"))


def _line(place: tuple[str, str], value: Value) -> str:
    kind, text = "text", str(value)
    if value is None:
        kind, text = "blank", ""
    elif isinstance(value, bool):
        kind, text = "logical", str(int(value))
    elif isinstance(value, TypedFormula):
        kind, text = "formula", f"={value}"
    elif isinstance(value, ErrorValue):
        kind, text = "formula", _AS_FORMULA[value]
    elif not isinstance(value, str):
        kind, text = "number", repr(float(value))
    return "\t".join((kind, *place, text))


@cache
def gnumeric_python() -> str:
    """A Python that has Gnumeric's library, which is the system's. Raises EngineMissing."""
    for python in dict.fromkeys(filter(None, map(shutil.which, ("/usr/bin/python3", "python3")))):
        if subprocess.run([python, _GNUMERIC, "--there"], capture_output=True, check=False).returncode == 0:
            return python
    raise office.EngineMissing(
        "Gnumeric's library is not installed; on Debian: apt-get install gir1.2-gnumeric python3-gi"
    )


def library_missing() -> str | None:
    """What to install before `in_gnumeric` can run; None when it can."""
    try:
        gnumeric_python()
    except office.EngineMissing as reason:
        return str(reason)
    return None


def in_gnumeric(path: Path, states: Sequence[State], areas: Areas) -> list[dict[tuple[str, str], str | None]]:
    """The cells of the areas in each state, all as texts; numbers with 15 digits or more. KeyError for a cell that the
    file has not."""
    known = read_values(path)
    boxes = [(title, range_boundaries(area)) for title, told in areas.items() for area in told]
    job = {
        "path": str(path.resolve()),
        "states": [[_spot(place, value, known) for place, value in state.items()] for state in states],
        "areas": [(title, *(edge - 1 for edge in box)) for title, box in boxes],
    }
    cells = [
        (title, f"{get_column_letter(column)}{line}")
        for title, (left, top, right, bottom) in boxes
        for line in range(top, bottom + 1)
        for column in range(left, right + 1)
    ]
    with tempfile.TemporaryDirectory(prefix="states-") as name:
        told = Path(name) / "told.json"
        done = subprocess.run(
            [gnumeric_python(), _GNUMERIC, str(told)],
            input=json.dumps(job),
            capture_output=True,
            text=True,
            timeout=office.TIMEOUT,
            check=False,
        )
        lines = told.read_text(encoding="utf-8").splitlines() if told.exists() else []
    if done.returncode or len(lines) != len(states):
        raise office.EngineFailed(f"Gnumeric did not compute {path}: {done.stderr.strip()[-1000:]}")
    first = dict(zip(cells, (text or None for text in json.loads(lines[0])), strict=True))
    changes = ({cells[int(n)]: text or None for n, text in json.loads(line).items()} for line in lines[1:])
    return [first, *({**first, **changed} for changed in changes)]


def _spot(place: tuple[str, str], value: Value, known: Cells) -> tuple[str, int, int, str, str]:
    """A typed cell as the script in Gnumeric takes it."""
    known[place]  # a KeyError names the cell that is not there
    line, column = coordinate_to_tuple(place[1])
    if value is None:
        kind, text = "blank", ""
    elif isinstance(value, bool):
        kind, text = "boolean", str(value).upper()
    elif isinstance(value, TypedFormula):
        kind, text = "formula", str(value)
    elif isinstance(value, ErrorValue):
        kind, text = "error", str(value)
    elif isinstance(value, str):
        kind, text = "string", str(value)
    else:
        kind, text = "float", repr(float(value))
    return place[0], line - 1, column - 1, kind, text


def told(text: str | None, wanted: object) -> Value:
    """A text of Gnumeric as a number where a number is expected."""
    if isinstance(wanted, int | float) and isinstance(text, str) and text.lstrip("-")[:1].isdigit():
        return float(text)
    return text
