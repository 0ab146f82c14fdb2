"""How large is large: one fault's sizes on a line, with what was put in and what was read."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from squatlab.faults import SIZES, fault
from squatlab.lessons.fault_cases import amount
from squatlab.review import Finding
from squatlab.show import palette
from squatlab.show.primitives import Primitive, Shape, Text, rectangle

WIDTH, HEIGHT, LEFT, RIGHT = 980.0, 104.0, 10.0, 970.0
"""Size of the picture and the ends of the line, picture units."""

MOST = 4.0
"""The severity at which the line ends; what is larger stands at its end."""

TOP, BOTTOM = 38.0, 64.0
FILLS = ("#ffffff", "#fdf0d9", "#f9d79b", "#f2b04e")
"""The larger, the darker; the name of the size stands in each."""


def told(put_in: float, found: Finding) -> str:
    """Return in words what was put in and what was read."""
    value = f"{found.amount}, {found.answer}".lstrip(", ")
    return f"put in {amount(fault(found.fault), put_in)}, read {value}"


def line_of_sizes(
    put_in: Sequence[float], read: Sequence[Finding], above: float = 0.0
) -> list[Primitive]:
    """Return the line of a fault's sizes, ``above`` picture units down, with values.

    Pointing down from above it: what was put in; pointing up from below:
    what was read of it from film. Both in the fault's unit.
    """
    top, bottom = above + TOP, above + BOTTOM
    of = fault(read[0].fault)
    parts: list[Primitive] = []
    bands = zip(pairwise((0, 1, 2, 3, MOST)), ("no fault", *SIZES), FILLS, strict=True)
    for (start, stop), name, fill in bands:
        box = rectangle(_x(start), top, _x(stop), bottom)
        parts.append(Shape(box, fill, palette.RULE))
        middle = 0.5 * (_x(start) + _x(stop))
        parts.append(Text(complex(middle, bottom - 8), name, 14.0, "middle", halo=False))
    for severity, value in enumerate(of.thresholds, 1):
        at = complex(_x(severity) + 4, top + 11)
        parts.append(Text(at, amount(of, value), 13.0, fill=palette.INK, halo=False))
    for given, found in zip(put_in, read, strict=True):
        x = _x(float(of.severity(given)))
        parts += _pointer(x, top, -1, palette.INK, f"put in {amount(of, given)}")
        if found.present == "cannot tell":
            words = f"read: cannot tell ({found.reason})"
            parts.append(Text(complex(LEFT, bottom + 31), words, 14.0, fill=palette.RED))
            continue
        x, words = _x(found.severity), f"read {found.amount}: {found.answer}"
        parts += _pointer(x, bottom, 1, palette.RED, words)
    return parts


def _x(severity: float) -> float:
    return LEFT + (RIGHT - LEFT) * min(severity, MOST) / MOST


def _pointer(x: float, y: float, way: int, colour: str, words: str) -> list[Primitive]:
    """Return an arrow head at the line from above (−1) or below (1), with words."""
    tip, tail = complex(x, y), complex(x, y + 16 * way)
    corners = (tip, tail - 8, tail + 8)
    anchor = "start" if x < LEFT + 90 else "end" if x > RIGHT - 90 else "middle"
    baseline = y + (-20 if way < 0 else 31)
    return [
        Shape(corners, colour, palette.PAPER, 1.0),
        Text(complex(x, baseline), words, 14.0, anchor, bold=True),
    ]
