"""Sweeps of one picture joined into one, so that what they share is kept once.

An explorer's picture is the same lines and shapes from every preset and
for every slider: their looks, their names and the coordinates that no
slider moves are stored once, whatever the number of sweeps.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.show.moving import Moving, Trail, placed_at, spots
from squatlab.show.primitives import Disc, Text, Tiles
from squatlab.show.sweep import Structure, Sweep, likeness


def joined(sweeps: Sequence[Sweep]) -> Sweep:
    """Return all positions of ``sweeps``, one sweep after another.

    Structures with the same parts in the same looks become one. The
    bounds are those of the first sweep.
    """
    alike: dict[tuple[Any, ...], list[Structure]] = {}
    numbers: dict[tuple[Any, ...], int] = {}
    structure, row, alt = [], [], []
    for sweep in sweeps:
        # For each structure of this sweep: the number of the one it becomes part of,
        # and how many rows that one has already.
        number_of, first_row = [], []
        for own in sweep.structures:
            key = _looks(own)
            numbers.setdefault(key, len(numbers))
            earlier = alike.setdefault(key, [])
            number_of.append(numbers[key])
            first_row.append(sum(other.count for other in earlier))
            earlier.append(own)
        structure.append(np.array(number_of)[sweep.structure])
        row.append(np.array(first_row)[sweep.structure] + sweep.row)
        alt += sweep.alt if len(sweep.alt) > 1 else sweep.alt * len(sweep)
    return Sweep(
        sweeps[0].bounds,
        tuple(_one(same) for same in alike.values()),
        np.concatenate(structure),
        np.concatenate(row),
        tuple(alt),
    )


def _looks(structure: Structure) -> tuple[Any, ...]:
    """Return what two structures must share to become one."""
    parts = structure.parts
    # A trail is drawn from its structure's first row on: it shares it with nothing.
    own = (id(structure),) if any(isinstance(part, Trail) for part in parts) else ()
    return (*map(likeness, parts), own)


def _one(structures: Sequence[Structure]) -> Structure:
    """Return structures of the same looks as one, their rows one after another."""
    counts = [structure.count for structure in structures]
    same_part = zip(*(structure.parts for structure in structures), strict=True)
    return Structure(tuple(_longer(parts, counts) for parts in same_part), sum(counts))


def _longer(parts: Sequence[Moving], counts: Sequence[int]) -> Moving:
    """Return one part of several structures with its rows one after another."""
    points = [_stacked(places, counts) for places in zip(*map(spots, parts), strict=True)]
    longer = placed_at(parts[0], tuple(points))
    if isinstance(longer, Text):
        words = []
        for part, count in zip(parts, counts, strict=True):
            words += [part.words] * count if isinstance(part.words, str) else part.words
        return longer._replace(words=words)
    if isinstance(longer, Disc):
        return longer._replace(radius=_stacked([part.radius for part in parts], counts))
    if isinstance(longer, Tiles):
        return longer._replace(cells=_stacked([part.cells for part in parts], counts, tail=2))
    return longer


def _stacked(values: Sequence[ArrayLike], counts: Sequence[int], tail: int = 0) -> NDArray[Any]:
    """Return values that stay, or (rows, …), one after another; ``tail`` axes are each row's."""
    rows = []
    for value, count in zip(values, counts, strict=True):
        array = np.asarray(value)
        shape = array.shape[array.ndim - tail :]
        rows.append(np.broadcast_to(array, (count, *shape)))
    return np.concatenate(rows)
