"""Marks from answers and key, and nothing else: the same answers, the same marks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.exam.answers import Refusal, Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.questions.agreement import ConfusionMap, FaultAgreement, confusion_map, dprime
from squatlab.questions.kinds import NOTHING, informedness
from squatlab.questions.question import Key

CREDITED = "counts as right for everyone"

PARTS = ("spotting", "order", "cue")
"""What is told to the candidate beside the score, and does not decide."""


class Result(NamedTuple):
    """Hold one candidate's marks by item, and the score out of so many lifts.

    ``certifying`` are the items that the score counts.
    """

    candidate: str
    marks: Mapping[str, float]
    score: float
    cases: int
    certifying: frozenset[str]


@dataclass(frozen=True, eq=False)
class Marks:
    """Hold the marks of one sitting; rows are people, columns items.

    ``marks`` (people, items) from 0 to 1; ``spotted`` (people, 4): hits,
    misses, false alarms, correct rejections over the ``spot`` items
    answered; ``first`` and ``spot`` what the class confuses. ``credited``
    has the items that count as right for everyone, and by whose ruling:
    they are in marks, score and points, and in nothing else. ``answers``
    (people, items) numbers the different answers to an item, −1 for none;
    ``above_chance`` (people, items) are marks on which guessing earns 0.
    Every property is per person (people,) unless it says otherwise.
    """

    form: Form
    key: FormKey
    candidates: tuple[str, ...]
    marks: NDArray[np.float64]
    spotted: NDArray[np.float64]
    first: ConfusionMap
    spot: tuple[FaultAgreement, ...]
    refused: tuple[Refusal, ...]
    answers: NDArray[np.int64]
    above_chance: NDArray[np.float64]
    credited: Mapping[str, str] = field(default_factory=dict)

    @property
    def counted(self) -> NDArray[np.bool_]:
        """Return whether each item tells people apart: it is not credited (items,)."""
        return np.array([item not in self.credited for item in self.form.items])

    @property
    def certifying(self) -> NDArray[np.bool_]:
        """Return whether each item's mark is part of the score (items,)."""
        return np.array([self.key.entries[item].how.certifies for item in self.form.items])

    @property
    def cases(self) -> NDArray[np.float64]:
        """Return 0 or 1 for each lift not credited: was the first fault named (people, lifts)."""
        return self.marks[:, self.certifying & self.counted]

    @property
    def lifts(self) -> tuple[str, ...]:
        """Return the names of the columns of `cases`."""
        named = zip(self.form.items, self.counted, strict=True)
        return tuple(item for item, own in named if own and self.key.entries[item].how.certifies)

    @property
    def unanswered(self) -> NDArray[np.int64]:
        """Return how many lifts that certify were left without an answer."""
        lift = [self.key.entries[item].how.certifies for item in self.form.items]
        return (self.answers[:, lift] < 0).sum(axis=1)

    @property
    def gift(self) -> int:
        """Return how many of the lifts that certify are credited to everyone."""
        return sum(self.key.entries[item].how.certifies for item in self.credited)

    @property
    def score(self) -> NDArray[np.float64]:
        """Return the score that certifies: lifts whose first fault was named, or credited."""
        return self.cases.sum(axis=1) + self.gift

    @property
    def passed(self) -> NDArray[np.bool_]:
        """Return whether the score reaches the form's cut."""
        return self.score >= self.form.cut

    @property
    def points(self) -> NDArray[np.float64]:
        """Return the points of all items together, as a gradebook wants them."""
        return self.marks @ [self.key.entries[item].points for item in self.form.items]

    @property
    def sensitivity(self) -> NDArray[np.float64]:
        """Return the share of the faults that were there that were seen."""
        return _share(self.spotted[:, 0], self.spotted[:, 1])

    @property
    def specificity(self) -> NDArray[np.float64]:
        """Return the share of the faults not there that were not called."""
        return _share(self.spotted[:, 3], self.spotted[:, 2])

    @property
    def dprime(self) -> NDArray[np.float64]:
        """Return d′ of spotting, with the log-linear correction."""
        return dprime(*self.spotted.T)

    @property
    def feedback(self) -> dict[str, NDArray[np.float64]]:
        """Return each of `PARTS` from 0 to 1, and "all" of them weighted.

        On every scale 1 is perfect and guessing earns 0: spotting is
        sensitivity + specificity − 1, order and cue are means of what is
        above chance. Weights are in ``data/exam_policy.csv``; a part the
        form does not ask is nan and has no weight.
        """
        parts = {part: self._above_chance(part) for part in PARTS}
        parts["spotting"] = informedness(self.spotted.T)
        parts = {part: np.maximum(values, 0.0) for part, values in parts.items()}  # nan stays
        weights = [tables.value("exam_policy", name=f"weight_{part}") for part in PARTS]
        values = np.array([parts[part] for part in PARTS])
        known = ~np.isnan(values) * np.array(weights)[:, None]
        return parts | {"all": _share((np.nan_to_num(values) * known).sum(0), 0, known.sum(0))}

    def _above_chance(self, part: str) -> NDArray[np.float64]:
        """Return the mean of a part's marks on which guessing earns 0 (people,)."""
        of_part = [self.key.entries[item].how.part == part for item in self.form.items]
        return _mean(self.above_chance[:, np.array(of_part) & self.counted])

    @property
    def credit_lines(self) -> list[str]:
        """Return which items count as right for everyone, and by whose ruling; or nothing."""
        credits = "; ".join(f"{item} ({words})" for item, words in self.credited.items())
        words = f"{credits}. Scores have it; parts, cells, items and statistics leave it out."
        return [f"Found wrong after the sitting, {CREDITED}: {words}"] if credits else []

    def results(self) -> Iterator[Result]:
        """Yield each candidate's marks, as the records want them."""
        cases = self.cases.shape[1] + self.gift
        entries = self.key.entries
        certifying = frozenset(item for item in entries if entries[item].how.certifies)
        for who, row, score in zip(self.candidates, self.marks, self.score.tolist(), strict=True):
            marks = dict(zip(self.form.items, row.tolist(), strict=True))
            yield Result(who, marks, score, cases, certifying)

    def by_cell(self) -> dict[str, NDArray[np.float64]]:
        """Return the mean mark of each cell of the blueprint (people,), nan if all is credited."""
        cells = np.array([self.key.entries[item].cell for item in self.form.items])
        mine = {cell: (cells == cell) & self.counted for cell in dict.fromkeys(cells.tolist())}
        return {cell: _mean(self.marks[:, columns]) for cell, columns in mine.items()}


