"""How much memory a stretch of tests took, whatever the process had taken before."""

from __future__ import annotations

import re
from pathlib import Path

_STATUS, _CLEAR = Path("/proc/self/status"), Path("/proc/self/clear_refs")
_PEAK_BEGINS_ANEW = "5"  # what Linux takes as "from now on"


def begin() -> int | None:
    """The memory held now, in kB, from which `peak` counts; None where the system does not tell."""
    try:
        _CLEAR.write_text(_PEAK_BEGINS_ANEW)
        return _held("VmRSS")
    except OSError:
        return None


def peak() -> int:
    """The most memory held since `begin`, in kB."""
    return _held("VmHWM")


def _held(key: str) -> int:
    found = re.search(rf"^{key}:\s+(\d+) kB", _STATUS.read_text(), re.MULTILINE)
    if not found:
        raise OSError(f"{_STATUS} does not tell {key}")
    return int(found[1])
