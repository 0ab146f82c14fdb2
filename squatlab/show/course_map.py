"""The course's map: what is done, which checks are right, what practice says, what is next."""

from __future__ import annotations

from html import escape
from pathlib import Path

from squatlab.lessons.standing import AFTER, BEFORE, ENOUGH_CASES, CourseStanding, PageStanding
from squatlab.show.confusions import Confusions
from squatlab.show.picture import ShownInNotebook

SIGNS = {"done": "✓", "started": "◐", "open": "○"}
"""A sign beside each word: colour is not needed to tell them apart."""

CELL = "style='text-align: left; padding: 3px 14px 3px 0; vertical-align: top'"


class CourseMap(ShownInNotebook):
    """Show where somebody stands in the course; a notebook shows it as a table."""

    def __init__(self, standing: CourseStanding) -> None:
        self.standing = standing

    @property
    def next_step(self) -> str:
        """Return in words what to do next."""
        page, cases = self.standing.next, self.standing.cases
        if page is not None:
            return f"Next: {page.page.number} {page.page.title}."
        if cases < ENOUGH_CASES:
            return f"Next: practice, {ENOUGH_CASES - cases} cases more."
        if self.standing.score(AFTER)[1] < self.standing.score(BEFORE)[1]:
            return "Next: the ten questions after the course."
        return "Every page is done. Ask your instructor for the exam."

    @property
    def sums(self) -> list[str]:
        """Return what is known of checks and ten questions, a sentence each."""
        pages = self.standing.pages
        done, right = sum(row.done for row in pages), sum(row.right for row in pages)
        checks = sum(len(row.page.checks) for row in pages)
        lines = [f"{done} of {len(pages)} pages done, {right} of {checks} checks right."]
        for occasion in (BEFORE, AFTER):
            score, answered = self.standing.score(occasion)
            if answered:
                lines.append(f"Ten questions {occasion} the course: {score} right of {answered}.")
        return [*lines, *self.standing.damaged]

    def __repr__(self) -> str:
        rows = []
        for row in self.standing.pages:
            page, checks = row.page, f"{row.right} of {len(row.page.checks)} checks right"
            rows.append(f"{row.words:8} {page.number} {page.title}: {checks}")
        practised = [Confusions(progress).words for progress in self.standing.practice]
        return "\n".join([self.next_step, *rows, *self.sums, *practised])

    @property
    def html(self) -> str:
        """Return the table as elements of a page."""
        rows = "".join(_row(row) for row in self.standing.pages)
        heads = "".join(
            f"<th scope='col' {CELL}>{head}</th>"
            for head in ("", "page", "question", "checks right")
        )
        sums = "".join(f"<p>{escape(line)}</p>" for line in self.sums)
        tables = "".join(
            Confusions(progress).html for progress in self.standing.practice if progress.answered
        )
        return (
            f"<p><b>{escape(self.next_step)}</b></p><table><tr>{heads}</tr>{rows}</table>"
            f"{sums}{tables}"
        )


def _row(row: PageStanding) -> str:
    """Return a page's row; its sign is said in words as well."""
    page = row.page
    cells = (
        f"{SIGNS[row.words]}&nbsp;{row.words}",
        f'<a href="{page.file}">{page.number} {escape(page.title)}</a>',
        escape(page.question),
        f"{row.right}&nbsp;of&nbsp;{len(page.checks)}",
    )
    return f"<tr>{''.join(f'<td {CELL}>{cell}</td>' for cell in cells)}</tr>"


def course_map(folder: str | Path = ".") -> CourseMap:
    """Return the map of the course for the work that is kept in a folder."""
    return CourseMap(CourseStanding(folder))
