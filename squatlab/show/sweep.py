"""A sweep: everything one control, or time, can show of a picture.

Panes, charts and clips end as sweeps; `drawing.js` paints them, live
(`explorer`, `film`) or from a page of the book (`offline.stored`).

Its parts are grouped by structure: positions whose pictures are made of
the same parts in the same looks share one, in which only coordinates and
words change. A browser is sent looks once, coordinates as columns of
16-bit integers and words by their index; it looks up and paints, and
computes nothing that is shown. A still is a sweep of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.show import patterns
from squatlab.show.moving import Moving, Trail, placed_at, spots, stills
from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Text, Tiles

UNIT = 16
"""Steps of a coordinate in one picture unit: 16 bits then reach from −2048 to 2048,
and no coordinate is off by more than 1/32."""

GONE = -32768
"""Stands for a coordinate that has no place."""


class Structure(NamedTuple):
    """Hold the moving parts that some positions share, and how many they are."""

    parts: tuple[Moving, ...]
    count: int


Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Sweep:
    """Hold a picture at every position: its structures and where each stands.

    ``structure`` and ``row`` (positions,) say which structure a position
    has and which of its rows; ``alt`` (positions,), or one for all, is the
    picture in words.
    """

    bounds: tuple[float, float, float, float]
    structures: tuple[Structure, ...]
    structure: Indices
    row: Indices
    alt: tuple[str, ...] = ("",)

    def __len__(self) -> int:
        """Return how many positions there are."""
        return self.row.size

    def scene(self, position: int) -> Scene:
        """Return the picture at one position."""
        parts = self.structures[self.structure[position]].parts
        row = int(self.row[position])
        alt = self.alt[position if len(self.alt) > 1 else 0]
        return Scene(tuple(p for part in parts for p in stills(part, row)), self.bounds, alt)

    def repeated(self, count: int) -> Sweep:
        """Return the same picture at ``count`` positions if there is one, else this."""
        if len(self) == count:
            return self
        first = np.zeros(count, int)
        return Sweep(self.bounds, self.structures, structure=first, row=first, alt=self.alt)

    def packed(self) -> tuple[dict[str, Any], bytes]:
        """Return the same as `sent`, the header with how many bytes are its own."""
        head, body = self.sent()
        return head | {"bytes": len(body)}, body

    def sent(self) -> tuple[dict[str, Any], bytes]:
        """Return what a browser needs: a header for JSON, and columns as bytes."""
        book: dict[str, int] = {}
        sent = [_sent(structure, book) for structure in self.structures]
        head = {
            "bounds": self.bounds,
            "unit": UNIT,
            "structures": [structure.head for structure in sent],
            "structure": self.structure.tolist(),
            "row": self.row.tolist(),
            "alt": [_index(words, book) for words in self.alt],
        }
        # All columns come before all cells: 16-bit numbers must begin at an even byte.
        columns = [structure.columns for structure in sent]
        cells = [cells for structure in sent for cells in structure.cells]
        return head | {"book": list(book)}, b"".join((*columns, *cells))


def still(parts: Sequence[Moving], bounds: tuple, alt: str = "") -> Sweep:
    """Return a sweep of one position."""
    return whole(parts, bounds, 1, (alt,))


def whole(parts: Sequence[Moving], bounds: tuple, count: int, alt: Sequence[str] = ("",)) -> Sweep:
    """Return a sweep whose positions all have one structure."""
    structures = (Structure(tuple(parts), count),)
    return Sweep(bounds, structures, np.zeros(count, int), np.arange(count), tuple(alt))


def grouped(
    groups: Sequence[tuple[Indices, Sequence[Moving]]],
    bounds: tuple,
    count: int,
    alt: Sequence[str] = ("",),
) -> Sweep:
    """Return a sweep of ``count`` positions from groups of positions."""
    structure, row, made = np.zeros(count, int), np.zeros(count, int), []
    for number, (positions, parts) in enumerate(groups):
        structure[positions], row[positions] = number, np.arange(len(positions))
        made.append(Structure(tuple(parts), len(positions)))
    return Sweep(bounds, tuple(made), structure, row, tuple(alt))


def sweep_of(scenes: Sequence[Scene]) -> Sweep:
    """Return a sweep from the picture of every position, made one by one."""
    positions_of_look: dict[tuple, list[int]] = {}
    for position, scene in enumerate(scenes):
        looks = tuple(map(likeness, scene.primitives))
        positions_of_look.setdefault(looks, []).append(position)
    groups = []
    for positions in positions_of_look.values():
        pictures = [scenes[position].primitives for position in positions]
        # From the parts of each picture to each part in all pictures.
        parts = [_joined(states) for states in zip(*pictures, strict=True)]
        groups.append((np.array(positions), parts))
    alt = [scene.alt for scene in scenes]
    bounds = np.array([scene.bounds for scene in scenes])
    # A picture that grows (a list of findings) is shown in the room of the largest.
    left, top = bounds[:, :2].min(axis=0).tolist()
    right, bottom = bounds[:, 2:].max(axis=0).tolist()
    room = (left, top, right, bottom)
    return grouped(groups, room, len(scenes), alt if len(set(alt)) > 1 else alt[:1])


CHANGING = ("points", "centre", "at", "radius", "words", "cells")
"""What of a primitive may differ from one position to another."""


def look(part: Moving) -> dict[str, Any]:
    """Return how a primitive looks at every position."""
    return {name: value for name, value in part._asdict().items() if name not in CHANGING}


def likeness(part: Moving) -> tuple[Any, ...]:
    """Return what two primitives must share to be one part of a structure."""
    return type(part), len(spots(part)), *look(part).values()


def _joined(parts: Sequence[Moving]) -> Moving:
    """Return one moving primitive from its state at every position."""
    points = tuple(np.array(each) for each in zip(*map(spots, parts), strict=True))
    joined = placed_at(parts[0], points)
    if isinstance(joined, Text):
        return joined._replace(words=[part.words for part in parts])
    if isinstance(joined, Disc):
        return joined._replace(radius=np.array([part.radius for part in parts]))
    if isinstance(joined, Tiles):
        return joined._replace(cells=np.stack([part.cells for part in parts]))
    return joined


class SentStructure(NamedTuple):
    """Hold a structure's header, its columns and the cells of its tiles."""

    head: dict[str, Any]
    columns: bytes
    cells: list[bytes]


