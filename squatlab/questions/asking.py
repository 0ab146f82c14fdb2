"""The one form of asking and marking: a try, a hint, a second try, then the answer.

Plain logic without a screen. A notebook page, a text cell and a printed key all
word a question's answers here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from textwrap import fill

from squatlab.questions.kinds import Given
from squatlab.questions.question import Key, Question

TRIES = 2
"""How often one answers before the key is shown [teaching-value]."""


@dataclass(frozen=True, repr=False)
class Feedback:
    """Say whether an answer is right, and why; ``right`` is None without one."""

    right: bool | None
    text: str

    def __repr__(self) -> str:
        return fill(self.text, 88)


@dataclass
class Asking:
    """Keep one question while it is answered.

    ``given`` has the answers so far, ``done`` is True once it is right, out
    of tries, or given up.
    """

    question: Question
    key: Key
    given: list[Given] = field(default_factory=list)
    done: bool = False

    def answer(self, given: object) -> Feedback:
        """Return what is said to an answer as a page sends it or as typed.

        What the question does not offer is explained and costs no try.
        """
        if given is None or (isinstance(given, str) and not given.strip()):
            return Feedback(None, "No answer yet.")
        try:
            answer = read_answer(self.question, given)
        except ValueError as problem:
            return Feedback(None, f"{problem}.")
        self.given.append(answer)
        if self.key.how.fits(self.key, answer):
            self.done = True
            return Feedback(True, f"Right: {stated(self.question, self.key)}. {self.key.why}")
        why_not = reply_to(self.question, self.key, answer)
        if len(self.given) < TRIES:
            return Feedback(False, f"{why_not} {self.key.hint} Try once more.")
        self.done = True
        return Feedback(False, f"{why_not} {self._solution()}")

    def give_up(self) -> Feedback:
        """Return the answer and why it is right."""
        self.done = True
        return Feedback(None, self._solution())

    def _solution(self) -> str:
        return f"The answer is {stated(self.question, self.key)}. {self.key.why}"


def read_answer(question: Question, given: object) -> Given:
    """Return an answer that is a letter, an option or a number, as it is kept.

    Raises ValueError that says what to answer.
    """
    if isinstance(given, str) and given not in question.options:
        try:
            return question.how.typed(question, given)
        except ValueError:
            if not question.options:
                raise
            letters = ", ".join(f'"{letter}"' for letter in question.letters)
            raise ValueError(
                f"{given!r} is not one of the letters; answer with {letters}"
            ) from None
    return question.how.check(question, given)


def reply_to(question: Question, key: Key, given: Given) -> str:
    """Return what is said to a wrong answer, first what it was."""
    own = key.reply(given)
    if question.options:
        named = given if isinstance(given, list) else [given]
        letters = ", ".join(question.letters[question.options.index(one)] for one in named)
        return f"Not {letters or 'none of them'}. {own}".strip()
    side = "more" if given > key.answer else "less"
    off = f"{given:g} is {amount(question, abs(given - key.answer))} {side} than it should be."
    return f"{off} {own}".strip()


def stated(question: Question, key: Key) -> str:
    """Return the key in words: letter and option, or number and unit."""
    if question.options:
        right = key.how.accepted(key)
        said = [f"{question.letters[question.options.index(one)]}) {one}" for one in right]
        return (", then " if key.how.ordered else "; ").join(said) or "none of these"
    if question.unit == "holes":  # which one, not how many
        return f"hole {key.answer:.0f}"
    return amount(question, key.answer)


def with_tolerance(question: Question, key: Key) -> str:
    """Return the key in words for a page of keys, a number with its tolerance."""
    if question.options or question.unit == "holes":
        return stated(question, key)
    # As many decimals as the tolerance begins with.
    decimals = max(0, -math.floor(math.log10(key.tolerance)))
    gap = "" if question.unit == "°" else " "
    return f"{key.answer:.{decimals}f}{gap}{question.unit} (± {key.tolerance:g})"


def amount(question: Question, value: float) -> str:
    """Return a value to a fifth of the tolerance or finer, with its unit."""
    figures = math.ceil(-math.log10(question.tolerance / 5))
    gap = "" if question.unit == "°" else " "
    return f"{round(value, max(figures, 0)):g}{gap}{question.unit}"
