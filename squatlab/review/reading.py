"""What one fault measures in one repetition, or why it cannot be told."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class CannotTell(Exception):
    """Say why a fault cannot be told from a view; never leaves this room."""


class ReviewError(ValueError):
    """Say what was given, what is needed and what to do next."""


class Reading(NamedTuple):
    """Hold a value in the fault's unit, and in words what was measured.

    ``series`` (frame,) is the value frame by frame from frame ``begin``
    on, for when it shows. ``doubt`` says below which value it is
    too uncertain to be called a fault, and ``most`` the largest severity
    that may then be given.
    """

    value: float
    words: str
    series: NDArray[np.float64]
    begin: int
    doubt: str = ""
    certain_from: float = -np.inf
    most: float = np.inf


def mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean over time of what is seen, nan if nothing is."""
    if not len(values):
        return np.full(values.shape[1:], np.nan)
    plain = np.add.reduce(values, axis=0) / len(values)
    if not np.isnan(plain).any():
        return plain
    seen = ~np.isnan(values)
    count, total = seen.sum(axis=0), np.where(seen, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