def _index(words: str, book: dict[str, int]) -> int:
    """Return the number of some words in a book of all words, entering new ones."""
    return book.setdefault(words, len(book))


def _sent(structure: Structure, book: dict[str, int]) -> SentStructure:
    """Return a structure as a browser gets it; its words are entered in ``book``."""
    parts, numbers, words, cells = [], [], [], []
    for part in structure.parts:
        places = spots(part)
        for place in places:
            numbers += np.real(place), np.imag(place)
        if isinstance(part, Disc):
            numbers.append(part.radius)
        kind = "trail" if isinstance(part, Trail) else type(part).__name__.lower()
        sent = {"kind": kind, "count": len(places)} | look(part)
        if isinstance(part, Text):
            sentences = [part.words] if isinstance(part.words, str) else part.words
            index = [_index(each, book) for each in sentences]
            # Words that stay are sent once.
            words.append(index[:1] if len(set(index)) == 1 else index)
        if isinstance(part, Tiles):
            sent["patterns"] = patterns.sent()
            sent |= {"rows": part.cells.shape[-2], "columns": part.cells.shape[-1]}
            sent["sheets"] = 1 if part.cells.ndim == 2 else len(part.cells)
            cells.append(np.ascontiguousarray(part.cells, np.uint8).tobytes())
        parts.append(sent)
    # A row of the table is one coordinate or radius, at every position.
    table = np.empty((len(numbers), structure.count))
    for row, number in enumerate(numbers):
        table[row] = number
    lost = np.isnan(table)
    with np.errstate(invalid="ignore"):
        table = np.clip(np.rint(table * UNIT), GONE + 1, -GONE - 1)
    table = np.where(lost, GONE, table).astype(np.int16)
    # Only what moves is sent as a column; what stays is in the header's first row.
    moves = (table != table[:, :1]).any(axis=1)
    # Differences from one position to the next are small, and small numbers pack well.
    # They wrap round in 16 bits, and so do the browser's sums.
    columns = np.diff(table[moves], axis=1, prepend=np.int16(0)).astype("<i2")
    head = {
        "count": structure.count,
        "parts": parts,
        "first": table[:, 0].tolist(),
        "moves": np.flatnonzero(moves).tolist(),
        "words": words,
    }
    return SentStructure(head, columns.tobytes(), cells)
