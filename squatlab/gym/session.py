"""A practice session: who is at which rack, its holes, who does what and when."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from squatlab.gym.grouping import groups
from squatlab.gym.rack import Rack
from squatlab.gym.roster import Person, Roster
from squatlab.gym.rotation import Turn, rotation
from squatlab.gym.screening import Advice, advise
from squatlab.gym.set_up import set_up
from squatlab.mechanics.trunk import Bar

BARS = ("high bar", "low bar")
"""The order of the blocks: the high bar is learned first."""

LEAST_MINUTES = 3.0
"""Shortest round: change plates and hooks, one set, a word about it
[teaching-value]."""

CAUTION = (
    "Before the first set: safety bars in the hole given, spotters named, collars on, light loads. "
    "Stop on pain. Pain, injury and medical conditions belong to licensed practice. "
    "The facility's rules and local codes come first."
)


@dataclass(frozen=True)
class Holes:
    """Hold one person's holes: hooks for both bars, safety bars for each.

    ``high`` and ``low`` are the holes of the safety bars.
    """

    hooks: int
    high: int
    low: int


@dataclass(frozen=True)
class Round:
    """Hold one round at one rack: when, which bar, who, which holes.

    ``start_min`` counts from the beginning of the session; ``moved`` says
    that the hooks are in another hole than in the round before.
    """

    start_min: float
    bar: str
    turn: Turn
    hooks: int
    safety: int
    moved: bool


@dataclass(frozen=True)
class Station:
    """Hold one rack's people, in order of holes, and its rounds."""

    lifters: tuple[str, ...]
    others: tuple[str, ...]
    rounds: tuple[Round, ...]

    @property
    def moves(self) -> int:
        """Return how often the hooks move once the first lifter began."""
        return sum(round.moved for round in self.rounds)


@dataclass(frozen=True)
class Session:
    """Hold the plan: stations, holes and advice by name, minutes, words.

    ``notes`` are for the instructor: who could not be planned and why,
    who does not lift, what was not asked.
    """

    rack: Rack
    stations: tuple[Station, ...]
    holes: dict[str, Holes]
    advice: tuple[Advice, ...]
    round_minutes: float
    passes: int
    notes: tuple[str, ...]

    @property
    def moves(self) -> int:
        """Return how often hooks move at all racks together."""
        return sum(station.moves for station in self.stations)

    def __str__(self) -> str:
        lines = [
            f"Rack {number}: {', '.join(station.lifters + station.others)}; "
            f"{len(station.rounds)} rounds of {self.round_minutes:.0f} min, hooks move "
            f"{station.moves} times"
            for number, station in enumerate(self.stations, start=1)
        ]
        return "\n".join([*lines, *self.notes])


def plan_session(
    roster: Roster,
    racks: int,
    rack: Rack | None = None,
    block_minutes: float = 60.0,
    passes: int = 1,
    bar_kg: float = 20.0,
    leave_out: bool = False,
) -> Session:
    """Plan groups, holes and rotation for a roster and a number of racks.

    Two blocks of ``block_minutes``, high bar and then low bar, in each of
    which everybody lifts ``passes`` times. ``bar_kg`` is the light load
    of the day. Raises ValueError that names who and why; with
    ``leave_out`` people whom the rack does not suit are left out and
    named in ``notes``.
    """
    rack = rack or Rack.of()
    holes, notes = _holes(roster.people, rack, bar_kg, leave_out)
    people = [person for person in roster.people if person.name in holes]
    lifting = {person.name: holes[person.name].hooks for person in people if person.lifts}
    if not lifting:
        raise ValueError("nobody on this roster can lift today; plan a lesson without the bar")
    teams = groups(lifting, racks)
    beside = _deal([person.name for person in people if not person.lifts], teams)
    longest = max(len(team) for team in teams)
    minutes = _round_minutes(block_minutes, longest * passes, len(lifting), passes)
    stations = tuple(
        Station(team, others, _rounds(team, others, holes, minutes, block_minutes, passes))
        for team, others in zip(teams, beside, strict=True)
    )
    advice = tuple(advise(person) for person in people)
    notes += [*roster.problems, *_remarks(people, stations)]
    return Session(rack, stations, holes, advice, minutes, passes, tuple(notes))


