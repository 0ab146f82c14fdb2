"""A small invented form, its key, and people who answer it well or badly."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from squatlab import faults
from squatlab.exam import build, selection
from squatlab.exam import records as records_of_exams
from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import mark
from squatlab.exam.package import Packing, Sealed
from squatlab.exam.records import Records, RecordsError, RetakeRule, open_form
from squatlab.exam.records.hand_ins import FILE, keep
from squatlab.exam.screens.stills import stills
from squatlab.questions import item_bank
from squatlab.questions.kinds import NOTHING
from squatlab.questions.question import Key, Question

BEGAN = "2026-05-01T09:00:00Z"
FAULTS = ("knees_first", "short_depth", "knee_valgus", "heel_lift", "bar_forward", "uneven_bar")
FIRST = (*FAULTS, NOTHING)
CUES = ("hips back", "knees out", "chest up")

small_stills = partial(stills, px_per_cm=1.2, every=4)
"""Draws a lift small and every fourth frame, in a tenth of the time: real pictures where their
quality is not what is tested."""


@contextlib.contextmanager
def forms_less_alike() -> Iterator[pytest.MonkeyPatch]:
    """Be content with forms less alike in their margins than an exam's, for as long as it lasts.

    To come as near to a cell's margin as the exam asks takes more than twice as many lifts.
    """
    with pytest.MonkeyPatch.context() as patch:
        for module in (selection, build):
            patch.setattr(module, "ALIKE", 0.2)
        yield patch


def entries(lifts: int = 30) -> dict[str, Key]:
    """Return a key of so many lifts, 4 to spot, 2 cues, 2 numbers, 2 orders."""
    made = {
        f"first-{n:02}": Key("first", FIRST[n % 7], cell=f"cell-{n % 3}", options=FIRST)
        for n in range(lifts)
    }
    for n in range(4):
        made[f"spot-{n}"] = Key("spot", FAULTS[:n], points=2, cell="spot", options=FAULTS)
    for n in range(2):
        made[f"cue-{n}"] = Key("cue", CUES[n : n + 2], cell="cue", options=CUES)
        made[f"number-{n}"] = Key("number", 100.0 + n, cell="number", tolerance=5)
        made[f"rank-{n}"] = Key(
            "rank", FAULTS[n : n + 3], cell="rank", options=FAULTS[n : n + 3], gains=(3, 2, 1)
        )
    return made


def form_and_key(lifts: int = 30, name: str = "spring", cut: float = 0.75) -> tuple[Form, FormKey]:
    """Return a form and the key it is sealed with."""
    key = FormKey.of(name, entries(lifts))
    return Form(name, tuple(key.entries), cut * lifts, key.seal), key


def sheets(form: Form, key: FormKey, people: int, seed: int = 1) -> Iterator[Sheet]:
    """Yield what so many candidates of differing ability answer."""
    rng = np.random.default_rng(seed)
    ability = rng.normal(1.0, 0.8, people)
    hard = rng.normal(0.0, 0.8, len(form.items))
    luck = rng.random((people, len(form.items)))
    knows = luck < 1 / (1 + np.exp(hard - ability[:, None]))
    for person in range(people):
        given = {
            item: answer(key.entries[item], bool(knows[person, n]), rng)
            for n, item in enumerate(form.items)
        }
        when = f"2026-05-01T10:{person % 60:02}:00Z"
        yield Sheet(form.id, form.seal, f"C{person:05}", given, when, BEGAN)


def pack(path, form: Form, key: FormKey, minutes: float | None = 60, unit: str = "") -> Sealed:
    """Write a package of a form and key, of bare questions; return them sealed."""
    packing = Packing(key, form.cut, minutes)
    for item in form.items:
        kind = key.entries[item].kind
        mine = unit if kind == "number" else ""
        packing.add(Question(item, kind, "?", key.entries[item].options, mine))
    Path(path).write_bytes(packing.closed())
    return packing.sealed()


def received(
    records: Records, form: Form, key: FormKey, given: Iterable[Sheet]
) -> tuple[Sheet, ...]:
    """Open the form for who answered, and keep what they answered as hand-ins that stand."""
    given = tuple(given)
    for sheet in given:
        with contextlib.suppress(RecordsError):
            open_form(records, form, key, sheet.candidate, rule=ANY)
    with records.writing() as step:
        for sheet in given:
            keep(step, sheet, FILE, f"{sheet.candidate}.json", sheet.handed_in)
    return given


ANY = RetakeRule(0, 1000, 1)


def record_all(records: Records, form: Form, key: FormKey, given: Iterable[Sheet]):
    """Receive, mark and record answers."""
    given = received(records, form, key, given)
    return records_of_exams.record_all(records, mark(form, key, given), given)


def record(records: Records, form: Form, key: FormKey, sheet: Sheet, result, rule=None):
    """Receive and record one sheet that is marked."""
    received(records, form, key, [sheet])
    return records_of_exams.record(records, form, sheet, result, rule)


def answer(entry: Key, knows: bool, rng: np.random.Generator | None = None):
    """Return the right answer of an item, or one drawn at random."""
    rng = rng or np.random.default_rng(0)
    if entry.kind == "number":
        return entry.answer + (0 if knows else float(rng.integers(6, 50)))
    if entry.kind == "cue":
        return entry.answer[0] if knows else entry.options[rng.integers(len(entry.options))]
    if entry.kind in ("first", "choice"):
        return entry.answer if knows else entry.options[rng.integers(len(entry.options))]
    if entry.kind == "spot":
        some = [one for one in entry.options if rng.random() < 0.5]
        return list(entry.answer) if knows else some
    return list(entry.answer) if knows else [*rng.permutation(entry.options).tolist()]


def own_bank(folder: Path) -> Path:
    """Write a certifier's bank with all that the blueprint asks, and another word."""
    folder.mkdir(parents=True, exist_ok=True)
    rows = [list(item_bank.ITEM_COLUMNS)]
    for n, part in enumerate(part for part in item_bank.CELLS for _ in range(2)):
        options = [f"answer {n} {letter}" for letter in "rstu"]
        about = ["choice", part, "", f"Own question {n}?"]
        rows.append([f"own{n:02}", "1", *about, *options, "So.", "own", "A. Certifier"])
    cues = [list(item_bank.CUE_COLUMNS)]
    for fault in faults.catalogue():
        cues += [[fault, f"Do {fault} {fits}", fits, "So.", "own"] for fits in ("yes", "no")]
    for name, table in (("items", rows), ("cues", cues)):
        text = "\n".join(",".join(row) for row in table) + "\n"
        (folder / f"{name}.csv").write_text(text)
        (folder / f"{name}.csv").chmod(0o600)
    return folder
