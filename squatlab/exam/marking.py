"""Marks from answers and key, and nothing else: the same answers, the same marks.

Sheets of a nation fit: the different answers to an item are few, so each is
judged once, and a sheet holds its number (a code) among them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.exam.answers import Refusal, Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.questions.agreement import ConfusionMap, FaultAgreement, confusion_map, dprime
from squatlab.questions.kinds import NOTHING, Calls, informedness
from squatlab.questions.question import Key

CREDITED = "counts as right for everyone"
"""What is said of an item that a ruling credits."""

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

    ``marks`` (people, items) from 0 to 1; ``spotted`` (people, 4): the
    counts of `Calls` over the ``spot`` items answered; ``first`` and
    ``spot`` what the class confuses. ``credited`` has the items that count
    as right for everyone, and by whose ruling: they are in marks, score
    and points, and in nothing else. ``answers`` (people, items) numbers
    the different answers to an item, −1 for none; ``above_chance``
    (people, items) are marks on which guessing earns 0.
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
        is_lift = self.certifying & self.counted
        return tuple(item for item, is_own in zip(self.form.items, is_lift, strict=True) if is_own)

    @property
    def unanswered(self) -> NDArray[np.int64]:
        """Return how many lifts that certify were left without an answer."""
        return (self.answers[:, self.certifying] < 0).sum(axis=1)

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
    def calls(self) -> Calls:
        """Return the counts of spotting by their names."""
        return Calls(*self.spotted.T)

    @property
    def sensitivity(self) -> NDArray[np.float64]:
        """Return the share of the faults that were there that were seen."""
        return _share_of(self.calls.hits, self.calls.hits + self.calls.misses)

    @property
    def specificity(self) -> NDArray[np.float64]:
        """Return the share of the faults not there that were not called."""
        rejections = self.calls.correct_rejections
        return _share_of(rejections, rejections + self.calls.false_alarms)

    @property
    def dprime(self) -> NDArray[np.float64]:
        """Return d′ of spotting, with the log-linear correction."""
        return dprime(*self.calls)

    @property
    def feedback(self) -> dict[str, NDArray[np.float64]]:
        """Return each of `PARTS` from 0 to 1, and "all" of them weighted.

        On every scale 1 is perfect and guessing earns 0: spotting is
        sensitivity + specificity − 1, order and cue are means of what is
        above chance. Weights are those of the form's policy; a part the
        form does not ask is nan and has no weight.
        """
        parts = {part: self._above_chance(part) for part in PARTS}
        parts["spotting"] = informedness(self.calls)
        # Worse than guessing is told as guessing: a minus beside a score helps nobody. nan stays.
        parts = {part: np.maximum(values, 0.0) for part, values in parts.items()}
        values = np.array([parts[part] for part in PARTS])
        policy = self.form.policy
        weight_of = {
            "spotting": policy.weight_spotting,
            "order": policy.weight_order,
            "cue": policy.weight_cue,
        }
        weights = np.array([weight_of[part] for part in PARTS])
        # (part, people): the weighted mean of the parts that a person was asked.
        weights_asked = ~np.isnan(values) * weights[:, None]
        weighted = (np.nan_to_num(values) * weights_asked).sum(axis=0)
        return parts | {"all": _share_of(weighted, weights_asked.sum(axis=0))}

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
        people = zip(self.candidates, self.marks.tolist(), self.score.tolist(), strict=True)
        for candidate, row, score in people:
            marks = dict(zip(self.form.items, row, strict=True))
            yield Result(candidate, marks, score, cases, certifying)

    def by_cell(self) -> dict[str, NDArray[np.float64]]:
        """Return the mean mark of each cell of the blueprint (people,), nan if all is credited."""
        cells = np.array([self.key.entries[item].cell for item in self.form.items])
        columns_of = {
            cell: (cells == cell) & self.counted for cell in dict.fromkeys(cells.tolist())
        }
        return {cell: _mean(self.marks[:, columns]) for cell, columns in columns_of.items()}


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
    parts_of_sheets = _parts(sheets)
    if executor:
        # A cluster wants to know how many parts there are.
        coded = tuple(executor.map(partial(_coded, form), list(parts_of_sheets)))
    else:
        coded = tuple(map(partial(_coded, form), parts_of_sheets))
    columns = [
        _Column(item, key.entries[item], [part.answers[n] for part in coded], item in credited)
        for n, item in enumerate(form.items)
    ]
    candidates = [candidate for part in coded for candidate in part.candidates]
    objections = [objection for part in coded for objection in part.objections]
    for column in columns:
        for person in np.flatnonzero(column.misfits):
            if not objections[person]:
                objections[person] = f"the answer to {column.item} is none that it offers"
    is_marked = np.array([not objection for objection in objections], dtype=bool)
    refused = [
        Refusal("", candidate, f"candidate {candidate}: {objection}; ask for the file again")
        for candidate, objection in zip(candidates, objections, strict=True)
        if objection
    ]
    # One column after the other: for a nation all of them at once would be 130 MB.
    spotted = np.zeros((int(is_marked.sum()), len(Calls._fields)))
    for column in columns:
        spotted += column.spotted[column.codes[is_marked]]
    # What everyone is given tells nothing of what the class confuses.
    uncredited = [column for column in columns if column.item not in credited]
    return Marks(
        form=form,
        key=key,
        candidates=tuple(
            candidate for candidate, kept in zip(candidates, is_marked, strict=True) if kept
        ),
        marks=np.column_stack([column.marks[column.codes[is_marked]] for column in columns]),
        spotted=spotted,
        first=_first_map(uncredited, is_marked),
        spot=_spot_map(uncredited, is_marked),
        refused=tuple(refused),
        answers=np.column_stack([column.numbered[is_marked] for column in columns]),
        above_chance=np.column_stack(
            [column.above_chance[column.codes[is_marked]] for column in columns]
        ),
        credited=credited,
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
    """Hold a part of the sheets: who, why one is refused ("" if not), and what they answered.

    ``answers`` has an entry for each item of the form.
    """

    candidates: tuple[str, ...]
    objections: tuple[str, ...]
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
            answer = tuple(given) if type(given) is list else given  # a list is no key
            codes[place] = number.setdefault(answer, len(number))
        answers.append(_Answers(tuple(number), codes))
    objections = [
        "" if (sheet.form, sheet.seal) == (form.id, form.seal) else "answers to another form"
        for sheet in sheets
    ]
    candidates = tuple(sheet.candidate for sheet in sheets)
    return _Coded(candidates, tuple(objections), tuple(answers))


class _Column:
    """Hold one item's answers, each different one judged once and counted by its code.

    ``codes`` (people,) number ``answers``, ``numbered`` the same with −1
    for none; ``misfits`` (people,) tells whose answer the item does not
    offer. By answer: ``marks``, ``above_chance``, and ``spotted``
    (answer, 4), the counts of `Calls`.
    """

    def __init__(self, item: str, entry: Key, parts: list[_Answers], credited: bool) -> None:
        code_of: dict[object, int] = {}
        codes = []
        for part in parts:
            # What the part's own numbers are among those of all parts.
            codes_of_part = [code_of.setdefault(a, len(code_of)) for a in part.different]
            codes.append(np.array(codes_of_part, dtype=np.int32)[part.codes])
        self.item, self.entry, self.answers = item, entry, tuple(code_of)
        self.codes = np.concatenate(codes)
        no_answer = code_of.get(None, -1)
        self.numbered = np.where(self.codes == no_answer, -1, self.codes)
        judged = [right(entry, answer) for answer in self.answers]
        self.marks = np.array([mark or 0.0 for mark in judged])
        self.misfits = np.array([mark is None for mark in judged], dtype=bool)[self.codes]
        self.above_chance = np.zeros(len(judged))
        self.spotted = np.zeros((len(judged), len(Calls._fields)))
        if credited:
            self.marks[:] = 1.0
            return
        for code, (answer, mark) in enumerate(zip(self.answers, judged, strict=True)):
            if mark is not None and answer is not None:
                self.above_chance[code] = entry.how.above_chance(entry, answer)
                self.spotted[code] = entry.how.calls(entry, answer)

    def counts(self, is_marked: NDArray[np.bool_]) -> list[_Given]:
        """Return each answer and how many marked sheets gave it, the unanswered left out."""
        times = np.bincount(self.codes[is_marked], minlength=len(self.answers)).tolist()
        return [
            _Given(answer, n)
            for answer, n in zip(self.answers, times, strict=True)
            if n and answer is not None
        ]


class _Given(NamedTuple):
    """Hold an answer, and by how many it was given."""

    answer: Any
    times: int


def _first_map(columns: list[_Column], is_marked: NDArray[np.bool_]) -> ConfusionMap:
    """Return what was named first against the key, over the marked sheets."""
    asked = [column for column in columns if column.entry.how.certifies]
    labels = dict.fromkeys(option for column in asked for option in column.entry.options)
    labels_in_order = sorted(labels, key=lambda label: label == NOTHING)  # nothing comes last
    keyed, named, times = [], [], []
    for column in asked:
        for given in column.counts(is_marked):
            keyed.append(column.entry.answer)
            named.append(given.answer)
            times.append(given.times)
    return confusion_map(keyed, named, labels_in_order, np.array(times, dtype=int))


def _spot_map(columns: list[_Column], is_marked: NDArray[np.bool_]) -> tuple[FaultAgreement, ...]:
    """Return for each fault how often it was called while there, and while not."""
    asked = [column for column in columns if column.entry.how.part == "spotting"]
    faults = dict.fromkeys(option for column in asked for option in column.entry.options)
    return tuple(_agreement_on(fault, asked, is_marked) for fault in faults)


def _agreement_on(fault: str, asked: list[_Column], is_marked: NDArray[np.bool_]) -> FaultAgreement:
    """Return how often one fault was called, in lifts that have it and in others."""
    hits = misses = false_alarms = correct_rejections = 0
    for column in asked:
        if fault not in column.entry.options:
            continue
        for given in column.counts(is_marked):
            is_named = fault in given.answer
            if fault in column.entry.answer:
                hits += given.times * is_named
                misses += given.times * (not is_named)
            else:
                false_alarms += given.times * is_named
                correct_rejections += given.times * (not is_named)
    return FaultAgreement(fault, hits, misses, false_alarms, correct_rejections)


def _share_of(part: NDArray, whole: NDArray) -> NDArray:
    """Return part of whole, nan where the whole is 0."""
    return np.where(whole > 0, part / np.where(whole > 0, whole, 1), np.nan)


def _mean(marks: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean mark of each person, nan without an item."""
    return marks.mean(axis=1) if marks.shape[1] else np.full(len(marks), np.nan)
