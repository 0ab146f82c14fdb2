"""``squatlab case``: real lifters for practice, with a key that coaches agreed on."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from squatlab import storage
from squatlab.commands.option_words import speaking_options
from squatlab.commands.options import REPLACE, add_examples, must_be_new
from squatlab.commands.review_command import add_recording, declared, read_recording
from squatlab.commands.terminal_progress import progress_line
from squatlab.questions import files
from squatlab.questions.real_cases import (
    COACH_COLUMNS,
    GIVEN_BY,
    LiftDeclared,
    RealCases,
    consent,
    read_coach_key,
)
from squatlab.show import paper
from squatlab.show.case_sheet import case_sheet

ALL, SOME = 0, 1

COACHES = """\
First: sheet prints the moments of a recording and the faults to tick, for each
coach to judge alone (the blind clip is in notebook I4). Then: add.

FILE with --coaches: a CSV with the columns coach_id, there, first; a row a coach,
each written with the blind sheet or clip alone:

  coach_id,there,first
  K1,knee_valgus + heel_lift,knee_valgus
  K2,knee_valgus,knee_valgus

there and first are faults (squatlab rep --list names them), or nothing. If they
do not agree, look at the lift together and add a row whose coach_id is agreed.

What is kept: joint positions, what is declared, the coaches' answers by their
ids, and the consent. Film, file names, labels and notes are not. Positions are
still about a person: keep the folder where the consent says, hand it to no one
else, and withdraw a case from every copy when its day comes.

exit codes: 0 all is well, 1 a case of the list cannot be shown, 2 wrong use, no
consent, no agreement, or a recording that the review refuses
"""


def add_case(case: argparse.ArgumentParser) -> None:
    """Give ``case`` its options."""
    case.description = (
        "Keep recordings of real lifters as practice cases in a folder of yours. Notebook 10 shows "
        "those in the folder real_cases beside it, marked as real; none ever ships with squatlab."
    )
    case.epilog = COACHES
    add_examples(
        case,
        "squatlab case real_cases sheet K-01 film.csv",
        "squatlab case real_cases list",
    )
    case.add_argument(
        "folder", type=Path, metavar="FOLDER", help="where your cases are kept, or are to be"
    )
    parts = case.add_subparsers(required=True, metavar="what")
    sheet = _part(
        parts,
        "sheet",
        "print what coaches judge a recording by, each alone",
        "Write ID.blind.pdf, the moments of a recording and the faults to tick, and "
        "ID.coaches.csv to type into what coaches said. Keeps nothing.",
        _sheet,
        "sheet K-01 film-side.csv film-front.csv",
    )
    sheet.add_argument("id", metavar="ID", help="of the case, such as K-01; no name of a person")
    add_recording(sheet)
    sheet.add_argument(
        "-o", "--output", type=Path, default=Path("."), metavar="DIR", help="default: here"
    )
    sheet.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="default: A4")
    sheet.add_argument("--replace", **REPLACE)
    add = _part(
        parts,
        "add",
        "keep a recording, with its key and the lifter's consent",
        "Keep a recording as a case, with what coaches said of it and the lifter's consent; "
        "without one of them nothing is kept.",
        _add,
        "add K-01 film.csv --coaches K-01.coaches.csv --consent lifter --asked-by K1 "
        "--asked-on 2026-11-02 --delete-on 2028-11-02",
    )
    add.add_argument("id", metavar="ID", help="of the case, such as K-01; no name of a person")
    add_recording(add)
    add.add_argument("--coaches", type=Path, metavar="FILE", help="what coaches said of it")
    add.add_argument(
        "--consent",
        choices=tuple(GIVEN_BY),
        help="who agreed in writing that trainees see it: the lifter, or for a minor a guardian "
        "and the lifter",
    )
    add.add_argument("--asked-by", metavar="ID", help="who asked for it")
    add.add_argument("--asked-on", type=_day, metavar="DAY", help="such as 2026-11-02")
    add.add_argument("--delete-on", type=_day, metavar="DAY", help="the day in the consent")
    _part(
        parts,
        "list",
        "every case with its key, its consent, and what cannot be shown",
        "Print every case with its key and its consent, and why any cannot be shown.",
        _list,
        "list",
    )
    withdraw = _part(
        parts,
        "withdraw",
        "delete a case for good, and note who did",
        "Delete a case for good, as when its lifter asks for it or its day has come, and note who "
        "did it.",
        _withdraw,
        "withdraw K-01 --by K1",
    )
    withdraw.add_argument("id", metavar="ID", help="of the case")
    withdraw.add_argument("--by", required=True, metavar="ID", help="who withdraws it")


def _part(
    parts: Any,
    name: str,
    words: str,
    what_happens: str,
    run: Callable[[argparse.Namespace], int],
    example: str,
) -> argparse.ArgumentParser:
    """Add a command of ``case`` and return it, for its options."""
    part = parts.add_parser(name, help=words, description=what_happens)
    add_examples(part, f"squatlab case real_cases {example}")
    part.set_defaults(run=run)
    return part


def _day(typed: str) -> date:
    """Return a typed day; argparse says what is wrong with it."""
    try:
        return date.fromisoformat(typed)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{typed}” is no day; write 2026-11-02") from None


@speaking_options()
def _sheet(options: argparse.Namespace) -> int:
    """Write the blind sheet of a recording, and a table to type coaches' answers into."""
    name = files.identifier("case", options.id)
    printed, table = (options.output / f"{name}.{kind}" for kind in ("blind.pdf", "coaches.csv"))
    must_be_new(options, printed, table, other="folder with -o")
    lifter, camera = declared(options)
    tracks = read_recording(options)
    with progress_line("drawing the sheet"):
        page = case_sheet(
            *tracks,
            name=name,
            paper=options.paper,
            lifter=lifter,
            bar_kg=options.load,
            camera=camera,
        )
        content = paper.pdf([page], f"Case {name}, blind")
    storage.write_together({printed: content, table: f"{','.join(COACH_COLUMNS)}\n"})
    print(f"Wrote {printed}, one for each coach, and {table} to type what they say into.")
    return ALL


