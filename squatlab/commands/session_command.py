"""``squatlab session``: a roster in, plan, cards and observation sheets out."""

from __future__ import annotations

import argparse
import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from squatlab import storage, units
from squatlab.commands.option_words import speaking_options
from squatlab.commands.options import REPLACE, add_examples, must_be_new
from squatlab.commands.terminal_progress import progress_line
from squatlab.gym import PlateSet, Rack, Session, Start, plan_session, read_roster
from squatlab.gym.rack import RackTooHighError
from squatlab.gym.roster import RosterRowsError
from squatlab.questions.typed_numbers import in_unit
from squatlab.show import paper, sheets

FILES = ("plan.csv", "cards.pdf", "observation.pdf")
LOWEST_HOLE_M, HIGHEST_HOLE_M = 0.05, 2.0
"""Between these a rack has its lowest hole [teaching-value]."""

ALL, SOME = 0, 1
"""The exit codes of a plan; 2 is wrong use or a roster that cannot be used."""


def add_session(session: argparse.ArgumentParser) -> None:
    """Give ``session`` its options."""
    session.description = (
        "Plan groups, rack holes and rotation for a roster, and write plan.csv, "
        "cards.pdf (one page a rack) and observation.pdf."
    )
    session.epilog = (
        "The roster is a CSV file with the columns name and height (5'9\", 69 in, 175 cm; or a "
        "number, with its unit in height_unit), and more if you have it; an example travels with "
        "the course: demo/roster.csv in your working copy. "
        "Exit codes: 0 everybody is planned, 1 planned without those named, 2 wrong use or a "
        "roster that cannot be used. Safety bars or spotters first; stop on pain."
    )
    add_examples(session, "squatlab session demo/roster.csv --racks 4")
    session.add_argument(
        "roster", type=Path, metavar="ROSTER.csv", help="who comes, a row for each"
    )
    session.add_argument("--racks", type=int, required=True, metavar="N", help="how many there are")
    session.add_argument(
        "-o",
        "--output",
        type=Path,
        default=Path("session"),
        metavar="DIR",
        help="the folder to write to; it is made if need be (default: session)",
    )
    session.add_argument(
        "--units",
        choices=tuple(units.SYSTEMS),
        help="metric or us, in what is printed (default: what squatlab open --units chose for "
        "this folder, else metric)",
    )
    session.add_argument(
        "--paper",
        choices=("A4", "Letter"),
        type=str.capitalize,
        help="default: A4, with US units Letter",
    )
    session.add_argument(
        "--minutes",
        type=float,
        default=50.0,
        metavar="MIN",
        help="of each of the two blocks, high bar and low bar (default: 50)",
    )
    session.add_argument(
        "--passes",
        type=int,
        default=2,
        metavar="N",
        help="how often everybody lifts in each block (default: 2)",
    )
    session.add_argument(
        "--holes",
        metavar="STEP",
        help='from hole to hole, such as "50 mm", "2 in" or "3 in" (default: 50 mm, with US '
        "units 2 in)",
    )
    session.add_argument(
        "--first-hole",
        metavar="HEIGHT",
        help='of the bar with the hooks in the lowest hole, such as "40 cm" or "16 in"; measure '
        "it. A bare number is in cm, with US units in inches",
    )
    session.add_argument("--plates", choices=("kg", "lb"), help="default: kg, with US units lb")
    session.add_argument(
        "--load",
        metavar="LOAD",
        help="the heaviest of the day with the bar; a bare number is in the plates' unit "
        "(default: 40 kg or 95 lb)",
    )
    session.add_argument(
        "--anyway", action="store_true", help="plan the rest when rows of the roster are wrong"
    )
    session.add_argument("--replace", **REPLACE)
    session.set_defaults(run=_session)


@speaking_options()
def _session(options: argparse.Namespace) -> int:
    """Plan, write the three files and print the plan, in the units that are asked for."""
    with units.written_in(options.units or units.chosen()):
        return _written(options)


