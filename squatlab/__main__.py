"""The command line, thin: each command has its module in ``commands``."""

from __future__ import annotations

import argparse
import errno
import os
import re
import sys
from typing import Any, NoReturn

import squatlab
from squatlab import tables
from squatlab.commands import (
    book,
    demo,
    exam,
    export,
    footage,
    opening,
    records,
    repetition,
    reports,
    session,
)

COMMANDS = (opening, book, repetition, footage, session, exam, reports, records, export, demo)
"""The modules whose ``add_to`` adds commands, in the order of the help."""


def main(arguments: list[str] | None = None) -> int:
    """Run a command; return its exit code, 2 for wrong use or a bad file."""
    for stream in (sys.stdout, sys.stderr):
        # Where degrees and minus signs cannot be written, a ? beats no answer at all.
        getattr(stream, "reconfigure", lambda errors: None)(errors="replace")
    try:
        try:
            options = _parser().parse_args(arguments)
            return options.run(options)
        finally:
            print(end="", flush=True)  # what is left would fail at exit, where nothing catches it
    except (OSError, ValueError) as error:
        if _nobody_reads(error):
            return 141  # as shells say of any tool then: 128 + SIGPIPE
        print(f"squatlab: {error}", file=sys.stderr)
        return 2


def _nobody_reads(error: Exception) -> bool:
    """Say whether this is the end of the pipe; what else is written goes nowhere then."""
    try:
        if getattr(error.__cause__ or error, "errno", None) in (errno.EPIPE, errno.EINVAL):
            print(flush=True)  # Windows calls a closed pipe EINVAL, and much else as well: try it
        return False
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return True


class Parser(argparse.ArgumentParser):
    """Add to what argparse says of wrong use what was probably meant."""

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        """Refuse what is left over here: the command knows its options, the whole does not."""
        options, left = super().parse_known_args(args, namespace)
        if left:
            self.error(f"unrecognized arguments: {' '.join(left)}")
        return options, left

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and the closest that is allowed, and exit with 2."""
        if found := re.search(r"invalid choice: '(.*)' \(choose from (.*)\)", message):
            message += tables.closest(found[1], re.split("'?, '?", found[2].strip("'")))
        elif found := re.search(r"unrecognized arguments: .*?(--?\w[\w-]*)", message):
            message += tables.closest(found[1], re.findall(r"--?\w[\w-]*", self.format_usage()))
        message = re.sub("invalid float value: (.*)", r"\1 is no number, such as 60", message)
        message = re.sub("invalid int value: (.*)", r"\1 is no whole number, such as 2", message)
        super().error(message)


def _parser() -> argparse.ArgumentParser:
    parser = Parser(
        prog="squatlab",
        description="A course kit for teaching the high-bar and low-bar back squat.",
        epilog="Numbers here teach and do not prescribe; set safety bars or spotters first.",
    )
    parser.add_argument("--version", action="version", version=f"squatlab {squatlab.__version__}")
    commands = parser.add_subparsers(required=True, metavar="command")
    for module in COMMANDS:
        module.add_to(commands)
    return parser


if __name__ == "__main__":
    sys.exit(main())
