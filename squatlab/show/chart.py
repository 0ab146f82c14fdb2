"""One chart on white paper, part of which can move with a slider."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.ticker import MultipleLocator
from numpy.typing import ArrayLike, NDArray
from PIL import Image

from squatlab.mechanics.posture import Posture
from squatlab.show import palette
from squatlab.show.picture import img
from squatlab.show.stamp import stamp

DPI = 100
"""So that a point is 1.39 pixels, at any size."""

TEXT = 12.5
"""Size of every word, points; the least that reads from the back."""

PAGE = (1000, 480)
"""Width and height of a chart that stands alone on a page, pixels."""

LEFT, RIGHT, TOP, BOTTOM = 70, 24, 44, 64
"""Room round the axes, pixels: fixed, so that nothing jumps."""

STANDING = 88.0
"""Thigh elevation of a standing lifter, °, whose shanks lean 2°
[teaching-value]."""


class Chart:
    """Draw what stays once and only what moves again.

    ``x`` and ``y`` say in words and units what the axes show; a sequence
    ``y`` makes panels side by side; ``left`` and ``right`` are the room
    beside the axes, pixels. ``alt`` tells the same as the picture,
    with its numbers. A notebook shows a chart as a picture, and as those
    words where there are no pictures.
    """

    def __init__(
        self,
        x: str,
        y: str | Sequence[str],
        size_px: tuple[int, int] = PAGE,
        left: int = LEFT,
        right: int = RIGHT,
    ) -> None:
        names = (y,) if isinstance(y, str) else tuple(y)
        width, height = size_px
        self.figure = Figure(figsize=(width / DPI, height / DPI), dpi=DPI, facecolor=palette.PAPER)
        self.canvas = FigureCanvasAgg(self.figure)
        self.alt = ""
        self._moving: list[Artist] = []
        self._still: Any = None
        share = width / len(names)
        self.panels = tuple(
            self.figure.add_axes(
                (
                    (share * i + left) / width,
                    BOTTOM / height,
                    (share - left - right) / width,
                    (height - TOP - BOTTOM) / height,
                )
            )
            for i in range(len(names))
        )
        for axes, name in zip(self.panels, names, strict=True):
            _plain(axes, x, name)
        self.axes = self.panels[0]

    def moving(self, artist: Artist) -> Artist:
        """Return the artist, from now on drawn anew for every picture."""
        artist.set_animated(True)
        self._moving.append(artist)
        return artist

    def mark_of(self, colour: str = palette.RED, shape: str = "D", size: float = 13) -> Line2D:
        """Return a mark that moves, nowhere yet; whole even on an edge."""
        look = {"ms": size, "mfc": colour, "mec": palette.PAPER, "mew": 2, "clip_on": False}
        return self.moving(self.axes.plot([], [], shape, **look)[0])

    def png(self, effort: int = 1) -> bytes:
        """Return the chart as PNG bytes.

        ``effort``, 1 to 9, makes the file smaller and slower to make.
        """
        return self._drawn("png", compress_level=effort)

    def jpeg(self) -> bytes:
        """Return the chart as JPEG bytes, made in a quarter of a PNG's time.

        For what moves with a slider; nobody sees the difference.
        """
        return self._drawn("jpeg", quality=92, subsampling=0)

    def _drawn(self, kind: str, **how: int) -> bytes:
        if self._still is None:
            self.canvas.draw()
            self._still = self.canvas.copy_from_bbox(self.figure.bbox)
        self.canvas.restore_region(self._still)
        pixels, buffer = np.asarray(self.canvas.buffer_rgba()), BytesIO()
        self.paint(pixels)
        for artist in self._moving:
            if isinstance(artist, Text):
                stamp(artist, pixels)
            else:
                artist.axes.draw_artist(artist)
        Image.fromarray(pixels).convert("RGB").save(buffer, kind, **how)
        return buffer.getvalue()

    def paint(self, pixels: NDArray[np.uint8]) -> None:
        """Change pixels (row, column, RGBA) below everything that moves.

        Nothing here; a chart whose ground moves as well does more.
        """

    def __repr__(self) -> str:
        return self.alt

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        shown = img(self.png(effort=9), self.alt, self.figure.bbox.width)
        return {"text/html": shown, "text/plain": self.alt}


def _plain(axes: Axes, x: str, y: str) -> None:
    """Leave two axes, their words, and pale lines to read values by."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["left", "bottom"]].set_color(palette.SOFT)
    axes.tick_params(labelsize=TEXT, color=palette.SOFT, labelcolor=palette.INK)
    axes.grid(color="#e6eaef", linewidth=1)
    axes.set_axisbelow(True)
    axes.set_xlabel(x, size=TEXT, color=palette.INK, labelpad=8)
    # Above the axis and level, where it is read without turning the head.
    axes.annotate(
        y, (0, 1), xytext=(-40, 16), textcoords="offset pixels", xycoords="axes fraction",
        size=TEXT, color=palette.INK,
    )  # fmt: skip


