"""Refuse a number outside its range, in words that say what to do."""

from __future__ import annotations

from decimal import Decimal
from numbers import Real
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

SHOWN = 60
"""Characters of a wrong value that a message repeats."""


class RangeError(ValueError):
    """Say that a value is outside its range: its ``name``, and in words the rest."""

    def __init__(self, name: str, words: str) -> None:
        super().__init__(f"{name} {words}")
        self.name, self.words = name, words

    def __reduce__(self) -> tuple[type[RangeError], tuple[str, str]]:
        return RangeError, (self.name, self.words)


def within(name: str, value: ArrayLike, low: float, high: float, unit: str) -> ArrayLike:
    """Return the value as float, or raise RangeError naming the range.

    The message says what was given, what is allowed and, for arrays,
    which value (counted from 0) is the first outside and how many are.
    Not-a-number is refused too, and what is no number at all: text,
    True and False, complex numbers, arrays with masked values. Arrays
    come back as read-only copies.
    """
    array = _numbers(value)
    if array is None:
        raise RangeError(
            name,
            f"is {shown(value)}; give a number, or an array of numbers, "
            + _between(low, high, unit),
        )
    # Least and greatest answer for a million at once; nan fails both comparisons.
    if array.size and not (array.min() >= low and array.max() <= high):
        wrong = ~((array >= low) & (array <= high))
        many = f", {wrong.sum()} are outside" if wrong.sum() > 1 else ""
        first = int(np.argmax(wrong.ravel()))
        where = f" (value {first} of {array.size}{many})" if array.ndim else ""
        raise RangeError(
            name,
            f"is {array[wrong].flat[0]:g}{where}; it must lie {_between(low, high, unit)}",
        )
    if array.ndim == 0:
        return float(array)
    array.flags.writeable = False
    return array


def _between(low: float, high: float, unit: str) -> str:
    """Return a range in words; ``unit`` is "" for a bare number."""
    return f"between {low:g} and {high:g} {unit}".rstrip()


def number_within(name: str, value: float, low: float, high: float, unit: str) -> float:
    """Return one number as float; as `within`, and ValueError for an array."""
    number = within(name, value, low, high, unit)
    if isinstance(number, float):
        return number
    raise ValueError(
        f"{name} is an array of shape {number.shape}; give one number "
        f"{_between(low, high, unit)}, and call again for the next"
    )


def whole_within(name: str, value: int, low: int, high: int, unit: str) -> int:
    """Return one whole number; as `number_within`, ValueError for 2.5."""
    number = number_within(name, value, low, high, unit)
    if not number.is_integer():
        raise ValueError(f"{name} is {number:g}; give a whole number between {low} and {high}")
    return int(number)


def numbers(name: str, value: ArrayLike) -> NDArray[np.float64]:
    """Return an array of floats, nan allowed; ValueError for what is no number."""
    array = _numbers(value)
    if array is None:
        raise ValueError(f"{name} is {shown(value)}; give a number, or an array of numbers")
    return array


def check_shapes(what: str, shapes: dict[str, tuple[int, ...]]) -> tuple[int, ...]:
    """Return the shape that all broadcast to; ValueError names those that do not.

    ``what`` is whose arrays they are, ``shapes`` each one's by name.
    """
    if not any(shapes.values()):
        return ()
    try:
        return np.broadcast_shapes(*shapes.values())
    except ValueError:
        arrays = ", ".join(f"{name} {shape}" for name, shape in shapes.items() if shape)
        raise ValueError(
            f"the arrays of {what} do not fit each other: {arrays}; "
            "give single numbers or arrays of one shape"
        ) from None


def shown(value: Any) -> str:
    """Return how a value looks in a message: on one line and not too long."""
    try:
        text = " ".join(repr(value).split())
    except Exception:  # another library's repr may raise anything
        text = f"a {type(value).__name__}"
    return text if len(text) <= SHOWN else f"{text[:SHOWN]}…"


def _numbers(value: ArrayLike) -> NDArray[np.float64] | None:
    """Return a copy as floats, or None for what is not made of real numbers."""
    if isinstance(value, float):
        return np.array(value, dtype=float)
    if np.ma.is_masked(value):
        return None
    try:
        given = np.asarray(value)
        # Fractions, decimals, huge integers and mixed lists arrive as objects.
        if given.dtype == object and not all(
            isinstance(number, (Real, Decimal)) and not isinstance(number, bool)
            for number in given.flat
        ):
            return None
        return np.array(given, dtype=float) if given.dtype.kind in "iufO" else None
    except (TypeError, ValueError, OverflowError, AttributeError):
        return None
