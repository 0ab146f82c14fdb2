"""What a sitting says: of each candidate, of the class, of the items; as tables."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np

from squatlab import faults, tables
from squatlab.exam.alike_sheets import AlikeSheets, alike_sheets
from squatlab.exam.marking import CREDITED, PARTS, Marks
from squatlab.exam.reviews import KeyReview, Opinion
from squatlab.exam.statistics import (
    Analysis,
    Interval,
    analyse,
    difficulty,
    item_rest,
    item_rest_error,
    share_interval,
)
from squatlab.questions.agreement import ConfusionMap
from squatlab.questions.kinds import NOTHING

Row = dict[str, str]


class Outcome(NamedTuple):
    """Hold one candidate's result; ``band`` is one standard error each way.

    ``sure`` is False where the cut lies inside the band. ``unanswered``
    counts the lifts without an answer, which are wrong. ``cells`` and
    ``parts`` are from 0 to 1, nan for what was not asked.
    """

    candidate: str
    score: float
    passed: bool
    band: tuple[float, float]
    sure: bool
    unanswered: int
    cells: dict[str, float]
    parts: dict[str, float]


@dataclass(frozen=True, eq=False)
class Report:
    """Hold the marks of a sitting and what follows from them.

    ``decided`` has the scores that stand where they are not the marks',
    as after an appeal. The standard error is that of a person at the cut:
    one for all, and known for a single candidate too. ``opinions`` are
    what coaches said of the key, ``absent`` who was given the form and
    handed nothing in, ``refused`` what was handed in and does not stand,
    in words. Printing it shows the tables of
    candidates, class and items.
    """

    marks: Marks
    decided: Mapping[str, float] = field(default_factory=dict)
    opinions: tuple[Opinion, ...] = ()
    absent: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()

    @property
    def lifts(self) -> int:
        """Return how many lifts certify, those credited to everyone among them."""
        return len(self.marks.lifts) + self.marks.gift

    @cached_property
    def review(self) -> KeyReview:
        """Return what coaches say of the key."""
        return KeyReview(self.marks.form, self.marks.key, self.opinions)

    @cached_property
    def analysis(self) -> Analysis:
        """Return the statistics of the lifts that certify, but for credited ones.

        Raises ValueError for a form without such lifts.
        """
        marks, cut, gift = self.marks, float(self.marks.form.cut), self.marks.gift
        if not marks.lifts:
            raise ValueError(
                f"form {marks.form.id} asks for the first fault of no lift, and a report is about "
                "these lifts: make a form whose blueprint has some"
            )
        # Lifts that everyone is credited with are certain: the others are the form, at a cut that
        # is lower by as many.
        cut_of_others = max(0.0, cut - gift)
        certifying = analyse(marks.cases, cut_of_others, marks.lifts, marks.form.policy)
        return certifying._replace(cut=cut, mean=certifying.mean + gift)

    @cached_property
    def outcomes(self) -> tuple[Outcome, ...]:
        """Return everybody's result, in the order of their ids."""
        marks, error = self.marks, float(self.analysis.error_at_cut)
        by_cell, feedback = marks.by_cell(), marks.feedback
        # In the blueprint's order, then what it does not have.
        cells = {cell: by_cell[cell] for cell in (*_words(), *by_cell) if cell in by_cell}
        parts = {part: feedback[part] for part in (*PARTS, "all")}
        cut, scores, unanswered = marks.form.cut, marks.score, marks.unanswered
        outcomes = []
        for row, candidate in enumerate(marks.candidates):
            score = float(self.decided.get(candidate, scores[row]))
            passed = score >= cut
            # Sure if one standard error the other way would decide the same.
            sure = score - error >= cut if passed else score + error < cut
            outcomes.append(
                Outcome(
                    candidate=candidate,
                    score=score,
                    passed=passed,
                    band=(max(0.0, score - error), min(float(self.lifts), score + error)),
                    sure=sure,
                    unanswered=int(unanswered[row]),
                    cells={cell: float(values[row]) for cell, values in cells.items()},
                    parts={part: float(values[row]) for part, values in parts.items()},
                )
            )
        return tuple(sorted(outcomes, key=lambda outcome: outcome.candidate))

    @cached_property
    def appealed(self) -> tuple[str, ...]:
        """Return whose score is another than their marks give, as after an appeal."""
        before = dict(zip(self.marks.candidates, self.marks.score.tolist(), strict=True))
        return tuple(
            outcome.candidate
            for outcome in self.outcomes
            if outcome.score != before[outcome.candidate]
        )

    @cached_property
    def first(self) -> ConfusionMap:
        """Return what was named for what, in the catalogue's order."""
        labels, counts = self.marks.first
        names = [fault.name for fault in faults.catalogue().values()]
        place = {name: n for n, name in enumerate(names)}
        # Nothing to fix is no fault of the catalogue, and comes last.
        order = sorted(range(len(labels)), key=lambda n: place.get(labels[n], len(names)))
        return ConfusionMap(tuple(labels[n] for n in order), counts[np.ix_(order, order)])

    def candidates(self) -> list[Row]:
        """Return a row a candidate, with the mean mark of each cell in percent."""
        changed = self.appealed
        cells = "without what is credited" if self.marks.credited else "as scored"
        return [
            {
                "candidate": outcome.candidate,
                "score": f"{outcome.score:g}",
                "of": str(self.lifts),
                "cut": f"{self.marks.form.cut:g}",
                "result": "passed" if outcome.passed else "not passed",
                "from": f"{outcome.band[0]:.1f}",
                "to": f"{outcome.band[1]:.1f}",
                "decision": (
                    f"{'outside' if outcome.sure else 'within'} one standard error of the cut"
                ),
                "lifts not answered": str(outcome.unanswered),
                "parts and cells": "before appeal" if outcome.candidate in changed else cells,
                "key": self.review.words,
                **{part: percent(value) for part, value in outcome.parts.items()},
                **{cell_words(cell): percent(value) for cell, value in outcome.cells.items()},
            }
            for outcome in self.outcomes
        ]

    def confusions(self) -> list[Row]:
        """Return a row a fault: how often missed and over-called, as first and when spotting."""
        spotted = {agreement.fault: agreement for agreement in self.marks.spot}
        rows = []
        for agreement in self.first.faults():
            spot = spotted.get(agreement.fault)
            rows.append(
                {
                    "fault": option_words(agreement.fault),
                    "lifts × people": str(agreement.hits + agreement.misses),
                    "missed as first": percent(agreement.missed),
                    "named first without need": percent(agreement.over_called),
                    "kappa": number(
                        agreement.kappa if agreement.hits + agreement.misses else np.nan
                    ),
                    "missed when spotting": percent(spot.missed) if spot else "–",
                    "called without need": percent(spot.over_called) if spot else "–",
                }
            )
        return rows

    def named_instead(self, most: int = 5) -> list[str]:
        """Return what is confused most often, in sentences."""
        labels, counts = self.first
        confusions = []
        for key, named in np.argwhere(counts):
            if key != named:
                times, lifts = int(counts[key, named]), int(counts[key].sum())
                confusions.append(_Confusion(times, lifts, labels[key], labels[named]))
        confusions.sort(key=lambda confusion: (-confusion.times, confusion.key, confusion.named))
        return [str(confusion) for confusion in confusions[:most]]

    def items(self) -> list[Row]:
        """Return a row an item; the statistics of lifts that certify, and difficulty of all."""
        marks = self.marks.marks
        # A credited item is alike for all, so it has neither difficulty nor item–rest.
        mean_marks = np.where(self.marks.counted, difficulty(marks), np.nan)
        with_rest, error = item_rest(marks), item_rest_error(len(marks))
        statistics_of = {lift.item: lift for lift in self.analysis.items}
        reviewed = self.review.reviewed
        rows = []
        for n, name in enumerate(self.marks.form.items):
            entry, lift = self.marks.key.entries[name], statistics_of.get(name)
            look_at = lift.flag if lift else ""
            if name in self.marks.credited:
                look_at = CREDITED
            rows.append(
                {
                    "item": name,
                    "cell": cell_words(entry.cell),
                    "kind": entry.kind,
                    "difficulty": number(mean_marks[n]),
                    # Of a lift, with the other lifts; of another item, with all others.
                    "item–rest": number(lift.item_rest if lift else with_rest[n]),
                    "its error": number(error),
                    "upper–lower": number(lift.upper_lower) if lift else "–",
                    "reviewed": "yes" if name in reviewed else "no",
                    "look at": look_at,
                }
            )
        return rows

    @property
    def items_note(self) -> str:
        """Return what is to be known before the items are read."""
        people = len(self.marks.marks)
        error = item_rest_error(people)
        chance = f"With {people} people an item–rest has a sampling error of {error:.2f}."
        lifts = "Only lifts that certify are flagged under “look at”."
        return lifts if error != error else f"{lifts} {chance}"

    def form_lines(self) -> list[str]:
        """Return what the sitting says of the form, in sentences."""
        a = self.analysis
        has_reliability = a.kr20 == a.kr20
        few = a.kr20.reason if has_reliability else ""
        spread = "no spread with one candidate"
        if a.people > 1:
            spread = f"standard deviation {a.standard_deviation:.1f}"
        changed = ", ".join(self.appealed)
        scores = [outcome.score for outcome in self.outcomes]
        passed = sum(outcome.passed for outcome in self.outcomes)
        share = share_interval(passed, a.people)
        kappa = a.consistency.kappa
        appeals = (
            f"Scores changed on appeal: {changed}. Parts, cells, items and these statistics are of "
            "the marks before appeals."
        )
        return [
            f"{a.people} candidates, {passed} passed at {a.cut:g} of {self.lifts} lifts "
            f"({percent(passed / a.people)}, 95 % interval {percent(share.low)} to "
            f"{percent(share.high)}); mean {np.mean(scores):.1f}, {spread}.",
            f"Reliability KR-20: {figure_words(a.kr20)}{interval_words(a.kr20_interval)}.",
            self.verdict,
            f"Standard error of a score: {figure_words(a.standard_error)}; of a person at the cut: "
            f"{figure_words(a.error_at_cut)}, the band of every result.",
            "Another equal form would decide alike for this share of people: "
            f"{figure_words(a.consistency.agreement)}; beyond chance, kappa {figure_words(kappa)}"
            f"{kappa_words(kappa)}.",
            *self.near_lines,
            self.review.lines()[0],
            *self.marks.credit_lines,
            *([appeals] if changed else []),
            *([f"Take these figures with care: {few}."] if few else []),
            *self.list_lines(),
        ]

    @property
    def verdict(self) -> str:
        """Return how good the test is for certifying, and what certifying asks."""
        policy = self.marks.form.policy
        lifts, trust = len(self.marks.lifts), self.analysis.kr20
        short = []
        if lifts < policy.cases_to_certify:
            short.append(f"{lifts} lifts are too few")
        if policy.least_reliability > 0 and not trust >= policy.least_reliability:
            short.append("its reliability is " + ("too low" if trust == trust else "not known"))
        good = (
            f"This test is weak for it: {', and '.join(short)}" if short else "This test has both"
        )
        names = "; who issues is not who decided" if policy.names_to_certify >= 2 else ""
        return (
            f"Certifying asks for {policy.cases_to_certify} lifts that tell people apart and a "
            f"reliability of {policy.least_reliability:.2f} or more{names}. {good}."
        )

    @property
    def near_lines(self) -> list[str]:
        """Return whose score is within one standard error of the cut, or nothing."""
        near = ", ".join(outcome.candidate for outcome in self.outcomes if not outcome.sure)
        words = f"Within one standard error of the cut: {near}. Another equal form might decide "
        return [f"{words}otherwise of them."] if near else []

    @cached_property
    def alike(self) -> tuple[AlikeSheets, ...]:
        """Return the pairs of sheets that share too many errors."""
        marks = self.marks
        fewest_shared = marks.form.policy.alike_errors
        return alike_sheets(marks.candidates, marks.answers, marks.marks, fewest_shared)

    def list_lines(self) -> list[str]:
        """Return who left lifts out, who is missing, what is refused, what is too alike."""
        left = [outcome for outcome in self.outcomes if outcome.unanswered]
        lifts = sum(one.unanswered for one in left)
        lines = []
        if left:
            who = ", ".join(f"{one.candidate} {one.unanswered}" for one in left)
            lines.append(f"Without an answer, and so wrong: {lifts} lifts ({who}).")
        if self.absent:
            lines.append(f"Given the form, nothing handed in: {', '.join(self.absent)}.")
        lines += [f"Handed in, refused: {words}." for words in self.refused]
        if self.alike:
            pairs = "; ".join(map(str, self.alike))
            lines.append(f"Sheets to compare, for they are much alike: {pairs}. It is no proof.")
        return lines

    def __str__(self) -> str:
        of_candidates = "candidate", "score", "result", "from", "to", "decision"
        of_faults = (
            "fault",
            "lifts × people",
            "missed as first",
            "named first without need",
            "kappa",
        )
        short = [{name: row[name] for name in of_candidates} for row in self.candidates()]
        called = [{name: row[name] for name in of_faults} for row in self.confusions()]
        return "\n\n".join(
            [
                "\n".join(self.form_lines()),
                aligned(short),
                aligned(called),
                self.items_note,
                aligned(self.items()),
            ]
        )


