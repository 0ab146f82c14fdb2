"""Refuse a number outside its range, in words that say what to do."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def within(name: str, value: ArrayLike, low: float, high: float, unit: str) -> ArrayLike:
    """Return the value as float, or raise ValueError naming the range.

    The message says what was given, what is allowed and, for arrays,
    which value (counted from 0) is the first outside and how many are.
    Not-a-number is refused too, and what is no number at all. Arrays
    come back as read-only copies.
    """
    try:
        array = np.array(value, dtype=float)
    except (TypeError, ValueError):
        raise ValueError(
            f"{name} is {value!r}; give a number, or an array of numbers, "
            f"between {low:g} and {high:g} {unit}"
        ) from None
    # Least and greatest answer for a million at once; nan fails both comparisons.
    if array.size and not (array.min() >= low and array.max() <= high):
        wrong = ~((array >= low) & (array <= high))
        many = f", {wrong.sum()} are outside" if wrong.sum() > 1 else ""
        first = int(np.argmax(wrong.ravel()))
        where = f" (value {first} of {array.size}{many})" if array.ndim else ""
        raise ValueError(
            f"{name} is {array[wrong].flat[0]:g}{where}; "
            f"it must lie between {low:g} and {high:g} {unit}"
        )
    if array.ndim == 0:
        return float(array)
    array.flags.writeable = False
    return array
