"""Load a function by its name: a command imports only what its run needs."""

from __future__ import annotations

import importlib
from typing import Any


def load(place: str) -> Any:
    """Return what stands at a place, written ``module:name``.

    For what a command may need and mostly does not: a parser of another
    command, a sheet to draw. Everything else is imported at the top.
    """
    module, _, name = place.partition(":")
    return getattr(importlib.import_module(module), name)
