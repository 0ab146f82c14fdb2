"""Which one first, as a picture: the one to fix, the order of the rest, and why.

Notebook 09 and its explorer show it; `review.priority` makes the ranking.
"""

from __future__ import annotations

from cmath import rect
from math import pi
from textwrap import wrap

from squatlab import faults
from squatlab.review import Finding, Place, Ranking
from squatlab.review.wording import how_sure
from squatlab.show import palette
from squatlab.show.picture import Scene, WordedPicture, svg
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

WIDTH, LEAST, LARGER = 664.0, 0.84, 1.2
"""Picture units, and how much smaller and larger a page may show it: the narrowest, a
notebook beside its file list, has it whole, with its smallest words 12 px high."""

TITLE, STOPPED_TITLE, STOP, WORDS, SMALL = 24.0, 20.0, 18.0, 15.0, 14.5
"""Sizes of words: the one to fix, the same beside a stop sign, to stop the set, what is
said of the one to fix, and names and amounts of the rest."""

HEAD_LEFT, HEAD_LINE, ADVICE_LEFT = 26.0, 21.0, 104.0
"""Where the head's words begin, how far apart its lines are, and where its advice begins."""

NAME_LEFT, NAME = 44.0, 192.0
"""Where the name of a fault and its tier begin, and how wide they may be."""

BAR_LEFT, STEP, MOST = 240.0, 35.0, 3.2
"""Where bars begin, units per severity, and the longest bar."""

REASON_LEFT, REASON = 474.0, 184.0
"""Where a reason begins, and how wide it may be."""

ROW_LINE, BETWEEN = 17.0, 10.0
"""How far apart the lines of a row are, and the room between rows."""

ENDS = "none", "gross"
"""The sizes whose names stand above their line: bars say the others."""

SURE = 0.995
"""Below this the head says how sure the first place is: 100 of 100 need no words."""

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
    picture, words = svg(ranking_scene(ranking)), sentence(ranking)
    return WordedPicture(picture, repr(ranking), words, LARGER * WIDTH, LEAST / LARGER)


def ranking_scene(
    ranking: Ranking, before: Ranking | None = None, head: float = 0.0, notes: bool = True
) -> Scene:
    """Return the picture of a ranking.

    The one to fix now stands large with what to say and do; below, a bar
    for each finding, in order, with the reason for its place. ``before``
    is an earlier ranking, whose severities stay as thin lines. ``head`` is
    the least room for the one to fix, picture units: bars then stay where
    they are when another comes first. Below the bars stand ``notes``: what
    may share a cause, what is no fault, what cannot be told.
    """
    parts, low = _head(ranking, head)
    ranks = {place.fault: place for place in ranking}
    earlier = {one.fault: one.severity for one in before.findings} if before else {}
    absent = [one for one in ranking.findings if one.present == "no"]
    told = [*causes(ranking)]
    if len(ranking.findings) > MANY:
        told.append(f"No fault: {', '.join(one.name for one in absent)}.")
        absent = []
    if ranking.untold:
        names = (faults.fault(name).name for name in ranking.untold)
        told.append(f"Cannot be told here: {', '.join(names)}.")
    if ranking.contenders:
        names = (faults.fault(name).name for name in ranking.contenders)
        told.append(f"Would come first if large: {', '.join(names)}.")
    shown = [*(place.finding for place in ranking), *absent]
    top = low = low + 30.0
    rows: list[Primitive] = []
    for finding in shown:
        rows += _bar(finding, earlier.get(finding.fault, finding.severity), low)
        words, low = _place(finding, ranks.get(finding.fault), low)
        rows += words
    if shown:
        parts += [*_scale(top, low), *rows]
    for note in told if notes else ():
        for number, line in enumerate(wrap(note, _characters(WIDTH - 36, SMALL))):
            low += 20
            parts.append(Text(complex(10 + 16 * bool(number), low), line, SMALL))
    return Scene(tuple(parts), (0.0, 0.0, WIDTH, low + 14), sentence(ranking))


def _characters(width: float, size: float, character: float = CHARACTER) -> int:
    """Return how many characters of a size a line of a width holds."""
    return int(width / (character * size))


