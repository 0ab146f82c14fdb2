"""The plan: everything counted from its rounds."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from squatlab import tables
from squatlab.gym.rack import Rack
from squatlab.gym.roster import Person, Roster, read_roster
from squatlab.gym.session import BARS, CAUTION, Session, plan_session
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
    assert plan.moves == sum(station.moves for station in plan.stations)


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
    for person in club.people[:8]:
        holes = plan.holes[person.name]
        done = [
            set_up(plan.rack, person.lifter(), bar, mid_sternum=person.sternum_height_m)
            for bar in (Bar.high(20.0), Bar.low(20.0))
        ]
        assert holes.hooks == min(done[0].hole, done[1].hole)
        assert (holes.high, holes.low) == (done[0].safety, done[1].safety)
    for station in plan.stations:
        for round in station.rounds:
            holes = plan.holes[round.turn.lifter]
            assert round.hooks == holes.hooks
            assert round.safety == {"high bar": holes.high, "low bar": holes.low}[round.bar]


def test_the_hooks_are_low_enough_for_the_low_bar_too() -> None:
    """For some statures the low bar needs a lower hole than the high bar."""
    people = few(*(1.50 + 0.01 * i for i in range(50)))
    holes = plan_session(people, 10).holes
    differ = 0
    for person in people.people:
        high, low = (
            set_up(Rack.of(), person.lifter(), bar).hole for bar in (Bar.high(20.0), Bar.low(20.0))
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
    assert [advice.name for advice in plan.advice if advice.finding == "pain"] == ["Olive"]
    assert str(plan).splitlines()[0].startswith("Rack 1: Ginger")
    assert "licensed practice" in CAUTION
    assert "local codes" in CAUTION


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


def test_rows_left_out_of_the_roster_stay_in_the_notes() -> None:
    roster = replace(few(1.6, 1.7, 1.8, 1.9), problems=("row 9, column height: is empty",))
    assert "row 9, column height: is empty" in plan_session(roster, 1).notes


def test_one_person_is_planned_with_the_instructor() -> None:
    alone = plan_session(few(1.75), 1)
    (station,) = alone.stations
    assert [round.turn.spotters for round in station.rounds] == [("instructor",)] * 2
    assert "nobody can spot where one person is alone: the instructor stays there" in alone.notes
    assert any(note.startswith("only 1 at a rack: roles are shared") for note in alone.notes)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"racks": 9}, "9 racks are more than 4 people; use 4 at most"),
        ({"racks": 0}, "0 racks: give at least one"),
        ({"racks": 1, "passes": 0}, "0 passes: everybody lifts at least once in each block"),
        ({"racks": 1, "block_minutes": 8}, "4 rounds in 8 minutes leave 2.0 minutes for each, and "
         "3 are needed: use 2 racks, fewer passes, or blocks of 12 minutes"),
        ({"racks": 1, "block_minutes": 2}, "leave 0.5 minutes for each, and 3 are needed: fewer"),
    ],
)  # fmt: skip
def test_plans_that_cannot_be_are_refused(arguments: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError) as caught:
        plan_session(few(1.6, 1.7, 1.8, 1.9), **arguments)
    assert words in str(caught.value)


def test_a_roster_on_which_nobody_can_lift() -> None:
    hurt = Person("p0", 1.75, bodyweight_squat=("pain",))
    with pytest.raises(ValueError, match="nobody on this roster can lift today; plan a lesson"):
        plan_session(Roster((hurt,)), 1)