class _Confusion(NamedTuple):
    """Hold how many times, of how many, one option of the key was named as another."""

    times: int
    lifts: int
    key: str
    named: str

    def __str__(self) -> str:
        key, named = option_words(self.key), option_words(self.named)
        return f"“{key}” was called “{named}” {self.times} times of {self.lifts}."


def beside(one: Report, other: Report) -> list[Row]:
    """Return two sittings side by side, a row a figure, then a row a cell.

    Different people sat them: a difference is of people and forms together.
    """
    columns = [
        {
            "people": f"{len(each.outcomes)}",
            "mean of the lifts": f"{each.analysis.mean:.1f} of {each.lifts}",
            "standard deviation": number(each.analysis.standard_deviation),
            "passed": percent(each.analysis.passed / each.analysis.people),
            **{cell_words(c): number(float(m.mean())) for c, m in each.marks.by_cell().items()},
        }
        for each in (one, other)
    ]
    of_one, of_other = columns
    return [
        {
            "mean mark, 1 is all right": figure,
            one.marks.form.id: of_one[figure],
            other.marks.form.id: of_other[figure],
        }
        for figure in of_one
        if figure in of_other
    ]


def aligned(rows: Sequence[Row]) -> str:
    """Return rows as a table of text, its columns under each other."""
    lines = [list(rows[0]), *(list(row.values()) for row in rows)] if rows else []
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )


