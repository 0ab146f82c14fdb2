"""What a trainee has practised: kept line by line, and what to practise next.

The next case focuses on what was confused. For every fault, and for "nothing
to fix", the share of the cases is counted in which it mattered and was judged
wrongly. Of some seeds one is drawn: the odds of a seed grow with the square
of the largest of these shares among what it puts in, and are threefold if it
is as hard as this trainee can take. A trainee who needs easy cases gets only
these, and clean lifts, which are middling at best. Nothing but the seed makes
the case, so that it can be shown again.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np

from squatlab import faults
from squatlab.questions import files, line_files
from squatlab.questions.agreement import ConfusionMap, FaultAgreement, confusion_map
from squatlab.questions.blueprint import Cell
from squatlab.questions.cases import Case, case, planned, supposed
from squatlab.questions.kinds import NOTHING
from squatlab.review import prioritise

HEAD = {"what": "squatlab practice", "version": files.VERSION}

LABELS = (*faults.catalogue(), NOTHING)

HARD, EASY = 0.6, 1.3
"""A margin below the first is hard, from the second on easy [teaching-value]."""

RECENT, FEW = 8, 4
"""How hard the next one is rests on so many, and on no fewer [teaching-value]."""

SEEDS, FAVOUR = 24, 3.0
"""So many seeds are looked at; how much one as hard as wanted is favoured."""


class Answered(NamedTuple):
    """Hold one case and what was said of it, as ids; `NOTHING` stands for none.

    ``seed`` is the number of a computed case, or the id of a real lifter's,
    of which no ``margin`` is known. ``cue`` tells whether the cue fitted,
    None if there was none to give.
    """

    seed: int | str
    right: str
    first: str
    there: tuple[str, ...]
    ticked: tuple[str, ...]
    cue: bool | None
    margin: float | None


def _answered(entry: line_files.Entry) -> Answered | None:
    """Return what an entry says was answered, or None for one of another shape."""
    try:
        kept = {name: entry[name] for name in Answered._fields}
        kept |= {name: tuple(kept[name]) for name in ("there", "ticked")}
        answer = Answered(**kept)
        named = {answer.right, answer.first, *answer.there, *answer.ticked}
    except (KeyError, TypeError):
        return None
    whole = named <= set(LABELS) and answer.cue in (True, False, None)
    if type(answer.seed) is str:
        return answer if whole and answer.margin is None else None
    computed = type(answer.seed) is int and type(answer.margin) in (int, float)
    return answer if whole and computed else None


class Progress:
    """Keep what was answered in a file; opening it again goes on from there.

    The file is begun with the first answer; ``damaged`` lists lines that
    were changed since and are left out, ``set_aside`` is where a file with a
    damaged head was kept. Raises ValueError for a file of another kind.
    """

    def __init__(self, path: str | Path, clock: Callable[[], datetime] = files.now) -> None:
        self.path, self._clock = Path(path), clock
        self.answered: list[Answered] = []
        entries: list[line_files.Entry | None] = []
        self.set_aside: Path | None = None
        if self.path.exists():
            try:
                entries, self.set_aside = line_files.begin(self.path, HEAD)
            except line_files.AnotherFile:
                raise ValueError(
                    f"{self.path.name} holds no practice and was left as it is; choose another name"
                ) from None
        answers = [None if entry is None else _answered(entry) for entry in entries]
        self.damaged = tuple(n for n, answer in enumerate(answers, 2) if answer is None)
        self.answered += filter(None, answers)

    def put(self, answer: Answered) -> datetime:
        """Save an answer and return when; it is on the disk then.

        Raises OSError that says what to do if it could not be saved.
        """
        moment = self._clock()
        line_files.begin(self.path, HEAD)
        line_files.append(self.path, answer._asdict() | {"at": files.stamp(moment)})
        self.answered.append(answer)
        return moment

    @property
    def first(self) -> ConfusionMap:
        """Return what was named first (columns) against what is (rows)."""
        pairs = [(one.right, one.first) for one in self.answered]
        return confusion_map(*(zip(*pairs, strict=True) if pairs else ((), ())), LABELS)

    @property
    def spotted(self) -> tuple[FaultAgreement, ...]:
        """Return how each label was called, against where it was there."""
        counts = []
        for label in LABELS:
            calls = [(label in one.there, label in one.ticked) for one in self.answered]
            four = ((True, True), (True, False), (False, True), (False, False))
            counts.append(FaultAgreement(label, *(calls.count(pair) for pair in four)))
        return tuple(counts)

    @property
    def computed_in_a_row(self) -> int:
        """Return how many computed cases came since the last real lifter."""
        row = 0
        for one in reversed(self.answered):
            if isinstance(one.seed, str):
                break
            row += 1
        return row

    def need(self) -> dict[str, float]:
        """Return the share recognised wrongly of each label, 0 to 1.

        One right and one wrong are added, so that it begins at a half.
        """
        counts = self.first.counts
        # Named first and it was not, or not named and it was; what lies on the diagonal was right.
        mistaken = counts.sum(axis=0) + counts.sum(axis=1) - 2 * np.diagonal(counts)
        wrong = np.array([one.misses + one.false_alarms for one in self.spotted]) + mistaken
        mattered = wrong + [one.hits for one in self.spotted]
        return dict(zip(LABELS, ((wrong + 1) / (mattered + 2)).tolist(), strict=True))

    def level(self) -> str:
        """Return how hard the next one shall be, as `difficulty` words it."""
        recent = [one.first == one.right for one in self.answered[-RECENT:]]
        if len(recent) < FEW or np.mean(recent) < 0.5:
            return "easy"
        return "middling" if np.mean(recent) < 0.8 else "hard"

    def next_seed(self, cell: Cell, start: int = 1) -> int:
        """Return the seed to practise next; the same answers give the same.

        ``start`` is what two trainees differ in from the first case on.
        """
        rng = np.random.default_rng([start, len(self.answered)])
        seeds = [int(seed) for seed in rng.integers(1, 1_000_000, SEEDS)]
        need, level = self.need(), self.level()
        odds = []
        for seed in seeds:
            plan = planned(cell, seed)
            most_needed = max(need[label] for label in plan or (NOTHING,))
            fits = not plan or difficulty(prioritise(supposed(plan)).margin) == level
            odds.append(most_needed**2 * (FAVOUR if fits else 1))
        in_order = rng.choice(seeds, SEEDS, replace=False, p=np.divide(odds, sum(odds))).tolist()
        if level == "easy":  # a case may read harder than it was planned: that costs its making
            return next((seed for seed in in_order if _is_easy(case(cell, seed))), in_order[0])
        return in_order[0]


def _is_easy(made: Case) -> bool:
    """Return whether a case reads as easy, or is clean and middling."""
    level = difficulty(made.margin)
    return level == "easy" or (made.first == NOTHING and level == "middling")


def difficulty(margin: float) -> str:
    """Return how hard a case of this margin is: "easy", "middling", "hard"."""
    if margin < HARD:
        return "hard"
    return "middling" if margin < EASY else "easy"
