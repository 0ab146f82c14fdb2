"""A small invented form, its key, and people who answer it well or badly."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form, Key
from squatlab.questions.keys import NOTHING, KeyEntry

FAULTS = ("knees_first", "short_depth", "knee_valgus", "heel_lift", "bar_forward", "uneven_bar")
FIRST = (*FAULTS, NOTHING)
CUES = ("hips back", "knees out", "chest up")


def entries(lifts: int = 30) -> dict[str, KeyEntry]:
    """Return a key of so many lifts, 4 to spot, 2 cues, 2 numbers, 2 orders."""
    made = {
        f"first-{n:02}": KeyEntry("first", FIRST[n % 7], cell=f"cell-{n % 3}", options=FIRST)
        for n in range(lifts)
    }
    for n in range(4):
        made[f"spot-{n}"] = KeyEntry("spot", FAULTS[:n], points=2, cell="spot", options=FAULTS)
    for n in range(2):
        made[f"cue-{n}"] = KeyEntry("cue", CUES[n : n + 2], cell="cue", options=CUES)
        made[f"number-{n}"] = KeyEntry("number", 100.0 + n, cell="number", tolerance=5)
        made[f"rank-{n}"] = KeyEntry(
            "rank", FAULTS[n : n + 3], cell="rank", options=FAULTS[n : n + 3], gains=(3, 2, 1)
        )
    return made


def form_and_key(lifts: int = 30, name: str = "spring", cut: float = 0.75) -> tuple[Form, Key]:
    """Return a form and the key it is sealed with."""
    key = Key.of(name, entries(lifts))
    return Form(name, tuple(key.entries), cut * lifts, key.seal), key


def sheets(form: Form, key: Key, people: int, seed: int = 1) -> Iterator[Sheet]:
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
        yield Sheet(form.id, form.seal, f"C{person:05}", given, when)


def answer(entry: KeyEntry, knows: bool, rng: np.random.Generator | None = None):
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
