"""Which one first, as a picture: the one to fix, the order of the rest, and why."""

from __future__ import annotations

from cmath import rect
from math import pi
from textwrap import wrap

from squatlab import faults
from squatlab.review import Finding, Place, Ranking
from squatlab.show import palette
from squatlab.show.fault_pages import FaultPicture
from squatlab.show.picture import Scene, svg
from squatlab.show.primitives import (
    BOLD_CHARACTER,
    CHARACTER,
    Disc,
    Line,
    Primitive,
    Shape,
    Text,
    rectangle,
)

WIDTH = 720.0
"""Picture units: the narrowest page, a notebook beside its file list, shows it whole."""

TITLE, STOPPED_TITLE, WORDS, SMALL = 26.0, 22.0, 15.0, 14.0
"""Sizes of words: the one to fix, the same beside a stop sign, what is said of it, and
names and amounts of the rest."""

HEAD_LEFT, HEAD_LINE, ADVICE_LEFT = 26.0, 21.0, 104.0
"""Where the head's words begin, how far apart its lines are, and where its advice begins."""

BAR_LEFT, STEP, MOST, ROW = 44.0, 58.0, 3.6, 62.0
"""Where bars begin, units per severity, the longest bar, a row's height."""

REASON_LEFT, REASON, BOLD_REASON = 372.0, 43, 40
"""Where tier and reason begin, and how many characters a line of a reason has: the
longest takes two."""

MANY = 8
"""Of more findings those that are no fault have no bars, only their names."""

TIERS = {
    1: (palette.BLUE, ""),
    2: (palette.ORANGE, "6 3"),
    3: (palette.PLUM, "2 2"),
    4: (palette.GREY, "8 2 2 2"),
}
"""Fill and edge of each tier's bars; its number stands before its name."""


def ranking_page(ranking: Ranking) -> FaultPicture:
    """Return a ranking as a picture, and as its own words."""
    return FaultPicture(svg(ranking_scene(ranking)), repr(ranking), sentence(ranking), WIDTH)


def ranking_scene(ranking: Ranking, before: Ranking | None = None, head: float = 0.0) -> Scene:
    """Return the picture of a ranking.

    The one to fix now stands large with what to say and do; below, a bar
    for each finding, in order, with the reason for its place. ``before``
    is an earlier ranking, whose severities stay as thin lines. ``head`` is
    the least room for the one to fix, picture units: bars then stay where
    they are when another comes first.
    """
    parts, low = _head(ranking, head)
    ranks = {place.fault: place for place in ranking}
    earlier = {one.fault: one.severity for one in before.findings} if before else {}
    absent = [one for one in ranking.findings if one.present == "no"]
    notes = [f"May share a cause: {cause}" for cause in ranking.shared_causes]
    if len(ranking.findings) > MANY:
        notes.append(f"No fault: {', '.join(one.name for one in absent)}.")
        absent = []
    if ranking.untold:
        names = (faults.fault(name).name for name in ranking.untold)
        notes.append(f"Cannot be told here: {', '.join(names)}.")
    shown, low = [*(place.finding for place in ranking), *absent], low + 30.0
    parts += _scale(low, low + ROW * len(shown))
    for finding in shown:
        parts += _bar(finding, earlier.get(finding.fault, finding.severity), low)
        parts += _place(finding, ranks.get(finding.fault), low)
        low += ROW
    for note in notes:
        for number, line in enumerate(wrap(note, _characters(WIDTH - 36, SMALL))):
            low += 20
            parts.append(Text(complex(10 + 16 * bool(number), low), line, SMALL))
    return Scene(tuple(parts), (0.0, 0.0, WIDTH, low + 14), sentence(ranking))


def _characters(width: float, size: float, character: float = CHARACTER) -> int:
    """Return how many characters of a size a line of a width holds."""
    return int(width / (character * size))


def sentence(ranking: Ranking) -> str:
    """Return what the picture says as one paragraph."""
    if ranking.first is None:
        return "Nothing to fix in what was found. Praise it and leave it alone."
    first, *rest = ranking
    clauses = [
        f"Fix first: {first.finding.name} ({first.finding.size}, {first.finding.amount}), "
        f"because: {first.reason}."
    ]
    if ranking.stop:
        clauses.insert(0, "Stop the set and unload, before any coaching.")
    clauses.append(f"Say: “{ranking.advice.cue}”")
    if rest:
        later = (f"{place.rank} {place.finding.name}, {place.reason}" for place in rest)
        clauses.append(f"For later: {'; '.join(later)}.")
    clauses.append(_margin(ranking))
    return " ".join(clauses)


def _margin(ranking: Ranking) -> str:
    return f"Another would come first if one severity changed by {ranking.margin:.1f}."


