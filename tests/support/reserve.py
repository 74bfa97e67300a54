"""The compiled library formualizer: a reserve, should another engine of the suite be given up."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.office import EngineMissing
from tests.support.hostile import pack, parts_of

NONSENSE = "0.777"


def library() -> Any:
    """The package. Raises EngineMissing."""
    try:
        import formualizer
    except ImportError as error:
        raise EngineMissing("the Python package formualizer is not installed; pip install formualizer") from error
    return formualizer


def recalculated(path: Path) -> Cells:
    """The cells of a file as the library computes them; what its formula cells store is replaced by nonsense first."""
    parts = parts_of(path)
    for name in parts:
        if name.startswith("xl/worksheets/sheet"):
            number = re.sub(rb' t="str"(?=><f>)', b"", parts[name])
            parts[name] = re.sub(rb"</f><v>[^<]*</v>|</f><v/>", f"</f><v>{NONSENSE}</v>".encode(), number)
    computed = path.with_name("computed.xlsx")
    library().recalculate_xlsx_file(str(pack(parts, path)), output=str(computed))
    return read_values(computed)
