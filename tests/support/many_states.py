"""One workbook in very many typed states, read back fast: 0.1 s a state where opening a file takes a second.

LibreOffice opens the workbook once and types state after state, taking each back before the next. Gnumeric has no
macros: it opens a copy of the file for each state, with the cells pasted into its XML, and writes plain text.
"""

from __future__ import annotations

import csv
import os
import re
import subprocess
import tempfile
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import islice
from pathlib import Path
from xml.sax.saxutils import escape

from openpyxl.utils import get_column_letter, range_boundaries

from builder.exchange import gnumeric, office
from builder.exchange.cellvalues import Cells, Value, read_values, sheet_parts
from builder.reference.plan.judge import ErrorValue
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


def in_gnumeric(path: Path, states: Sequence[State], areas: Areas) -> list[dict[tuple[str, str], str | None]]:
    """The cells of the areas in each state, all as texts; numbers with 15 digits or more."""
    command = gnumeric.ssconvert()
    last = {title: max(range_boundaries(area)[3] for area in told) for title, told in areas.items()}
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
        sheets = sheet_parts(archive)

    def one(state: State) -> dict[tuple[str, str], str | None]:
        with tempfile.TemporaryDirectory(prefix="state-") as name:
            copy, told = Path(name) / "book.xlsx", Path(name) / "%n.txt"
            paste(parts, sheets, state, copy)
            told_raw = ("-S", "-T", "Gnumeric_stf:stf_assistant", "-O", "format=raw")
            done = subprocess.run(
                [command, "--recalc", *told_raw, str(copy), str(told)],
                capture_output=True,
                text=True,
                timeout=office.TIMEOUT,
                check=False,
            )
            if done.returncode:
                raise office.EngineFailed(f"Gnumeric did not convert {path}: {done.stderr.strip()}")
            return {
                cell: value
                for number, (title, _) in enumerate(sheets)
                for cell, value in _texts(title, Path(name) / f"{number}.txt", last.get(title, 0))
            }

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(one, states))


def _texts(title: str, file: Path, last: int) -> Iterable[tuple[tuple[str, str], str | None]]:
    with file.open(encoding="utf-8", newline="") as handle:
        for line, row in enumerate(islice(csv.reader(handle), last), 1):
            for column, text in enumerate(row, 1):
                yield (title, f"{get_column_letter(column)}{line}"), text or None


def told(text: str | None, wanted: object) -> Value:
    """A text of Gnumeric as a number where a number is expected."""
    if isinstance(wanted, int | float) and isinstance(text, str) and text.lstrip("-")[:1].isdigit():
        return float(text)
    return text


def paste(parts: Mapping[str, bytes], sheets: Sequence[tuple[str, str]], state: State, target: Path) -> None:
    """A copy of a workbook, given by its parts, with these cells typed into its XML. KeyError for a cell it has not."""
    changed = dict(parts)
    for title, part in sheets:
        for (sheet, address), value in state.items():
            if sheet == title:
                cell = re.compile(rf'<c r="{address}"( s="\d+")?[^>]*?(?:/>|>.*?</c>)'.encode(), re.S)
                changed[part], found = cell.subn(lambda hit, v=value: _cell(hit[0], v), changed[part], count=1)
                if not found:
                    raise KeyError(f"{title}!{address} is no cell of the file")
    with zipfile.ZipFile(target, "w") as archive:
        for name, data in changed.items():
            archive.writestr(name, data)


def _cell(old: bytes, value: Value) -> bytes:
    head = re.match(rb'<c r="[A-Z]+\d+"(?: s="\d+")?', old)
    assert head
    if value is None:
        return head[0] + b"/>"
    if isinstance(value, TypedFormula):
        return head[0] + f"><f>{escape(value)}</f></c>".encode()
    if isinstance(value, LockedOver):
        return head[0].partition(b" s=")[0] + f' s="0" t="inlineStr"><is><t>{escape(value)}</t></is></c>'.encode()
    if isinstance(value, bool):
        kind, inner = "b", f"<v>{int(value)}</v>"
    elif isinstance(value, ErrorValue):
        kind, inner = "e", f"<v>{value}</v>"
    elif isinstance(value, str):
        kind, inner = "inlineStr", f'<is><t xml:space="preserve">{escape(value)}</t></is>'
    else:
        kind, inner = "n", f"<v>{value!r}</v>"
    return head[0] + f' t="{kind}">{inner}</c>'.encode()
