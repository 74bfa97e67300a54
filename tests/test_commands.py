"""The commands: each command, argument and option says what it is; a mistake gives one sentence and what to do."""

from __future__ import annotations

import argparse
import resource
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from builder.arguments import COMMANDS, parser
from builder.cli import RUN, main
from builder.engine.spec.load import SPECS
from builder.engine.spec.words import languages
from builder.engine.version import VERSION

ROOT = Path(__file__).parent.parent
HELP_SECONDS = 0.3  # of the processor, on a machine that does other things too


def _seconds_of_children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _commands() -> dict[str, argparse.ArgumentParser]:
    action = next(a for a in parser()._actions if isinstance(a, argparse._SubParsersAction))
    return dict(action.choices)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_each_command_says_what_it_is(name: str) -> None:
    """Itself, each argument and option in words, and an example that the parser takes."""
    command = _commands()[name]
    assert len(command.description or "") > len(COMMANDS[name].help)
    for action in command._actions:
        assert action.help and len(action.help) > 10, f"{name}: {action.dest} has no help"
    assert f"python -m builder {COMMANDS[name].example}" in command.format_help(), "the example is cut"
    assert parser().parse_args(shlex.split(COMMANDS[name].example)).command == name


def test_each_command_runs_something_and_is_listed() -> None:
    """What is offered is what runs, and both lists of the documents name it."""
    assert set(COMMANDS) == set(RUN) == set(_commands())
    listed = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert [name for name in COMMANDS if f"python -m builder {name}" not in listed] == []


def test_the_languages_of_the_commands_are_those_of_the_words() -> None:
    """The parser does not read the specs, so it has them a second time."""
    fill = _commands()["fill"]
    offered = next(action.choices for action in fill._actions if action.dest == "language")
    assert tuple(offered or ()) == languages(SPECS)


def test_version_and_help_come_at_once() -> None:
    """`--version` is the builder's; neither waits for a library."""
    before = _seconds_of_children()
    run = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "builder", "--version"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.split()[-1] == VERSION
    imported = {line.rpartition("|")[2].strip() for line in run.stderr.splitlines() if line.startswith("import time:")}
    assert not imported & {"numpy", "xlsxwriter", "openpyxl", "builder.engine.model", "builder.engine.spec", "tqdm"}
    assert _seconds_of_children() - before < HELP_SECONDS


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["fill", "no-such.toml", "-o", "out.xlsx"], ("no-such.toml",)),
        (["read", "no-such.xlsx"], ("no-such.xlsx", "there is no such file")),
        (["explain", "mean_kk"], ("mean_kk", "mean_k")),
        (["compare", "9.9.9-nothing"], ("9.9.9-nothing",)),
        (["fill", "specs/cases/1-cone-both-eyes.toml", "-o", "no-such-folder/out.xlsx"], ("no-such-folder",)),
    ],
    ids=" ".join,
)
def test_a_mistake_is_told_in_a_sentence(
    arguments: list[str], told: tuple[str, ...], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Which, why, and what to do, on stderr; the command ends with 2."""
    monkeypatch.chdir(ROOT)
    assert main(arguments) == 2
    said = capsys.readouterr().err
    assert "Traceback" not in said and len(said.splitlines()) == 1
    assert all(part in said for part in told), said
