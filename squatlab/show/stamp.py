"""Words of a chart as ready pixels: a dragged slider has no time to set them anew."""

from __future__ import annotations

from functools import lru_cache
from math import ceil

import numpy as np
from matplotlib.text import Text
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from squatlab.show import palette
from squatlab.show.raster import font

PAD = 2
"""White round the letters, pixels."""

BOX = "d9"
"""How far a box covers what lies below, of ff."""

SHARE = {"left": 0.0, "center": 0.5, "right": 1.0}


def stamp(words: Text, pixels: NDArray[np.uint8]) -> None:
    """Write words, centred upright, onto a chart's pixels (row, column, RGBA).

    Several times faster than matplotlib, which sets them letter by letter.
    What lies outside the picture is left out.
    """
    x, y = words.get_transform().transform(words.get_position())
    text, share = words.get_text(), SHARE[words.get_horizontalalignment()]
    if not (words.get_visible() and text and np.isfinite([x, y]).all()):
        return
    look = words.get_weight() == "bold", words.get_color(), words.get_bbox_patch() is not None
    ink = _ink(text, words.get_size() * words.figure.dpi / 72, share, *look)
    if words.get_rotation():
        ink = np.rot90(ink)
    (height, width), (rows, columns) = ink.shape[:2], pixels.shape[:2]
    top = round(rows - y - height / 2)
    left = round(x - PAD - share * (width - 2 * PAD))
    ink = ink[max(0, -top) : max(0, rows - top), max(0, -left) : max(0, columns - left)]
    down, across = max(0, top), max(0, left)
    ground = pixels[down : down + ink.shape[0], across : across + ink.shape[1], :3]
    ground[...] = ground + ink[..., 3:] / 255 * (ink[..., :3] - ground)


@lru_cache(512)  # to and fro, a slider comes by the same words
def _ink(
    text: str, size_px: float, share: float, bold: bool, colour: str, boxed: bool
) -> NDArray[np.float32]:
    """Return words on a white box, or on nothing, as pixels (row, column, RGBA)."""
    face, lines = font(size_px, bold), text.split("\n")
    _, top, _, bottom = face.getbbox("lp", anchor="ls")
    widths, step = [face.getlength(line) for line in lines], 1.2 * (bottom - top)
    across, down = max(widths), step * (len(lines) - 1) + bottom - top
    ground = palette.PAPER + BOX if boxed else colour + "00"
    made = Image.new("RGBA", (ceil(across) + 2 * PAD, ceil(down) + 2 * PAD), ground)
    pen = ImageDraw.Draw(made)
    for place, (line, width) in enumerate(zip(lines, widths, strict=True)):
        at = PAD + share * (across - width), PAD - top + place * step
        pen.text(at, line, colour, face, "ls")
    return np.asarray(made, np.float32)