def _written(options: argparse.Namespace) -> int:
    """Plan, write the three files and print the plan; return the exit code."""
    table, cards, observation = files = [options.output / name for name in FILES]
    must_be_new(options, *files, other="folder with -o")
    size = options.paper or units.either("A4", "Letter")
    plan, left_out = _planned(options)
    rows, rounds = list(_rows(plan)), io.StringIO()
    writer = csv.DictWriter(rounds, rows[0], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    with progress_line("drawing the cards"):
        printed = paper.pdf(sheets.session_cards(plan, size), "Session cards")
        watched = paper.pdf(sheets.observation_sheets(plan, size), "Observation sheets")
    storage.write_together({table: rounds.getvalue(), cards: printed, observation: watched})
    print(plan, "", *_alike(plan.starts.values()), "", sep="\n")
    first_hole = units.WORKED_LENGTH.words(plan.rack.first_hole_m)
    assumed = not (options.first_hole and options.holes)
    print(
        f"Hole 1 {'is taken to hold' if assumed else 'holds'} the bar {first_hole} above the "
        f"floor, one hole every {plan.rack.step}"
        f"{': measure your racks (--first-hole, --holes)' if assumed else ''}."
    )
    print(f"Wrote {table}, {cards} and {observation}.")
    return SOME if left_out else ALL


def _planned(options: argparse.Namespace) -> tuple[Session, bool]:
    """Return the plan, and whether rows of the roster are not in it."""
    try:
        rack = Rack.of(options.holes or units.either("50 mm", "2 in"))
    except ValueError as error:
        raise ValueError(f"--holes: {error}") from error
    if options.first_hole is not None:
        rack = replace(rack, first_hole_m=_height_m(options.first_hole))
    plates = PlateSet.of(options.plates or units.either("kg", "lb"))
    load = options.load
    try:
        load = None if load is None else round(in_unit(load, plates.unit), 2)
    except ValueError as error:
        raise ValueError(f"--load: {error}") from error
    try:
        roster = read_roster(options.roster, leave_out=options.anyway)
        plan = plan_session(
            roster,
            options.racks,
            rack,
            options.minutes,
            options.passes,
            plates,
            load,
            leave_out=options.anyway,
        )
    except RackTooHighError as error:
        raise ValueError(f"{error} (--first-hole)") from error
    except RosterRowsError as error:
        hint = "Correct these rows, or add --anyway to plan the rest."
        raise ValueError(f"{error}\n{hint}") from error
    return plan, bool(roster.problems) or len(plan.holes) < len(roster.people)


def _height_m(typed: str) -> float:
    """Return the height of the lowest hole, m. Raises ValueError for what is none."""
    unit = units.READING.unit
    try:
        height_m = in_unit(typed, unit) * units.READING.written.size
    except ValueError as error:
        raise ValueError(f"--first-hole: {error}") from error
    if not LOWEST_HOLE_M <= height_m <= HIGHEST_HOLE_M:
        least, most = (units.READING.words(end) for end in (LOWEST_HOLE_M, HIGHEST_HOLE_M))
        raise ValueError(f"--first-hole: {typed}; it must lie from {least} to {most}")
    return height_m


def _alike(starts: Iterable[Start]) -> Iterator[str]:
    """Yield what is told of each, people of whom the same is told in one line."""
    names: dict[str, list[str]] = {}
    for start in starts:
        names.setdefault(str(replace(start, name="")), []).append(start.name)
    for words, people in names.items():
        yield ", ".join(people) + words


def _rows(plan: Session) -> Iterator[dict[str, Any]]:
    """Yield one row of plan.csv for each round at each rack."""
    length = units.READING
    for number, station in enumerate(plan.stations, start=1):
        for round in station.rounds:
            turn, start = round.turn, plan.starts[round.turn.lifter]
            hooks, safety = plan.holes[turn.lifter]
            safety_m = plan.rack.safety_height(safety[round.bar])
            yield {
                "rack": number,
                "start_min": f"{round.start_min:g}",
                "bar": round.bar if start.low_bar else "high bar or goblet",
                "lifter": turn.lifter,
                "hooks_hole": hooks,
                f"hooks_{length.unit}": length.figure(plan.rack.height(hooks)),
                "move_hooks": "yes" if round.moved else "no",
                "move_safety": "yes" if round.safety_moved else "no",
                "safety_hole": safety[round.bar],
                f"safety_{length.unit}": length.figure(safety_m),
                "coach": turn.coach,
                "spotters": "; ".join(turn.spotters),
                "recorder": turn.recorder,
                "watching": "; ".join(turn.watching),
                "start_with": start.start_with,
                "which_bar": start.bar,
            }
