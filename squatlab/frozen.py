"""Arrays that nobody changes by accident, wherever a noun keeps them."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np

Value = TypeVar("Value")


def freeze(value: Value) -> Value:
    """Make an array read-only and return it; return anything else as it is.

    Arrays in dataclasses, tuples, lists and dictionaries too.
    """
    if isinstance(value, float):
        return value
    if isinstance(value, np.ndarray):
        value.flags.writeable = False
    elif isinstance(value, (tuple, list)):
        for part in value:
            freeze(part)
    elif isinstance(value, dict):
        for part in value.values():
            freeze(part)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            freeze(getattr(value, field.name, None))
    return value


class Frozen:
    """Keep the arrays of a dataclass read-only when it is copied or unpickled.

    NumPy makes arrays writable again on both ways. A noun that holds
    arrays derives from this and freezes them once when it is made.
    """

    def __setstate__(self, state: dict[str, Any]) -> None:
        for name, value in state.items():
            object.__setattr__(self, name, freeze(value))
