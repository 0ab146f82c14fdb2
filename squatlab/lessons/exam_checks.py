"""The question of notebook 11: what a score says beside the cut, and what it leaves open."""

from __future__ import annotations

import math
from collections.abc import Callable

from numpy.random import Generator

from squatlab import tables
from squatlab.questions.cut import least_whole
from squatlab.questions.question import Check, choice

LIFTS = (30, 36, 40)
"""How many lifts the forms that are asked about have [teaching-value]."""

FARTHEST = 6
"""So many lifts the score is above or below the cut at most [teaching-value]."""


def score_and_cut(rng: Generator) -> Check:
    """Ask whether a score passes, and whether another form might say otherwise."""
    lifts = int(rng.choice(LIFTS))
    cut = least_whole(lifts * tables.value("exam_policy", name="cut"))
    score = min(cut + int(rng.integers(-FARTHEST, FARTHEST + 1)), lifts - 1)
    # Binomial errors of measurement: x (n − x) / (n − 1) is the variance of the
    # number right, x, of n alike items around what the person truly knows [lord1957].
    error = math.sqrt(score * (lifts - score) / (lifts - 1))
    passes = score >= cut
    # The band is one standard error to either side: with the cut inside it, another form of
    # the same lifts might have decided otherwise.
    is_open = abs(score - cut) <= error

    def words(passed: bool, unsure: bool) -> str:
        verdict = "passed" if passed else "not passed"
        return f"{verdict}; another form {'might well' if unsure else 'would hardly'} say otherwise"

    band = f"{score} − {error:.1f} to {score} + {error:.1f}"
    inside = f"The cut of {cut} lies {'inside' if is_open else 'outside'} the band from {band}."
    compared, verdict = ("at or above", "passed") if passes else ("below", "not passed")
    decided = (
        f"{score} is {compared} the cut of {cut}, so the form is {verdict}. The band changes "
        "nothing in that."
    )
    replies = {
        words(passed, unsure): decided if passed != passes else inside
        for passed in (True, False)
        for unsure in (True, False)
    }
    return choice(
        rng,
        f"A form has {lifts} lifts and a cut of {cut}. You name the fault to fix first in {score} "
        f"of them. One standard error at this score is {error:.1f} lifts. What does your result "
        "say?",
        replies,
        right=words(passes, is_open),
        why=f"{decided} {inside}",
        hint="Two questions: is the score at the cut or above it? And does the cut lie within one "
        "standard error of the score?",
    )


MAKERS: dict[str, Callable[[Generator], Check]] = {score_and_cut.__name__: score_and_cut}
