"""Moving primitives: their points are arrays over time, and one frame can be taken.

Whatever draws a posture with plain arithmetic draws a film as well once
its points are arrays; one frame of it is made of ordinary primitives.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text


class Trail(NamedTuple):
    """Hold the way of one point (time,) up to the frame that is shown."""

    at: NDArray[np.complex128]
    stroke: str
    width: float


Moving = Primitive | Trail


def spots(moving: Moving) -> tuple[complex | NDArray[np.complex128], ...]:
    """Return the points of a primitive, each a number or (time,)."""
    if isinstance(moving, Line | Shape):
        return moving.points
    return (moving.centre if isinstance(moving, Disc) else moving.at,)


def seen(moving: Moving) -> bool:
    """Return whether a primitive is there in any frame."""
    return all(np.isfinite(spot).any() for spot in spots(moving))


def taken(moving: Moving, frame: int) -> Primitive | None:
    """Return a primitive as it stands in one frame, None if it is not seen."""
    if isinstance(moving, Trail):
        way = moving.at[: frame + 1]
        points = tuple(way[~np.isnan(way)].tolist())
        return Line(points, moving.stroke, moving.width) if len(points) > 1 else None
    points = tuple(s if isinstance(s, complex) else complex(s[frame]) for s in spots(moving))
    if any(point != point for point in points):
        return None
    if isinstance(moving, Text):
        words = moving.words if isinstance(moving.words, str) else moving.words[frame]
        return moving._replace(at=points[0], words=words)
    if isinstance(moving, Disc):
        return moving._replace(centre=points[0])
    return moving._replace(points=points)
