"""The few things a picture is made of, in picture units.

Whatever draws (bodies, charts, rankings) makes these, and the four painters
know nothing else: `picture` (SVG), `raster` (pixels), `axes_painter` (print)
and `drawing.js` (the browser).

A point is a complex number: x to the right, y **down**, one unit being
one pixel of a picture shown at its own size. Adding and turning points
is then plain arithmetic. While a picture is built, points (and a disc's
radius) may be arrays and words a list, over the positions of a slider or
the frames of a film: see `squatlab.show.moving` and `squatlab.show.sweep`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.show.palette import INK, PAPER

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
    B-spline, which every painter draws exactly. ``pieces`` says how many
    points each of several outlines has: together they are one area (each
    is to turn the same way round), and only the edge of all of it is seen.
    """

    points: Points
    fill: str = "none"
    stroke: str = "none"
    width: float = 1.0
    dash: str = ""
    opacity: float = 1.0
    smooth: bool = False
    pieces: tuple[int, ...] = ()

    def outlines(self) -> list[Points]:
        """Return the points of every outline."""
        outlines, start = [], 0
        for count in self.pieces or (len(self.points),):
            outlines.append(self.points[start : start + count])
            start += count
        return outlines


class Disc(NamedTuple):
    """Hold a circle, filled, outlined or both.

    ``name`` is what a pointer over it is told.
    """

    centre: complex
    radius: float
    fill: str = "none"
    stroke: str = "none"
    width: float = 1.0
    dash: str = ""
    opacity: float = 1.0
    name: str = ""


class Text(NamedTuple):
    """Hold one line of words on its baseline.

    ``anchor`` is "start", "middle" or "end" and says which part of the
    words stands at the point. A ``halo`` in the colour of the ground, ""
    for none, keeps words readable on whatever lies behind them.
    """

    at: complex
    words: str
    size: float = 13.0
    anchor: str = "start"
    bold: bool = False
    fill: str = INK
    halo: str = PAPER

    def box(self) -> tuple[float, float, float, float]:
        """Return left, top, right, bottom, from an average width."""
        width = text_width(self.words, self.size, self.bold)
        left = self.at.real - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]
        return left, self.at.imag - 0.8 * self.size, left + width, self.at.imag + 0.25 * self.size


def text_width(words: str | list[str], size: float, bold: bool = False) -> ArrayLike:
    """Estimate how wide words are, so that no font has to be read.

    One number, or (positions,) for words that change.
    """
    count = len(words) if isinstance(words, str) else np.array([len(each) for each in words])
    return (BOLD_CHARACTER if bold else CHARACTER) * size * count


class Tiles(NamedTuple):
    """Hold a rectangle of cells, each with the ground and pattern of its kind.

    ``points`` are its upper left and lower right corner, ``cells`` (row,
    column) the kinds, which `squatlab.show.patterns` knows. Between cells
    of different kinds runs an edge.
    """

    points: Points
    cells: NDArray[np.uint8]


Primitive = Line | Shape | Disc | Text | Tiles


def rectangle(left: float, top: float, right: float, bottom: float) -> Points:
    """Return the four corners; sides may be arrays (positions,)."""
    return left + 1j * top, right + 1j * top, right + 1j * bottom, left + 1j * bottom
