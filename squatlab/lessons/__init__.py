"""The graded checks of the notebooks: a seed makes the question and its key.

Every key is computed by the package from the numbers of the question,
so a check never repeats an answer that somebody typed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from textwrap import fill

import numpy as np

from squatlab import tables
from squatlab.lessons import bank, fault_checks, movement, practising
from squatlab.lessons.question import Question

MAKERS = bank.MAKERS | movement.MAKERS | fault_checks.MAKERS | practising.MAKERS

__all__ = ["Feedback", "Question", "check", "names", "question"]


@dataclass(frozen=True, repr=False)
class Feedback:
    """Say whether an answer is right, and why; ``right`` is None without one."""

    right: bool | None
    text: str

    def __repr__(self) -> str:
        return fill(self.text, 88)


def names() -> tuple[str, ...]:
    """Return the names of all checks."""
    return tuple(MAKERS)


def question(name: str, seed: int = 1) -> Question:
    """Make a check's question; the same seed makes the same one.

    Raises ValueError for an unknown name, listing the known ones.
    """
    if name not in MAKERS:
        raise ValueError(
            f"there is no check {name!r}{tables.closest(str(name), names())} "
            f"The checks: {', '.join(names())}"
        )
    return MAKERS[name](np.random.default_rng(seed))


def check(name: str, seed: int = 1, answer: str | float | None = None) -> Feedback:
    """Mark an answer to a check, with the reason.

    The question is made again from its seed and the key computed anew.
    An answer that is neither a letter on offer nor a number is
    explained, not marked. Raises ValueError for an unknown name.
    """
    asked = question(name, seed)
    if answer is None or answer == "":
        return Feedback(
            None, "No answer yet: put your answer in place of None and run the cell again."
        )
    return _mark_letter(asked, answer) if asked.options else _mark_number(asked, answer)


def _mark_letter(asked: Question, answer: str | float) -> Feedback:
    letter = str(answer).strip().strip(")").lower()
    if len(letter) != 1 or letter not in asked.letters:
        allowed = ", ".join(f'"{one}"' for one in asked.letters)
        return Feedback(None, f"{answer!r} is not one of the letters; answer with {allowed}.")
    if letter == asked.key:
        return Feedback(True, f"Right, {letter}. {asked.why}")
    chosen = asked.options[asked.letters.index(letter)]
    return Feedback(False, f'Not {letter} ("{chosen}"): the answer is {asked.key}. {asked.why}')


def _mark_number(asked: Question, answer: str | float) -> Feedback:
    try:
        given = float(str(answer).replace(",", ".").removesuffix(asked.unit))
    except ValueError:
        given = math.nan
    if not math.isfinite(given):
        return Feedback(None, f"{answer!r} is not a number; answer in {asked.unit}, as in 12.5.")
    right = asked.answer if asked.unit == "holes" else _amount(asked, asked.key)
    miss = given - asked.key
    if abs(miss) <= asked.tolerance:
        return Feedback(True, f"Right: {right}. {asked.why}")
    side = "more" if miss > 0 else "less"
    return Feedback(
        False,
        f"{given:g} is {_amount(asked, abs(miss))} {side} than it should be: {right}. {asked.why}",
    )


def _amount(asked: Question, value: float) -> str:
    """Return a value to a fifth of the tolerance or finer, with its unit."""
    figures = math.ceil(-math.log10(asked.tolerance / 5))
    return f"{round(value, max(figures, 0)):g}{'' if asked.unit == '°' else ' '}{asked.unit}"
