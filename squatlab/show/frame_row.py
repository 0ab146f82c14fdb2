"""A clip on paper: a row of its frames, the same content without motion."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import Any

from squatlab.show.film import Film, film
from squatlab.show.footage import Footage, footage
from squatlab.show.lines import MeasuredLine
from squatlab.show.moving import spots, taken
from squatlab.show.picture import Scene, ShownInNotebook, svg, wrapping
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, text_width

CELLS, CELL, ROW, WORDS = 5, 179.0, 184.0, 18.0
"""How many frames, width and height of one view of one, and height of a line of words."""

LARGER = 1.3
"""A frame may be shown this much larger where there is room."""

SCALE, THINNER = 0.355, 0.6
"""How much smaller than a clip figures are, and their lines are."""

MOMENTS = ("start", "on the way down", "lowest point", "on the way up", "end")
QUARTERS = ("start", "first quarter", "middle", "third quarter", "end")


class FrameRow(ShownInNotebook):
    """Hold a clip's frames beside each other: side above, front below.

    Shows itself as an SVG in a notebook; ``svg`` and ``scene`` are the
    picture, ``note`` is said besides the clip's own sentence. Make one by
    `frame_row`.
    """

    def __init__(self, film: Film, measured: bool = False, note: str = "") -> None:
        self.film, self.measured, self.note = film, measured, note

    @cached_property
    def scene(self) -> Scene:
        """Return the row as a picture."""
        alt = f"{self.film.sentence} {self.note}".strip()
        return replace(_row(self.film, self.measured), alt=alt)

    @cached_property
    def svg(self) -> str:
        """Return the row as an SVG string."""
        return svg(self.scene)

    @property
    def html(self) -> str:
        """Return the row as elements of a page, which wrap where it is narrow."""
        return wrapping(self.scene, CELLS, "Frame", LARGER, still=True)

    def __repr__(self) -> str:
        return f"Frames: {self.scene.alt}"


def frame_row(*shots: Any, lines: bool = False, blind: bool = False) -> FrameRow:
    """Return five frames of what `clip` would play, for print.

    ``lines`` draws the measured lines with their numbers below; ``blind``
    says nothing that gives a fault away. Raises ValueError as `clip`.
    """
    return FrameRow(film(footage(*shots), (), blind), lines and not blind)


def _moments(shown: Footage) -> dict[str, int]:
    """Return five frames by name: of the first repetition, or quarters of the film."""
    if not shown.repetitions:
        last = shown.time.size - 1
        return {name: round(part * last / (CELLS - 1)) for part, name in enumerate(QUARTERS)}
    start, bottom, end = shown.repetitions[0]
    frames = start, (start + bottom) // 2, bottom, (bottom + end) // 2, end
    return dict(zip(MOMENTS, frames, strict=True))


def _row(film: Film, measured: bool) -> Scene:
    """Return five frames of every view, with the numbers of their lines if measured."""
    shown = film.footage
    moments = _moments(shown)
    parts: list[Primitive] = []
    lines_shown: list[MeasuredLine] = []
    for row, panel in enumerate(film.panels):
        moving = [part for part in panel.always if not isinstance(part, Text)]
        if measured:
            drawn = [part for line in panel.lines for part in line.drawn]
            moving += [part for part in drawn if not isinstance(part, Text)]
            lines_shown += [line for line in panel.lines if any(line.words)]
        for cell, frame in enumerate(moments.values()):
            # Side views are narrower than front views: each stands in the middle of its cell.
            left = cell * CELL + 0.5 * (CELL - SCALE * panel.width) - SCALE * panel.left
            stills = [taken(part, frame) for part in moving]
            corner = complex(left, row * ROW)
            parts += [_smaller(still, corner) for still in stills if still is not None]
        title = f"{panel.name.capitalize()} view"
        parts.append(Text(complex(6, row * ROW + 15), title, 13.0, bold=True))
    top = len(film.panels) * ROW + 2 * WORDS
    for cell, (name, frame) in enumerate(moments.items()):
        words = [f"{name}, {shown.time[frame]:.2f} s"]
        for line in lines_shown:
            if line.words[frame]:
                words += _rows(line, frame)
        for row, row_words in enumerate(words):
            at = complex((cell + 0.5) * CELL, top + row * WORDS)
            parts.append(Text(at, row_words, 13.0, "middle", bold=row == 0))
    count = sum(len(_rows(line, 0)) for line in lines_shown)
    bounds = 0.0, 0.0, CELLS * CELL, top + WORDS * (count + 0.5)
    return Scene(tuple(parts), bounds, film.sentence)


def _rows(line: MeasuredLine, frame: int) -> list[str]:
    """Return what a line measures at a frame, on two rows if any frame's is wider than a cell."""
    widest = max(text_width(f"{line.name} {words}", 13.0) for words in line.words)
    if widest > CELL - 8:
        return [line.name, line.words[frame]]
    return [f"{line.name} {line.words[frame]}"]


def _smaller(part: Line | Shape | Disc, corner: complex) -> Primitive:
    """Return a clip's primitive as small as a row shows it, from a cell's corner."""
    points = tuple(corner + SCALE * point for point in spots(part))
    width = THINNER * part.width
    if isinstance(part, Disc):
        return part._replace(centre=points[0], radius=SCALE * part.radius, width=width)
    return part._replace(points=points, width=width)
