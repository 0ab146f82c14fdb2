"""How large is large: one fault's sizes on a line, with what was put in and what was read.

Part of a fault's page (`fault_pages`) and of the explorer of 08.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from squatlab.faults import SIZES, Fault, fault
from squatlab.lessons.fault_cases import amount
from squatlab.norms import NO_NORM, norms_of
from squatlab.review import Finding
from squatlab.show import palette
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, rectangle, text_width

WIDTH, HEIGHT, LEFT, RIGHT = 400.0, 174.0, 4.0, 396.0
"""Size of the picture and the ends of the line, picture units: a phone shows it whole."""

LEAST_PX = 370.0
"""It is shown no narrower, pixels: then its smallest words are 12 px high."""

MOST = 4.0
"""The severity at which the line ends; what is larger stands at its end."""

TOP, BOTTOM = 38.0, 78.0
"""Where the band of sizes begins and ends."""

NORM, NORM_APART, NORM_LEAST, NORM_WIDTH = 124.0, 8.0, 4.0, 2.5
"""Where the first norm's line is, how far below the next, the shortest, how wide; units."""

NORM_WORDS, NORM_LINE = 150.0, 17.0
"""Where the words about norms begin, and how far apart their lines are."""

FILLS = ("#ffffff", "#fdf0d9", "#f9d79b", "#f2b04e")
"""The larger, the darker; the name of the size stands in each."""


WORD_GAP = 10.0
"""What is left between words, units."""


def set_and_measured(put_in: float, finding: Finding) -> str:
    """Return in words what was put in and what was read."""
    value = f"{finding.amount}, {_answer(finding)}".lstrip(", ")
    return f"set {amount(fault(finding.fault), put_in)}, measured {value}"


def _answer(finding: Finding) -> str:
    """Return how large a finding is, in words that stand beside its value."""
    return "no fault" if finding.present == "no" else finding.answer


def line_of_sizes(
    put_in: Sequence[float], read: Sequence[Finding], above: float = 0.0
) -> list[Primitive]:
    """Return the line of a fault's sizes, ``above`` picture units down, with values.

    Pointing down from above it: what was put in; pointing up from below:
    what was read of it from film. Both in the fault's unit. Below it, how
    real lifters read.
    """
    top, bottom = above + TOP, above + BOTTOM
    shown = fault(read[0].fault)
    parts: list[Primitive] = []
    bands = zip(pairwise((0, 1, 2, 3, MOST)), ("no fault", *SIZES), FILLS, strict=True)
    for (start, stop), name, fill in bands:
        box = rectangle(_x(start), top, _x(stop), bottom)
        parts.append(Shape(box, fill, palette.RULE))
        middle = 0.5 * (_x(start) + _x(stop))
        parts.append(Text(complex(middle, bottom - 7), name, 14.0, "middle", halo=""))
    for severity, value in enumerate(shown.thresholds, 1):
        at = complex(_x(severity) + 4, top + 14)
        parts.append(Text(at, amount(shown, value), 13.0, fill=palette.INK, halo=""))
    # One example has room for what its numbers are; of several that stands once, beside the
    # band without a fault.
    is_one = len(put_in) == 1
    set_to = []
    for value in put_in:
        words = amount(shown, value)
        set_to.append(Pointer(_x_of(shown, value), f"set {words}" if is_one else words))
    measured = []
    for finding in read:
        if finding.present != "cannot tell":
            words = finding.amount
            words = f"measured {words}: {_answer(finding)}" if is_one else words
            measured.append(Pointer(_x(finding.severity), words))
    if not is_one:
        parts += [
            Text(complex(LEFT, top - 20), "set ▼", 14.0, bold=True),
            Text(complex(LEFT, bottom + 31), "measured ▲", 14.0, fill=palette.RED, bold=True),
        ]
    parts += _pointers(set_to, top, -1, palette.INK)
    parts += _pointers(measured, bottom, 1, palette.RED)
    if len(measured) < len(read):  # the sentence beside it says why
        words = "measured: cannot tell"
        parts.append(Text(complex(LEFT, bottom + 31), words, 14.0, fill=palette.RED))
    return parts + _norms(shown, above)


class Pointer(NamedTuple):
    """Hold where along the line of sizes an arrow head points, and its words."""

    x: float
    words: str


def _norms(shown: Fault, above: float) -> list[Primitive]:
    """Return how real lifters read: a line over their middle half, a dot in its middle."""
    parts: list[Primitive] = []
    norms_here = norms_of(shown.id)
    for row, norm in enumerate(norms_here):
        y = above + NORM + NORM_APART * row
        # The scale of the bands goes on below them, as a thin line.
        parts.append(Line((complex(LEFT, y), complex(RIGHT, y)), palette.RULE, 0.8))
        if norm.has_spread:
            # Of some faults a smaller value is worse: then the upper quartile is on the left.
            left, right = sorted((_x_of(shown, norm.lower), _x_of(shown, norm.upper)))
            right = max(right, left + NORM_LEAST)
            parts.append(Line((complex(left, y), complex(right, y)), palette.SOFT, NORM_WIDTH))
        parts.append(Disc(complex(_x_of(shown, norm.middle), y), 3.0, palette.INK))
    lines = [norm.brief for norm in norms_here] or [f"Real lifters: {NO_NORM}"]
    for row, words in enumerate(lines):
        at = complex(LEFT, above + NORM_WORDS + NORM_LINE * row)
        if norms_here:  # what the dots above are
            parts.append(Disc(at + 4 - 4.5j, 3.0, palette.INK))
            at += 14
        parts.append(Text(at, words, 13.0, fill=palette.SOFT, halo=""))
    return parts


def _x(severity: float) -> float:
    """Return where a severity is along the line; what is larger stands at its end."""
    return LEFT + (RIGHT - LEFT) * min(severity, MOST) / MOST


def _x_of(shown: Fault, value: float) -> float:
    """Return where a value in the fault's unit is along the line."""
    return _x(float(shown.severity(value)))


def _pointers(
    pointers: Sequence[Pointer], y: float, direction: int, colour: str
) -> list[Primitive]:
    """Return arrow heads at the line from above (−1) or below (1), with words.

    Words that would overlap stand beside each other, as near their arrow as
    they can.
    """
    parts: list[Primitive] = []
    pointers = sorted(pointers)
    halves = [0.5 * text_width(pointer.words, 14.0, bold=True) for pointer in pointers]
    middles = _apart([pointer.x for pointer in pointers], halves)
    baseline = y + (-20 if direction < 0 else 31)
    for pointer, middle, half in zip(pointers, middles, halves, strict=True):
        tip, tail = complex(pointer.x, y), complex(pointer.x, y + 16 * direction)
        parts.append(Shape((tip, tail - 8, tail + 8), colour, palette.PAPER, 1.0))
        middle = min(max(middle, LEFT + half), RIGHT - half)
        parts.append(Text(complex(middle, baseline), pointer.words, 14.0, "middle", bold=True))
    return parts


def _apart(middles: list[float], halves: list[float]) -> list[float]:
    """Return middles of words, from left to right, moved so far that none overlap.

    Two that are too near give way by half each. Three or more are few
    enough that going over them a few times is enough.
    """
    places = list(middles)
    for _ in range(20):
        for n in range(len(places) - 1):
            short = halves[n] + halves[n + 1] + WORD_GAP - (places[n + 1] - places[n])
            if short > 0.0:
                places[n] -= short / 2
                places[n + 1] += short / 2
    return places
