"""Errors of reading a recording, worded for the command line: options for arguments."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from squatlab.ranges import RangeError
from squatlab.tracks.points import Argument, TracksError

OPTIONS = {
    "rate": "--fps",
    "points": "--point",
    "scale_px_per_m": "--scale",
    "stature_m": "--stature",
    "mass_kg": "--mass",
    "descent_s": "--descent",
    "noise_px": "--noise",
    "repetitions": "--repetitions",
    "block_minutes": "--minutes",
}
"""The option that stands for an argument, where it has another name."""


def as_option(argument: Argument) -> str:
    """Return an argument of reading as it is typed: --units m for units="m"."""
    option = OPTIONS.get(argument.name, f"--{argument.name}")
    if argument.name == "points":
        (labels,) = argument.values
        return " ".join(f"{option} {_quoted(f'{ours}={label}')}" for label, ours in labels.items())
    *others, last = (_quoted(str(value)) for value in argument.values)
    return f"{option} {' or '.join([', '.join(others), last] if others else [last])}"


def _quoted(value: str) -> str:
    """Return a value as a shell takes it: in quotation marks if it has a blank."""
    return f'"{value}"' if " " in value else value


@contextmanager
def speaking_options() -> Iterator[None]:
    """Word errors for the command line, around a function. Raises ValueError."""
    try:
        yield
    except TracksError as error:
        raise ValueError(error.worded(as_option)) from error
    except RangeError as error:
        raise ValueError(f"{OPTIONS.get(error.name, error.name)} {error.words}") from error
