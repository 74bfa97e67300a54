"""A real spreadsheet window on a virtual screen of 1366 x 768, worked with the keyboard as a person does."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from builder.exchange import office

WIDTH, HEIGHT = 1366, 768
PROGRAMS = {"Xvfb": "xvfb", "xdotool": "xdotool", "openbox": "openbox", "soffice": "libreoffice-calc libreoffice-gtk3"}
PATIENCE = 120  # seconds until the window must stand
# No tip of the day, no question about the format on saving, and the results computed as the file is opened.
SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Common/Misc"><prop oor:name="ShowTipOfTheDay" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Common/Misc"><prop oor:name="FirstRun" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Setup/Product"><prop oor:name="ooSetupLastVersion" oor:op="fuse"><value>99.0</value></prop></item>
<item oor:path="/org.openoffice.Office.Common/Save/Document"><prop oor:name="WarnAlienFormat" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""  # noqa: E501 - one setting a line


def missing() -> str | None:
    """What is not installed of what a window needs, in words; None when all is there."""
    lacking = [package for name, package in PROGRAMS.items() if shutil.which(name) is None]
    return f"no window can be opened; on Debian: apt-get install {' '.join(lacking)}" if lacking else None


class Window:
    """One open workbook. Every entry goes through the program's own typing path."""

    def __init__(self, display: str, path: Path) -> None:
        self.path = path
        self.keys = 0  # pressed by the person so far
        self._environment = os.environ | {"DISPLAY": display}

    def press(self, *keys: str) -> None:
        """Presses keys such as Tab or ctrl+s, one after the other."""
        self._xdotool("key", "--delay", "60", *keys)
        self.keys += len(keys)

    def type(self, text: str) -> None:
        """Types a text letter by letter."""
        self._xdotool("type", "--delay", "40", text)
        self.keys += len(text)

    def go_to(self, address: str) -> None:
        """Puts the cursor into a cell of this workbook, such as $Readings.B61, by the program's own box for it."""
        self.press("ctrl+shift+t")
        time.sleep(0.5)
        self._xdotool("key", "ctrl+a")
        self._xdotool("type", "--delay", "40", address)
        self._xdotool("key", "Return")
        time.sleep(0.5)

    def enter(self, address: str, text: str, alert: str = "") -> None:
        """Types a text into a cell and ends with Enter; an alert of that title is waited for and answered by Enter."""
        self.go_to(address)
        self.type(text)
        self.press("Return")
        if alert:
            _wait(lambda: self.shows(alert), f"no alert '{alert}' came after {text} in {address}")
            time.sleep(0.5)
            self.press("Return")
            _wait(lambda: not self.shows(alert), f"the alert '{alert}' did not go")
        time.sleep(0.5)

    def shows(self, title: str) -> bool:
        """Whether a window of that title is there."""
        return bool(self._xdotool("search", "--onlyvisible", "--name", title).strip())

    def save(self) -> None:
        """Saves with the keyboard and waits until the file is written."""
        before = self.path.stat().st_mtime_ns
        self.press("ctrl+s")
        _wait(lambda: self.path.stat().st_mtime_ns != before, "the file was not saved")
        time.sleep(2.0)

    def picture(self, path: Path) -> None:
        """The screen as it is, as a PNG file."""
        subprocess.run(["import", "-window", "root", str(path)], env=self._environment, check=True, timeout=60)

    def _xdotool(self, *arguments: str) -> str:
        done = subprocess.run(
            ["xdotool", *arguments], env=self._environment, capture_output=True, text=True, timeout=120, check=False
        )
        return done.stdout


def _wait(ready: Callable[[], bool], otherwise: str, patience: int = PATIENCE) -> None:
    end = time.monotonic() + patience
    while not ready():
        if time.monotonic() > end:
            raise office.EngineFailed(otherwise)
        time.sleep(0.5)


@contextmanager
def window(path: Path, folder: Path) -> Iterator[Window]:
    """Opens a workbook in a window on a screen of its own, with a profile of its own; closes both afterwards."""
    home = folder / "profile"
    (home / "user").mkdir(parents=True)
    (home / "user" / "registrymodifications.xcu").write_text(SETTINGS, encoding="utf-8")
    reading, writing = os.pipe()
    screen = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), "-screen", "0", f"{WIDTH}x{HEIGHT}x24", "-nolisten", "tcp"],
        pass_fds=[writing],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    with os.fdopen(reading) as told:
        display = f":{told.readline().strip()}"
    environment = os.environ | {"DISPLAY": display, "LC_ALL": "C.UTF-8", "SAL_USE_VCLPLUGIN": "gtk3"}
    manager = subprocess.Popen(["openbox"], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    program = subprocess.Popen(
        ["soffice", f"-env:UserInstallation={home.as_uri()}", "--norestore", "--nologo", "--calc", str(path)],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    opened = Window(display, path)
    try:
        _wait(lambda: opened.shows(path.stem), "the workbook's window did not open")
        time.sleep(5.0)
        yield opened
    finally:
        os.killpg(program.pid, 9)
        for process in (program, manager, screen):
            process.kill()
            process.wait(30)
