"""What the checks ask of recorded points, and how they refuse them."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, NamedTuple, Protocol, TypeVar

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


class Argument(NamedTuple):
    """Name an argument that reading a recording takes, and values to give it.

    Printed as it is written in Python: view="side", "front" or "oblique".
    """

    name: str
    values: tuple[Any, ...]

    def __str__(self) -> str:
        *others, last = (json.dumps(value, ensure_ascii=False) for value in self.values)
        return f"{self.name}={' or '.join([', '.join(others), last] if others else [last])}"

    def first(self) -> Argument:
        """Return the argument with the first of its values alone."""
        return Argument(self.name, self.values[:1])


class TracksError(ValueError):
    """Say what was given, what is allowed and what to do next.

    Made of ``parts``, text and the arguments that it speaks of, so that a
    command can name its options instead.
    """

    def __init__(self, *parts: str | Argument) -> None:
        super().__init__("".join(map(str, parts)))
        self.parts = parts

    @property
    def arguments(self) -> tuple[Argument, ...]:
        """Return the arguments that it speaks of, in their order."""
        return tuple(part for part in self.parts if isinstance(part, Argument))

    def worded(self, argument_words: Callable[[Argument], str]) -> str:
        """Return the message with every argument in other words."""
        words = (
            argument_words(part) if isinstance(part, Argument) else part for part in self.parts
        )
        return "".join(words)


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
