"""A full disk and a kill at every write: each file is old or new, whole, or not there."""

from __future__ import annotations

import contextlib
import errno
import io
import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from squatlab import course, storage, tables
from squatlab.questions import line_files
from squatlab.questions.practice_progress import Answered, Progress
from squatlab.show import paper, sheets
from tests.fuzz.ending import run

ROSTER = tables.folder("data") / "demo" / "roster.csv"
HEAD = {"what": "squatlab fuzz", "version": 1}


class FullDisk:
    """Let so many bytes be written, then fail as a full disk does."""

    def __init__(self, monkeypatch, room: int) -> None:
        self.room, self.failed = room, False
        real_write, real_fdopen, real_replace = os.write, os.fdopen, os.replace

        def spend(count: int) -> None:
            self.room -= count
            if self.room < 0:
                self.failed = True
                raise OSError(errno.ENOSPC, "No space left on device")

        def write(descriptor: int, data: bytes) -> int:
            spend(len(data))
            return real_write(descriptor, data)

        class Raw(io.FileIO):
            def write(self, data) -> int:
                spend(len(data))
                return super().write(data)

        def fdopen(descriptor: int, mode: str = "r", *rest, **more):
            if mode == "wb":
                return io.BufferedWriter(Raw(descriptor, "wb"), 512)
            return real_fdopen(descriptor, mode, *rest, **more)

        def replace(source, target) -> None:
            spend(1)
            real_replace(source, target)

        monkeypatch.setattr(os, "write", write)
        monkeypatch.setattr(os, "fdopen", fdopen)
        monkeypatch.setattr(os, "replace", replace)


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder by its path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def opens(folder: Path) -> None:
    course.working_copy(folder / "course")


def plans(folder: Path) -> None:
    assert run("session", ROSTER, "--racks", 3, "-o", folder / "plan", "--anyway").code in (0, 1, 2)


def synthesises(folder: Path) -> None:
    assert run("rep", "-o", folder / "lift.csv", "--replace").code in (0, 2)


def practises(folder: Path) -> None:
    progress = Progress(folder / "practice.jsonl")
    for number in range(3):
        progress.put(Answered(number, "heel_lift", "head_up", ("heel_lift",), (), None, 0.7))


COMMANDS: dict[str, Callable[[Path], None]] = {
    "open": opens,
    "rep --replace": synthesises,
    "practice": practises,
    "session": plans,
}

SETS = {"rep --replace": 4, "session": 3}
"""Commands whose files are a set: all or none, so many."""


@pytest.mark.parametrize("name", COMMANDS)
def test_a_disk_that_is_full_at_any_write_leaves_whole_files(name, tmp_path, monkeypatch, many):
    do = COMMANDS[name]
    # Drawing takes seconds and writes nothing: here stands as much in its place.
    monkeypatch.setattr(sheets, "session_cards", lambda *_: ())
    monkeypatch.setattr(sheets, "observation_sheets", lambda *_: ())
    monkeypatch.setattr(paper, "pdf", lambda pages, title: title.encode() * 2_000)
    (tmp_path / "good").mkdir()
    do(tmp_path / "good")
    good = contents(tmp_path / "good")
    total = sum(map(len, good.values())) + 2 * len(good)
    steps = many(6, 60)
    for number in range(steps):
        room = total * number // steps
        folder = tmp_path / f"full-{number}"
        folder.mkdir()
        old = {}
        if name == "rep --replace":  # what stands there already is somebody's
            old = {file: b"mine " * 50 for file in good}
            for file, text in old.items():
                (folder / file).write_bytes(text)
        with monkeypatch.context() as patched:
            disk = FullDisk(patched, room)
            with contextlib.suppress(OSError):
                do(folder)
        left = contents(folder)
        assert not [file for file in left if storage.is_leftover(Path(file))], (name, room)
        if name == "practice":
            kept = Progress(folder / "practice.jsonl").answered
            whole = Progress(tmp_path / "good" / "practice.jsonl").answered
            assert kept == whole[: len(kept)]
            continue
        for file, text in left.items():
            if not file.endswith(course.RECORD):
                assert text in (good[file], old.get(file)), (name, room, file)
        if name in SETS and disk.failed:
            assert left == old, (name, room)
        if name == "open":  # and once there is room again, nothing counts as changed by hand
            again = course.working_copy(folder / "course")
            assert not again.kept
            assert {f: t for f, t in contents(folder).items() if course.RECORD not in f} == {
                f: t for f, t in good.items() if course.RECORD not in f
            }


