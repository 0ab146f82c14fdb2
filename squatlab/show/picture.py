"""A scene of primitives, as SVG for the screen.

What a notebook keeps is an image with its words (`img`); `raster` and
`axes_painter` draw the same scenes as pixels and for print.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from base64 import b64encode
from collections.abc import Iterable
from dataclasses import dataclass, replace
from html import escape
from io import BytesIO
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from squatlab.show import patterns
from squatlab.show.moving import placed_at, spots
from squatlab.show.palette import PAPER
from squatlab.show.primitives import Disc, Line, Points, Primitive, Shape, Text, Tiles

FONTS = "system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, 'Liberation Sans', sans-serif"
HALO = ' stroke="{}" stroke-width="4" stroke-linejoin="round" paint-order="stroke"'
ARROW = (-9.0 + 3.8j, -9.0 - 3.8j)
"""The two rear corners of an arrow head that points along +x."""

SAME = "Part {n} of {of} of the picture: the same posture from another side, or as a chart."
"""The words of a picture beside one whose words speak for both."""

STILL = "squatlab-still"
"""The class of a picture that stands for something that moves."""

LEAST, SCROLLED_PX = 12 / 13, 500
"""A picture shrinks to this part of its width and no further: words of 13 units
stay 12 px high, and zooming in enlarges it. One that stays wider than the second,
in pixels, may have to be scrolled, and takes the focus for it."""


@dataclass(frozen=True)
class Scene:
    """Hold a picture: primitives from back to front, size and words.

    ``bounds`` is left, top, right, bottom; ``alt`` states the picture's
    numbers for those who do not see it. ``panes`` are the pictures that
    stand beside each other in it: where it is narrow a notebook shows them
    below each other. Shows itself in a notebook.
    """

    primitives: tuple[Primitive, ...]
    bounds: tuple[float, float, float, float]
    alt: str
    panes: tuple[Scene, ...] = ()

    def beside(self, other: Scene) -> Scene:
        """Return both scenes in one, the other to the right of this."""
        left, top, right, bottom = self.bounds
        other_left, other_top, other_right, other_bottom = other.bounds
        # Both stand on one line: the other moves to this one's right lower corner.
        shift = complex(right - other_left, bottom - other_bottom)
        moved = tuple(
            placed_at(part, tuple(point + shift for point in spots(part)))
            for part in other.primitives
        )
        height = other_bottom - other_top
        bounds = left, min(top, bottom - height), right + (other_right - other_left), bottom
        alt = " ".join(filter(None, (self.alt, other.alt)))
        panes = *(self.panes or (self,)), *(other.panes or (other,))
        return Scene((*self.primitives, *moved), bounds, alt, panes)

    def texts(self) -> tuple[Text, ...]:
        """Return the labels, in drawing order."""
        return tuple(p for p in self.primitives if isinstance(p, Text))

    def __repr__(self) -> str:
        return f"Picture: {self.alt}"

    def _repr_html_(self) -> str:
        return self.html()

    def html(self, still: bool = False) -> str:
        """Return the picture as elements of a page; ``still`` as for `img`."""
        if not self.panes:
            return img(svg(self), self.alt, self.bounds[2] - self.bounds[0], still)
        # The first has the words for all of them.
        first, *others = self.panes
        shown = [(first, self.alt)]
        for n, pane in enumerate(others, 2):
            shown.append((pane, pane.alt or SAME.format(n=n, of=len(self.panes))))
        pictures = [
            img(svg(replace(pane, alt=alt)), alt, pane.bounds[2] - pane.bounds[0], still)
            for pane, alt in shown
        ]
        return f'<div style="display:flex;flex-wrap:wrap">{"".join(pictures)}</div>'


def svg(scene: Scene, width_px: float | None = None) -> str:
    """Return the scene as an SVG string, the same bytes every time.

    ``width_px`` is the shown width; left out, the picture's own. The
    element carries the alternative text and a white background, so that
    it reads on a dark page as well.
    """
    left, top, right, bottom = scene.bounds
    width, height = right - left, bottom - top
    shown = width if width_px is None else width_px
    alt = escape(scene.alt, quote=True)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:g} {top:g} {width:g} {height:g}" '
        f'width="{shown:.0f}" height="{shown * height / width:.0f}" role="img" aria-label="{alt}" '
        f'font-family="{FONTS}" {_fitting(shown)}>'
        f'<rect x="{left:g}" y="{top:g}" width="{width:g}" height="{height:g}" fill="{PAPER}"/>'
    )
    return head + elements(scene.primitives) + "</svg>"


class RowPlace(NamedTuple):
    """Say how narrow and how wide a picture may be that shares its row, pixels."""

    least: float
    most: float

    @property
    def style(self) -> str:
        """Return it as style; a page's own rules for single pictures do not count."""
        return (
            f"flex:1 1 {self.least:g}px;width:100%;min-width:{self.least:g}px!important;"
            f"max-width:{self.most:g}px!important;height:auto;background:{PAPER}"
        )


