"""A practice session: who is at which rack, its holes, who does what and when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import compress
from typing import NamedTuple

from squatlab.gym.grouping import share
from squatlab.gym.plates import STRAP_HELD, Loading, PlateSet, warm_up
from squatlab.gym.rack import Rack
from squatlab.gym.roster import Person, Roster
from squatlab.gym.rotation import Turn, rotation
from squatlab.gym.screening import Start, start
from squatlab.gym.set_up import set_up
from squatlab.mechanics.trunk import Bar
from squatlab.ranges import within

BARS = {"high bar": Bar.high, "low bar": Bar.low}
"""The blocks in their order: the high bar is learned first."""

LEAST_MINUTES = 3.0
"""Shortest round: change plates and hooks, one set, a word about it
[teaching-value]."""

LOAD, REPETITIONS = {"kg": 40.0, "lb": 95.0}, 5
"""The heaviest set of a first day, a light one [teaching-value]."""


class Holes(NamedTuple):
    """Hold one person's holes: the hooks', the safety bars' in each block."""

    hooks: int
    safety: dict[str, int]


@dataclass(frozen=True)
class Round:
    """Hold one round at one rack: when it starts, which bar, who does what.

    ``start_min`` counts from the beginning of the session; ``moved`` and
    ``safety_moved`` say that the hooks and the safety bars are in another
    hole than in the round before. ``bar`` is the block's.
    """

    start_min: float
    bar: str
    turn: Turn
    moved: bool
    safety_moved: bool


@dataclass(frozen=True)
class Station:
    """Hold one rack's people, in order of holes, and its rounds.

    ``others`` do not lift today.
    """

    lifters: tuple[str, ...]
    others: tuple[str, ...]
    rounds: tuple[Round, ...]

    @property
    def moves(self) -> int:
        """Return how often the hooks move once the first lifter began."""
        return sum(round.moved for round in self.rounds)

    @property
    def safety_moves(self) -> int:
        """Return how often the safety bars move once the first lifter began."""
        return sum(round.safety_moved for round in self.rounds)


@dataclass(frozen=True)
class Session:
    """Hold the plan: stations, holes and starts by name, minutes, words.

    ``ramp`` is (loading, repetitions) of each set, up to the day's load;
    ``strap_held`` is the most with a strap-held or padded bar.
    ``notes`` are for the instructor: who could not be planned and why,
    who does not lift, what was not asked.
    """

    rack: Rack
    stations: tuple[Station, ...]
    holes: dict[str, Holes]
    starts: dict[str, Start]
    ramp: tuple[tuple[Loading, int], ...]
    strap_held: Loading
    round_minutes: float
    passes: int
    notes: tuple[str, ...]

    def __str__(self) -> str:
        lines = [
            f"Rack {number}: {', '.join(station.lifters + station.others)}; {len(station.rounds)} "
            f"rounds of {self.round_minutes:g} min, moves: hooks {station.moves}, "
            f"safety bars {station.safety_moves}"
            for number, station in enumerate(self.stations, start=1)
        ]
        return "\n".join([*lines, *self.notes])


def plan_session(
    roster: Roster,
    racks: int,
    rack: Rack | None = None,
    block_minutes: float = 50.0,
    passes: int = 2,
    plates: PlateSet | None = None,
    load: float | None = None,
    leave_out: bool = False,
) -> Session:
    """Plan groups, holes and rotation for a roster and a number of racks.

    Two blocks of ``block_minutes``, high bar and then low bar, in each of
    which everybody lifts ``passes`` times. ``load``, in the plates' unit,
    is the heaviest of the day. Raises ValueError that names who and why;
    with ``leave_out`` people whom the rack does not suit are left out and
    named in ``notes``.
    """
    rack, plates = rack or Rack.of(), plates or PlateSet.of()
    heaviest = plates.load(LOAD[plates.unit] if load is None else load)
    ramp = (*warm_up(plates, heaviest.total), (heaviest, REPETITIONS))
    straps = plates.at_most(max(STRAP_HELD * heaviest.total, plates.empty))
    holes: dict[str, Holes] = {}
    notes = []
    for person in roster.people:
        try:
            holes[person.name] = _holes(person, rack, {loading.total_kg for loading, _ in ramp})
        except ValueError as error:
            notes.append(f"row {person.row}, {person.name}: {error}")
    if len(notes) > 1 and not holes and all("no hole is at or below" in note for note in notes):
        first = f"{100 * rack.first_hole_m:g} cm"
        raise ValueError(f"{first} is too high for everybody: measure the lowest hole")
    if notes and not (leave_out and holes):
        raise ValueError("\n".join(notes))
    people = [person for person in roster.people if person.name in holes]
    lifting = {person.name: holes[person.name].hooks for person in people if person.lifts}
    if not lifting:
        raise ValueError("nobody on this roster can lift today; plan a lesson without the bar")
    teams, above_fewest = share(lifting, racks)
    if above_fewest:
        notes.append(
            f"so many people cannot be compared in every sharing: the racks are moved at most "
            f"{above_fewest} times more in a pass than they need be"
        )
    beside: list[tuple[str, ...]] = [()] * racks
    for person in people:
        if not person.lifts:
            smallest = min(range(racks), key=lambda i: len(teams[i] + beside[i]))
            beside[smallest] += (person.name,)
    minutes = _round_minutes(block_minutes, max(map(len, teams)) * passes, len(lifting), passes)
    clock = (block_minutes, minutes)
    stations = [
        Station(team, others, tuple(_rounds(team, others, holes, passes, clock)))
        for team, others in zip(teams, beside, strict=True)
    ]
    starts = {person.name: start(person) for person in people}
    notes += [*roster.problems, *_remarks(people, stations)]
    return Session(
        rack, tuple(stations), holes, starts, ramp, straps, minutes, passes, tuple(notes)
    )


