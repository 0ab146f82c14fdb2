"""What a class knows and misses, from everybody's folders; nobody is named."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from squatlab.lessons import made
from squatlab.lessons.course_pages import course_pages
from squatlab.lessons.standing import AFTER, BEFORE, CourseStanding
from squatlab.questions.items import worded
from squatlab.questions.practice_progress import LABELS

FEWEST = 5
"""A share of fewer people than this says more about one of them than about
the class: it is never shown [teaching-value]."""

AGAIN = 0.4
"""What this share of those who met it missed is taught again [teaching-value]."""

QUESTIONS = 10
"""How many questions are asked before the course, and after it."""

TAUGHT_IN = "08 Faults"
"""The page that shows every fault."""

RULE = (
    f"Teach again: what at least {FEWEST} people met and at least {AGAIN:.0%} of them missed, "
    "the most missed first."
)


class Missed(NamedTuple):
    """Hold how many people met something, and how many of them missed it.

    ``name`` is a check's or a fault's, ``words`` what it is called, ``asks``
    a check's question, and ``page`` where it is taught.
    """

    name: str
    words: str
    met: int
    missed: int
    asks: str
    page: str

    @property
    def share(self) -> float | None:
        """Return the share that missed it, None where too few met it."""
        return self.missed / self.met if self.met >= FEWEST else None

    @property
    def again(self) -> bool:
        """Return whether `RULE` has it taught again."""
        return self.share is not None and self.share >= AGAIN


class ClassStanding:
    """Hold what a class missed.

    ``checks`` in the order of the pages: missed is a question that was not
    right at the first try, the first time. ``faults``: missed by anyone who
    recognised it wrongly in at least half of their cases with it, or called
    it where it was not as often. ``people`` is how many folders were read,
    ``gains`` are by how many of the ten questions those did better who
    answered all of them before and after.
    """

    def __init__(self, standings: Sequence[CourseStanding]) -> None:
        self.people = len(standings)
        self.damaged = [words for one in standings for words in one.damaged]
        first_tries = [_first_tries(one) for one in standings]
        self.checks = tuple(
            Missed(
                name,
                f"{page.number} {page.title}: {name.replace('_', ' ')}",
                sum(name in tries for tries in first_tries),
                sum(not tries.get(name, True) for tries in first_tries),
                made(name, seed).question.text,
                f"{page.number} {page.title}",
            )
            for page in course_pages()
            for name, seed in page.checks
        )
        recognised = [_recognised(one) for one in standings]
        self.faults = tuple(
            Missed(
                label,
                worded(label),
                sum(label in own for own in recognised),
                sum(not own.get(label, True) for own in recognised),
                "",
                TAUGHT_IN,
            )
            for label in LABELS
        )
        self.gains = tuple(gain for one in standings if (gain := _gain(one)) is not None)

    @property
    def teach_again(self) -> tuple[Missed, ...]:
        """Return what `RULE` names, the most missed first."""
        wanted = {one.name: one for one in (*self.checks, *self.faults) if one.again}
        return tuple(sorted(wanted.values(), key=lambda one: -one.share))


def _gain(standing: CourseStanding) -> int | None:
    """Return how many more of the ten questions were right after the course.

    None for anyone who has not answered all ten on both occasions.
    """
    before, after = standing.score(BEFORE), standing.score(AFTER)
    if before.answered != QUESTIONS or after.answered != QUESTIONS:
        return None
    return after.right - before.right


def _first_tries(standing: CourseStanding) -> dict[str, bool]:
    """Return by check whether the first question was right at the first try."""
    tries: dict[str, bool] = {}
    for mark in standing.marks:
        if not mark.occasion:
            tries.setdefault(mark.check, mark.at_once)
    return tries


def _recognised(standing: CourseStanding) -> dict[str, bool]:
    """Return by fault whether one person mostly recognised it.

    Faults that no case had and nobody called are left out.
    """
    known: dict[str, bool] = {}
    for place, label in enumerate(LABELS):
        counts = [progress.spotted[place] for progress in standing.practice]
        hits = sum(count.hits for count in counts)
        wrong = sum(count.misses + count.false_alarms for count in counts)
        if hits + wrong:
            known[label] = hits > wrong
    return known
