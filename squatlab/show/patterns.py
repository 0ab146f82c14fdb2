"""Grounds and patterns by which regions of a map are told apart, for every painter."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.show import palette

SIZE = 24
"""Side of the square that a pattern repeats, pixels."""


class Pattern(NamedTuple):
    """Hold a ground, an ink, and which pixels of a square (row, column) have ink."""

    ground: str
    ink: str
    inked: NDArray[np.bool_]


def _patterns() -> tuple[Pattern, ...]:
    row, column = np.mgrid[:SIZE, :SIZE]
    none = np.zeros((SIZE, SIZE), bool)
    return (
        Pattern("#ffffff", "#ffffff", none),
        Pattern("#eceef1", "#c3c9d1", (row % 12 < 2) | (column % 12 < 2)),
        Pattern("#eceef1", "#c3c9d1", (row % 12 < 3) & (column % 12 < 3)),
        Pattern("#fdecd0", "#f6bf73", (row + column) % 12 < 2),
        Pattern("#e9e4f6", "#c9b8ea", row % 12 < 2),
        Pattern("#f6e3f1", "#dcb6d5", column % 12 < 2),
        Pattern("#dfe9fe", "#aac6fd", (row - column) % 12 < 2),
        Pattern("#fbe3e5", "#f2b1b7", ((row - column) % 24 < 2) | ((row + column) % 24 < 2)),
    )


PATTERNS = _patterns()
"""The pattern of each kind of cell: 0 is plain, the others are those of the obstacles in order."""

EDGE = palette.SOFT
"""Patterns are pale so that words stand on them: what tells regions apart is their edge."""


def sent() -> list[dict[str, object]]:
    """Return the patterns as the browser needs them."""
    return [
        {
            "ground": p.ground,
            "ink": p.ink,
            "size": SIZE,
            "bits": "".join("01"[bit] for bit in p.inked.ravel().tolist()),
        }
        for p in PATTERNS
    ]


def painted(
    cells: NDArray[np.uint8], height: int, width: int, scale: float = 1.0
) -> NDArray[np.uint8]:
    """Return cells (row, column) as pixels (height, width, RGB).

    ``scale`` is how many pixels one pixel of a pattern takes.
    """
    rows, columns = (
        np.arange(pixels) * count // pixels
        for pixels, count in zip((height, width), cells.shape, strict=True)
    )
    kinds = cells[np.ix_(rows, columns)]
    row, column = ((np.arange(n) / scale).astype(int) % SIZE for n in (height, width))
    sheets = np.stack([_sheet(pattern) for pattern in PATTERNS])
    pixels = sheets[kinds, row[:, None], column[None, :]]
    edge = list(bytes.fromhex(EDGE[1:]))
    pixels[1:][kinds[1:] != kinds[:-1]] = edge
    pixels[:, 1:][kinds[:, 1:] != kinds[:, :-1]] = edge
    return pixels


def _sheet(pattern: Pattern) -> NDArray[np.uint8]:
    ground, ink = (
        np.array(list(bytes.fromhex(c[1:])), np.uint8) for c in (pattern.ground, pattern.ink)
    )
    return np.where(pattern.inked[..., None], ink, ground)
