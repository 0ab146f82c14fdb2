"""The graded checks of the notebooks: a seed makes the question and its key.

Every key is computed by the package from the numbers of the question,
so a check never repeats an answer that somebody typed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from squatlab import tables
from squatlab.lessons import exam_checks, fault_checks, movement, posture_checks, practising
from squatlab.questions.asking import Asking
from squatlab.questions.question import Check

MAKERS = (
    posture_checks.MAKERS
    | movement.MAKERS
    | fault_checks.MAKERS
    | practising.MAKERS
    | exam_checks.MAKERS
)

__all__ = ["asking", "made", "names"]


def names() -> tuple[str, ...]:
    """Return the names of all checks."""
    return tuple(MAKERS)


def made(name: str, seed: int = 1) -> Check:
    """Make a check: its question and its key; the same seed makes the same.

    Raises ValueError for an unknown name, listing the known ones.
    """
    if name not in MAKERS:
        raise ValueError(
            f"there is no check {name!r}{tables.closest(str(name), names()) or '.'} "
            f"The checks: {', '.join(names())}"
        )
    question, key = MAKERS[name](np.random.default_rng(seed))
    return Check(replace(question, id=f"{name}-{seed}"), key)


def asking(name: str, seed: int = 1) -> Asking:
    """Make a check to be answered in two tries; ValueError for an unknown name."""
    return Asking(*made(name, seed))
