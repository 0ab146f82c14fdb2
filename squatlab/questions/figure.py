"""A number that can say why it is none."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FEW = 30
"""Below this many people a figure comes with a caution [teaching-value]."""


class Figure(float):
    """Hold a float and, in ``reason``, what to know before using it.

    For nan the reason says why there is no number; for a number it is a
    caution, or empty. What is reckoned from it is a plain float.
    """

    reason: str

    def __new__(cls, value: float, reason: str = "") -> Figure:
        made = super().__new__(cls, value)
        made.reason = reason
        return made

    def __repr__(self) -> str:
        return f"{float(self):.4g}" + (f" ({self.reason})" if self.reason else "")


def of_people(value: float, people: int) -> Figure:
    """Return a figure, with a caution if it rests on few people."""
    few = f"only {people} people: expect another group to differ"
    return Figure(value, few if people < FEW else "")


def none(reason: str) -> Figure:
    """Return nan with the reason why there is no number."""
    return Figure(np.nan, reason)


def matrix(name: str, values: ArrayLike, axes: str, low: float, high: float) -> NDArray[np.float64]:
    """Return a table as floats; ``axes`` say what rows and columns are.

    Raises ValueError for another shape, or a number outside low … high.
    """
    table = np.asarray(values, dtype=float)
    if table.ndim != 2 or not table.size:
        raise ValueError(f"{name} has the shape {table.shape}; give a table of {axes}")
    wrong = ~((table >= low) & (table <= high))  # nan is wrong too
    if wrong.any():
        row, column = np.argwhere(wrong)[0]
        raise ValueError(
            f"{name} is {table[row, column]:g} in row {row}, column {column} (from 0); it must lie "
            f"between {low:g} and {high:g}, and what was not answered counts 0"
        )
    return table