def img(
    picture: str | bytes,
    alt: str,
    width_px: float,
    still: bool = False,
    place: RowPlace | None = None,
    least: float = LEAST,
) -> str:
    """Return an SVG string or PNG bytes as an image element for a page.

    Notebooks show pictures of their own kind without any words; this one
    carries ``alt``, also where a notebook is not trusted. ``width_px`` is
    its shown width; ``still`` marks what stands for something that moves,
    ``place`` is of one that shares its row. A narrow page shrinks it to
    ``least`` of its width; below that it is scrolled.
    """
    kind, data = ("png", picture) if isinstance(picture, bytes) else ("svg+xml", picture.encode())
    source = f"data:image/{kind};base64,{b64encode(data).decode()}"
    mark = f'class="{STILL}" ' if still else ""
    return f'<img {mark}src="{source}" alt="{escape(alt, quote=True)}" width="{width_px:.0f}" ' + (
        f'style="{place.style}">' if place else f"{_fitting(width_px, least)}>"
    )


def wrapping(scene: Scene, count: int, name: str, larger: float, still: bool = False) -> str:
    """Return a picture as ``count`` equal columns, below each other on a narrow page.

    Each is shown up to ``larger`` times its width. The first has the words
    for all of them; the others are called by their ``name`` and bold words.
    """
    left, top, right, bottom = scene.bounds
    width = (right - left) / count
    least, most = float(np.ceil(LEAST * width)), larger * width
    # A grid: in a row of its own the last would grow larger than those above it.
    columns = f"display:grid;grid-template-columns:repeat(auto-fit,minmax({least:g}px,1fr))"
    place = RowPlace(least, most)
    pictures = []
    for column in range(count):
        start, end = left + column * width, left + (column + 1) * width
        parts = tuple(part for part in scene.primitives if start <= _middle(part) < end)
        alt = scene.alt
        if column:
            bold = [part.words for part in parts if isinstance(part, Text) and part.bold]
            which = ": ".join([f"{name} {column + 1} of {count} of the picture", *bold[:1]])
            alt = f"{which}. The first says it all in words."
        picture = svg(Scene(parts, (start, top, end, bottom), alt))
        pictures.append(img(picture, alt, width, still, place))
    return f'<div style="{columns};max-width:{count * most:g}px">{"".join(pictures)}</div>'


def _middle(part: Primitive) -> float:
    """Return where the middle of a primitive stands across, picture units."""
    if isinstance(part, Disc):
        return part.centre.real
    if isinstance(part, Text):
        return part.at.real
    across = [point.real for point in part.points]
    return 0.5 * (min(across) + max(across))


def _fitting(width: float, least: float = LEAST) -> str:
    """Return the attributes by which a picture fits its place, or is scrolled by keyboard."""
    least_px = np.ceil(least * width)
    style = f'style="max-width:100%;min-width:{least_px:.0f}px;height:auto;background:{PAPER}"'
    keys = ' tabindex="0" data-lm-suppress-shortcuts="true"' if least_px > SCROLLED_PX else ""
    return style + keys


class ShownInNotebook(ABC):
    """Show oneself in a notebook as elements of a page, and in words elsewhere."""

    @property
    @abstractmethod
    def html(self) -> str:
        """Return it as elements of a page."""

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        return {"text/plain": repr(self), "text/html": self.html}


@dataclass(frozen=True)
class WordedPicture(ShownInNotebook):
    """Hold a picture as SVG and the same in words; a notebook shows either.

    ``width_px`` is how wide a page shows it where there is room; below
    ``least`` of that it is scrolled.
    """

    svg: str
    words: str
    alt: str
    width_px: float
    least: float = LEAST

    def __repr__(self) -> str:
        return self.words

    @property
    def html(self) -> str:
        """Return the picture as an element of a page."""
        return img(self.svg, self.alt, self.width_px, least=self.least)


def elements(primitives: Iterable[Primitive]) -> str:
    """Return primitives as SVG elements, for a picture or a part of one."""
    return "".join([_TO_SVG[type(part)](part) for part in primitives])


