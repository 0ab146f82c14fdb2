"""What an error calls an argument, as the option of the command line that gives it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

POINTS = re.compile(r"points=\{(.*?)\}")
GIVEN = re.compile(r'\b(units|view|axes)=("[^"]*"(?:(?:, | or )"[^"]*")*)')


def in_options(words: str) -> str:
    """Return words in which options stand for arguments: --units m for units="m"."""
    for found in POINTS.finditer(words):
        pairs = re.findall(r'"([^"]*)": "([^"]*)"', found[1])
        named = (f"{ours}={label}" if " " not in label else f'"{ours}={label}"'
                 for label, ours in pairs)  # fmt: skip
        words = words.replace(found[0], " ".join(f"--point {one}" for one in named))
    for found in GIVEN.finditer(words):
        value = found[2] if found[1] == "axes" else found[2].replace('"', "")
        words = words.replace(found[0], f"--{found[1]} {value}")
    return words.replace("stature_m is", "--stature is").replace("mass_kg is", "--mass is")


@contextmanager
def speaking_options() -> Iterator[None]:
    """Word errors for the command line, around a function. Raises ValueError."""
    try:
        yield
    except (OSError, ValueError) as error:
        named = getattr(error, "filename", None)
        raise ValueError(
            f"{named}: {error.strerror}" if named else in_options(str(error))
        ) from error
