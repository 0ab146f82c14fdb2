"""The few things a picture is made of, in picture units.

A point is a complex number: x to the right, y **down**, one unit being
one pixel of a picture shown at its own size. Adding and turning points
is then plain arithmetic. While a picture is built, points (and a disc's
radius) may be arrays and words a list, over the positions of a slider or
the frames of a film: see `squatlab.show.moving` and `squatlab.show.sweep`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

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


@dataclass(frozen=True)
class Scene:
    """Hold a picture: primitives from back to front, size and words.

    ``bounds`` is left, top, right, bottom; ``alt`` states the picture's
    numbers for those who do not see it. Shows itself in a notebook.
    """

    primitives: tuple[Primitive, ...]
    bounds: tuple[float, float, float, float]
    alt: str

    def beside(self, other: Scene) -> Scene:
        """Return both scenes in one, the other to the right of this."""
        left, top, right, bottom = self.bounds
        shift = complex(right - other.bounds[0], bottom - other.bounds[3])
        width, height = other.bounds[2] - other.bounds[0], other.bounds[3] - other.bounds[1]
        bounds = left, min(top, bottom - height), right + width, bottom
        alt = " ".join(filter(None, (self.alt, other.alt)))
        moved = tuple(_moved(part, shift) for part in other.primitives)
        return Scene((*self.primitives, *moved), bounds, alt)

    def texts(self) -> tuple[Text, ...]:
        """Return the labels, in drawing order."""
        return tuple(p for p in self.primitives if isinstance(p, Text))

    def __repr__(self) -> str:
        return f"Picture: {self.alt}"

    def _repr_html_(self) -> str:
        from squatlab.show.picture import img, svg  # which draws what stands here

        return img(svg(self), self.alt, self.bounds[2] - self.bounds[0])


def _moved(part: Primitive, shift: complex) -> Primitive:
    if isinstance(part, Disc):
        return part._replace(centre=part.centre + shift)
    if isinstance(part, Text):
        return part._replace(at=part.at + shift)
    return part._replace(points=tuple(point + shift for point in part.points))


def rectangle(left: float, top: float, right: float, bottom: float) -> Points:
    """Return the four corners; sides may be arrays (positions,)."""
    return left + 1j * top, right + 1j * top, right + 1j * bottom, left + 1j * bottom
