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
    """Return the patterns: no ink, a grid, dots, and lines in four directions and crossed."""
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
            "ground": pattern.ground,
            "ink": pattern.ink,
            "size": SIZE,
            "bits": "".join("1" if inked else "0" for inked in pattern.inked.ravel()),
        }
        for pattern in PATTERNS
    ]


def painted(
    cells: NDArray[np.uint8], height: int, width: int, scale: float = 1.0
) -> NDArray[np.uint8]:
    """Return cells (row, column) as pixels (height, width, RGB).

    ``scale`` is how many pixels one pixel of a pattern takes.
    """
    # Which cell each pixel lies in, and so its kind (height, width).
    cell_rows = np.arange(height) * cells.shape[0] // height
    cell_columns = np.arange(width) * cells.shape[1] // width
    kinds = cells[np.ix_(cell_rows, cell_columns)]
    # Where in the repeated square of its pattern each pixel lies.
    row = (np.arange(height) / scale).astype(int) % SIZE
    column = (np.arange(width) / scale).astype(int) % SIZE
    squares = np.stack([_square(pattern) for pattern in PATTERNS])
    pixels = squares[kinds, row[:, None], column[None, :]]
    # A pixel has the edge's colour where the one above or before is of another kind.
    edge = _rgb(EDGE)
    pixels[1:][kinds[1:] != kinds[:-1]] = edge
    pixels[:, 1:][kinds[:, 1:] != kinds[:, :-1]] = edge
    return pixels


def _square(pattern: Pattern) -> NDArray[np.uint8]:
    """Return the pixels (row, column, RGB) of the square that a pattern repeats."""
    return np.where(pattern.inked[..., None], _rgb(pattern.ink), _rgb(pattern.ground))


def _rgb(colour: str) -> NDArray[np.uint8]:
    """Return "#rrggbb" as three bytes."""
    return np.frombuffer(bytes.fromhex(colour[1:]), np.uint8)
