"""Damaged and hostile files of exam, practice and class: refused in words, never lost."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from squatlab import tables
from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.journal import Journal
from squatlab.exam.package import Package
from squatlab.exam.panel import read_angoff, read_ebel
from squatlab.exam.records import Records
from squatlab.exam.secret import Secret
from squatlab.gym import plan_session, read_roster
from squatlab.questions.blueprint import cell
from squatlab.questions.practice_progress import Answered, Progress
from tests.exam import invented_class
from tests.fuzz.ending import run, wrong
from tests.fuzz.mutate import mutated

ANGOFF = (
    "judge,"
    + ",".join(f"first-{n:02}" for n in range(30))
    + "\n"
    + "\n".join(f"J{judge}," + ",".join(["60"] * 30) for judge in range(4))
)
EBEL = "relevance,difficulty,share,count\n" + "\n".join(
    f"{relevance},{difficulty},{share},5"
    for relevance, difficulty, share in (
        ("essential", "easy", 90),
        ("essential", "hard", 60),
        ("useful", "easy", 70),
        ("useful", "hard", 40),
    )
)


class Kind(NamedTuple):
    """Hold a kind of file: a whole one, and what reads it."""

    name: str
    whole: bytes
    read: Callable[[Path], object]


@pytest.fixture(scope="module")
def kinds(tmp_path_factory) -> list[Kind]:
    """Every kind of file that exam, practice and class read."""
    folder = tmp_path_factory.mktemp("whole")
    form, key = invented_class.form_and_key()
    package = invented_class.pack(folder / "form.zip", form, key)
    form, key = package.form, package.key
    sheets = list(invented_class.sheets(form, key, 3))
    sheets[0].write(folder / "sheet.json")
    key.write(folder / "key.json")
    form.write(folder / "form.json")
    Secret.make(folder / "secret.json")
    journal = Journal(folder / "C1.journal", form, "C1")
    journal.begin()
    for item, answer in sheets[0].answers.items():
        journal.put(item, answer)
    progress = Progress(folder / "practice.jsonl")
    for number in range(12):
        progress.put(Answered(number, "heel_lift", "head_up", ("heel_lift",), (), None, 0.7))
    records = Records(folder / "records.sqlite", "fuzzer")
    invented_class.record_all(records, form, key, sheets)
    records.close()

    def practised(path: Path) -> None:
        opened = Progress(path)
        opened.next_seed(cell("first_clean"))
        opened.put(Answered(1, "heel_lift", "head_up", ("heel_lift",), (), None, 0.7))

    def sat(path: Path) -> None:
        opened = Journal(path, form, "C1")
        opened.begin()
        if not opened.handed_in:
            opened.put("first-00", "heel_lift")

    def verified(path: Path) -> None:
        opened = Records.existing(path)
        try:
            opened.verify()
        finally:
            opened.close()

    def packaged(path: Path) -> None:
        opened = Package.read(path)
        for item in opened.form.items:
            opened.clip(item)

    items = [f"first-{n:02}" for n in range(30)]
    readers: dict[str, Callable[[Path], object]] = {
        "form.zip": packaged,
        "sheet.json": Sheet.read,
        "key.json": FormKey.read,
        "form.json": Form.read,
        "secret.json": Secret.read,
        "C1.journal": sat,
        "practice.jsonl": practised,
        "records.sqlite": verified,
    }
    roster = (tables.folder("data") / "demo" / "roster.csv").read_bytes()
    return [
        *(Kind(name, (folder / name).read_bytes(), read) for name, read in readers.items()),
        Kind("angoff.csv", ANGOFF.encode(), lambda path: read_angoff(path, items)),
        Kind("ebel.csv", EBEL.encode(), read_ebel),
        Kind(
            "roster.csv",
            roster,
            lambda path: plan_session(read_roster(path, leave_out=True), 2, leave_out=True),
        ),
    ]


GROWS = ("C1.journal", "practice.jsonl", "records.sqlite")
"""Files that are written to as well: of these, what was there must remain."""


@pytest.mark.parametrize("part", range(5))
def test_no_file_of_the_exam_crashes_what_reads_it(part, kinds, tmp_path, many, rng):
    """5,000 in the long run."""
    faults = []
    for number in range(many(80, 1000)):
        kind = rng.choice(kinds)
        folder = tmp_path / str(number)
        folder.mkdir()
        path = folder / kind.name
        damaged = mutated(kind.whole, rng)
        path.write_bytes(damaged)
        path.chmod(0o600)
        try:
            kind.read(path)
        except (ValueError, OSError) as error:
            if not str(error).strip():
                faults.append(f"{part}/{number} {kind.name}: {error!r} says nothing")
        except Exception as error:
            faults.append(f"{part}/{number} {kind.name}: {error!r}")
        found = [other.read_bytes() for other in folder.iterdir()]
        if kind.name not in GROWS:
            assert found == [damaged], kind.name
        elif kind.name != "records.sqlite" and damaged.strip(b"\0"):
            # Nothing is lost but half a line at the end, which no one could read.
            whole = {line for line in damaged.splitlines() if ours(line)}
            kept = b"\n".join(found)
            assert all(line in kept for line in whole), f"{part}/{number} {kind.name}"
    assert not faults, f"{len(faults)}:\n" + "\n".join(faults[:10])


def ours(line: bytes) -> bool:
    """Return whether a line holds an entry that is whole."""
    from squatlab.questions.line_files import _entry

    return _entry(line) is not None


@pytest.mark.parametrize("part", range(2))
def test_records_that_are_damaged_end_every_command_in_words(part, kinds, tmp_path, many, rng):
    whole = next(kind.whole for kind in kinds if kind.name == "records.sqlite")
    path, faults = tmp_path / "records.sqlite", []
    for number in range(many(10, 200)):
        path.write_bytes(mutated(whole, rng))
        for what in ("verify", "list", "openings"):
            if problem := wrong(run("records", path, what)):
                faults.append(f"{part}/{number} {what}: {problem}")
        for other in tmp_path.iterdir():
            other.unlink()
    assert not faults, f"{len(faults)}:\n" + "\n".join(faults[:10])


def test_a_file_whose_checksum_is_right_and_whose_shape_is_not(kinds, tmp_path):
    """As another version, or somebody who can compute a checksum, would write it."""
    from squatlab.questions import files

    strange = (None, 7, -1, "", "x", [], {}, [[]], {"a": 1}, 10**400, [None], True)
    for kind in kinds:
        if not kind.name.endswith(".json"):
            continue
        body = json.loads(kind.whole)
        what = body["what"].removeprefix("squatlab ")
        inner = {name: v for name, v in body.items() if name not in ("what", "version", "checksum")}
        for name in inner:
            without = {other: v for other, v in inner.items() if other != name}
            for shape in (without, *(inner | {name: one} for one in strange)):
                path = tmp_path / kind.name
                path.write_text(files.wrapped(what, shape))
                path.chmod(0o600)
                with contextlib.suppress(ValueError):  # anything else fails this test
                    kind.read(path)
