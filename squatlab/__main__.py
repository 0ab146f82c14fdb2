"""The command line, thin: each command has its module in ``commands``."""

from __future__ import annotations

import argparse
import re
import sys
from typing import Any, NamedTuple, NoReturn

import squatlab
from squatlab import tables
from squatlab.commands import outcome
from squatlab.commands.loading import load


class Command(NamedTuple):
    """Name a command, what adds its options, and its line of the help."""

    name: str
    place: str
    help: str


COMMANDS = (
    Command("open", "open_command:add_open", "open the course in JupyterLab"),
    Command("check", "open_command:add_check", "say whether everything the course needs works"),
    Command(
        "book",
        "book_command:add_book",
        "write the course as pages that move and answer, for a browser without Jupyter",
    ),
    Command(
        "progress",
        "progress_command:add_progress",
        "say what a class misses and what to teach again, from its working copies",
    ),
    Command(
        "rep",
        "rep_command:add_rep",
        "write a synthetic repetition, with faults of your choice, to try a review on",
    ),
    Command(
        "review",
        "review_command:add_review",
        "say what recorded footage shows and which one thing to fix first",
    ),
    Command(
        "case",
        "case_command:add_case",
        "keep recordings of real lifters as practice cases, with coaches' key and consent",
    ),
    Command(
        "session",
        "session_command:add_session",
        "plan a practice session from a roster: racks, rotation, cards to print",
    ),
    Command(
        "bank",
        "bank_command:add_bank",
        "start or check a bank of your own knowledge items and cues",
    ),
    Command(
        "form",
        "form_command:add_form",
        "make sealed exam forms with their keys from your secret",
    ),
    Command(
        "panel",
        "panel_command:add_panel",
        "print a form for coaches who judge its key blind",
    ),
    Command(
        "receive",
        "mark_command:add_receive",
        "take hand-ins in, by this machine's clock, without marking them",
    ),
    Command("mark", "mark_command:add_mark", "mark a folder of hand-ins into the records"),
    Command(
        "serve-exam",
        "serve_exam_command:add_serve_exam",
        "serve a certifying sitting: candidates need a browser and their code",
    ),
    Command(
        "report",
        "report_command:add_report",
        "report a sitting: candidates, class, items, panel; tables, CSV and PDF",
    ),
    Command(
        "records",
        "records_command:add_records",
        "look into the records and add to them: open, hand-ins, review, certify, appeal",
    ),
    Command(
        "export",
        "export_command:add_export",
        "write questions as a QTI package for a learning platform; it holds the key",
    ),
    Command(
        "badge",
        "export_command:add_badge",
        "give a certificate as a signed Open Badge, or check one",
    ),
    Command(
        "demo", "demo_command:add_demo", "run an invented club's exam end to end into a folder"
    ),
)
"""In the order of the help."""


def main(arguments: list[str] | None = None) -> int:
    """Run a command; return its exit code.

    What a command finds is 0 or 1, as its help says; see `outcome` for
    what stands for errors. Raises SystemExit with 2 for wrong use.
    """

    given = sys.argv[1:] if arguments is None else arguments

    def run() -> int:
        parser = _parser()
        if not given:
            parser.print_help()
            return outcome.WRONG_USE
        options = parser.parse_args(given)
        return options.run(options)

    return outcome.exit_code(run)


class Parser(argparse.ArgumentParser):
    """Read a command's options once it is called; of wrong use say what was meant.

    ``place`` names the function that adds the options, ``module:name``.
    """

    def __init__(self, *args: Any, place: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._place = place
        self._typed: list[str] = []

    def complete(self) -> None:
        """Add the options, which imports the command's module."""
        if self._place:
            place, self._place = self._place, ""
            load(place)(self)

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        """Refuse what is left over here: the command knows its options, the whole does not."""
        self.complete()
        self._typed = [word.partition("=")[0] for word in args or () if word.startswith("--")]
        options, left = super().parse_known_args(args, namespace)
        if left:
            self.error(f"unrecognized arguments: {' '.join(left)}")
        return options, left

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and the closest that is allowed, and exit with 2."""
        if match := re.search(r"invalid choice: '(.*)' \(choose from (.*)\)", message):
            message += tables.closest(match[1], re.split("'?, '?", match[2].strip("'")))
        elif match := re.search(r"unrecognized arguments: .*?(--?\w[\w-]*)", message):
            message += tables.closest(match[1], re.findall(r"--?\w[\w-]*", self.format_usage()))
        elif "arguments are required" in message:
            ours = [option for option in self._option_string_actions if option.startswith("--")]
            for typed in self._typed:
                if not any(option.startswith(typed) for option in ours):
                    message += f"; {typed} is no option" + tables.closest(typed, ours)
        message = re.sub("invalid float value: (.*)", r"\1 is no number, such as 60", message)
        message = re.sub("invalid int value: (.*)", r"\1 is no whole number, such as 2", message)
        super().error(outcome.shortened(message))


def _parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line; commands are read when called."""
    parser = Parser(
        prog="squatlab",
        description="A course kit for teaching the high-bar and low-bar back squat.",
        epilog="Numbers here teach and do not prescribe; set safety bars or spotters first. "
        "Exit codes: 0, and 1, 3 or 5 where a command says what they mean; 2 wrong use, or a "
        "file or output that fails; 4 an error nobody foresaw; 130 interrupted.",
    )
    parser.add_argument("--version", action="version", version=f"squatlab {squatlab.__version__}")
    commands = parser.add_subparsers(required=True, metavar="command")
    for command in COMMANDS:
        commands.add_parser(
            command.name, help=command.help, place=f"squatlab.commands.{command.place}"
        )
    return parser


if __name__ == "__main__":
    sys.exit(main())
