"""How far a total can be trusted: reliability and errors of measurement.

Marks are (people, items). k is the number of items, n of people, X a
person's total.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtri, ndtri

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
    # KR-21 = k/(k − 1) · (1 − m (k − m)/(k s²)), m and s² the mean and the variance of the
    # totals: the items' own variances p (1 − p) are taken as if each p were m/k.
    of_items = totals.mean() * (items - totals.mean()) / (items * totals.var())
    return of_people(items / (items - 1) * (1 - of_items), people)


def alpha(marks: ArrayLike) -> Figure:
    """Return Cronbach's alpha of marks (people, items) of any size.

    nan with its reason as `kr20` [cronbach1951].
    """
    table = matrix("marks", marks, "people × items", -1e9, 1e9)
    if why := _no_reliability(table):
        return none(why)
    people, items = table.shape
    # alpha = k/(k − 1) · (1 − Σ var(item)/var(X)): what items vary together, as a share of what
    # totals vary. For marks of 0 and 1, var(item) = p (1 − p), and this is KR-20.
    of_items = table.var(axis=0).sum() / table.sum(axis=1).var()
    return of_people(items / (items - 1) * (1 - of_items), people)


class Interval(NamedTuple):
    """Hold the ends of an interval; both nan where there is none."""

    low: float
    high: float


def alpha_interval(marks: ArrayLike, level: float = 0.95) -> Interval:
    """Return between what `alpha` (for 0 and 1: `kr20`) of other people may lie.

    Of marks (people, items). Feldt's interval: (1 − ρ)/(1 − r) follows an
    F distribution with n − 1 and (n − 1)(k − 1) degrees of freedom, for n
    people and k items, if people are drawn at random and true scores and
    errors are near normal. nan where `alpha` is. ValueError for a level
    outside 0 … 1 [feldt1965].
    """
    if not 0 < level < 1:
        raise ValueError(f"the level is {level:g}; give more than 0 and less than 1, as 0.95")
    estimate = alpha(marks)
    if np.isnan(estimate):
        return Interval(np.nan, np.nan)
    people, items = np.shape(marks)
    between_people = people - 1
    within_people = (people - 1) * (items - 1)
    beyond = (1 - level) / 2
    # fdtri(dfn, dfd, p) is the ratio below which a share p of F lies. With r the estimate and
    # F' = (1 − ρ)/(1 − r), ρ = 1 − (1 − r) F': the high end of F is the low end of ρ.
    low = 1 - (1 - estimate) * fdtri(between_people, within_people, 1 - beyond)
    high = 1 - (1 - estimate) * fdtri(between_people, within_people, beyond)
    return Interval(float(low), float(high))


def share_interval(part: int, whole: int, level: float = 0.95) -> Interval:
    """Return between what the share ``part`` of ``whole`` of others may lie.

    Wilson's score interval; nan for a whole of 0. ValueError for a part
    outside 0 … whole, or a level outside 0 … 1 [wilson1927].
    """
    if not 0 <= part <= whole or not 0 < level < 1:
        raise ValueError(f"{part} of {whole} at level {level:g}: no part of a whole, or no level")
    if not whole:
        return Interval(np.nan, np.nan)
    z = ndtri((1 + level) / 2)  # 1.96 for 95 %
    share, weight = part / whole, z**2 / whole
    # Every true share p whose sample could be this far off: the roots of
    # (p − share)² = z² p (1 − p)/n. Unlike share ± z √(share (1 − share)/n) they stay within
    # 0 … 1, and are no single point when all or none passed.
    middle = (share + weight / 2) / (1 + weight)
    reach = z / (1 + weight) * np.sqrt(share * (1 - share) / whole + weight / (4 * whole))
    return Interval(float(middle - reach), float(middle + reach))


def standard_error(marks: ArrayLike, reliability: float | None = None) -> Figure:
    """Return the standard error of measurement of a total, in marks.

    Of marks (people, items); the reliability is `alpha` unless given. nan
    with its reason where there is none. ValueError if it is above 1.
    """
    table = matrix("marks", marks, "people × items", -1e9, 1e9)
    known = alpha(table) if reliability is None else Figure(reliability)
    if np.isnan(known):
        return none(known.reason or "the reliability is not a number")
    if known > 1:
        raise ValueError(f"the reliability is {known:g}; it is 1 at most")
    # SEM = s √(1 − r): a reliability is the share of the totals' variance s² that is true.
    return of_people(table.sum(axis=1).std(ddof=1) * np.sqrt(1 - known), len(table))


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
    # Lord: √(X (k − X)/(k − 1)), the sampling error if the k items were drawn at random from
    # many like them.
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
    """Return why a reliability means nothing here, "" if it does."""
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