def as_csv(rows: Sequence[Row]) -> str:
    """Return rows as CSV."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]) if rows else [], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def cell_words(cell: str) -> str:
    """Return a cell of the blueprint in words, its name if it has none."""
    return _words().get(cell, cell.replace("_", " "))


def _words() -> dict[str, str]:
    """Return the words for each cell, in the blueprint's order."""
    return {row["cell"]: row["words"] for row in tables.read("blueprint")}


def option_words(option: str) -> str:
    """Return an option as people say it."""
    return "nothing to fix" if option == NOTHING else option


def percent(share: float) -> str:
    """Return a share in percent, – for none."""
    return "–" if share != share else f"{100 * share:.0f} %"


def number(value: float) -> str:
    """Return a figure with two decimals, – for none; .996 is not 1.00."""
    if value != value:
        return "–"
    if 0.995 <= value < 1 - 1e-9:
        return ">0.99"
    # + 0.0: what rounds to −0.00 is 0.00.
    return f"{round(value, 2) + 0.0:.2f}".replace("-", "−")


def interval_words(ends: Interval) -> str:
    """Return an interval in words, to stand after its figure; "" for none."""
    if ends.low != ends.low:
        return ""
    return f", 95 % interval {number(ends.low)} to {number(ends.high)}"


KAPPA_WORDS = {0.2: "slight", 0.4: "fair", 0.6: "moderate", 0.8: "substantial"}
"""What a kappa from 0 up to so much is called; below 0 poor, above almost perfect [landis1977]."""


def kappa_words(kappa: float) -> str:
    """Return what a kappa is called, to stand after it; "" for none."""
    if kappa != kappa:
        return ""
    if kappa < 0:
        return ", poor"
    called = next((word for most, word in KAPPA_WORDS.items() if kappa <= most), "almost perfect")
    return f", {called}"


def figure_words(figure: float) -> str:
    """Return a figure, or why there is none."""
    return f"none ({getattr(figure, 'reason', '')})" if figure != figure else number(figure)