def words(axes: Axes, x: float, y: float, text: str, **more: Any) -> Text:
    """Write words at a point in the axes' units, readable on anything.

    ``more`` is passed on to matplotlib; ``bold=True`` stresses them.
    """
    weight = "bold" if more.pop("bold", False) else "normal"
    # A white box, and no halo round the letters: a halo takes ten times as long to draw.
    box = {"fc": palette.PAPER, "ec": "none", "alpha": 0.85, "pad": 1.5}
    given = {"size": TEXT, "color": palette.INK, "va": "center", "bbox": box} | more
    return axes.text(x, y, text, weight=weight, **given)


def depth_axis(axes: Axes, vertical: bool = False) -> None:
    """Write depth as coaches say it on an axis in degrees below level."""
    axis = axes.yaxis if vertical else axes.xaxis
    axis.set_major_locator(MultipleLocator(15 if vertical else 30))
    axis.set_major_formatter(lambda degrees, _: depth_words(degrees))


def depth_words(degrees: float) -> str:
    """Return "12° below", "30° above" or "level", of the thigh."""
    if round(degrees) == 0:
        return "level"
    return f"{abs(degrees):.0f}° {'below' if degrees > 0 else 'above'}"


def takeaway(axes: Axes, text: str) -> None:
    """Write what a panel shows, in plain words, above its right end.

    Left out where a narrow panel needs the room for its axis' name.
    """
    if axes.bbox.width < 10 * len(text) + 110:
        return
    axes.annotate(
        text, (1, 1), xytext=(0, 16), textcoords="offset pixels", xycoords="axes fraction",
        size=TEXT, color=palette.INK, weight="bold", ha="right",
    )  # fmt: skip


def name_ends(axes: Axes, lines: dict[str, Sequence[NDArray[np.float64]]], gap: int = 21) -> None:
    """Write each line's name where it ends on the right, none on another.

    ``lines`` holds the x and y of each; set the limits before. Names are
    kept ``gap`` pixels apart.
    """
    ends = {}
    for name, (x, y) in lines.items():
        there = np.flatnonzero(np.isfinite(y))
        if there.size:
            ends[name] = axes.transData.transform((x[there[-1]], y[there[-1]]))
    order = sorted(ends, key=lambda name: ends[name][1])
    wanted = np.array([ends[name][1] for name in order])
    # Pushed up past the one below, then the whole row back to where it belongs.
    steps = gap * np.arange(len(order))
    pushed = np.maximum.accumulate(wanted - steps) + steps
    crowded = np.where(pushed > wanted)[0]
    if crowded.size:
        pushed[crowded.min() - 1 :] -= 0.5 * np.max(pushed - wanted)
    for name, height in zip(order, pushed, strict=True):
        x, y = axes.transData.inverted().transform((ends[name][0] + 10, height))
        words(axes, x, y, name, bold=True)


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
