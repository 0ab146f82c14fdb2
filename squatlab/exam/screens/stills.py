"""A lift as the pictures of an exam: what a phone would show, and no measurement."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from squatlab.exam.package import Clip
from squatlab.show.film import Film, film
from squatlab.show.footage import Footage, footage
from squatlab.show.raster import COLOURS, image

HEIGHT_PX = 480
"""As high as a page shows a clip: larger pictures only make a larger file."""

ON_A_SHEET = 8
"""Pictures beside each other share rows, which packs them three times better
than one by one; more of them would be slow to open."""

STILL_M = 1e-4
"""Points that move less than this since the last picture move no pixel."""


def stills(case: Any, height_px: int = HEIGHT_PX, every: int = 1) -> Clip:
    """Return what a case's views show, as a package takes it.

    ``case`` has the lift as ``rep`` and its views as ``cell.view``, which
    is "side", "front" or "both". Pictures of ``height_px``, and only
    ``every`` second or third frame, make a smaller and poorer clip.
    """
    shown, view = footage(case.rep), case.cell.view
    moving = film(shown, (), blind=True)
    taken = np.arange(0, shown.time.size, every)
    pictures = _different(shown, taken)
    first = moving.scene(0, view).bounds
    scale = height_px / (first[3] - first[1])
    width = round((first[2] - first[0]) * scale)
    edges = [p for p in moving.panels if view in ("both", p.name)]
    panels = tuple(
        (p.name, round((p.left - first[0]) * scale), round(p.width * scale)) for p in edges
    )
    times = taken[np.flatnonzero(np.diff(pictures, prepend=-1))]
    sheets = tuple(_sheets(moving, view, times.tolist(), width))
    seconds = shown.time[-1]
    alt = f"{' and '.join(p.name for p in edges)} view, {seconds:.1f} s".capitalize()
    return Clip(
        sheets, ON_A_SHEET, width, height_px, tuple(pictures.tolist()), shown.rate / every, panels,
        shown.bottoms[0] // every, f"{alt}, {taken.size} frames.",
    )  # fmt: skip


def _different(shown: Footage, taken: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return which picture each frame shows: another one as soon as anything has moved."""
    places = np.array([place[taken] for view in shown.views for place in view.places.values()])
    places = np.nan_to_num(places)
    which, last = np.zeros(taken.size, dtype=int), 0
    for frame in range(1, which.size):
        moved = np.abs(places[:, frame] - places[:, last]).max() > STILL_M
        which[frame] = which[frame - 1] + moved
        last = frame if moved else last
    return which


def _sheets(moving: Film, view: str, times: list[int], width: int) -> Iterator[bytes]:
    """Yield the pictures at these frames, beside each other, as PNG."""
    colours = None
    for start in range(0, len(times), ON_A_SHEET):
        some = times[start : start + ON_A_SHEET]
        drawn = [image(moving.scene(frame, view), width) for frame in some]
        if colours is None:  # one set of colours for all: what is still stays the very same
            colours = drawn[0].quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=0)
        sheet = Image.new("P", (width * len(some), drawn[0].height))
        sheet.putpalette(colours.getpalette())
        for place, picture in enumerate(drawn):
            sheet.paste(picture.quantize(palette=colours, dither=0), (place * width, 0))
        buffer = BytesIO()
        sheet.save(buffer, "png")
        yield buffer.getvalue()
