"""The few things a picture is made of, in picture units.

A point is a complex number: x to the right, y **down**, one unit being
one pixel of a picture shown at its own size. Adding and turning points
is then plain arithmetic, fast enough to follow a slider.
"""

from __future__ import annotations

from typing import NamedTuple

from squatlab.show.palette import INK

CHARACTER, BOLD_CHARACTER = 0.55, 0.60
"""Width of an average character in parts of the text size."""

Points = tuple[complex, ...]


class Line(NamedTuple):
    """Hold an open line through points; ``arrow`` puts a head at its end."""

    points: Points
    stroke: str = INK
    width: float = 1.5
    dash: str = ""
    arrow: bool = False


class Shape(NamedTuple):
    """Hold a closed area.

    ``smooth`` takes the points as the control points of a quadratic
    B-spline, which both renderers draw exactly.
    """

    points: Points
    fill: str = "none"
    stroke: str = "none"
    width: float = 1.0
    dash: str = ""
    opacity: float = 1.0
    smooth: bool = False


class Disc(NamedTuple):
    """Hold a circle, filled, outlined or both."""

    centre: complex
    radius: float
    fill: str = "none"
    stroke: str = "none"
    width: float = 1.0
    dash: str = ""
    opacity: float = 1.0


class Text(NamedTuple):
    """Hold one line of words on its baseline.

    ``anchor`` is "start", "middle" or "end" and says which part of the
    words stands at the point. A ``halo`` in the colour of the paper
    keeps words readable on whatever lies behind them.
    """

    at: complex
    words: str
    size: float = 13.0
    anchor: str = "start"
    bold: bool = False
    fill: str = INK
    halo: bool = True

    def box(self) -> tuple[float, float, float, float]:
        """Return left, top, right, bottom, from an average width."""
        width = text_width(self.words, self.size, self.bold)
        left = self.at.real - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]
        return left, self.at.imag - 0.8 * self.size, left + width, self.at.imag + 0.25 * self.size


def text_width(words: str, size: float, bold: bool = False) -> float:
    """Estimate how wide words are, so that no font has to be read."""
    return (BOLD_CHARACTER if bold else CHARACTER) * size * len(words)


Primitive = Line | Shape | Disc | Text


def rectangle(left: float, top: float, right: float, bottom: float) -> Points:
    """Return the four corners."""
    return complex(left, top), complex(right, top), complex(right, bottom), complex(left, bottom)
