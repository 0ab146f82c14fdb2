"""Charts made of primitives: axes that stay, and marks that may move.

The modules named after charts, and `feasible_map`, are made with it. A
chart has the painters of every picture; an explorer is sent its stage
once and then only what moves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import floor, log10
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.mechanics.posture import Posture
from squatlab.show import palette
from squatlab.show.moving import Curve, Moving, stills, where
from squatlab.show.picture import LEAST, Scene, ShownInNotebook, img, svg, wrapping
from squatlab.show.primitives import Disc, Line, Shape, Text, rectangle, text_width
from squatlab.show.sweep import Sweep, whole

PAGE = (600.0, 390.0)
"""Width and height of a chart that stands alone, picture units: the narrowest page, a
notebook beside its file list, shows it whole."""

PAIR = (840.0, 390.0)
"""The same of two or three plots beside each other: below each other where it is narrow."""

LARGER = 1.2
"""A chart may be shown this much larger where there is room."""

BESIDE = (470.0, 500.0)
"""The same of a chart beside a view of a lifter."""

TEXT = 13.0
GRID = "#e6eaef"
LEFT, RIGHT, TOP, BOTTOM = 52.0, 22.0, 46.0, 58.0
"""Room round the axes: fixed, so that nothing jumps."""


class LineLook(NamedTuple):
    """Say how a line of a chart is told from others: colour, dash and mark."""

    colour: str
    dash: str
    mark: str


JOINT_LOOKS = {
    "hip": LineLook(palette.HIP, "", "round"),
    "knee": LineLook(palette.KNEE, "12 5", "square"),
}

STANDING = 88.0
"""Thigh elevation of a standing lifter, °, whose shanks lean 2° [teaching-value]."""


class Axis(NamedTuple):
    """Hold what an axis shows: name with unit, ends, ticks with their words."""

    label: str
    start: float
    end: float
    ticks: tuple[float, ...]
    words: Callable[[float], str] = lambda value: f"{value:g}".replace("-", "−")


def axis(label: str, start: float, end: float, count: int = 6, **more: Any) -> Axis:
    """Return an axis with about ``count`` ticks at round numbers."""
    # The step is the first of 1, 2, 5 and 10 times a power of ten that is large enough.
    rough = abs(end - start) / count
    unit = 10.0 ** floor(log10(rough))
    step = min(times * unit for times in (1, 2, 5, 10) if times * unit >= rough)
    low, high = min(start, end), max(start, end)
    ticks = np.arange(np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9) + 1) * step
    # Adding nought turns −0 into 0.
    return Axis(label, start, end, tuple((np.round(ticks, 9) + 0.0).tolist()), **more)


def depth_axis(start: float, end: float, step: int = 15) -> Axis:
    """Return an axis of depth, degrees below level, worded as coaches say it."""
    low, high = sorted((start, end))
    ticks = [float(t) for t in range(-90, 91, step) if low <= t <= high]
    return Axis("Depth: thigh above or below level", start, end, tuple(ticks), depth_words)


def depth_words(degrees: float) -> str:
    """Return "12° below", "30° above" or "level", of the thigh."""
    if round(degrees) == 0:
        return "level"
    return f"{abs(degrees):.0f}° {'below' if degrees > 0 else 'above'}"


class Plot:
    """Place values of two axes in a box of a picture (left, top, right, bottom)."""

    def __init__(self, x: Axis, y: Axis, box: tuple[float, float, float, float]) -> None:
        self.x, self.y, self.box = x, y, box

    def at(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.complex128]:
        """Return where values (…) stand, picture units."""
        left, top, right, bottom = self.box
        across = left + (right - left) * (np.asarray(x, float) - self.x.start) / (
            self.x.end - self.x.start
        )
        down = bottom - (bottom - top) * (np.asarray(y, float) - self.y.start) / (
            self.y.end - self.y.start
        )
        return (across + 1j * down)[()]

    def frame(self, grid: bool = True) -> list[Moving]:
        """Return paper, pale lines to read values by, both axes and their words."""
        left, top, right, bottom = self.box
        parts: list[Moving] = []
        for value in self.x.ticks if grid else ():
            x = self.at(value, self.y.start).real
            parts.append(Line((complex(x, top), complex(x, bottom)), GRID, 1.0))
        for value in self.y.ticks if grid else ():
            y = self.at(self.x.start, value).imag
            parts.append(Line((complex(left, y), complex(right, y)), GRID, 1.0))
        parts += self.edges()
        for value in self.x.ticks:
            x = self.at(value, self.y.start).real
            parts.append(Line((complex(x, bottom), complex(x, bottom + 5)), palette.SOFT, 1.0))
            parts.append(Text(complex(x, bottom + 20), self.x.words(value), TEXT, "middle"))
        for value in self.y.ticks:
            y = self.at(self.x.start, value).imag
            parts.append(Line((complex(left - 5, y), complex(left, y)), palette.SOFT, 1.0))
            parts.append(Text(complex(left - 9, y + 4.5), self.y.words(value), TEXT, "end"))
        middle = 0.5 * (left + right)
        parts.append(Text(complex(middle, bottom + 44), self.x.label, TEXT, "middle"))
        # Above the axis and level, where it is read without turning the head.
        parts.append(Text(complex(max(left - 44, 6), top - 18), self.y.label, TEXT))
        return parts

    def edges(self) -> list[Line]:
        """Return the lines of both axes."""
        left, top, right, bottom = self.box
        ends = complex(left, top), complex(left, bottom), complex(right, bottom)
        return [Line(ends, palette.SOFT, 1.2)]

    def curve(
        self, x: ArrayLike, y: ArrayLike, stroke: str, dash: str = "", width: float = 3.0
    ) -> list[Moving]:
        """Return a line through values (…, points), broken where one is nan or outside.

        The first axis, if there are two, is positions.
        """
        left, top, right, bottom = self.box
        places = self.at(x, y)
        inside = (places.real >= left - 0.5) & (places.real <= right + 0.5)
        inside &= (places.imag >= top - 0.5) & (places.imag <= bottom + 0.5)
        places = np.where(inside, places, complex(np.nan, np.nan))
        points = places.T if places.ndim > 1 else places.tolist()
        return [Curve(tuple(points), stroke, width, dash)]

    def mark(
        self,
        x: ArrayLike,
        y: ArrayLike,
        fill: str,
        kind: str = "diamond",
        size: float = 7.0,
        stroke: str = palette.PAPER,
        width: float = 2.0,
    ) -> list[Moving]:
        """Return a mark at one value, or at one for each position."""
        return [mark(self.at(x, y), fill, kind, size, stroke, width)]

    def words(
        self,
        x: ArrayLike,
        y: ArrayLike,
        words: str | list[str],
        anchor: str = "start",
        bold: bool = False,
        fill: str = palette.INK,
        shift: complex = 0j,
        ground: str = palette.PAPER,
    ) -> list[Moving]:
        """Write words at a value, ``shift`` picture units from it, on a ground."""
        return [Text(self.at(x, y) + shift + 4.5j, words, TEXT, anchor, bold, fill, ground)]

    def beside(
        self,
        x: ArrayLike,
        y: ArrayLike,
        words: str | list[str],
        right: ArrayLike,
        gap: float = 14.0,
        bold: bool = True,
    ) -> list[Moving]:
        """Write words to the right of a value, or to the left where ``right`` is false."""
        right = np.asarray(right, bool)
        return [
            *where(right, self.words(x, y, words, "start", bold, shift=complex(gap, 0))),
            *where(~right, self.words(x, y, words, "end", bold, shift=complex(-gap, 0))),
        ]

    def strip(self, start: float, end: float, fill: str = palette.NOTICE) -> list[Moving]:
        """Shade what lies between two values across; its edge tells it from the paper."""
        left, right = self.at(start, self.y.start).real, self.at(end, self.y.start).real
        return [Shape(rectangle(left, self.box[1], right, self.box[3]), fill, palette.SOFT)]

    def level(self, y: float, stroke: str, dash: str = "", width: float = 1.2) -> list[Moving]:
        """Return a line across at one value."""
        height = self.at(self.x.start, y).imag
        return [Line((self.box[0] + 1j * height, self.box[2] + 1j * height), stroke, width, dash)]

    def upright(
        self, x: ArrayLike, stroke: str, dash: str = "", width: float = 1.2
    ) -> list[Moving]:
        """Return a line from bottom to top at one value, or at one for each position."""
        across = self.at(x, self.y.start).real
        return [Line((across + 1j * self.box[1], across + 1j * self.box[3]), stroke, width, dash)]

    def takeaway(self, words: str) -> list[Moving]:
        """Write what the chart shows, in plain words, above its right end.

        Left out where a narrow chart needs the room for its axis' name.
        """
        left, top, right, _ = self.box
        room = right - left + 44 - text_width(self.y.label, TEXT) - 24
        if text_width(words, TEXT, bold=True) > room:
            return []
        return [Text(complex(right, top - 18), words, TEXT, "end", bold=True)]

    def name_ends(
        self, lines: dict[str, tuple[NDArray, NDArray]], gap: float = 19.0
    ) -> list[Moving]:
        """Write each line's name where it ends on the right, none on another.

        ``lines`` are x and y (points,) by name; names are at least ``gap``
        picture units apart.
        """
        ends = {}
        for name, (x, y) in lines.items():
            drawn = np.flatnonzero(np.isfinite(y))
            if drawn.size:
                ends[name] = complex(self.at(x[drawn[-1]], y[drawn[-1]]))
        order = sorted(ends, key=lambda name: ends[name].imag)
        wanted = np.array([ends[name].imag for name in order])
        # Each name is pushed down until it is a gap below the one above. That needs
        # pushed[i] ≥ pushed[i − 1] + gap: less its own number of gaps, a running maximum.
        steps = gap * np.arange(len(order))
        pushed = np.maximum.accumulate(wanted - steps) + steps
        # Those that were crowded, and the one above them, then go back up by half of it.
        crowded = np.flatnonzero(pushed > wanted)
        if crowded.size:
            pushed[crowded.min() - 1 :] -= 0.5 * np.max(pushed - wanted)
        return [
            Text(complex(ends[name].real + 8, y + 4.5), name, TEXT, bold=True)
            for name, y in zip(order, pushed.tolist(), strict=True)
        ]


def mark(
    at: complex,
    fill: str,
    kind: str = "diamond",
    size: float = 7.0,
    stroke: str = palette.PAPER,
    width: float = 2.0,
) -> Moving:
    """Return a mark of a kind ("round", "square", "diamond", "triangle") at a place."""
    corners = {
        "square": (-1 - 1j, 1 - 1j, 1 + 1j, -1 + 1j),
        "diamond": (-1.35, -1.35j, 1.35, 1.35j),
        "triangle": (-1.2 + 1j, -1.3j, 1.2 + 1j),
    }
    if kind == "round":
        return Disc(at, size, fill, stroke, width)
    return Shape(tuple(at + size * corner for corner in corners[kind]), fill, stroke, width)


@dataclass(frozen=True, eq=False)
class Chart(ShownInNotebook):
    """Hold a chart: the stage that stays, and the marks on it at every position.

    ``plots`` of one width stand beside each other in it. Shows itself in a
    notebook; ``alt`` tells the same with its numbers.
    """

    stage: tuple[Moving, ...]
    marks: Sweep
    plots: int = 1

    @property
    def alt(self) -> str:
        """Return the chart in words, at its first position."""
        return self.marks.alt[0]

    def scene(self, position: int = 0) -> Scene:
        """Return the chart at one position as a picture."""
        marks = self.marks.scene(position)
        stage = tuple(part for moving in self.stage for part in stills(moving, 0))
        return Scene((*stage, *marks.primitives), marks.bounds, marks.alt)

    def __repr__(self) -> str:
        return self.alt

    @property
    def html(self) -> str:
        """Return the chart as elements of a page, a picture for each plot."""
        scene = self.scene()
        if self.plots == 1:
            width = scene.bounds[2] - scene.bounds[0]
            return img(svg(scene), self.alt, LARGER * width, least=LEAST / LARGER)
        return wrapping(scene, self.plots, "Plot", LARGER)


def chart(
    stage: Sequence[Moving],
    size: tuple[float, float],
    alt: str | list[str],
    marks: Sequence[Moving] = (),
    count: int = 1,
    plots: int = 1,
) -> Chart:
    """Return a chart of one structure, with its marks at ``count`` positions."""
    sentences = (alt,) if isinstance(alt, str) else tuple(alt)
    return Chart(tuple(stage), whole(marks, (0.0, 0.0, *size), count, sentences), plots)


def box_of(
    size: tuple[float, float],
    left: float = LEFT,
    right: float = RIGHT,
    part: int = 0,
    parts: int = 1,
) -> tuple[float, float, float, float]:
    """Return the box of a plot in a chart, or of one of several beside each other."""
    width, height = size
    share = width / parts
    return part * share + left, TOP, (part + 1) * share - right, height - BOTTOM


def held(values: ArrayLike, posture: Posture) -> NDArray[np.float64]:
    """Return the values, nan where the posture cannot be held."""
    return np.where(posture.feasible, values, np.nan)


def shank_on_the_way(thigh_deg: ArrayLike, shank_deg: float = 30.0) -> NDArray[np.float64]:
    """Return the shank's lean at each depth of a plain descent, °.

    It grows evenly from 2° standing to ``shank_deg`` with the thighs
    level, and on below [teaching-value].
    """
    part = (STANDING - np.asarray(thigh_deg, float)) / STANDING
    return 2.0 + (shank_deg - 2.0) * part