def _holes(
    people: Iterable[Person], rack: Rack, bar_kg: float, leave_out: bool
) -> tuple[dict[str, Holes], list[str]]:
    """Return everybody's holes, and words about those the rack does not suit."""
    holes: dict[str, Holes] = {}
    problems = []
    for person in people:
        lifter, sternum = person.lifter(), person.sternum_height_m
        try:
            high, low = (
                set_up(rack, lifter, bar, mid_sternum=sternum)
                for bar in (Bar.high(bar_kg), Bar.low(bar_kg))
            )
        except ValueError as error:
            problems.append(f"row {person.row}, {person.name}: {error}")
        else:
            # One hole for both bars, so that the hooks stay between the blocks: the lower of two.
            holes[person.name] = Holes(min(high.hole, low.hole), high.safety, low.safety)
    if problems and not (leave_out and holes):
        raise ValueError("\n".join(problems))
    return holes, problems


def _deal(names: list[str], teams: tuple[tuple[str, ...], ...]) -> list[tuple[str, ...]]:
    """Give each person who does not lift to the smallest team."""
    dealt: list[list[str]] = [[] for _ in teams]
    for name in names:
        sizes = [len(team) + len(extra) for team, extra in zip(teams, dealt, strict=True)]
        dealt[sizes.index(min(sizes))].append(name)
    return [tuple(extra) for extra in dealt]


def _round_minutes(block_minutes: float, rounds: int, people: int, passes: int) -> float:
    """Return the length of a round, or say why it would be too short."""
    if passes < 1:
        raise ValueError(f"{passes} passes: everybody lifts at least once in each block")
    minutes = block_minutes / rounds
    if minutes < LEAST_MINUTES:
        fitting = int(block_minutes // (LEAST_MINUTES * passes))
        racks = f"use {-(-people // fitting)} racks, " if fitting else ""
        raise ValueError(
            f"{rounds} rounds in {block_minutes:g} minutes leave {minutes:.1f} minutes for each, "
            f"and {LEAST_MINUTES:g} are needed: {racks}fewer passes, or blocks of "
            f"{LEAST_MINUTES * rounds:g} minutes"
        )
    return minutes


def _rounds(
    lifters: tuple[str, ...],
    others: tuple[str, ...],
    holes: dict[str, Holes],
    minutes: float,
    block_minutes: float,
    passes: int,
) -> tuple[Round, ...]:
    """Return both blocks' rounds; every second pass runs backward.

    Backward, so that a pass starts with the hole in which the one before
    it ended: no move between passes or between blocks. The last to lift
    in a pass is the first in the next, a whole round later.
    """
    rounds: list[Round] = []
    order = lifters
    for block, bar in enumerate(BARS):
        clock = block * block_minutes
        for _ in range(passes):
            for turn in rotation(order, others):
                mine = holes[turn.lifter]
                moved = bool(rounds) and rounds[-1].hooks != mine.hooks
                safety = mine.high if bar == "high bar" else mine.low
                rounds.append(Round(clock, bar, turn, mine.hooks, safety, moved))
                clock += minutes
            order = order[::-1]
    return tuple(rounds)


def _remarks(people: list[Person], stations: tuple[Station, ...]) -> list[str]:
    """Return what the instructor should know before the session."""
    off = [person.name for person in people if not person.lifts]
    unasked = [person.name for person in people if person.shoulder_restricted is None]
    unscreened = [
        person.name for person in people if not (person.bodyweight_squat and person.goblet_squat)
    ]
    small = min(len(station.lifters) + len(station.others) for station in stations)
    return [
        words
        for words, needed in (
            (f"reported pain, do not lift: {', '.join(off)}", off),
            (f"not asked about their shoulders: {', '.join(unasked)}", unasked),
            (f"screening not complete: {', '.join(unscreened)}", unscreened),
            (f"only {small} at a rack: roles are shared; fewer racks would part them", small < 4),
            (
                "nobody can spot where one person is alone: the instructor stays there",
                any(len(station.lifters) == 1 for station in stations),
            ),
        )
        if needed
    ]
