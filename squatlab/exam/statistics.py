"""What a class's marks, people × items, say of the items and of the form.

Item statistics are here; those of totals are in `reliability`, of cuts in
`cut_scores`, of raters in `squatlab.questions.agreement`. Every statistic
of the exam can be had from here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.exam.cut_scores import Consistency, angoff, decision_consistency, ebel
from squatlab.exam.policy import ExamPolicy, shipped_policy
from squatlab.exam.reliability import (
    Interval,
    alpha,
    alpha_interval,
    conditional_standard_error,
    kr20,
    kr21,
    share_interval,
    standard_error,
)
from squatlab.questions.agreement import cohen_kappa, confusion_map, dprime, fleiss_kappa, ndcg
from squatlab.questions.figure import Figure, matrix

__all__ = [
    "Analysis",
    "Figure",
    "Interval",
    "ItemStatistics",
    "alpha",
    "alpha_interval",
    "analyse",
    "angoff",
    "cohen_kappa",
    "conditional_standard_error",
    "confusion_map",
    "decision_consistency",
    "difficulty",
    "dprime",
    "ebel",
    "fleiss_kappa",
    "item_rest",
    "item_rest_error",
    "kr20",
    "kr21",
    "ndcg",
    "share_interval",
    "standard_error",
    "upper_lower",
]

SAME = 1e-9
"""Totals of part marks that are equal differ in their last bits, never by this much."""


def difficulty(marks: ArrayLike) -> NDArray[np.float64]:
    """Return the mean mark of each item (items,): 1 is the easiest."""
    return matrix("marks", marks, "people × items", 0, 1).mean(axis=0)


def item_rest(marks: ArrayLike) -> NDArray[np.float64]:
    """Return the correlation of each item with the rest of the form.

    Of marks (people, items), 0 to 1. nan for an item that everybody gets
    alike, or whose rest is alike, and for fewer than three people.
    """
    table = matrix("marks", marks, "people × items", 0, 1)
    # The rest of the form, for each item: the total without it. With the item in the total every
    # item would correlate with itself, more so the shorter the form is.
    rest = table.sum(axis=1, keepdims=True) - table
    # Pearson's r = Σ dx·dy / √(Σ dx² · Σ dy²), d the difference from the mean over people.
    item_less_mean = table - table.mean(axis=0)
    rest_less_mean = rest - rest.mean(axis=0)
    spread = np.sqrt((item_less_mean**2).sum(axis=0) * (rest_less_mean**2).sum(axis=0))
    together = (item_less_mean * rest_less_mean).sum(axis=0)
    # Of two people every correlation is 1 or −1, whatever the item.
    is_known = (spread > SAME) & (len(table) >= 3)
    return np.where(is_known, together / np.where(is_known, spread, 1.0), np.nan)


def item_rest_error(people: int) -> float:
    """Return the sampling error of an item–rest correlation near zero.

    1/√(n − 3), that of Fisher's z, which is the correlation itself there;
    nan for three people or fewer [fisher1921].
    """
    return 1 / np.sqrt(people - 3) if people > 3 else np.nan


def upper_lower(marks: ArrayLike, share: float = 0.27) -> NDArray[np.float64]:
    """Return the mean mark of the best less that of the weakest (items,).

    Best and weakest ``share`` of the people by total. People who tie for
    the last places share them equally, so no order among equals matters.
    nan if everybody has the same total [kelley1939].
    """
    if not 0 < share <= 0.5:
        raise ValueError(f"the share is {share:g}; give more than 0 and at most 0.5")
    table = matrix("marks", marks, "people × items", 0, 1)
    totals = table.sum(axis=1)
    if np.ptp(totals) <= SAME:
        return np.full(table.shape[1], np.nan)
    places = max(1, round(share * len(table)))
    # How much of each person is among the best, and among the weakest (people,).
    best, weakest = _highest(totals, places), _highest(-totals, places)
    return (best - weakest) @ table / places


def _highest(totals: NDArray[np.float64], places: int) -> NDArray[np.float64]:
    """Return how much of each person has one of the places for the highest totals."""
    last = np.sort(totals)[-places]
    is_inside = totals > last + SAME
    is_tied = abs(totals - last) <= SAME
    # Those who tie for the last places share what is left of them: of 3 who tie for 2, ⅔ each.
    return is_inside + is_tied * (places - is_inside.sum()) / is_tied.sum()


class ItemStatistics(NamedTuple):
    """Hold an item's statistics; ``flag`` says what to look at, or is ""."""

    item: str
    difficulty: float
    item_rest: float
    upper_lower: float
    flag: str


class Analysis(NamedTuple):
    """Hold what one sitting says of the form, in marks.

    ``error_at_cut`` is the standard error of a person at the cut.
    """

    people: int
    cut: float
    passed: int
    mean: float
    standard_deviation: float
    kr20: Figure
    kr20_interval: Interval
    standard_error: Figure
    error_at_cut: Figure
    consistency: Consistency
    items: tuple[ItemStatistics, ...]


def analyse(
    marks: ArrayLike,
    cut: float,
    items: Sequence[str] = (),
    policy: ExamPolicy | None = None,
) -> Analysis:
    """Return all statistics of marks (people, items) of 0 and 1.

    A total of at least ``cut`` passes; ``items`` name the columns. Limits
    of the flags are the ``policy``'s (data/exam_policy.csv unless given).
    ValueError for part marks.
    """
    reliability = kr20(marks)
    table = np.asarray(marks, dtype=float)
    totals = table.sum(axis=1)
    names = tuple(items) or tuple(str(n + 1) for n in range(table.shape[1]))
    of_items = zip(
        names,
        difficulty(table).tolist(),
        item_rest(table).tolist(),
        upper_lower(table).tolist(),
        strict=True,
    )
    statistics = []
    for name, mean_mark, with_rest, apart in of_items:
        flag = _flag(mean_mark, with_rest, len(table), policy or shipped_policy())
        statistics.append(ItemStatistics(name, mean_mark, with_rest, apart, flag))
    return Analysis(
        people=len(table),
        cut=float(cut),
        passed=int((totals >= cut).sum()),
        mean=float(totals.mean()),
        standard_deviation=float(totals.std(ddof=1)) if len(table) > 1 else np.nan,
        kr20=reliability,
        kr20_interval=alpha_interval(table),
        standard_error=standard_error(table, reliability),
        error_at_cut=conditional_standard_error(cut, table.shape[1]),
        consistency=decision_consistency(table, cut),
        items=tuple(statistics),
    )


def _flag(mean_mark: float, with_rest: float, people: int, policy: ExamPolicy) -> str:
    """Return why an item should be looked at, or "".

    ``mean_mark`` is its difficulty, ``with_rest`` its item–rest correlation.
    """
    if people < 3:
        return f"{people} people are too few to tell"
    if mean_mark in (0.0, 1.0):
        return f"everybody is {'right' if mean_mark else 'wrong'}: it tells nobody apart"
    if np.isnan(with_rest):
        return "on the other items everybody has the same mark"
    if with_rest < 0:
        # Within two sampling errors of 0 it may be chance; nan, of three people, is never beyond.
        is_beyond_chance = with_rest <= -2 * item_rest_error(people)
        if is_beyond_chance:
            return "the better candidates get it wrong: check the key"
        return "negative, but may be chance: see clip and key"
    if mean_mark > policy.easiest:
        return "very easy"
    if mean_mark < policy.hardest:
        return "very hard"
    if with_rest < policy.discrimination:
        return "hardly tells the better from the weaker"
    return ""
