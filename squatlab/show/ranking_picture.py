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


def ranking_page(ranking: Ranking) -> FaultPicture:
    """Return a ranking as a picture, and as its own words."""
    return FaultPicture(svg(ranking_scene(ranking)), repr(ranking), sentence(ranking), WIDTH)


def ranking_scene(ranking: Ranking, before: Ranking | None = None) -> Scene:
    """Return the picture of a ranking.

    The one to fix now stands large with what to say and do; below, a bar
    for each finding, in order, with the reason for its place. ``before``
    is an earlier ranking, whose severities stay as thin lines.
    """
    parts, ranks = _head(ranking), {place.fault: place for place in ranking}
    earlier = {one.fault: one.severity for one in before.findings} if before else {}
    absent = [one for one in ranking.findings if one.present == "no"]
    notes = [f"May share a cause: {cause}" for cause in ranking.shared_causes]
    if len(ranking.findings) > MANY:
        notes.append(f"No fault: {', '.join(one.name for one in absent)}.")
        absent = []
    if ranking.untold:
        names = (faults.fault(name).name for name in ranking.untold)
        notes.append(f"Cannot be told here: {', '.join(names)}.")
    shown, low = [*(place.finding for place in ranking), *absent], 212.0
    parts += _scale(low, low + 8 + ROW * len(shown))
    for found in shown:
        low += ROW
        parts += _bar(found, earlier.get(found.fault, found.severity), low)
        parts += _place(found, ranks.get(found.fault), low)
    for note in notes:
        for number, line in enumerate(wrap(note, 130)):
            low += 19
            parts.append(Text(complex(10 + 16 * bool(number), low + 8), line, 13.0))
    return Scene(tuple(parts), (0.0, 0.0, WIDTH, low + 20), sentence(ranking))


def sentence(ranking: Ranking) -> str:
    """Return what the picture says as one paragraph."""
    if ranking.first is None:
        return "Nothing to fix in what was found. Praise it and leave it alone."
    first, *rest = ranking
    said = [
        f"Fix first: {first.finding.name} ({first.finding.size}, {first.finding.amount}), "
        f"because: {first.reason}."
    ]
    if ranking.stop:
        said.insert(0, "Stop the set and unload, before any coaching.")
    said.append(f"Say: “{ranking.advice.cue}”")
    if rest:
        later = (f"{place.rank} {place.finding.name}, {place.reason}" for place in rest)
        said.append(f"For later: {'; '.join(later)}.")
    said.append(_margin(ranking))
    return " ".join(said)


def _margin(ranking: Ranking) -> str:
    return f"Another would come first if one severity changed by {ranking.margin:.1f}."


def _head(ranking: Ranking) -> list[Primitive]:
    """Return the one to fix with what to say, do and check; before it a stop sign."""
    stop, first, advice = ranking.stop, ranking.first, ranking.advice
    fill, stroke, width = (
        (palette.NOTICE, palette.RED, 6.0) if stop else (palette.PAPER, palette.RULE, 1.5)
    )
    parts: list[Primitive] = [Shape(rectangle(6, 6, WIDTH - 6, 182), fill, stroke, width)]
    if first is None:
        words = "Nothing to fix. Praise what was good, and leave it alone."
        return [*parts, Text(26 + 62j, words, 26.0, bold=True)]
    left, row = 26.0, 50
    if stop:
        corners = tuple(74 + 60j + rect(44.0, pi / 8 + k * pi / 4) for k in range(8))
        left, row = 136.0, 70
        parts += [
            Shape(corners, palette.RED, palette.INK, 3.0),
            Text(74 + 68j, "STOP", 24.0, "middle", True, palette.PAPER, False),
            Text(
                complex(left, 37), "Stop the set and unload, before any coaching.", 20.0, bold=True
            ),
        ]
    of = faults.fault(first.fault)
    head = f"{'Then fix' if stop else 'Fix first'}: {of.name}"
    size = f"{first.finding.size}, {first.finding.amount}, tier {of.tier}. Why: {first.reason}."
    parts.append(Text(complex(left, row), head, 28.0, bold=True))
    parts.append(Text(complex(left, row + 24), size, 14.0))
    for number, (name, words) in enumerate(
        (("Say", f"“{advice.cue}”"), ("Easier", advice.regression), ("Check", advice.check))
    ):
        y = 122 + 23 * number
        parts.append(Text(complex(26, y), name, 14.0, bold=True))
        parts.append(Text(complex(WORDS_LEFT, y), words, 14.0 if number else 17.0, bold=not number))
    return parts


def _scale(top: float, bottom: float) -> list[Primitive]:
    """Return a line for each size, named above."""
    parts: list[Primitive] = []
    for number, name in enumerate(("none", *faults.SIZES)):
        x = BAR_LEFT + STEP * number
        parts.append(Line((complex(x, top), complex(x, bottom)), palette.RULE, 1.0))
        parts.append(Text(complex(x, top - 6), name, 13.0, "middle", fill=palette.SOFT))
    return parts


def _bar(found: Finding, before: float, low: float) -> list[Primitive]:
    """Return a severity's bar by its tier, and thin the one before."""
    fill, dash = TIERS[faults.fault(found.fault).tier]
    right, was = (BAR_LEFT + STEP * min(severity, MOST) for severity in (found.severity, before))
    box = rectangle(BAR_LEFT, low - 22, right, low - 2)
    parts: list[Primitive] = [
        Shape(box, fill, palette.INK, 1.5, dash, 1.0 if found.size else 0.25),
        Text(complex(right + 8, low - 7), f"{found.size} {found.amount}".strip(), 13.0),
    ]
    if abs(was - right) > 1:
        parts.insert(
            1, Line((complex(was, low - 26), complex(was, low + 2)), palette.SOFT, 2.0, "3 2")
        )
    return parts


def _place(found: Finding, place: Place | None, low: float) -> list[Primitive]:
    """Return rank, name, tier and the reason for a place."""
    of, first = faults.fault(found.fault), bool(place and place.rank == 1)
    tier = f"tier {of.tier}: {faults.TIERS[of.tier]}"
    parts: list[Primitive] = [
        Text(complex(44, low - 14), of.name, 15.0, bold=first),
        Text(complex(44, low + 2), tier, 13.0, fill=palette.SOFT),
    ]
    reason = place.reason if place else "no fault as it is: below slight"
    lines = wrap(reason, REASON)
    parts += [
        Text(complex(REASON_LEFT, low - 8 * len(lines) + 1 + 16 * row), line, 13.0, bold=first)
        for row, line in enumerate(lines)
    ]
    if place:
        parts.append(
            Disc(
                complex(24, low - 12),
                13.0,
                palette.INK if first else palette.PAPER,
                palette.INK,
                1.5,
            )
        )
        ink = palette.PAPER if first else palette.INK
        parts.append(Text(complex(24, low - 7), str(place.rank), 15.0, "middle", True, ink, False))
    return parts