def _holes(person: Person, rack: Rack, loads_kg: set[float]) -> Holes:
    """Return the holes that suit each of the day's loads, so the lowest."""
    hooks, safety = [], {}
    for name, bar in BARS.items():
        # A restricted shoulder takes no low bar: in both blocks the high bar's holes.
        bar = Bar.high if person.shoulder_restricted else bar
        lifter, sternum = person.lifter(), person.sternum_m
        done = [set_up(rack, lifter, bar(kg), mid_sternum=sternum) for kg in loads_kg]
        hooks += [placed.hole for placed in done]
        safety[name] = min(placed.safety for placed in done)
    # One hole for both bars, so that the hooks stay between the blocks.
    return Holes(min(hooks), safety)


def _round_minutes(block_minutes: float, rounds: int, people: int, passes: int) -> float:
    """Return the length of a round, whole minutes, or say why it is too short."""
    if passes < 1:
        raise ValueError(f"{passes} passes: everybody lifts at least once in each block")
    minutes = within("block_minutes", block_minutes, 1, 480, "minutes") / rounds
    if minutes < LEAST_MINUTES:
        fitting = int(block_minutes // (LEAST_MINUTES * passes))
        racks = f"use {-(-people // fitting)} racks, " if fitting else ""
        raise ValueError(
            f"{rounds} rounds in {block_minutes:g} minutes leave {minutes:.1f} minutes for each, "
            f"and {LEAST_MINUTES:g} are needed: {racks}fewer passes, or blocks of "
            f"{LEAST_MINUTES * rounds:g} minutes"
        )
    return float(int(minutes))


def _rounds(
    team: tuple[str, ...],
    others: tuple[str, ...],
    holes: dict[str, Holes],
    passes: int,
    minutes: tuple[float, float],
) -> Iterator[Round]:
    """Yield both blocks' rounds; every second pass runs backward.

    So it starts with the hole in which the one before it ended: no move
    between passes or blocks. ``minutes`` of a block and of a round.
    """
    hooks, safety = holes[team[0]].hooks, holes[team[0]].safety[next(iter(BARS))]
    for block, bar in enumerate(BARS):
        clock = block * minutes[0]
        for _ in range(passes):
            for turn in rotation(team, others):
                before = hooks, safety
                hooks, safety = holes[turn.lifter].hooks, holes[turn.lifter].safety[bar]
                yield Round(clock, bar, turn, hooks != before[0], safety != before[1])
                clock += minutes[1]
            team = team[::-1]


def _remarks(people: list[Person], stations: list[Station]) -> list[str]:
    """Return what the instructor should know before the session."""
    lists = {
        "reported pain, do not lift": [not p.lifts for p in people],
        "not asked about their shoulders": [p.shoulder_restricted is None for p in people],
        "screening not complete": [not (p.bodyweight_squat and p.goblet_squat) for p in people],
    }
    names = [person.name for person in people]
    remarks = [
        f"{words}: {', '.join(compress(names, on))}" for words, on in lists.items() if any(on)
    ]
    small = min(len(station.lifters + station.others) for station in stations)
    if small < 4:
        remarks.append(f"only {small} at a rack: roles are shared; fewer racks would part them")
    if any(len(station.lifters) == 1 for station in stations):
        remarks.append("nobody can spot where one person is alone: the instructor stays there")
    return remarks
