"""Command lines of every kind: an answer or a few words, and no file of anybody's changed."""

from __future__ import annotations

import argparse
import random
from pathlib import Path

import pytest

from squatlab import tables
from squatlab.__main__ import _parser
from tests.fuzz.ending import run, wrong

STARTS = {"open", "check", "demo", "book", "form", "panel"}
"""Commands that start a server or kernel, or draw for many seconds: tested elsewhere."""

FOOTAGE = tables.folder("data") / "demo" / "footage"

VALUES = (
    "0",
    "1",
    "2",
    "-1",
    "60",
    "1.75",
    "80",
    "1e300",
    "nan",
    "inf",
    "10" * 200,
    "1e400",
    "",
    " ",
    "x",
    "side",
    "front",
    "kg",
    "lb",
    "50 mm",
    "m",
    "px",
    "hip_r=seat",
    "=",
    "knee_valgus=10",
    "A4",
    "short_depth=1e999",
    "knee_valgus=nan",
    "../up",
    "/dev/full",
    "/dev/null",
    "/dev/zero",
    "-",
    "\x1b[31mred",
    "\u202eabc",
    "a" * 5000,
    "mysql://x/y",
    "postgresql://nobody@localhost:1/x",
    "sqlite:///x",
    "http://x",
    "file:///etc/passwd",
    "2026-01-01",
    "0001-01-01",
    "9999-12-31",
    "\udcff",
)

FILES = ("side.csv", "front.json", "space.c3d", "roster.csv", "mine.txt", "empty", "binary", "dir")


@pytest.fixture
def desk(tmp_path, monkeypatch) -> Path:
    """A folder with somebody's files, where commands are run."""
    for name, origin in (
        ("side.csv", "laurel-side.csv"),
        ("front.json", "laurel-front.json"),
        ("space.c3d", "laurel.c3d"),
    ):
        (tmp_path / name).write_bytes((FOOTAGE / origin).read_bytes())
    (tmp_path / "roster.csv").write_text("name,height,height_unit\nA,170,cm\nB,5'11,ft\n")
    (tmp_path / "mine.txt").write_text("nobody else's\n")
    (tmp_path / "empty").touch()
    (tmp_path / "binary").write_bytes(bytes(range(256)) * 9)
    (tmp_path / "dir").mkdir()
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SQUATLAB_RECORDS", raising=False)
    return tmp_path


def parsers() -> dict[str, argparse.ArgumentParser]:
    """Return the parser of every command by its words."""
    found: dict[str, argparse.ArgumentParser] = {}
    waiting = [((), _parser())]
    while waiting:
        words, parser = waiting.pop()
        parser.complete()
        below = [one for one in parser._actions if isinstance(one, argparse._SubParsersAction)]
        for action in below:
            waiting += [((*words, name), one) for name, one in action.choices.items()]
        if not below and words[0] not in STARTS:
            found[" ".join(words)] = parser
    return found


def typed(words: str, parser: argparse.ArgumentParser, rng: random.Random) -> list[str]:
    """Return a command line: some of its options, with values that chance chooses."""

    def one() -> str:
        return rng.choice(FILES) if rng.random() < 0.45 else rng.choice(VALUES)

    line, last = words.split(), []
    if line[0] == "records":
        line.insert(1, rng.choice(("records.sqlite", "mine.txt", "dir", "binary", one())))
    for action in parser._actions:
        needed = action.required or not action.option_strings
        if "--help" in action.option_strings or rng.random() > (0.9 if needed else 0.25):
            continue
        values = (
            []
            if action.nargs == 0
            else [
                rng.choice(list(action.choices)) if action.choices and rng.random() < 0.8 else one()
                for _ in range(rng.choice((1, 1, 2)) if action.nargs in ("+", "*") else 1)
            ]
        )
        if action.option_strings == ["--replace"] or "--replace" in action.option_strings:
            continue  # to write over something is what it is for
        if action.option_strings:
            line += [rng.choice(action.option_strings), *values]
        else:
            last += values
    line += last
    if rng.random() < 0.1:
        line.insert(rng.randrange(len(line) + 1), one())
    return line


@pytest.mark.parametrize("part", range(4))
def test_no_command_line_crashes_or_changes_what_is_there(part, desk, many, rng):
    """1,000 in the long run, and no PostgreSQL server within reach."""
    commands, faults = parsers(), []
    before = {path: path.read_bytes() for path in desk.iterdir() if path.is_file()}
    for number in range(many(12, 250)):
        words = rng.choice(list(commands))
        line = typed(words, commands[words], rng)
        if problem := wrong(run(*line)):
            faults.append(f"{part}/{number} {line}: {problem}"[:1500])
        for path, content in before.items():
            assert path.read_bytes() == content, (line, path.name)
        assert (desk / "dir").is_dir()
    assert not faults, f"{len(faults)}:\n" + "\n".join(faults[:10])