def _path(points: Points) -> str:
    """Return straight lines through points, without the command that starts them."""
    return "L".join([f"{p.real:.1f} {p.imag:.1f}" for p in points])


def _smooth_path(points: Points) -> str:
    """Return a closed quadratic B-spline as curves between midpoints."""
    start = 0.5 * (points[-1] + points[0])
    numbers = [start.real, start.imag]
    for here, after in zip(points, (*points[1:], points[0]), strict=True):
        middle = 0.5 * (here + after)
        numbers += here.real, here.imag, middle.real, middle.imag
    # One format call for the whole path: this is most of a slider's wait.
    return ("M%.1f %.1f" + "Q%.1f %.1f %.1f %.1f" * len(points)) % tuple(numbers)


def _stroke(stroke: str, width: float, dash: str) -> str:
    """Return a line's look as attributes, "" for no line."""
    if stroke == "none":
        return ""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f' stroke="{stroke}" stroke-width="{width:g}"{dashed}'


def _line(line: Line) -> str:
    edge = _stroke(line.stroke, line.width, line.dash)
    body = f'<path d="M{_path(line.points)}" fill="none"{edge}/>'
    if line.arrow:
        body += f'<path d="M{_path(arrow_head(line))}Z" fill="{line.stroke}"/>'
    return body


def arrow_head(line: Line) -> Points:
    """Return the triangle at the end of a line."""
    tip, before = line.points[-1], line.points[-2]
    length = abs(tip - before) or 1.0
    # On a line shorter than 14 units the head is smaller, in proportion.
    along = (tip - before) / length * min(1.0, length / 14.0)
    return (tip, *(tip + along * corner for corner in ARROW))


def _shape(shape: Shape) -> str:
    pieces = []
    for outline in shape.outlines():
        path = _smooth_path(outline) if shape.smooth else f"M{_path(outline)}"
        pieces.append(f"{path}Z")
    path = "".join(pieces)
    opacity = f' fill-opacity="{shape.opacity:g}"' if shape.opacity < 1 else ""
    edge = _stroke(shape.stroke, shape.width, shape.dash)
    if shape.pieces:
        # Edges lie below the fill, which hides those inside and half of the others.
        edge = _stroke(shape.stroke, 2 * shape.width, shape.dash) + ' paint-order="stroke"'
    return f'<path d="{path}" fill="{shape.fill}"{opacity}{edge} stroke-linejoin="round"/>'


def _disc(disc: Disc) -> str:
    opacity = f' fill-opacity="{disc.opacity:g}"' if disc.opacity < 1 else ""
    edge = _stroke(disc.stroke, disc.width, disc.dash)
    end = f"><title>{escape(disc.name)}</title></circle>" if disc.name else "/>"
    return (
        f'<circle cx="{disc.centre.real:.1f}" cy="{disc.centre.imag:.1f}" r="{disc.radius:.1f}" '
        f'fill="{disc.fill}"{opacity}{edge}{end}'
    )


def _text(text: Text) -> str:
    weight = ' font-weight="600"' if text.bold else ""
    anchor = "" if text.anchor == "start" else f' text-anchor="{text.anchor}"'
    halo = HALO.format(text.halo) if text.halo else ""
    return (
        f'<text x="{text.at.real:.1f}" y="{text.at.imag:.1f}" font-size="{text.size:g}"'
        f'{weight}{anchor} fill="{text.fill}"{halo}>{escape(text.words)}</text>'
    )


def _tiles(tiles: Tiles) -> str:
    start, end = tiles.points
    box = end - start
    buffer = BytesIO()
    # Two pixels a unit, so that patterns stay sharp.
    Image.fromarray(tile_pixels(tiles, 2.0)).save(buffer, "png")
    return (
        f'<image x="{start.real:.1f}" y="{start.imag:.1f}" width="{box.real:.1f}" '
        f'height="{box.imag:.1f}" href="data:image/png;base64,'
        f'{b64encode(buffer.getvalue()).decode()}"/>'
    )


def tile_pixels(tiles: Tiles, scale: float) -> NDArray[np.uint8]:
    """Return tiles as pixels (row, column, RGB), ``scale`` of them a picture unit."""
    box = (tiles.points[1] - tiles.points[0]) * scale
    return patterns.painted(tiles.cells, round(box.imag), round(box.real), scale)


_TO_SVG = {Line: _line, Shape: _shape, Disc: _disc, Text: _text, Tiles: _tiles}
