"""How far a total can be trusted: reliability and errors of measurement."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.questions.figure import Figure, matrix, none, of_people


def kr20(marks: ArrayLike) -> Figure:
    """Return the Kuder–Richardson 20 of marks (people, items), 0 or 1.

    nan with its reason for fewer than three people, one item, or totals
    that are all the same. ValueError for part marks [kuder1937].
    """
    return alpha(zeros_and_ones(marks))


def kr21(marks: ArrayLike) -> Figure:
    """Return the Kuder–Richardson 21: as if all items were equally hard.

    Never above `kr20`; marks, nan and ValueError as there [kuder1937].
    """
    table = zeros_and_ones(marks)
    if why := _no_reliability(table):
        return none(why)
    (people, items), totals = table.shape, table.sum(axis=1)
    unlike = totals.mean() * (items - totals.mean()) / (items * totals.var())
    return of_people(items / (items - 1) * (1 - unlike), people)


def alpha(marks: ArrayLike) -> Figure:
    """Return Cronbach's alpha of marks (people, items) of any size.

    nan with its reason as `kr20` [cronbach1951].
    """
    table = matrix("marks", marks, "people × items", -1e9, 1e9)
    if why := _no_reliability(table):
        return none(why)
    people, items = table.shape
    unlike = table.var(axis=0).sum() / table.sum(axis=1).var()
    return of_people(items / (items - 1) * (1 - unlike), people)


def standard_error(marks: ArrayLike, reliability: float | None = None) -> Figure:
    """Return the standard error of measurement of a total, in marks.

    Of marks (people, items); the reliability is `alpha` unless given. nan
    with its reason where there is none. ValueError if it is above 1.
    """
    table = matrix("marks", marks, "people × items", -1e9, 1e9)
    trust = alpha(table) if reliability is None else Figure(reliability)
    if np.isnan(trust):
        return none(trust.reason or "the reliability is not a number")
    if trust > 1:
        raise ValueError(f"the reliability is {trust:g}; it is 1 at most")
    return of_people(table.sum(axis=1).std(ddof=1) * np.sqrt(1 - trust), len(table))


def conditional_standard_error(score: ArrayLike, items: int) -> Figure | NDArray[np.float64]:
    """Return the standard error at a score (…) out of ``items``, in marks.

    For items of 0 and 1: largest in the middle. nan for fewer than two
    items. ValueError for a score outside 0 … items [lord1957].
    """
    given = np.asarray(score, dtype=float)
    if not ((given >= 0) & (given <= items)).all():
        raise ValueError(f"the score is {score}; out of {items} items it is 0 to {items}")
    if items < 2:
        return none("one item has no error of its own: give two at least")
    error = np.sqrt(given * (items - given) / (items - 1))
    return error if error.ndim else Figure(error)


def zeros_and_ones(marks: ArrayLike) -> NDArray[np.float64]:
    """Return marks (people, items) as floats, refusing all but 0 and 1."""
    table = matrix("marks", marks, "people × items", 0, 1)
    if (part := table % 1).any():
        raise ValueError(
            f"marks holds {part[part > 0][0]:g}; this needs 0 (wrong) and 1 (right) alone: "
            "use alpha for part marks"
        )
    return table


def _no_reliability(table: NDArray[np.float64]) -> str:
    people, items = table.shape
    totals = table.sum(axis=1)
    if people < 3:
        return f"{people} people are too few to compare: three at least"
    if items < 2:
        return "one item cannot be compared with others: two at least"
    # Equal totals of part marks differ in their last bits, and 0.0 would be missed.
    if np.ptp(totals) <= 1e-9 * max(1.0, abs(totals).max()):
        return "everybody has the same total: there is nothing to tell apart"
    return ""
