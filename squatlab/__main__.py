"""The command line, thin: each command has its module in ``commands``."""

from __future__ import annotations

import argparse
import sys

import squatlab
from squatlab.commands import (
    book,
    demo,
    exam,
    export,
    footage,
    opening,
    repetition,
    reports,
    session,
)

COMMANDS = (opening, book, repetition, footage, session, exam, reports, export, demo)
"""The modules whose ``add_to`` adds commands, in the order of the help."""


def main(arguments: list[str] | None = None) -> int:
    """Run a command; return its exit code, 2 for wrong use or a bad file."""
    for stream in (sys.stdout, sys.stderr):
        # Where degrees and minus signs cannot be written, a ? beats no answer at all.
        getattr(stream, "reconfigure", lambda errors: None)(errors="replace")
    options = _parser().parse_args(arguments)
    try:
        return options.run(options)
    except (OSError, ValueError) as error:
        print(f"squatlab: {error}", file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
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
