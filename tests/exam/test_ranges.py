"""Numbers that a form, a sitting or a figure takes: up to their ends and no further."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab.exam import statistics
from squatlab.exam.forms import Form

A_LITTLE = 1e-6
"""Beyond an end by this much is beyond it."""

QUIZ = np.array([[1, 1, 0, 1], [1, 0, 0, 1], [0, 1, 0, 0], [1, 1, 1, 1]])


def form(**changes) -> Form:
    """Return a form of three items."""
    return Form(**{"id": "spring", "items": ("a", "b", "c"), "cut": 2, "seal": "0"} | changes)


def with_one_mark(mark: float) -> np.ndarray:
    """Return the quiz with one mark changed."""
    table = QUIZ.astype(float)
    table[1, 2] = mark
    return table


RANGES = {
    "minutes": (lambda m: form(minutes=m), A_LITTLE, 24 * 60),
    "cut": (lambda c: form(cut=c), 0, 3),
    "mark, difficulty": (lambda m: statistics.difficulty(with_one_mark(m)), 0, 1),
    "mark, item against rest": (lambda m: statistics.item_rest(with_one_mark(m)), 0, 1),
    "mark, upper and lower": (lambda m: statistics.upper_lower(with_one_mark(m)), 0, 1),
    "share, upper and lower": (lambda s: statistics.upper_lower(QUIZ, s), A_LITTLE, 0.5),
    "level, reliability": (
        lambda level: statistics.alpha_interval(QUIZ, level),
        A_LITTLE,
        1 - A_LITTLE,
    ),
    "level, share": (
        lambda level: statistics.share_interval(1, 2, level),
        A_LITTLE,
        1 - A_LITTLE,
    ),
    "part of a whole": (lambda part: statistics.share_interval(part, 2), 0, 2),
    "score": (lambda score: statistics.conditional_standard_error(score, 4), 0, 4),
    "cut, decisions": (lambda cut: statistics.decision_consistency(QUIZ, cut), 0, 4),
    "reliability": (lambda r: statistics.standard_error(QUIZ, r), -np.inf, 1),
    "rating": (lambda r: statistics.angoff([[0.5, r], [0.5, 0.5]]), 0, 1),
    "expected share": (lambda s: statistics.ebel([[s]], [[10]]), 0, 1),
    "count": (lambda count: statistics.ebel([[0.5]], [[count]]), 0, 1_000_000),
}
"""What takes a number, and the least and the most that it takes."""


@pytest.mark.parametrize("name", RANGES)
def test_a_number_reaches_its_ends_and_no_further(name):
    take, least, most = RANGES[name]
    step = 1 if name == "count" else A_LITTLE
    for allowed in (least, most):
        if np.isfinite(allowed):
            take(allowed)
    for beyond in (least - step, most + step):
        if np.isfinite(beyond):
            with pytest.raises(ValueError):
                take(beyond)
