"""Type values into workbooks as a person at LibreOffice would: no recalculation is forced, only what follows.

A Basic macro in a fresh profile opens each file with the program's default settings, sets cells, and saves all of them
as text, a file for each sheet.
"""

import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from builder.engine.exchange import office
from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.office_values import FILTER, OPTIONS, sheet_titles, told_cells

Typed = Mapping[tuple[str, str], float | str | None]

_FRAME = """
Sub Play(jobs As String)
  Dim files, lines, document, part, options(0) As New com.sun.star.beans.PropertyValue
{before}
  options(0).Name = "Hidden" : options(0).Value = True
  files = createUnoService("com.sun.star.ucb.SimpleFileAccess")
  lines = createUnoService("com.sun.star.io.TextInputStream")
  lines.setInputStream(files.openFileRead(jobs))
  lines.setEncoding("UTF-8")
  Do While Not lines.isEOF()
    part = Split(lines.readLine(), Chr(9))
    If part(0) = "open" Then
      document = StarDesktop.loadComponentFromURL(part(1), "_blank", 0, options())
    ElseIf part(0) = "save" Then
      document.storeToURL(part(1), saved())
      document.close(True)
    ElseIf UBound(part) = 3 Then
{typed}
    End If
  Loop
  lines.closeInput()
End Sub
"""
_SAVED = """
  Dim cell, saved(1) As New com.sun.star.beans.PropertyValue
  saved(0).Name = "FilterName" : saved(0).Value = "{filter}"
  saved(1).Name = "FilterOptions" : saved(1).Value = "{options}"
""".replace("{filter}", FILTER).replace("{options}", OPTIONS)
_TYPED = """
      cell = document.Sheets.getByName(part(1)).getCellRangeByName(part(2))
      If part(0) = "number" Then cell.setValue(Val(part(3)))
      If part(0) = "text" Then cell.setString(part(3))
      If part(0) = "blank" Then cell.clearContents(1023 - 32)
"""
_LIBRARY = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE library:library PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "library.dtd">
<library:library xmlns:library="http://openoffice.org/2000/library" library:name="Standard" library:readonly="false"
 library:passwordprotected="false"><library:element library:name="Typing"/></library:library>
"""
_MODULE = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Typing" script:language="StarBasic">{code}
</script:module>
"""


def procedure(before: str, typed: str) -> str:
    """A procedure Play that opens, types into and saves the workbooks of a script of lines with tabs.

    `before`: what it declares, `saved()` (how a file is saved) among it; `typed`: what it does with a line of four
    parts, of which the second and third are the sheet and the cell.
    """
    return _FRAME.format(before=before.strip("\n"), typed=typed.strip("\n"))


def play_macro(home: Path, code: str, play: Path) -> None:
    """Runs the Basic procedure Play of `code` in a fresh profile; it is handed the address of the file `play`."""
    office.run(home, "--terminate_after_init")  # the first start of a profile ignores macros
    library = home / "user" / "basic" / "Standard"
    library.mkdir(parents=True, exist_ok=True)
    (library / "script.xlb").write_text(_LIBRARY, encoding="utf-8")
    (library / "Typing.xba").write_text(_MODULE.format(code=escape(code)), encoding="utf-8")
    office.run(home, f'macro:///Standard.Typing.Play("{play.as_uri()}")')


def type_into(jobs: Sequence[tuple[Path, Typed]]) -> list[Cells]:
    """For each (workbook, values to type) the values of the whole workbook afterwards; the files stay untouched.

    A number, a text or None (clear the cell) is typed at (sheet title, address). KeyError for a cell that the
    workbook does not have; EngineFailed when LibreOffice did not save, for example because a sheet is unknown.
    """
    with tempfile.TemporaryDirectory(prefix="typed-") as name, office.profile(recalculate=False) as home:
        copies = [Path(name) / f"{number}.csv" for number in range(len(jobs))]
        script: list[str] = []
        for (path, typed), copy in zip(jobs, copies, strict=True):
            unknown = set(typed) - set(read_values(path))
            if unknown:
                raise KeyError(f"{path} has no cell {sorted(unknown)}")
            script.append(f"open\t{Path(path).resolve().as_uri()}")
            script += [_line(sheet, address, value) for (sheet, address), value in typed.items()]
            script.append(f"save\t{copy.as_uri()}")
        play = Path(name) / "jobs.txt"
        play.write_text("\n".join(script), encoding="utf-8")
        play_macro(home, procedure(_SAVED, _TYPED), play)
        told = [
            {title: copy.with_name(f"{copy.stem}-{title}.csv") for title in sheet_titles(path)}
            for (path, _), copy in zip(jobs, copies, strict=True)
        ]
        missing = [str(path) for (path, _), files in zip(jobs, told, strict=True) if not _exist(files)]
        if missing:
            raise office.EngineFailed(f"LibreOffice saved nothing after typing into {', '.join(missing)}")
        return [told_cells(files) for files in told]


def _exist(files: Mapping[str, Path]) -> bool:
    return all(file.exists() for file in files.values())


def _line(sheet: str, address: str, value: float | str | None) -> str:
    kind, text = ("blank", "") if value is None else ("text" if isinstance(value, str) else "number", str(value))
    if {"\t", "\n"} & set(sheet + text):
        raise ValueError(f"tabs and line breaks cannot be typed: {text!r}")
    return f"{kind}\t{sheet}\t{address}\t{text}"
