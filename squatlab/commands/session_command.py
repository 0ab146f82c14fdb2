"""``squatlab session``: a roster in, plan, cards and observation sheets out."""

from __future__ import annotations

import argparse
import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from squatlab import storage
from squatlab.commands.options import REPLACE, must_be_new
from squatlab.commands.progress import telling
from squatlab.gym import PlateSet, Rack, Session, Start, plan_session, read_roster
from squatlab.show import paper, sheets

FILES = ("plan.csv", "cards.pdf", "observation.pdf")
ALL, SOME = 0, 1
"""The exit codes of a plan; 2 is wrong use or a roster that cannot be used."""


def add_session(session: argparse.ArgumentParser) -> None:
    """Give ``session`` its options."""
    session.description = (
        "Plan groups, rack holes and rotation for a roster, and write plan.csv, "
        "cards.pdf (one page a rack) and observation.pdf."
    )
    session.epilog = (
        "The roster is a CSV file with the columns name, height, height_unit, and more if "
        "you have it; an example travels with the course: demo/roster.csv in your working copy. "
        "Exit codes: 0 everybody is planned, 1 planned without those named, 2 wrong use or a "
        "roster that cannot be used. Safety bars or spotters first; stop on pain."
    )
    session.add_argument("roster", type=Path, metavar="ROSTER.csv")
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
        "--paper",
        choices=("A4", "Letter"),
        default="A4",
        type=str.capitalize,
        help="default: A4",
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
        default="50 mm",
        metavar="STEP",
        help='from hole to hole: "50 mm", "2 in", "25 mm" or "1 in" (default: 50 mm)',
    )
    session.add_argument(
        "--first-hole",
        type=float,
        metavar="CM",
        help="height of the bar with the hooks in the lowest hole: measure it",
    )
    session.add_argument("--plates", choices=("kg", "lb"), default="kg", help="default: kg")
    session.add_argument(
        "--load",
        type=float,
        metavar="LOAD",
        help="the heaviest of the day with the bar, in the plates' unit (default: 40 kg or 95 lb)",
    )
    session.add_argument(
        "--anyway", action="store_true", help="plan the rest when rows of the roster are wrong"
    )
    session.add_argument("--replace", **REPLACE)
    session.set_defaults(run=_session)


def _session(options: argparse.Namespace) -> int:
    """Plan, write the three files and print the plan."""
    table, cards, observation = files = [options.output / name for name in FILES]
    must_be_new(options, *files, other="folder with -o")
    plan, left_out = _planned(options)
    rows, rounds = list(_rows(plan)), io.StringIO()
    writer = csv.DictWriter(rounds, rows[0], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    with telling("drawing the cards"):
        printed = paper.pdf(sheets.session_cards(plan, options.paper), "Session cards")
        watched = paper.pdf(sheets.observation_sheets(plan, options.paper), "Observation sheets")
    storage.write_together({table: rounds.getvalue(), cards: printed, observation: watched})
    print(plan, "", *_alike(plan.starts.values()), "", sep="\n")
    print(
        f"Hole 1 is taken to hold the bar {100 * plan.rack.first_hole_m:.4g} cm above the floor, "
        f"one hole every {plan.rack.step}: measure your racks (--first-hole, --holes)."
    )
    print(f"Wrote {table}, {cards} and {observation}.")
    return SOME if left_out else ALL


def _planned(options: argparse.Namespace) -> tuple[Session, bool]:
    """Return the plan, and whether rows of the roster are not in it."""
    try:
        rack = Rack.of(options.holes)
    except ValueError as error:
        raise ValueError(f"--holes: {str(error).partition(', or give')[0]}") from error
    if options.first_hole is not None:
        if not 5 <= options.first_hole <= 200:
            raise ValueError(f"--first-hole: {options.first_hole:g} cm; it must lie from 5 to 200")
        rack = replace(rack, first_hole_m=options.first_hole / 100)
    try:
        roster = read_roster(options.roster, leave_out=options.anyway)
        plan = plan_session(
            roster,
            options.racks,
            rack,
            options.minutes,
            options.passes,
            PlateSet.of(options.plates),
            options.load,
            leave_out=options.anyway,
        )
    except ValueError as error:
        rows = str(error).startswith(("row ", f"{options.roster.name}: row "))
        hint = "\nCorrect these rows, or add --anyway to plan the rest." if rows else ""
        option = " (--first-hole)" if "measure the lowest hole" in str(error) else ""
        raise ValueError(f"{error}{option}{'' if options.anyway else hint}") from error
    return plan, bool(roster.problems) or len(plan.holes) < len(roster.people)


def _alike(starts: Iterable[Start]) -> Iterator[str]:
    """Yield what is told of each, people of whom the same is told in one line."""
    names: dict[str, list[str]] = {}
    for start in starts:
        names.setdefault(str(replace(start, name="")), []).append(start.name)
    for words, people in names.items():
        yield ", ".join(people) + words


def _rows(plan: Session) -> Iterator[dict[str, Any]]:
    """Yield one row of plan.csv for each round at each rack."""
    for number, station in enumerate(plan.stations, start=1):
        for round in station.rounds:
            turn, start = round.turn, plan.starts[round.turn.lifter]
            hooks, safety = plan.holes[turn.lifter]
            yield {
                "rack": number,
                "start_min": f"{round.start_min:g}",
                "bar": round.bar if start.low_bar else "high bar or goblet",
                "lifter": turn.lifter,
                "hooks_hole": hooks,
                "hooks_cm": f"{100 * plan.rack.height(hooks):.1f}",
                "move_hooks": "yes" if round.moved else "no",
                "move_safety": "yes" if round.safety_moved else "no",
                "safety_hole": safety[round.bar],
                "safety_cm": f"{100 * plan.rack.safety_height(safety[round.bar]):.1f}",
                "coach": turn.coach,
                "spotters": "; ".join(turn.spotters),
                "recorder": turn.recorder,
                "watching": "; ".join(turn.watching),
                "start_with": start.start_with,
                "which_bar": start.bar,
            }