def _head(ranking: Ranking, least: float) -> tuple[list[Primitive], float]:
    """Return the one to fix with what to say, do and check, and where that ends.

    Before it a stop sign, if the set is to be stopped.
    """
    stop, first, advice = ranking.stop, ranking.first, ranking.advice
    ground, edge, width = (
        (palette.NOTICE, palette.RED, 6.0) if stop else (palette.PAPER, palette.RULE, 1.5)
    )
    parts: list[Primitive] = []

    def write(left: float, low: float, words: str, size: float, bold: bool = False) -> float:
        """Write words in as many lines as they take; return the last one's baseline."""
        room = WIDTH - HEAD_LEFT - left
        lines = wrap(words, _characters(room, size, BOLD_CHARACTER if bold else CHARACTER))
        for number, line in enumerate(lines):
            at = complex(left, low + HEAD_LINE * number)
            parts.append(Text(at, line, size, bold=bold, halo=ground))
        return low + HEAD_LINE * (len(lines) - 1)

    if first is None:
        words = "Nothing to fix. Praise what was good, and leave it alone."
        bottom = write(HEAD_LEFT, 50.0, words, 20.0, bold=True) + 26
    else:
        left, low = HEAD_LEFT, 48.0
        if stop:
            corners = tuple(72 + 62j + rect(44.0, pi / 8 + k * pi / 4) for k in range(8))
            left = 134.0
            words = "Stop the set and unload, before any coaching."
            low = write(left, 37.0, words, 20.0, bold=True) + 34
            parts += [
                Shape(corners, palette.RED, palette.INK, 3.0),
                Text(72 + 70j, "STOP", 24.0, "middle", True, palette.PAPER, ""),
            ]
        fault_of = faults.fault(first.fault)
        title = f"{'Then fix' if stop else 'Fix first'}: {fault_of.name}"
        size = STOPPED_TITLE if stop else TITLE
        parts.append(Text(complex(left, low), title, size, bold=True, halo=ground))
        why = (
            f"{first.finding.size}, {first.finding.amount}, tier {fault_of.tier}. "
            f"Why: {first.reason}."
        )
        low = write(left, low + 26, why, WORDS) + 8
        rows = ("Say", f"“{advice.cue}”"), ("Easier", advice.regression), ("Check", advice.check)
        for name, words in rows:
            low += HEAD_LINE + 4
            parts.append(Text(complex(HEAD_LEFT, low), name, WORDS, bold=True, halo=ground))
            low = write(ADVICE_LEFT, low, words, WORDS, bold=name == "Say")
        bottom = low + 18
    bottom = max(bottom, least)
    return [Shape(rectangle(6, 6, WIDTH - 6, bottom), ground, edge, width), *parts], bottom + 6


def _scale(top: float, bottom: float) -> list[Primitive]:
    """Return a line for each size, named above."""
    parts: list[Primitive] = []
    for number, name in enumerate(("none", *faults.SIZES)):
        x = BAR_LEFT + STEP * number
        parts.append(Line((complex(x, top), complex(x, bottom - 8)), palette.RULE, 1.0))
        parts.append(Text(complex(x, top - 6), name, SMALL, "middle", fill=palette.SOFT))
    return parts


def _bar(finding: Finding, before: float, top: float) -> list[Primitive]:
    """Return a severity's bar by its tier, and thin the one before."""
    fill, dash = TIERS[faults.fault(finding.fault).tier]
    right, was = (BAR_LEFT + STEP * min(severity, MOST) for severity in (finding.severity, before))
    low = top + 50
    box = rectangle(BAR_LEFT, low - 20, right, low)
    words = f"{finding.size} {finding.amount}".strip()
    parts: list[Primitive] = [
        Shape(box, fill, palette.INK, 1.5, dash, 1.0 if finding.size else 0.25),
        Text(complex(right + 8, low - 5), words, SMALL),
    ]
    if abs(was - right) > 1:
        earlier = Line((complex(was, low - 24), complex(was, low + 4)), palette.SOFT, 2.0, "3 2")
        parts.insert(1, earlier)
    return parts


def _place(finding: Finding, place: Place | None, top: float) -> list[Primitive]:
    """Return rank and name above the bar, and beside it tier and the reason for the place."""
    fault_of, first = faults.fault(finding.fault), bool(place and place.rank == 1)
    tier = f"tier {fault_of.tier}: {faults.TIERS[fault_of.tier]}"
    parts: list[Primitive] = [
        Text(complex(BAR_LEFT, top + 22), fault_of.name, WORDS, bold=first),
        Text(complex(REASON_LEFT, top + 22), tier, SMALL, fill=palette.SOFT),
    ]
    reason = place.reason if place else "no fault as it is: below slight"
    parts += [
        Text(complex(REASON_LEFT, top + 40 + 16 * row), line, SMALL, bold=first)
        for row, line in enumerate(wrap(reason, BOLD_REASON if first else REASON))
    ]
    if place:
        fill, ink = (palette.INK, palette.PAPER) if first else (palette.PAPER, palette.INK)
        parts += [
            Disc(complex(22, top + 17), 13.0, fill, palette.INK, 1.5),
            Text(complex(22, top + 22), str(place.rank), WORDS, "middle", True, ink, ""),
        ]
    return parts
