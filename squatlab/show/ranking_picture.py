"""Which one first, as a picture: the one to fix, the order of the rest, and why.

Notebook 09 and its explorer show it; `review.priority` makes the ranking.
"""

from __future__ import annotations

from cmath import rect
from math import pi
from textwrap import wrap

from squatlab import faults
from squatlab.review import Finding, Place, Ranking
from squatlab.show import palette
from squatlab.show.picture import Scene, WordedPicture, svg
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, rectangle

WIDTH = 980.0
WORDS_LEFT = 142.0
"""Where what to say, do and check begins, right of what it is, units."""

BAR_LEFT, STEP, MOST, ROW = 252.0, 72.0, 3.6, 38.0
"""Where bars begin, units per severity, the longest bar, a row's height."""

REASON_LEFT, REASON = 640.0, 42
"""Where a reason begins, and how many characters a line of it has."""

MANY = 8
"""Of more findings those that are no fault have no bars, only their names."""

TIERS = {
    1: (palette.BLUE, ""),
    2: (palette.ORANGE, "6 3"),
    3: (palette.PLUM, "2 2"),
    4: (palette.GREY, "8 2 2 2"),
}
"""Fill and edge of each tier's bars; its number stands before its name."""


def ranking_page(ranking: Ranking) -> WordedPicture:
    """Return a ranking as a picture, and as its own words."""
    return WordedPicture(svg(ranking_scene(ranking)), repr(ranking), sentence(ranking), WIDTH)


def ranking_scene(ranking: Ranking, before: Ranking | None = None) -> Scene:
    """Return the picture of a ranking.

    The one to fix now stands large with what to say and do; below, a bar
    for each finding, in order, with the reason for its place. ``before``
    is an earlier ranking, whose severities stay as thin lines.
    """
    parts, places = _head(ranking), {place.fault: place for place in ranking}
    earlier = {}
    if before:
        earlier = {finding.fault: finding.severity for finding in before.findings}
    absent = [finding for finding in ranking.findings if finding.present == "no"]
    notes = [f"May share a cause: {cause}" for cause in ranking.shared_causes]
    if len(ranking.findings) > MANY:
        notes.append(f"No fault: {', '.join(finding.name for finding in absent)}.")
        absent = []
    if ranking.untold:
        names = (faults.fault(name).name for name in ranking.untold)
        notes.append(f"Cannot be told here: {', '.join(names)}.")
    shown = [*(place.finding for place in ranking), *absent]
    low = 212.0
    parts += _scale(low, low + 8 + ROW * len(shown))
    for finding in shown:
        low += ROW
        parts += _bar(finding, earlier.get(finding.fault, finding.severity), low)
        parts += _place(finding, places.get(finding.fault), low)
    for note in notes:
        for number, line in enumerate(wrap(note, 130)):
            low += 19
            left = 26 if number else 10  # a note's further lines are indented
            parts.append(Text(complex(left, low + 8), line, 13.0))
    return Scene(tuple(parts), (0.0, 0.0, WIDTH, low + 20), sentence(ranking))


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
    """Return in words how far the first is from not being first."""
    return f"Another would come first if one severity changed by {ranking.margin:.1f}."


