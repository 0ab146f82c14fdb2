"""What a trainee confuses: a table with bars and words.

`questions.practice_progress` counts; practice and the map of 00 show it.
"""

from __future__ import annotations

from html import escape
from typing import NamedTuple

from squatlab.questions.items import worded
from squatlab.questions.practice_progress import LABELS, Progress
from squatlab.show import palette
from squatlab.show.picture import ShownInNotebook

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
        counts = str(self.there), str(self.missed), str(self.called)
        return self.name, wrong, *counts, self.instead


class Confusions(ShownInNotebook):
    """Show what was confused, most often first; a notebook shows either.

    ``words`` is the sentence above the table, ``rows`` the labels that
    mattered in any case so far.
    """

    def __init__(self, progress: Progress) -> None:
        # Cases (right label, label named) of the one to fix first.
        named, need = progress.first.counts, progress.need()
        row_of: dict[str, ConfusionRow] = {}
        for place, spotted in enumerate(progress.spotted):
            wrong = spotted.misses + spotted.false_alarms
            if not spotted.hits + wrong:
                continue
            instead = [
                f"{worded(LABELS[other])} {times}"
                for other, times in enumerate(named[place].tolist())
                if times and other != place
            ]
            row_of[spotted.fault] = ConfusionRow(
                name=worded(spotted.fault),
                wrong=wrong,
                mattered=spotted.hits + wrong,
                there=spotted.hits + spotted.misses,
                missed=spotted.misses,
                called=spotted.false_alarms,
                instead=", ".join(instead) or "–",
            )
        order = sorted(row_of, key=lambda label: -need[label])
        self.rows = tuple(row_of[label] for label in order)
        count = len(progress.answered)
        if not count:
            self.words = NOBODY
            return
        right = sum(answer.first == answer.right for answer in progress.answered)
        sentences = [f"The first to fix was right in {right} of {count}."]
        focus = [f"“{row_of[label].name}”" for label in order if need[label] > 0.5][:3]
        if focus:
            sentences.append(f"The next cases focus on {', '.join(focus)}.")
        sentences.append(f"Next: {progress.level()} to judge.")
        self.words = " ".join(sentences)

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
