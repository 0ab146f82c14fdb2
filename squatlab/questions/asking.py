"""The one form of asking and marking: a try, a hint, a second try, then the answer.

Plain logic without a screen. Checks, practice and the pages of the book all mark
here; what is said to an answer is its kind's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from textwrap import fill

from squatlab.questions.kinds import Given
from squatlab.questions.question import COLUMNS, Key, Question

TRIES = 2
"""How often one answers before the key is shown [teaching-value]."""


@dataclass(frozen=True, repr=False)
class Feedback:
    """Say whether an answer is right, and why; ``right`` is None without one."""

    right: bool | None
    text: str

    def __repr__(self) -> str:
        return fill(self.text, COLUMNS)


@dataclass
class Asking:
    """Keep one question while it is answered.

    ``tries`` is how often one answers before the key is shown, ``given``
    has the answers so far, ``done`` is True once it is right, out of tries,
    or given up.
    """

    question: Question
    key: Key
    tries: int = TRIES
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
        how = self.key.how
        if how.fits(self.key, answer):
            self.done = True
            return Feedback(
                True, _joined(how.confirmed(self.question, self.key, answer), self.key.why)
            )
        why_not = how.refused(self.question, self.key, answer)
        if len(self.given) < self.tries:
            return Feedback(False, _joined(why_not, self.key.hint, "Try once more."))
        self.done = True
        return Feedback(False, _joined(why_not, self._solution(answer)))

    def give_up(self) -> Feedback:
        """Return the answer and why it is right."""
        self.done = True
        return Feedback(None, self._solution(None))

    def _solution(self, last: Given) -> str:
        """Return what is right and why; ``last`` is the last answer, if any."""
        return _joined(self.key.how.solved(self.question, self.key, last), self.key.why)


def _joined(*sentences: str) -> str:
    """Return sentences in one line, without those that are empty."""
    return " ".join(filter(None, sentences))


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