def _head(ranking: Ranking) -> list[Primitive]:
    """Return the one to fix with what to say, do and check; before it a stop sign."""
    stop, first, advice = ranking.stop, ranking.first, ranking.advice
    frame = Shape(rectangle(6, 6, WIDTH - 6, 182), palette.PAPER, palette.RULE, 1.5)
    if stop:
        frame = frame._replace(fill=palette.NOTICE, stroke=palette.RED, width=6.0)
    parts: list[Primitive] = [frame]
    if first is None:
        words = "Nothing to fix. Praise what was good, and leave it alone."
        return [*parts, Text(26 + 62j, words, 26.0, bold=True)]
    left, row = 26.0, 50
    if stop:
        # An octagon that stands on an edge, as a stop sign does.
        corners = tuple(74 + 60j + rect(44.0, pi / 8 + k * pi / 4) for k in range(8))
        sign = Text(74 + 68j, "STOP", 24.0, "middle", bold=True, fill=palette.PAPER, halo=False)
        left, row = 136.0, 70
        words = "Stop the set and unload, before any coaching."
        parts += [
            Shape(corners, palette.RED, palette.INK, 3.0),
            sign,
            Text(complex(left, 37), words, 20.0, bold=True),
        ]
    fault, finding = faults.fault(first.fault), first.finding
    head = f"{'Then fix' if stop else 'Fix first'}: {fault.name}"
    size = f"{finding.size}, {finding.amount}, tier {fault.tier}. Why: {first.reason}."
    parts += [
        Text(complex(left, row), head, 28.0, bold=True),
        Text(complex(left, row + 24), size, 14.0),
        Text(26 + 122j, "Say", 14.0, bold=True),
        Text(complex(WORDS_LEFT, 122), f"“{advice.cue}”", 17.0, bold=True),
        Text(26 + 145j, "Easier", 14.0, bold=True),
        Text(complex(WORDS_LEFT, 145), advice.regression, 14.0),
        Text(26 + 168j, "Check", 14.0, bold=True),
        Text(complex(WORDS_LEFT, 168), advice.check, 14.0),
    ]
    return parts


def _scale(top: float, bottom: float) -> list[Primitive]:
    """Return a line for each size, named above."""
    parts: list[Primitive] = []
    for number, name in enumerate(("none", *faults.SIZES)):
        x = BAR_LEFT + STEP * number
        parts.append(Line((complex(x, top), complex(x, bottom)), palette.RULE, 1.0))
        parts.append(Text(complex(x, top - 6), name, 13.0, "middle", fill=palette.SOFT))
    return parts


def _bar(finding: Finding, before: float, low: float) -> list[Primitive]:
    """Return a severity's bar by its tier, and thin the one before."""
    fill, dash = TIERS[faults.fault(finding.fault).tier]
    right = BAR_LEFT + STEP * min(finding.severity, MOST)
    earlier = BAR_LEFT + STEP * min(before, MOST)
    box = rectangle(BAR_LEFT, low - 22, right, low - 2)
    opacity = 1.0 if finding.size else 0.25
    parts: list[Primitive] = [Shape(box, fill, palette.INK, 1.5, dash, opacity)]
    if abs(earlier - right) > 1:
        ends = complex(earlier, low - 26), complex(earlier, low + 2)
        parts.append(Line(ends, palette.SOFT, 2.0, "3 2"))
    words = f"{finding.size} {finding.amount}".strip()
    return [*parts, Text(complex(right + 8, low - 7), words, 13.0)]


def _place(finding: Finding, place: Place | None, low: float) -> list[Primitive]:
    """Return rank, name, tier and the reason for a place."""
    fault, first = faults.fault(finding.fault), place is not None and place.rank == 1
    tier = f"tier {fault.tier}: {faults.TIERS[fault.tier]}"
    parts: list[Primitive] = [
        Text(complex(44, low - 14), fault.name, 15.0, bold=first),
        Text(complex(44, low + 2), tier, 13.0, fill=palette.SOFT),
    ]
    reason = place.reason if place else "no fault as it is: below slight"
    lines = wrap(reason, REASON)
    # Lines 16 units apart, centred on the bar.
    top = low - 8 * len(lines) + 1
    for row, line in enumerate(lines):
        parts.append(Text(complex(REASON_LEFT, top + 16 * row), line, 13.0, bold=first))
    if place:
        ground, ink = (palette.INK, palette.PAPER) if first else (palette.PAPER, palette.INK)
        number = Text(complex(24, low - 7), str(place.rank), 15.0, "middle", True, ink, False)
        parts += [Disc(complex(24, low - 12), 13.0, ground, palette.INK, 1.5), number]
    return parts
