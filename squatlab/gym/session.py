"""A practice session: who is at which rack, its holes, who does what and when.

The road: `roster` says who comes, `set_up` finds everybody's holes, `grouping`
shares them among racks, `rotation` gives the roles. `show.sheets` prints it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import NamedTuple

from squatlab.gym.grouping import share
from squatlab.gym.plates import STRAP_HELD, LoadedSet, Loading, PlateSet, warm_up
from squatlab.gym.rack import Rack, RackTooHighError
from squatlab.gym.roster import Person, Roster, RosterRowsError
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
    """Hold one person's holes: the hooks', the safety bars' by the block's bar."""

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

    ``ramp`` has the sets from the empty bar up to the day's load;
    ``strap_held`` is the most with a strap-held or padded bar.
    ``notes`` are for the instructor: who could not be planned and why,
    who does not lift, what was not asked.
    """

    rack: Rack
    stations: tuple[Station, ...]
    holes: dict[str, Holes]
    starts: dict[str, Start]
    ramp: tuple[LoadedSet, ...]
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
    is the heaviest of the day. Raises RosterRowsError that names who and why;
    with ``leave_out`` people whom the rack does not suit are left out and
    named in ``notes``.
    """
    rack, plates = rack or Rack.of(), plates or PlateSet.of()
    heaviest = plates.load(LOAD[plates.unit] if load is None else load)
    ramp = (*warm_up(plates, heaviest.total), LoadedSet(heaviest, REPETITIONS))
    straps = plates.at_most(max(STRAP_HELD * heaviest.total, plates.empty))
    loads_kg = {step.loading.total_kg for step in ramp}
    holes: dict[str, Holes] = {}
    notes: list[str] = []
    too_high = 0
    for person in roster.people:
        try:
            holes[person.name] = _holes(person, rack, loads_kg)
        except ValueError as error:
            notes.append(f"row {person.row}, {person.name}: {error}")
            too_high += isinstance(error, RackTooHighError)
    if not holes and len(notes) == too_high > 1:
        first = rack.height_words(rack.first_hole_m)
        raise RackTooHighError(f"{first} is too high for everybody: measure the lowest hole")
    if notes and not (leave_out and holes):
        refusal = RosterRowsError if holes else ValueError
        raise refusal("\n".join(notes))
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
    others_of = _beside([person.name for person in people if not person.lifts], teams)
    minutes = _round_minutes(block_minutes, max(map(len, teams)) * passes, len(lifting), passes)
    stations = []
    for team, others in zip(teams, others_of, strict=True):
        rounds = tuple(_rounds(team, others, holes, passes, block_minutes, minutes))
        stations.append(Station(team, others, rounds))
    starts = {person.name: start(person) for person in people}
    notes += [*roster.problems, *_remarks(people, stations)]
    return Session(
        rack=rack,
        stations=tuple(stations),
        holes=holes,
        starts=starts,
        ramp=ramp,
        strap_held=straps,
        round_minutes=minutes,
        passes=passes,
        notes=tuple(notes),
    )


def _beside(names: list[str], teams: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Return for each team who of those that do not lift goes there: to the smallest, in turn."""
    others: list[tuple[str, ...]] = [()] * len(teams)
    for name in names:
        smallest = min(range(len(teams)), key=lambda place: len(teams[place] + others[place]))
        others[smallest] += (name,)
    return others


def _holes(person: Person, rack: Rack, loads_kg: set[float]) -> Holes:
    """Return the holes that suit each of the day's loads, so the lowest."""
    hooks, safety = [], {}
    for name, bar in BARS.items():
        # A restricted shoulder takes no low bar: in both blocks the high bar's holes.
        bar = Bar.high if person.shoulder_restricted else bar
        lifter, sternum = person.lifter(), person.sternum_m
        set_ups = [set_up(rack, lifter, bar(kg), mid_sternum=sternum) for kg in loads_kg]
        hooks += [for_load.hole for for_load in set_ups]
        safety[name] = min(for_load.safety for for_load in set_ups)
    # One hole for both bars, so that the hooks stay between the blocks.
    return Holes(min(hooks), safety)


def _round_minutes(block_minutes: float, rounds: int, people: int, passes: int) -> float:
    """Return the length of a round, whole minutes, or say why it is too short."""
    if passes < 1:
        raise ValueError(f"{passes} passes: everybody lifts at least once in each block")
    minutes = within("block_minutes", block_minutes, 1, 480, "minutes") / rounds
    if minutes < LEAST_MINUTES:
        fitting = int(block_minutes // (LEAST_MINUTES * passes))
        racks = f"use {ceil(people / fitting)} racks, " if fitting else ""
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
    block_minutes: float,
    round_minutes: float,
) -> Iterator[Round]:
    """Yield both blocks' rounds; every second pass runs backward.

    So it starts with the hole in which the one before it ended: no move
    between passes or blocks.
    """
    hooks, safety = holes[team[0]].hooks, holes[team[0]].safety[next(iter(BARS))]
    for block, bar in enumerate(BARS):
        start_min = block * block_minutes
        for _ in range(passes):
            for turn in rotation(team, others):
                hooks_before, safety_before = hooks, safety
                hooks, safety = holes[turn.lifter].hooks, holes[turn.lifter].safety[bar]
                yield Round(
                    start_min,
                    bar,
                    turn,
                    moved=hooks != hooks_before,
                    safety_moved=safety != safety_before,
                )
                start_min += round_minutes
            team = team[::-1]


def _remarks(people: list[Person], stations: list[Station]) -> list[str]:
    """Return what the instructor should know before the session."""
    named: dict[str, list[str]] = {
        "reported pain, do not lift": [],
        "not asked about their shoulders": [],
        "screening not complete": [],
    }
    for person in people:
        if not person.lifts:
            named["reported pain, do not lift"].append(person.name)
        if person.shoulder_restricted is None:
            named["not asked about their shoulders"].append(person.name)
        if not (person.bodyweight_squat and person.goblet_squat):
            named["screening not complete"].append(person.name)
    remarks = [f"{words}: {', '.join(names)}" for words, names in named.items() if names]
    small = min(len(station.lifters + station.others) for station in stations)
    if small < 4:
        remarks.append(f"only {small} at a rack: roles are shared; fewer racks would part them")
    if any(len(station.lifters) == 1 for station in stations):
        remarks.append("nobody can spot where one person is alone: the instructor stays there")
    return remarks
