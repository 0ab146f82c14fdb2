"""Where to draw the line, and how surely it parts those who pass.

Cuts by judges (Angoff, Ebel), and how often another equal form would
decide the same (Huynh).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaln, gammaln

from squatlab.exam.reliability import kr21, zeros_and_ones
from squatlab.questions.cut import least_whole
from squatlab.questions.figure import Figure, matrix, none, of_people


class CutScore(NamedTuple):
    """Hold a panel's cut: marks out of ``items`` that just suffice.

    ``standard_error`` in marks, from how the judges differ, and ``icc``,
    their agreement as a group, ICC(2,k); nan where there was one voice.
    """

    cut: float
    items: int
    standard_error: Figure
    icc: Figure

    @property
    def whole(self) -> int:
        """Return the least whole number of marks that reaches the cut."""
        return least_whole(self.cut)


class Consistency(NamedTuple):
    """Hold how often two forms would decide alike, and beyond chance."""

    agreement: Figure
    kappa: Figure


def angoff(ratings: ArrayLike) -> CutScore:
    """Return the modified Angoff cut of ratings (judges, items).

    A rating is the share, 0 to 1, of just-able candidates who get the item
    right. The cut is the mean of the judges' sums; its error, their standard
    deviation over the root of their number [angoff1971] [shrout1979].
    """
    table = matrix("ratings", ratings, "judges × items, shares (70 of 100 is 0.70)", 0, 1)
    judges, items = table.shape
    sums = table.sum(axis=1)
    if judges < 2:
        error = icc = none("one judge has nobody to differ from")
    else:
        error, icc = Figure(sums.std(ddof=1) / np.sqrt(judges)), _icc2k(table.T)
    return CutScore(float(sums.mean()), items, error, icc)


def ebel(shares: ArrayLike, counts: ArrayLike) -> CutScore:
    """Return the Ebel cut from expected shares and counts of items.

    Both (relevance, difficulty): the share, 0 to 1, of a cell's items that
    a just-able candidate gets right, and how many items it has [ebel1972].
    """
    expected = matrix("shares", shares, "relevance × difficulty (90 % is 0.90)", 0, 1)
    many = matrix("counts", counts, "relevance × difficulty", 0, 1e6)
    if expected.shape != many.shape or (many % 1).any():
        raise ValueError(
            f"shares is {expected.shape} and counts {many.shape}; both have the same cells, and "
            "counts are whole numbers"
        )
    no_cut = none("the panel agreed on one table of shares")
    return CutScore(float((expected * many).sum()), int(many.sum()), no_cut, no_cut)


def decision_consistency(marks: ArrayLike, cut: float) -> Consistency:
    """Estimate how often a second, equal form would pass the same people.

    From one form's marks (people, items) of 0 and 1 and the cut (a total
    of at least this passes), by the beta-binomial model with KR-21. nan
    with its reason where KR-21 is none or not above 0 [huynh1976].
    """
    table = zeros_and_ones(marks)
    people, items = table.shape
    reliability = kr21(table)
    if not 0 <= cut <= items:
        raise ValueError(f"the cut is {cut:g}; out of {items} items it is 0 to {items}")
    if not reliability > 0:
        why = reliability.reason
        if not np.isnan(reliability):
            why = f"KR-21 is {reliability:.2f}, not above 0"
        return Consistency(none(why), none(why))
    mean = table.sum(axis=1).mean()
    # The model: each person has a true share of items right, and over people these shares follow
    # a beta distribution. Its parameters are those that give the totals' mean and KR-21
    # (Huynh 1976, r the reliability, m the mean): a = (1/r − 1) m, b = (1/r − 1)(k − m).
    a = (1 / reliability - 1) * mean
    b = (1 / reliability - 1) * (items - mean)
    if min(a, b) <= 0:
        why = "KR-21 is 1: everybody has all or nothing right"
        return Consistency(none(why), none(why))
    joint = _two_totals(items, a, b)
    passes = np.arange(items + 1) >= cut
    # Both forms pass a person, or neither does.
    agreement = joint[passes[:, None] == passes].sum()
    share_passing = joint[passes].sum()
    by_chance = share_passing**2 + (1 - share_passing) ** 2
    if by_chance > 1 - 1e-12:
        kappa = none("this cut passes everybody or nobody")
    else:
        kappa = of_people((agreement - by_chance) / (1 - by_chance), people)
    return Consistency(of_people(agreement, people), kappa)


def _two_totals(items: int, a: float, b: float) -> NDArray[np.float64]:
    """Return the chance of every pair of totals on two equal forms (total, total).

    The bivariate beta-binomial distribution of forms of k ``items``: with
    x and y right, C(k, x) C(k, y) B(a + x + y, b + 2k − x − y)/B(a, b). By
    logarithms, for C(40, 20) is 10¹¹ and B as small [huynh1976].
    """
    total = np.arange(items + 1)
    log_ways = gammaln(items + 1) - gammaln(total + 1) - gammaln(items - total + 1)
    right = total + total[:, None]
    wrong = 2 * items - right
    log_chance = log_ways + log_ways[:, None] + betaln(a + right, b + wrong) - betaln(a, b)
    return np.exp(log_chance)


def _icc2k(ratings: NDArray[np.float64]) -> Figure:
    """Return ICC(2,k) of ratings (items, judges): how far judges agree as a group.

    Two-way random effects, the mean of k judges. With n items, and the
    mean squares MSR of items, MSC of judges and MSE of what is left:
    (MSR − MSE)/(MSR + (MSC − MSE)/n) [shrout1979].
    """
    items, judges = ratings.shape
    if items < 2:
        return none("one item cannot show agreement: two at least")
    by_item = ratings.mean(axis=1, keepdims=True)
    by_judge = ratings.mean(axis=0)
    rest = ratings - by_item - by_judge + ratings.mean()
    of_items = judges * by_item.var(ddof=1)
    of_judges = items * by_judge.var(ddof=1)
    of_rest = (rest**2).sum() / ((items - 1) * (judges - 1))
    if of_items <= 1e-24:
        return none("the judges told no item from another")
    # The total is an estimate of a variance. With few items it can come out below 0, and the
    # quotient of two numbers below 0 would read as agreement.
    total = of_items + (of_judges - of_rest) / items
    if total <= 0:
        return none("the judges contradict each other on too few items to tell")
    return Figure((of_items - of_rest) / total)
