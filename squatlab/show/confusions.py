"""What a trainee confuses: a table with bars and words."""

from __future__ import annotations

from html import escape
from typing import Any, NamedTuple

from squatlab.questions.items import worded
from squatlab.questions.practice_progress import LABELS, Progress
from squatlab.show import palette

HEADS = ("fault", "wrong", "there", "missed", "false alarm", "mistaken for")

BAR_PX = 70
"""How long a bar is that was wrong every time."""

NOBODY = "No case answered yet: what you confuse will be shown here."


class ConfusionRow(NamedTuple):
    """Hold how well one label was recognised, as a table shows it."""

    name: str
    wrong: int
    mattered: int
    there: int
    missed: int
    called: int
    instead: str

    @property
    def cells(self) -> tuple[str, ...]:
        """Return what stands in the row."""
        wrong = f"{self.wrong} of {self.mattered}"
        return self.name, wrong, *map(str, self[3:6]), self.instead


class Confusions:
    """Show what was confused, most often first; a notebook shows either.

    ``words`` is the sentence above the table, ``rows`` the labels that
    mattered in any case so far.
    """

    def __init__(self, progress: Progress) -> None:
        named, need = progress.first.counts, progress.need()
        rows = []
        for place, (label, hits, misses, alarms, _) in enumerate(progress.spotted):
            mattered = hits + misses + alarms
            instead = [
                f"{worded(LABELS[other])} {times}"
                for other, times in enumerate(named[place].tolist())
                if times and other != place
            ]
            if mattered:
                row = ConfusionRow(
                    worded(label),
                    misses + alarms,
                    mattered,
                    hits + misses,
                    misses,
                    alarms,
                    ", ".join(instead) or "–",
                )
                rows.append((need[label], row))
        rows.sort(key=lambda pair: -pair[0])
        self.rows, count = tuple(row for _, row in rows), len(progress.answered)
        right = sum(answer.first == answer.right for answer in progress.answered)
        leaning = [f"“{row.name}”" for share, row in rows if share > 0.5][:3]
        self.words = f"The first to fix was right in {right} of {count}." if count else NOBODY
        if leaning:
            self.words += f" The next cases focus on {', '.join(leaning)}."
        self.words += f" Next: {progress.level()} to judge." * bool(count)

    @property
    def html(self) -> str:
        """Return words and table for a page."""
        words = f"<p><b>What you confuse.</b> {escape(self.words)}</p>"
        if not self.rows:
            return words
        heads = "".join(f"<th scope='col' {LEFT}>{head}</th>" for head in HEADS)
        body = "".join(f"<tr>{''.join(_cells(row))}</tr>" for row in self.rows)
        return f"{words}<table><tr>{heads}</tr>{body}</table>"

    def __repr__(self) -> str:
        rows = [HEADS, *(row.cells for row in self.rows)] if self.rows else []
        wide = [max(map(len, column)) for column in zip(*rows, strict=True)]
        lines = ["  ".join(map(str.ljust, row, wide)).rstrip() for row in rows]
        return "\n".join([self.words, *lines])

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        return {"text/plain": repr(self), "text/html": self.html}


LEFT = "style='text-align: left; padding: 2px 14px 2px 0'"


def _cells(row: ConfusionRow) -> list[str]:
    """Return a row's cells; the bar says what its number says."""
    name, wrong, *rest = map(escape, row.cells)
    long = round(BAR_PX * row.wrong / row.mattered)
    bar = (
        f"<span style='white-space: nowrap'><span style='display: inline-block; width: {BAR_PX}px'>"
        f"<span style='display: inline-block; width: {long}px; height: 10px; "
        f"background: {palette.RED}'></span></span> {wrong}</span>"
    )
    cells = "".join(f"<td {LEFT}>{cell}</td>" for cell in (bar, *rest))
    return [f"<th scope='row' {LEFT}>{name}</th>", cells]
