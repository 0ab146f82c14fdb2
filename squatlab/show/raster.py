"""Scenes as pixels: for packages of frames that hold no numbers of the lifter.

Draws the same primitives as `squatlab.show.picture`, many times faster
than a plotting library.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache, lru_cache
from pathlib import Path

import matplotlib
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from squatlab.show.palette import PAPER
from squatlab.show.picture import Scene, arrow_head, tile_pixels
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, Tiles

FINER = 2
"""Drawn so many times larger and then made smaller, which smooths edges."""

CURVE = (np.arange(6) / 6)[:, np.newaxis]
"""Where each piece of a smooth outline is cut into straight lines."""

CIRCLE = np.exp(2j * np.pi * np.arange(60) / 60)

COLOURS = 64
"""Colours kept in a PNG: flat fills and their edges need no more."""


def image(scene: Scene, width_px: int = 910) -> Image.Image:
    """Return a scene as an RGB image of this width in pixels.

    Words are smooth by themselves and come last, at their final size.
    """
    left, top, right, bottom = scene.bounds
    scale, origin = width_px / (right - left), complex(left, top)
    size = FINER * width_px, FINER * round((bottom - top) * scale)
    large = Image.new("RGB", size, PAPER)
    pen = ImageDraw.Draw(large)
    for primitive in scene.primitives:
        if isinstance(primitive, Tiles):
            start = (primitive.points[0] - origin) * FINER * scale
            ground = Image.fromarray(tile_pixels(primitive, FINER * scale))
            large.paste(ground, (round(start.real), round(start.imag)))
        elif not isinstance(primitive, Text):
            _DRAW[type(primitive)](pen, primitive, origin, FINER * scale)
    made = large.reduce(FINER)
    for text in scene.texts():
        _text(made, text, origin, scale)
    return made


def _pixels(points: Iterable[complex], origin: complex, scale: float) -> NDArray[np.complex128]:
    """Return points of the picture as pixels; the picture begins at ``origin``."""
    return (np.array(tuple(points)) - origin) * scale


def _pairs(points: NDArray[np.complex128]) -> list[float]:
    """Return points as Pillow takes them: x, y, x, y, …"""
    return points.view(float).tolist()


def _fill(pen: ImageDraw.ImageDraw, points: NDArray, part: Shape | Disc) -> None:
    """Fill an outline (points,) as its primitive says."""
    if part.fill == "none":
        return
    if part.opacity < 1:  # a pen that blends is slow, so it is taken only here
        pen = ImageDraw.Draw(pen._image, "RGBA")
    pen.polygon(_pairs(points), f"{part.fill}{round(255 * part.opacity):02x}")


def _stroke(
    pen: ImageDraw.ImageDraw, points: NDArray, part: Primitive, scale: float, closed: bool
) -> None:
    """Draw a line (points,), whole or in dashes; ``scale`` is pixels per picture unit."""
    if part.stroke == "none":
        return
    points = np.append(points, points[:1]) if closed else points
    width = max(1, round(part.width * scale))
    if not part.dash:
        pen.line(_pairs(points), part.stroke, width)
        return
    # How far along the line each of its points is, and each end of a dash or of a gap; the
    # dashes' pattern is repeated until it is longer than the line.
    length_along = np.append(0.0, np.cumsum(np.abs(np.diff(points))))
    steps = scale * np.array(part.dash.split(), dtype=float)
    repeats = int(length_along[-1] / steps.sum()) + 1
    edges = np.append(0.0, np.cumsum(np.tile(steps, repeats)))
    places = np.interp(edges, length_along, points)
    # Even pieces are dashes, odd ones gaps. A dash follows the corners that lie on it.
    for start in range(0, len(edges) - 1, 2):
        inside = points[(length_along > edges[start]) & (length_along < edges[start + 1])]
        dash = np.concatenate([places[start : start + 1], inside, places[start + 1 : start + 2]])
        pen.line(_pairs(dash), part.stroke, width)


def _line(pen: ImageDraw.ImageDraw, line: Line, origin: complex, scale: float) -> None:
    """Draw a line and the head of an arrow."""
    _stroke(pen, _pixels(line.points, origin, scale), line, scale, closed=False)
    if line.arrow:
        pen.polygon(_pairs(_pixels(arrow_head(line), origin, scale)), line.stroke)


def _shape(pen: ImageDraw.ImageDraw, shape: Shape, origin: complex, scale: float) -> None:
    """Draw a closed area, smooth or straight, of one outline or of several."""
    if shape.pieces:
        # Edges lie below the fill, which hides those inside and half of the others.
        whole = shape._replace(pieces=())
        if shape.stroke != "none":
            for outline in shape.outlines():
                edge = whole._replace(points=outline, fill="none", width=2 * whole.width)
                _shape(pen, edge, origin, scale)
        for outline in shape.outlines():
            _shape(pen, whole._replace(points=outline, stroke="none"), origin, scale)
        return
    points = _pixels(shape.points, origin, scale)
    if shape.smooth:
        # A quadratic B-spline: Bézier curves between the middles of the edges, each with the
        # corner p between them, (1 − t)² before + 2 t (1 − t) p + t² after.
        after = 0.5 * (points + np.append(points[1:], points[:1]))
        before = np.append(after[-1:], after[:-1])
        curve = (1 - CURVE) ** 2 * before + CURVE**2 * after
        points = (curve + 2 * CURVE * (1 - CURVE) * points).T.ravel()
    _fill(pen, points, shape)
    _stroke(pen, points, shape, scale, closed=True)


def _disc(pen: ImageDraw.ImageDraw, disc: Disc, origin: complex, scale: float) -> None:
    """Draw a circle as a polygon of many corners."""
    rim = (disc.centre + disc.radius * CIRCLE - origin) * scale
    _fill(pen, rim, disc)
    _stroke(pen, rim, disc, scale, closed=True)


@cache
def font(size: float, bold: bool) -> ImageFont.FreeTypeFont:
    """Return the font that comes with matplotlib, the same on every machine.

    ``size`` in pixels.
    """
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(str(Path(matplotlib.get_data_path(), "fonts", "ttf", name)), size)


@lru_cache(256)  # a film repeats its words in every frame
def _label(
    words: str, size: int, bold: bool, fill: str, halo: str, around: int
) -> tuple[Image.Image, float, float]:
    """Return words on nothing, and how far left of and above their start they reach.

    Their halo reaches ``around`` pixels.
    """
    face = font(size, bold)
    left, top, right, bottom = map(round, face.getbbox(words, anchor="ls", stroke_width=around))
    label = Image.new("RGBA", (right - left + 1, bottom - top + 1), f"{PAPER}00")
    ImageDraw.Draw(label).text(
        (-left, -top), words, fill, face, "ls", stroke_width=around, stroke_fill=halo or None
    )
    return label, left, top


def _text(made: Image.Image, text: Text, origin: complex, scale: float) -> None:
    """Write words on a picture at its final size."""
    # The font that comes with matplotlib is wider than the screen's.
    size = round(0.9 * text.size * scale)
    width = font(size, text.bold).getlength(text.words)
    start = (text.at - origin) * scale - width * {"start": 0, "middle": 0.5, "end": 1}[text.anchor]
    around = round(2 * scale) if text.halo else 0
    label, left, top = _label(text.words, size, text.bold, text.fill, text.halo, around)
    made.paste(label, (round(start.real) + left, round(start.imag) + top), label)


_DRAW = {Line: _line, Shape: _shape, Disc: _disc}
