"""Where somebody stands in the course: pages done, checks right, practice, what is next."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from squatlab.lessons.course_pages import CoursePage, course_pages
from squatlab.questions.check_marks import CheckMark, CheckMarks
from squatlab.questions.practice_progress import Progress

FOLDER, FILE = "practice", "checks.jsonl"
"""Where a working copy keeps what was practised, and the marks of its checks."""

BEFORE, AFTER = "before", "after"
"""The occasions of the ten questions."""

ENOUGH_CASES = 20
"""So many practice cases count as practised [teaching-value]."""


class PageStanding(NamedTuple):
    """Hold one page of the course, and how many checks were answered and right."""

    page: CoursePage
    answered: int
    right: int

    @property
    def done(self) -> bool:
        """Return whether every check was answered rightly, at whatever try."""
        return self.right == len(self.page.checks)

    @property
    def words(self) -> str:
        """Return how far it is: "done", "started" or "open"."""
        return "done" if self.done else "started" if self.answered else "open"


class OccasionScore(NamedTuple):
    """Hold how many of the ten questions were right, and how many answered."""

    right: int
    answered: int


class CourseStanding:
    """Hold what a working copy's files say of one person's work.

    ``pages`` in order, ``marks`` of checks and ten questions, ``practice``
    the progress of anyone who practised there, ``damaged`` files that could
    not be read, in words.
    """

    def __init__(self, folder: str | Path) -> None:
        kept = Path(folder) / FOLDER
        self.damaged: list[str] = []
        self.marks: tuple[CheckMark, ...] = ()
        try:
            self.marks = CheckMarks(kept / FILE).all()
        except (OSError, ValueError) as problem:
            self.damaged.append(str(problem))
        self.practice: list[Progress] = []
        for path in sorted(kept.glob("*.jsonl")):
            if path.name == FILE:
                continue
            try:
                self.practice.append(Progress(path))
            except (OSError, ValueError) as problem:
                self.damaged.append(str(problem))
        own = [mark for mark in self.marks if not mark.occasion]
        answered = {mark.check for mark in own}
        right = {mark.check for mark in own if mark.right}
        self.pages = tuple(_standing(page, answered, right) for page in course_pages())

    @property
    def cases(self) -> int:
        """Return how many practice cases were answered."""
        return sum(len(progress.answered) for progress in self.practice)

    def score(self, occasion: str) -> OccasionScore:
        """Return what became of the ten questions, `BEFORE` or `AFTER`."""
        marks = [mark for mark in self.marks if mark.occasion == occasion]
        return OccasionScore(sum(mark.right for mark in marks), len(marks))

    @property
    def next(self) -> PageStanding | None:
        """Return the first page that is not done, None after the last."""
        return next((page for page in self.pages if not page.done), None)


def _standing(page: CoursePage, answered: set[str], right: set[str]) -> PageStanding:
    """Return one page's standing, from the names of all checks answered and right."""
    names = {name for name, _ in page.checks}
    return PageStanding(page, len(names & answered), len(names & right))
