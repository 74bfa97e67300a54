"""A real spreadsheet window on a virtual screen of 1366 x 768, worked with the keyboard as a person does."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builder.engine.exchange import office

WIDTH, HEIGHT = 1366, 768
PROGRAMS = {"Xvfb": "xvfb", "xdotool": "xdotool", "openbox": "openbox", "soffice": "libreoffice-calc libreoffice-gtk3"}
HEAD, COLOURS, BYTES_A_COLOUR = 100, 19, 12  # of a window dump: bytes of its head, where it counts colours
ALL = slice(None)
GLANCE, STILL = 0.03, 4  # seconds between two looks at the screen; how many of them see the same when it is settled
PATIENCE = 120  # seconds until the window must stand
# No tip of the day, no question about the format on saving, the results computed as the file is opened, and in sight
# neither what a spelling checker thinks of the words nor where a page would end.
SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Common/Misc"><prop oor:name="ShowTipOfTheDay" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Common/Misc"><prop oor:name="FirstRun" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Setup/Product"><prop oor:name="ooSetupLastVersion" oor:op="fuse"><value>99.0</value></prop></item>
<item oor:path="/org.openoffice.Office.Common/Save/Document"><prop oor:name="WarnAlienFormat" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Linguistic/SpellChecking"><prop oor:name="IsSpellAuto" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Content/Display"><prop oor:name="PageBreak" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""  # noqa: E501 - one setting a line


def missing() -> str | None:
    """What is not installed of what a window needs, in words; None when all is there."""
    lacking = [package for name, package in PROGRAMS.items() if shutil.which(name) is None]
    return f"no window can be opened here; on Debian: apt-get install {' '.join(lacking)}" if lacking else None


class Window:
    """One open workbook. Every entry goes through the program's own typing path."""

    def __init__(self, display: str, path: Path, screen: Path) -> None:
        self.path = path
        self._screen = screen  # the file in which the virtual screen keeps what it shows
        self._environment = os.environ | {"DISPLAY": display}

    def press(self, *keys: str) -> None:
        """Presses keys such as Tab or ctrl+s, one after the other."""
        if keys:
            self._xdotool("key", "--delay", "30", *keys)

    def type(self, text: str) -> None:
        """Types a text letter by letter."""
        self._xdotool("type", "--delay", "40", text)

    def go_to(self, address: str) -> None:
        """Puts the cursor into a cell of this workbook, such as $Readings.B61, by the program's own box for it."""
        self.press("ctrl+shift+t")
        time.sleep(0.5)
        self._xdotool("key", "ctrl+a")
        self._xdotool("type", "--delay", "40", address)
        self._xdotool("key", "Return")
        time.sleep(1.0)

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

    def picture(self, path: Path, lines: slice = ALL, columns: slice = ALL) -> None:
        """The screen as it is, or a part of it, as a PNG file."""
        import pymupdf  # here, so that the other commands do without it

        part = np.ascontiguousarray(self.frame()[lines, columns, 2::-1])  # the screen has blue first
        pymupdf.Pixmap(pymupdf.csRGB, part.shape[1], part.shape[0], part.tobytes(), 0).save(path)

    def frame(self) -> NDArray[np.uint8]:
        """The screen as it is: lines, columns and the four bytes of each point."""
        data = np.fromfile(self._screen, dtype=np.uint8)
        head = data[:HEAD].view(">u4")  # as the format of window dumps, XWD, has it
        start = int(head[0]) + int(head[COLOURS]) * BYTES_A_COLOUR
        return data[start : start + HEIGHT * WIDTH * 4].reshape(HEIGHT, WIDTH, 4)

    def settled(self, since: NDArray[np.uint8] | None = None) -> NDArray[np.uint8]:
        """Waits until the screen shows something else than `since`, and the same for a while; what it then shows."""
        end, last, still = time.monotonic() + PATIENCE, self.frame(), 0
        while still < STILL or (since is not None and np.array_equal(last, since)):
            if time.monotonic() > end:
                self.picture(self.path.with_suffix(".png"))
                raise office.EngineFailed(
                    f"the screen did not change, or did not stop: {self.path.with_suffix('.png')}"
                )
            time.sleep(GLANCE)
            seen = self.frame()
            still = still + 1 if np.array_equal(seen, last) else 0
            last = seen
        return last

    def put_pointer_away(self) -> None:
        """Moves the pointer of the mouse into the last corner of the screen."""
        self._xdotool("mousemove", str(WIDTH - 1), str(HEIGHT - 1))

    def windows(self) -> set[str]:
        """The numbers of all windows to be seen that have a title, as every dialog has."""
        return set(self._xdotool("search", "--onlyvisible", "--name", ".").split())

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
    shown = folder / "screen"
    shown.mkdir()
    reading, writing = os.pipe()
    screen = subprocess.Popen(
        [
            "Xvfb",
            "-displayfd",
            str(writing),
            "-screen",
            "0",
            f"{WIDTH}x{HEIGHT}x24",
            "-nolisten",
            "tcp",
            "-fbdir",
            str(shown),
        ],
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
    opened = Window(display, path, shown / "Xvfb_screen0")
    try:
        _wait(lambda: opened.shows(path.stem), "the workbook's window did not open")
        time.sleep(5.0)
        yield opened
    finally:
        os.killpg(program.pid, 9)
        for process in (program, manager, screen):
            process.kill()
            process.wait(30)
