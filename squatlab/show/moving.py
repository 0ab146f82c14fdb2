"""Moving primitives: their points are arrays over positions, and one position can be taken.

A position is a frame of a film or a step of a slider. Whatever draws a
posture with plain arithmetic draws all positions at once when its points
are arrays; one of them is made of ordinary primitives.
"""

from __future__ import annotations

from cmath import isnan
from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.mechanics.vectors import Vector
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, Tiles

LOST = complex(np.nan, np.nan)
"""The place of a point that is not seen."""

Noun = TypeVar("Noun")


class Trail(NamedTuple):
    """Hold the way of one point (time,) up to the frame that is shown."""

    at: NDArray[np.complex128]
    stroke: str
    width: float


class Curve(NamedTuple):
    """Hold a line through points of which some may be lost: there it is broken."""

    points: tuple[complex | NDArray[np.complex128], ...]
    stroke: str
    width: float = 3.0
    dash: str = ""


Moving = Primitive | Trail | Curve


def spots(moving: Moving) -> tuple[complex | NDArray[np.complex128], ...]:
    """Return the points of a primitive, each a number or (positions,)."""
    if isinstance(moving, Line | Curve | Shape | Tiles):
        return moving.points
    return (moving.centre if isinstance(moving, Disc) else moving.at,)


def placed_at(moving: Moving, points: tuple) -> Moving:
    """Return a primitive with other points, as many as it has."""
    if isinstance(moving, Line | Curve | Shape | Tiles):
        return moving._replace(points=points)
    return moving._replace(**{"centre" if isinstance(moving, Disc) else "at": points[0]})


def seen(moving: Moving) -> bool:
    """Return whether a primitive, or a piece of one, is there in any frame."""
    if isinstance(moving, Shape):
        return any(_all_seen(outline) for outline in moving.outlines())
    return _all_seen(spots(moving))


def _all_seen(points: Iterable[ArrayLike]) -> bool:
    """Return whether each of several points is there in any frame."""
    return all(np.isfinite(point).any() for point in points)


def _pieces_seen(area: Shape) -> Shape | None:
    """Return an area of several outlines without those that have lost a point."""
    outlines = [outline for outline in area.outlines() if not any(map(isnan, outline))]
    if not outlines:
        return None
    points = tuple(point for outline in outlines for point in outline)
    return area._replace(points=points, pieces=tuple(map(len, outlines)))


def taken(moving: Moving, position: int) -> Primitive | None:
    """Return a primitive as it stands at one position, None if it is not seen."""
    if isinstance(moving, Trail):
        path = moving.at[: position + 1]
        points = tuple(path[~np.isnan(path)].tolist())
        return Line(points, moving.stroke, moving.width) if len(points) > 1 else None
    points = _points_at(moving, position)
    still = placed_at(moving, points)
    if any(map(isnan, points)):
        return _pieces_seen(still) if isinstance(still, Shape) and still.pieces else None
    if isinstance(still, Text):
        words = still.words if isinstance(still.words, str) else still.words[position]
        return still._replace(words=words) if words else None
    if isinstance(still, Disc) and np.ndim(still.radius):
        return still._replace(radius=float(still.radius[position]))
    if isinstance(still, Tiles) and still.cells.ndim == 3:
        return still._replace(cells=still.cells[position])
    return still


def stills(moving: Moving, position: int) -> list[Primitive]:
    """Return the primitives that stand for a moving one at one position."""
    if isinstance(moving, Curve):
        # A lost point ends one piece of the line and begins the next.
        pieces: list[list[complex]] = [[]]
        for point in _points_at(moving, position):
            if not isnan(point):
                pieces[-1].append(point)
            elif pieces[-1]:
                pieces.append([])
        look = moving.stroke, moving.width, moving.dash
        return [Line(tuple(piece), *look) for piece in pieces if len(piece) > 1]
    still = taken(moving, position)
    return [] if still is None else [still]


def _points_at(moving: Moving, position: int) -> tuple[complex, ...]:
    """Return the points of a primitive at one position; nan where one is lost."""
    return tuple(complex(spot[position] if np.ndim(spot) else spot) for spot in spots(moving))


def where(present: ArrayLike, parts: Iterable[Moving]) -> list[Moving]:
    """Return parts where ``present`` (…) says so: elsewhere they have no place."""
    parts = list(parts)
    if np.all(present):
        return parts
    if not np.any(present):
        return []
    return [
        placed_at(part, tuple(np.where(present, spot, LOST) for spot in spots(part)))
        for part in parts
    ]


def worded(words: Callable[..., str], *values: Any) -> str | list[str]:
    """Return what ``words`` says of values: one string, or one for each position.

    Values are numbers or arrays (positions,).
    """
    if not any(map(np.ndim, values)):
        return words(*values)
    columns = [column.tolist() for column in np.broadcast_arrays(*values)]
    return [words(*row) for row in zip(*columns, strict=True)]


def per_position(values: Sequence) -> Any:
    """Return values (positions,), words as a list, numbers as an array.

    A single one is returned as it is: what stays is sent once.
    """
    if len(values) == 1:
        return values[0]
    return list(values) if isinstance(values[0], str) else np.array(values)


def rows_of(noun: Noun, rows: NDArray[np.intp], count: int) -> Noun:
    """Return a frozen dataclass with only some of its ``count`` positions.

    Every array whose first axis counts positions keeps ``rows`` of it;
    nouns inside are treated likewise.
    """
    if isinstance(noun, np.ndarray):
        return noun[rows] if noun.ndim and noun.shape[0] == count else noun
    if isinstance(noun, Vector):
        parts = noun.x, noun.y, noun.z
        part_rows = [rows_of(part, rows, count) for part in parts]
        # What did not change stays the same object, so that what is derived from it
        # and kept (a cached property) need not be computed again.
        unchanged = all(new is old for new, old in zip(part_rows, parts, strict=True))
        return noun if unchanged else Vector(*part_rows)
    if is_dataclass(noun):
        values = {field.name: getattr(noun, field.name) for field in fields(noun)}
        part_rows = {name: rows_of(value, rows, count) for name, value in values.items()}
        changed = {name: value for name, value in part_rows.items() if value is not values[name]}
        return replace(noun, **changed) if changed else noun
    return noun


def with_axes(noun: Noun, more: int) -> Noun:
    """Return a frozen dataclass whose arrays (positions,) have ``more`` axes.

    So one computation covers positions and, say, the rows and columns of a map.
    """
    arrays = {}
    for field in fields(noun):
        value = getattr(noun, field.name)
        if np.ndim(value) == 1:
            arrays[field.name] = value.reshape(-1, *(1,) * more)
    return replace(noun, **arrays) if arrays else noun


def joined(nouns: Sequence[Noun]) -> Noun:
    """Return one frozen dataclass of arrays (positions,) from that of each position.

    What is the same at all of them stays a single value.
    """
    first = nouns[0]
    if isinstance(first, Vector):
        return Vector(*(joined([getattr(noun, axis) for noun in nouns]) for axis in "xyz"))
    if all(noun is first for noun in nouns):
        return first
    if is_dataclass(first):
        parts = {f.name: joined([getattr(noun, f.name) for noun in nouns]) for f in fields(first)}
        return replace(first, **parts)
    return first if all(noun == first for noun in nouns) else np.array(nouns)