KILLED = """
import sys
from pathlib import Path
from squatlab import storage
from squatlab.questions import line_files

folder, number = Path(sys.argv[1]), 0
line_files.begin(folder / "lines", {"what": "squatlab fuzz", "version": 1})
print("up", flush=True)
while True:
    number += 1
    text = f"{number} " * 20_000
    storage.write_together({folder / "a": text, folder / "b": text})
    line_files.append(folder / "lines", {"number": number})
    print(number, flush=True)
"""


@pytest.mark.skipif(os.name != "posix", reason="kills by POSIX signals")
def test_a_kill_at_any_write_leaves_whole_files_and_every_saved_line(tmp_path, many, rng):
    for number in range(many(5, 200)):
        folder = tmp_path / str(number)
        folder.mkdir()
        writer = subprocess.Popen(
            [sys.executable, "-c", textwrap.dedent(KILLED), str(folder)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert writer.stdout.readline() == "up\n"
        time.sleep(rng.random() * 0.2)
        writer.send_signal(signal.SIGKILL)
        said = [line for line in writer.communicate()[0].splitlines() if line.strip()]
        told = int(said[-1]) if said else 0
        kept = [one["number"] for one in line_files.begin(folder / "lines", HEAD).entries]
        assert kept == list(range(1, len(kept) + 1)) and len(kept) >= told
        for name in ("a", "b"):
            words = (folder / name).read_text().split() if (folder / name).exists() else []
            assert len(set(words)) <= 1 and len(words) in (0, 20_000), (number, name)
            assert not words or int(words[0]) >= told


def test_a_set_whose_last_file_cannot_be_written_changes_nothing(tmp_path):
    first, second = tmp_path / "first", tmp_path / "second"
    first.write_text("old")
    second.mkdir()
    with pytest.raises(OSError, match="second is a folder"):
        storage.write_together({first: "new", second: "new"})
    assert first.read_text() == "old" and sorted(os.listdir(tmp_path)) == ["first", "second"]


def test_a_rename_that_fails_is_taken_back(tmp_path, monkeypatch):
    paths = [tmp_path / name for name in "abc"]
    paths[0].write_text("old a")
    real, count = os.replace, []

    def replace(source, target):
        count.append(target)
        if len(count) == 3:
            raise OSError(errno.EIO, "Input/output error")
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)
    with pytest.raises(OSError, match="c was not written .Input/output error."):
        storage.write_together({path: f"new {path.name}" for path in paths})
    assert contents(tmp_path) == {"a": b"old a"}


@pytest.mark.skipif(os.name != "posix", reason="modes and links of POSIX")
def test_links_modes_and_locked_files_are_respected(tmp_path):
    real, link = tmp_path / "real", tmp_path / "link"
    real.write_text("old")
    real.chmod(0o600)
    link.symlink_to(real)
    storage.write(link, "new")
    assert link.is_symlink() and real.read_text() == "new" and real.stat().st_mode & 0o777 == 0o600
    if os.geteuid():
        real.chmod(0o400)
        with pytest.raises(OSError, match="locked against writing"):
            storage.write(real, "newer")
        assert real.read_text() == "new"
    storage.write(tmp_path / "secret", "x", mode=0o600)
    assert (tmp_path / "secret").stat().st_mode & 0o777 == 0o600
    for path in (Path("/dev/full"), Path("/dev/null"), tmp_path):
        with pytest.raises(OSError, match="is a (pipe or a device|folder)"):
            storage.write(path, "x")
