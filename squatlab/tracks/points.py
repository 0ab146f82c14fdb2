"""What the checks ask of recorded points, and how they refuse them."""

from __future__ import annotations

from typing import Any, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

AXES = {
    "side": "x forward, y up",
    "front": "x to the picture's right, which is the lifter's left, y up",
    "oblique": "x to the picture's right and more forward than back, y up",
    "3d": "x forward, y up, z right",
}
"""The views, and where the axes point in each; a picture has two of them."""


LEAST_SCORE = 0.3
"""A point of which the program that found it is less sure, on a scale from 0 to
1, was not seen [teaching-value]."""


class TracksError(ValueError):
    """Say what was given, what is allowed and what to do next."""


class PointsProtocol(Protocol):
    """Name what a check reads of `squatlab.tracks.Tracks`.

    Checks of size and direction take this much and no more, so they stand
    below the class that calls them.
    """

    times: NDArray[np.float64]
    positions: NDArray[np.float64]
    names: tuple[str, ...]
    view: str
    units: str
    scale_px_per_m: float | None

    def __contains__(self, name: object) -> bool:
        """Return whether there is a point of this name."""

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        """Return the positions of one point, (time, 2 or 3)."""

    def noting(self, sentence: str, **changes: Any) -> Any:
        """Return the same with fields changed, and a note that says so."""


AnyPoints = TypeVar("AnyPoints", bound=PointsProtocol)