def causes(ranking: Ranking) -> list[str]:
    """Return a sentence on each cause that several findings may share."""
    return [f"May share a cause: {cause}" for cause in ranking.shared_causes]


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
        if not ranking.enough_seen:
            words = "Not enough seen: what could be told is no fault."
        bottom = write(HEAD_LEFT, 50.0, words, 20.0, bold=True) + 26
    else:
        left, low = HEAD_LEFT, 48.0
        if stop:
            # An octagon that stands on an edge, as a stop sign does.
            corners = tuple(72 + 62j + rect(44.0, pi / 8 + k * pi / 4) for k in range(8))
            left = 134.0
            words = "Stop the set and unload, before any coaching."
            low = write(left, 37.0, words, STOP, bold=True) + 34
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
        rows = [("Say", f"“{advice.cue}”"), ("Easier", advice.regression), ("Check", advice.check)]
        if ranking.sureness < SURE:
            rows.insert(0, ("Sure", how_sure(ranking.named, ranking.sureness)))
        for name, words in rows:
            low += HEAD_LINE + 4
            parts.append(Text(complex(HEAD_LEFT, low), name, WORDS, bold=True, halo=ground))
            low = write(ADVICE_LEFT, low, words, WORDS, bold=name == "Say")
        bottom = low + 18
    bottom = max(bottom, least)
    return [Shape(rectangle(6, 6, WIDTH - 6, bottom), ground, edge, width), *parts], bottom + 6


def _scale(top: float, bottom: float) -> list[Primitive]:
    """Return a line for each size, and above them what they are."""
    parts: list[Primitive] = []
    for number, name in enumerate(("none", *faults.SIZES)):
        x = BAR_LEFT + STEP * number
        parts.append(Line((complex(x, top), complex(x, bottom - BETWEEN)), palette.RULE, 1.0))
        if name in ENDS:
            parts.append(Text(complex(x, top - 6), name, SMALL, "middle", fill=palette.SOFT))
    return parts


def _bar(finding: Finding, before: float, top: float) -> list[Primitive]:
    """Return a severity's bar by its tier, and thin the one before."""
    fill, dash = TIERS[faults.fault(finding.fault).tier]
    right, was = (BAR_LEFT + STEP * min(severity, MOST) for severity in (finding.severity, before))
    box = rectangle(BAR_LEFT, top + 2, right, top + 20)
    words = f"{finding.size} {finding.amount}".strip()
    parts: list[Primitive] = [
        Shape(box, fill, palette.INK, 1.5, dash, 1.0 if finding.size else 0.25),
        Text(complex(right + 8, top + 16), words, SMALL),
    ]
    if abs(was - right) > 1:
        earlier = Line((complex(was, top - 2), complex(was, top + 24)), palette.SOFT, 2.0, "3 2")
        parts.insert(1, earlier)
    return parts


def _place(finding: Finding, place: Place | None, top: float) -> tuple[list[Primitive], float]:
    """Return rank, name, tier and the reason for a place, and where the next row begins."""
    fault_of, first = faults.fault(finding.fault), bool(place and place.rank == 1)
    name = wrap(fault_of.name, _characters(NAME, WORDS, BOLD_CHARACTER if first else CHARACTER))
    tier = f"tier {fault_of.tier}: {faults.TIERS[fault_of.tier]}"
    reason = place.reason if place else "no fault: below slight"
    reasons = wrap(reason, _characters(REASON, SMALL))

    def baseline(row: int) -> float:
        return top + 16 + ROW_LINE * row

    parts: list[Primitive] = [
        Text(complex(NAME_LEFT, baseline(row)), line, WORDS, bold=first)
        for row, line in enumerate(name)
    ]
    below = complex(NAME_LEFT, baseline(len(name)))
    parts.append(Text(below, tier, SMALL, fill=palette.SOFT))
    parts += [
        Text(complex(REASON_LEFT, baseline(row)), line, SMALL) for row, line in enumerate(reasons)
    ]
    if place:
        fill, ink = (palette.INK, palette.PAPER) if first else (palette.PAPER, palette.INK)
        parts += [
            Disc(complex(22, top + 11), 13.0, fill, palette.INK, 1.5),
            Text(complex(22, top + 16), str(place.rank), WORDS, "middle", True, ink, ""),
        ]
    return parts, top + ROW_LINE * max(len(name) + 1, len(reasons)) + BETWEEN
