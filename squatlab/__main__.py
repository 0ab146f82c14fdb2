"""The command line, thin: each command has its module in ``commands``."""

from __future__ import annotations

import argparse
import re
import sys
from typing import Any, NoReturn

import squatlab
from squatlab import tables
from squatlab.commands import (
    bank,
    book,
    demo,
    exam,
    export,
    footage,
    opening,
    outcome,
    records,
    repetition,
    reports,
    serve_exam,
    session,
)

COMMANDS = (
    opening,
    book,
    repetition,
    footage,
    session,
    bank,
    exam,
    serve_exam,
    reports,
    records,
    export,
    demo,
)
"""The modules whose ``add_to`` adds commands, in the order of the help."""


def main(arguments: list[str] | None = None) -> int:
    """Run a command; return its exit code.

    What a command finds is 0 or 1, as its help says; see `outcome` for
    what stands for errors. Raises SystemExit with 2 for wrong use.
    """

    def run() -> int:
        options = _parser().parse_args(arguments)
        return options.run(options)

    return outcome.exit_code(run)


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
        super().error(outcome.shortened(message))


def _parser() -> argparse.ArgumentParser:
    parser = Parser(
        prog="squatlab",
        description="A course kit for teaching the high-bar and low-bar back squat.",
        epilog="Numbers here teach and do not prescribe; set safety bars or spotters first. "
        "Exit codes: 0, and 1, 3 or 5 where a command says what they mean; 2 wrong use, or a "
        "file or output that fails; 4 an error nobody foresaw; 130 interrupted.",
    )
    parser.add_argument("--version", action="version", version=f"squatlab {squatlab.__version__}")
    commands = parser.add_subparsers(required=True, metavar="command")
    for module in COMMANDS:
        module.add_to(commands)
    return parser


if __name__ == "__main__":
    sys.exit(main())
