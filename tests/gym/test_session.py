"""The plan: everything counted from its rounds."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from squatlab import tables
from squatlab.gym.plates import PlateSet
from squatlab.gym.rack import Rack
from squatlab.gym.roster import Person, Roster, read_roster
from squatlab.gym.session import BARS, Session, plan_session
from squatlab.gym.set_up import set_up
from squatlab.mechanics.trunk import Bar


@pytest.fixture(scope="module")
def club() -> Roster:
    return read_roster(tables.folder("data") / "demo" / "roster.csv")


@pytest.fixture(scope="module")
def plan(club: Roster) -> Session:
    return plan_session(club, racks=5, block_minutes=60, passes=2)


def few(*statures: float) -> Roster:
    return Roster(tuple(Person(f"p{i}", height, row=i + 2) for i, height in enumerate(statures)))


def test_everybody_is_planned_once_and_lifts_in_both_blocks(club: Roster, plan: Session) -> None:
    names = [name for station in plan.stations for name in station.lifters + station.others]
    assert sorted(names) == sorted(person.name for person in club.people)
    lifted = Counter(
        (round.bar, round.turn.lifter) for station in plan.stations for round in station.rounds
    )
    able = [person.name for person in club.people if person.lifts]
    assert lifted == Counter({(bar, name): plan.passes for bar in BARS for name in able})
    assert [person.name for person in club.people if not person.lifts] == ["Olive"]


def test_groups_are_balanced_and_the_hooks_move_least(plan: Session) -> None:
    sizes = [len(station.lifters) + len(station.others) for station in plan.stations]
    assert max(sizes) - min(sizes) <= 1
    for station in plan.stations:
        kinds = {plan.holes[name].hooks for name in station.lifters}
        assert station.moves == (len(kinds) - 1) * 2 * plan.passes, "none between passes or blocks"


def test_the_high_bar_comes_first_and_time_is_kept(plan: Session) -> None:
    for station in plan.stations:
        starts = [round.start_min for round in station.rounds]
        assert starts == sorted(starts)
        assert [round.bar for round in station.rounds] == sorted(
            round.bar for round in station.rounds
        )
        assert min(r.start_min for r in station.rounds if r.bar == "low bar") == 60
        assert starts[-1] + plan.round_minutes <= 120 + 1e-9
    assert plan.round_minutes == pytest.approx(60 / (2 * 5))


def test_holes_suit_each_lifter_with_either_bar(club: Roster, plan: Session) -> None:
    loads = [loading.total_kg for loading, _ in plan.ramp]
    assert (loads[0], loads[-1]) == (20, 40), "the empty bar to the light load of the day"
    for person in club.people[:8]:
        lifter, sternum = person.lifter(), person.sternum_m
        done = {
            name: [set_up(plan.rack, lifter, bar(kg), mid_sternum=sternum) for kg in loads]
            for name, bar in (
                ("high bar", Bar.high),
                ("low bar", Bar.high if person.shoulder_restricted else Bar.low),
            )
        }
        holes = plan.holes[person.name]
        assert holes.hooks == min(one.hole for each in done.values() for one in each)
        for bar, each in done.items():
            assert holes.safety[bar] == min(one.safety for one in each)


def test_moves_are_marked_where_the_next_lifter_needs_another_hole(plan: Session) -> None:
    for station in plan.stations:
        hooks = [plan.holes[round.turn.lifter].hooks for round in station.rounds]
        changes = [a != b for a, b in zip(hooks, hooks[1:], strict=False)]
        assert [round.moved for round in station.rounds] == [False, *changes]
        safety = [plan.holes[round.turn.lifter].safety[round.bar] for round in station.rounds]
        changes = [a != b for a, b in zip(safety, safety[1:], strict=False)]
        assert [round.safety_moved for round in station.rounds] == [False, *changes]
        assert station.safety_moves == sum(changes)
        low = next(round for round in station.rounds if round.bar == "low bar")
        assert low.safety_moved == (len(set(plan.holes[low.turn.lifter].safety.values())) > 1)
    assert "moves: hooks 0, safety bars 2\n" in str(plan)


def test_a_restricted_shoulder_keeps_the_holes_of_the_high_bar() -> None:
    free = few(1.75, 1.80)
    hurt = Roster(tuple(replace(one, shoulder_restricted=True) for one in free.people))
    for one, other in zip(*(plan_session(r, 1).holes.values() for r in (free, hurt)), strict=True):
        assert other.safety["low bar"] == other.safety["high bar"] == one.safety["high bar"]
        assert one.safety["low bar"] < one.safety["high bar"]


def test_the_hooks_are_low_enough_for_the_low_bar_too() -> None:
    """For some statures the low bar needs a lower hole than the high bar."""
    people = few(*(1.50 + 0.01 * i for i in range(50)))
    holes = plan_session(people, 10).holes
    differ = 0
    for person in people.people:
        high, low = (
            min(set_up(Rack.of(), person.lifter(), bar(kg)).hole for kg in (20.0, 27.5, 32.5, 40.0))
            for bar in (Bar.high, Bar.low)
        )
        differ += low < high
        assert holes[person.name].hooks == min(high, low)
    assert differ > 0


def test_notes_tell_what_the_instructor_must_know(plan: Session) -> None:
    assert plan.notes == (
        "reported pain, do not lift: Olive",
        "not asked about their shoulders: Thyme",
        "screening not complete: Olive, Yarrow",
    )
    assert [name for name, start in plan.starts.items() if start.finding == "pain"] == ["Olive"]
    assert str(plan).splitlines()[0].startswith("Rack 1: Ginger")


def test_the_same_roster_gives_the_same_plan(club: Roster) -> None:
    once, again = (plan_session(club, 4, block_minutes=40) for _ in range(2))
    assert once.stations == again.stations


def test_whom_the_rack_does_not_suit_is_named_and_can_be_left_out() -> None:
    short = Rack(first_hole_m=0.40, spacing_m=0.05, holes=22)
    people = few(1.70, 2.05, 1.65, 1.80, 1.75)
    with pytest.raises(ValueError) as caught:
        plan_session(people, 1, short)
    assert str(caught.value).startswith("row 3, p1: a bar height of 1.58 m is out of this rack's")
    rest = plan_session(people, 1, short, leave_out=True)
    assert set(rest.holes) == {"p0", "p2", "p3", "p4"}
    assert rest.notes[0] == str(caught.value)
    with pytest.raises(ValueError, match="row 2, p0: a bar height"):
        plan_session(few(2.05), 1, short, leave_out=True)


def test_a_lowest_hole_too_high_for_everybody_is_one_sentence() -> None:
    high = Rack(first_hole_m=0.92, spacing_m=0.05, holes=20)
    for leave_out in (False, True):
        with pytest.raises(ValueError) as caught:
            plan_session(few(1.6, 1.7, 1.8), 1, high, leave_out=leave_out)
        assert str(caught.value) == "92 cm is too high for everybody: measure the lowest hole"
    with pytest.raises(ValueError, match=r"^row 2, p0: a bar height.*\nrow 3, p1: a bar height"):
        plan_session(few(2.2, 2.25), 1, Rack(first_hole_m=0.40, spacing_m=0.05, holes=20))


def test_rows_left_out_of_the_roster_stay_in_the_notes() -> None:
    roster = replace(few(1.6, 1.7, 1.8, 1.9), problems=("row 9, column height: is empty",))
    assert "row 9, column height: is empty" in plan_session(roster, 1).notes


def test_rounds_last_whole_minutes() -> None:
    plan = plan_session(few(1.6, 1.65, 1.7, 1.75, 1.8, 1.85, 1.9), 1, block_minutes=60, passes=1)
    assert plan.round_minutes == 8.0, "60 / 7 = 8.6"
    assert plan.stations[0].rounds[7].start_min == 60


@pytest.mark.parametrize(
    ("unit", "load", "ramp", "straps"),
    [
        ("kg", None, [(20, 8), (27.5, 3), (32.5, 2), (40, 5)], 30),
        ("kg", 20, [(20, 5)], 20),
        ("lb", None, [(45, 8), (50, 4), (65, 3), (80, 2), (95, 5)], 75),
    ],
)
def test_loads_climb_from_the_empty_bar(unit: str, load: float, ramp: list, straps: float) -> None:
    """Counted by hand: 40, 55, 70, 85 % and, for straps, 80 %, rounded down, none under the bar."""
    plan = plan_session(few(1.7, 1.8), 1, plates=PlateSet.of(unit), load=load)
    assert [(loading.total, times) for loading, times in plan.ramp] == ramp
    assert {loading.unit for loading, _ in plan.ramp} == {unit}
    assert plan.strap_held.total == straps


def test_one_person_is_planned_with_the_instructor() -> None:
    alone = plan_session(few(1.75), 1)
    (station,) = alone.stations
    assert [round.turn.spotters for round in station.rounds] == [("instructor",)] * 4
    assert "nobody can spot where one person is alone: the instructor stays there" in alone.notes
    assert any(note.startswith("only 1 at a rack: roles are shared") for note in alone.notes)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"racks": 9}, "9 racks are more than 4 people; use 4 at most"),
        ({"racks": 0}, "0 racks: give at least one"),
        ({"racks": 1, "passes": 0}, "0 passes: everybody lifts at least once in each block"),
        (
            {"racks": 1, "block_minutes": 8, "passes": 1},
            "4 rounds in 8 minutes leave 2.0 minutes "
            "for each, and 3 are needed: use 2 racks, fewer passes, or blocks of 12 minutes",
        ),
        ({"racks": 1, "block_minutes": float("nan")}, "block_minutes is nan; it must lie"),
        ({"racks": 1, "load": 41}, "41 kg cannot be loaded with these plates; the nearest loads"),
        ({"racks": 1, "load": 15}, "15 kg is less than bar and collars, 20 kg"),
        (
            {"racks": 1, "block_minutes": 2, "passes": 1},
            "leave 0.5 minutes for each, and 3 are needed: fewer",
        ),
    ],
)
def test_plans_that_cannot_be_are_refused(arguments: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError) as caught:
        plan_session(few(1.6, 1.7, 1.8, 1.9), **arguments)
    assert words in str(caught.value)


def test_a_roster_on_which_nobody_can_lift() -> None:
    hurt = Person("p0", 1.75, bodyweight_squat=("pain",))
    with pytest.raises(ValueError, match="nobody on this roster can lift today; plan a lesson"):
        plan_session(Roster((hurt,)), 1)