@speaking_options()
def _add(options: argparse.Namespace) -> int:
    """Keep a recording as a case; nothing is kept without consent and a key."""
    cases = RealCases(options.folder)
    agreed = consent(
        options.consent, options.asked_by, options.asked_on, options.delete_on, cases.today
    )
    if options.coaches is None:
        raise ValueError(
            "no key: --coaches FILE says what coaches saw, each alone; squatlab case --help shows "
            "how it is written"
        )
    key = read_coach_key(options.coaches)
    lifter, camera = declared(options)
    lift_declared = LiftDeclared.of(lifter, options.load, camera, options.placement)
    tracks = read_recording(options)
    with progress_line("measuring"):
        case = cases.keep(options.id, tracks, lift_declared, key, agreed)
    print(f"Kept {options.folder / options.id}.json: {agreed}.", case.why, sep="\n")
    return ALL


@speaking_options()
def _list(options: argparse.Namespace) -> int:
    """Print every case, and why any cannot be shown."""
    cases = RealCases(options.folder)
    if not options.folder.is_dir():
        raise ValueError(f"there is no folder {options.folder}; squatlab case FOLDER add begins it")
    shown, refused = cases.shown(), cases.refused()
    for case in shown:
        print(f"{case.id}: {case.key.agreement} There is {case.consent}.")
    for name, reason in refused.items():
        print(f"{name}: not shown. {reason}.")
    return SOME if refused else ALL


@speaking_options()
def _withdraw(options: argparse.Namespace) -> int:
    """Delete a case."""
    RealCases(options.folder).withdraw(options.id, options.by)
    print(f"Deleted {options.folder / options.id}.json. Delete every copy of it as well.")
    return ALL