PART = 2_000
"""So many sheets are read together, by one process."""


def mark(
    form: Form,
    key: FormKey,
    sheets: Iterable[Sheet],
    credited: Mapping[str, str] | None = None,
    executor: Executor | None = None,
) -> Marks:
    """Mark answer sheets of one form.

    A sheet of another form, or with an answer that its item does not
    offer, is in ``refused`` by name; the others are marked. ``credited``
    items count as right for everyone; it says by whose ruling.
    ``executor`` (any of `concurrent.futures`) spreads the reading of many
    sheets; without it they are taken part by part, and a generator of
    them is never in memory as a whole. Raises ValueError if the key is not the
    form's own.
    """
    credited = dict(credited or {})
    form.check(key)
    # A cluster wants to know how many parts there are.
    spread = executor.map if executor else map
    parts = tuple(
        spread(partial(_coded, form), list(_parts(sheets)) if executor else _parts(sheets))
    )
    columns = [
        _Column(item, key.entries[item], [part.answers[n] for part in parts], item in credited)
        for n, item in enumerate(form.items)
    ]
    telling = [column for column in columns if column.item not in credited]
    candidates = [who for part in parts for who in part.candidates]
    why = [words for part in parts for words in part.refused]
    for column in columns:
        for person in np.flatnonzero(column.misfits):
            why[person] = why[person] or f"the answer to {column.item} is none that it offers"
    is_marked = np.array([not words for words in why], dtype=bool)
    named = list(zip(candidates, why, strict=True))
    return Marks(
        form,
        key,
        tuple(who for who, words in named if not words),
        np.column_stack([column.marks[column.codes[is_marked]] for column in columns]),
        # One column after the other: for a nation all of them would be 130 MB.
        sum((c.spotted[c.codes[is_marked]] for c in columns), np.zeros((int(is_marked.sum()), 4))),
        _first_map(telling, is_marked),
        _spot_map(telling, is_marked),
        tuple(
            Refusal("", who, f"candidate {who}: {words}; ask for the file again")
            for who, words in named
            if words
        ),
        np.column_stack([column.numbered[is_marked] for column in columns]),
        np.column_stack([column.above_chance[column.codes[is_marked]] for column in columns]),
        credited,
    )


def right(entry: Key, given: object) -> float | None:
    """Return the mark of one answer, 0 to 1, or None if it cannot be one.

    No answer, None, is 0; the rest is for the item's kind to say.
    """
    return 0.0 if given is None else entry.how.mark(entry, given)


class _Answers(NamedTuple):
    """Hold what some people answered to one item: ``codes`` (people,) number ``different``."""

    different: tuple[object, ...]
    codes: NDArray[np.int32]


