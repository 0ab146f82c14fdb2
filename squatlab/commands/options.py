"""What commands share: helps with examples, and no file lost by accident."""

from __future__ import annotations

import argparse
import os
import shlex
import subprocess
from collections.abc import Callable, Sequence
from itertools import groupby
from pathlib import Path

from squatlab.questions.typed_numbers import in_unit

INDENT = "  "
"""What a line of an example begins with."""

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


def quantity(unit: str) -> Callable[[str], float]:
    """Return what reads an option in a unit: 60, or 135 lb, in "kg".

    argparse says what is wrong with it.
    """

    def read(text: str) -> float:
        try:
            return in_unit(text, unit)
        except ValueError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return read


def seed_number(text: str) -> int:
    """Return a typed seed; argparse says what is wrong with it."""
    try:
        seed = int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number, such as 2") from None
    if seed < 0:
        raise argparse.ArgumentTypeError(f"{text} is below 0; give a whole number, such as 2")
    return seed


def as_typed(words: Sequence[str]) -> str:
    """Return a command to copy into a terminal, quoted where it needs it.

    Windows takes no single quotation marks.
    """
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def must_be_new(options: argparse.Namespace, *paths: Path, other: str) -> None:
    """Raise FileExistsError for files that are there, unless ``--replace`` is given."""
    there = [str(path) for path in paths if path.exists()]
    if there and not options.replace:
        raise FileExistsError(
            f"there already: {', '.join(there[:4])}{', …' * (len(there) > 4)}; choose another "
            f"{other}, or add --replace to write over what is there"
        )
