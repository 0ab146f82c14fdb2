"""What commands share: helps with examples, no file lost by accident, errors that name options."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import groupby
from pathlib import Path

INDENT = "  "
"""What a line of an example begins with."""

POINTS = re.compile(r"points=\{(.*?)\}")
GIVEN = re.compile(r'\b(units|view|axes)=("[^"]*"(?:(?:, | or )"[^"]*")*)')
REPLACE = {"action": "store_true", "help": "write over files that are there already"}
"""What ``--replace`` is, of every command that asks `must_be_new`."""


class HelpWithExamples(argparse.HelpFormatter):
    """Wrap the paragraphs of a help, and leave lines that are indented as they are."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        blocks = []
        for is_wrapped, lines in groupby(text.splitlines(), _is_wrapped):
            if is_wrapped:
                blocks.append(super()._fill_text(" ".join(lines), width, indent))
            else:
                blocks += lines
        return "\n".join(blocks)


def _is_wrapped(line: str) -> bool:
    """Return whether a line of a help is text to wrap: neither empty nor an example."""
    return bool(line) and not line.startswith(INDENT)


def add_examples(parser: argparse.ArgumentParser, *commands: str) -> None:
    """Put commands to copy below a command's help."""
    parser.formatter_class = HelpWithExamples
    lines = ["For example:", *(f"{INDENT}{command}" for command in commands)]
    before = [parser.epilog, ""] if parser.epilog else []
    parser.epilog = "\n".join([*before, *lines])


def must_be_new(options: argparse.Namespace, *paths: Path, other: str) -> None:
    """Raise FileExistsError for files that are there, unless ``--replace`` is given."""
    there = [str(path) for path in paths if path.exists()]
    if there and not options.replace:
        raise FileExistsError(
            f"there already: {', '.join(there[:4])}{', …' * (len(there) > 4)}; choose another "
            f"{other}, or add --replace to write over what is there"
        )


def in_options(words: str) -> str:
    """Return words in which options stand for arguments: --units m for units="m"."""
    for match in POINTS.finditer(words):
        pairs = re.findall(r'"([^"]*)": "([^"]*)"', match[1])
        named = (
            f"{ours}={label}" if " " not in label else f'"{ours}={label}"' for label, ours in pairs
        )
        words = words.replace(match[0], " ".join(f"--point {name}" for name in named))
    for match in GIVEN.finditer(words):
        value = match[2] if match[1] == "axes" else match[2].replace('"', "")
        words = words.replace(match[0], f"--{match[1]} {value}")
    for argument, option in (
        ("stature_m is", "--stature is"),
        ("mass_kg is", "--mass is"),
        ("rate=", "--fps "),
    ):
        words = words.replace(argument, option)
    return words


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