class _Coded(NamedTuple):
    """Hold a part of the sheets: who, why one is refused, and the answers to each item."""

    candidates: tuple[str, ...]
    refused: tuple[str, ...]
    answers: tuple[_Answers, ...]


def _parts(sheets: Iterable[Sheet]) -> Iterator[tuple[Sheet, ...]]:
    """Yield the sheets in parts of `PART`; one empty part if there is none."""
    rest = iter(sheets)
    part = tuple(islice(rest, PART))
    yield part
    while part := tuple(islice(rest, PART)):
        yield part


def _coded(form: Form, sheets: tuple[Sheet, ...]) -> _Coded:
    """Number the different answers of some sheets, item by item."""
    answers = []
    for item in form.items:
        number: dict[object, int] = {}
        codes = np.empty(len(sheets), dtype=np.int32)
        for place, sheet in enumerate(sheets):
            given = sheet.answers.get(item)
            answer = tuple(given) if type(given) is list else given
            codes[place] = number.setdefault(answer, len(number))
        answers.append(_Answers(tuple(number), codes))
    ours = [sheet.form == form.id and sheet.seal == form.seal for sheet in sheets]
    return _Coded(
        tuple(sheet.candidate for sheet in sheets),
        tuple("" if is_ours else "answers to another form" for is_ours in ours),
        tuple(answers),
    )


class _Column:
    """One item's answers, each different one judged once and counted by its code."""

    def __init__(self, item: str, entry: Key, parts: list[_Answers], credited: bool) -> None:
        seen: dict[object, int] = {}
        codes = []
        for part in parts:
            # What the part's own numbers are among all.
            mine = [seen.setdefault(answer, len(seen)) for answer in part.different]
            codes.append(np.array(mine, dtype=np.int32)[part.codes])
        self.item, self.entry, self.answers = item, entry, tuple(seen)
        self.codes = np.concatenate(codes)
        none = seen.get(None, -1)
        self.numbered = np.where(self.codes == none, -1, self.codes)
        judged = [right(entry, answer) for answer in self.answers]
        self.marks = np.array([mark or 0.0 for mark in judged])
        self.misfits = np.array([mark is None for mark in judged], dtype=bool)[self.codes]
        self.above_chance = np.zeros(len(judged))
        self.spotted = np.zeros((len(judged), 4))
        if credited:
            self.marks[:] = 1.0
            return
        for row, (answer, mark) in enumerate(zip(self.answers, judged, strict=True)):
            if mark is not None and answer is not None:
                self.above_chance[row] = entry.how.above_chance(entry, answer)
                self.spotted[row] = entry.how.calls(entry, answer)

    def counts(self, is_marked: NDArray[np.bool_]) -> list[tuple[object, int]]:
        """Return (answer, how many kept sheets gave it), the unanswered left out."""
        many = np.bincount(self.codes[is_marked], minlength=len(self.answers)).tolist()
        pairs = zip(self.answers, many, strict=True)
        return [(answer, n) for answer, n in pairs if n and answer is not None]


def _first_map(columns: list[_Column], is_marked: NDArray[np.bool_]) -> ConfusionMap:
    """Return what was named first against the key, over the kept sheets."""
    asked = [column for column in columns if column.entry.how.certifies]
    labels = dict.fromkeys(option for column in asked for option in column.entry.options)
    order = sorted(labels, key=lambda label: label == NOTHING)  # stable: nothing comes last
    pairs = [(c.entry.answer, named, n) for c in asked for named, n in c.counts(is_marked)]
    keyed, named, times = zip(*pairs, strict=True) if pairs else ((), (), ())
    return confusion_map(keyed, named, order, np.array(times, dtype=int))


def _spot_map(columns: list[_Column], is_marked: NDArray[np.bool_]) -> tuple[FaultAgreement, ...]:
    """Return for each fault how often it was called while there, and while not."""
    asked = [column for column in columns if column.entry.how.part == "spotting"]
    counts = {fault: [0, 0, 0, 0] for column in asked for fault in column.entry.options}
    for column in asked:
        for answer, times in column.counts(is_marked):
            for fault in column.entry.options:
                there, named = fault in column.entry.answer, fault in answer
                counts[fault][2 * (not there) + (not named)] += times
    return tuple(FaultAgreement(fault, *four) for fault, four in counts.items())


def _share(part: NDArray, rest: NDArray | float, whole: NDArray | None = None) -> NDArray:
    """Return part of part and rest (or of the whole), nan where there is nothing."""
    whole = part + rest if whole is None else whole
    return np.where(whole > 0, part / np.where(whole > 0, whole, 1), np.nan)


def _mean(marks: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean mark of each person, nan without an item."""
    return marks.mean(axis=1) if marks.shape[1] else np.full(len(marks), np.nan)
