"""Rotation: roles are counted."""

from __future__ import annotations

from collections import Counter

import pytest

from squatlab.gym.rotation import INSTRUCTOR, Turn, rotation


def counts(turns: tuple[Turn, ...], role: str) -> Counter[str]:
    names = Counter()
    for turn in turns:
        who = getattr(turn, role)
        names.update([who] if isinstance(who, str) else who)
    return names


@pytest.mark.parametrize("people", range(2, 13))
def test_everyone_does_every_role_equally_often(people: int) -> None:
    names = tuple("abcdefghijkl"[:people])
    turns = rotation(names)
    assert tuple(turn.lifter for turn in turns) == names
    for role, each in (
        ("coach", 1),
        ("recorder", 1),
        ("spotters", 2 if people >= 4 else 1),
        ("watching", max(0, people - 5)),
    ):
        assert counts(turns, role) == Counter({name: each for name in names}), role


@pytest.mark.parametrize("people", range(5, 13))
def test_nobody_is_in_two_places(people: int) -> None:
    for turn in rotation(tuple("abcdefghijkl"[:people])):
        busy = [turn.lifter, turn.coach, *turn.spotters, turn.recorder, *turn.watching]
        assert len(busy) == len(set(busy)) == people


@pytest.mark.parametrize("people", range(5, 13))
def test_nobody_spots_right_before_or_after_lifting(people: int) -> None:
    turns = rotation(tuple("abcdefghijkl"[:people]))
    for now, following in zip(turns, turns[1:] + turns[:1], strict=True):
        assert following.lifter not in now.spotters
        assert now.lifter not in following.spotters
        assert now.coach == following.lifter
        assert following.recorder == now.lifter


def test_few_people_share_roles() -> None:
    assert rotation(("a",)) == (Turn("a", INSTRUCTOR, (INSTRUCTOR,), INSTRUCTOR),)
    assert rotation(("a", "b"))[0] == Turn("a", "b", ("b",), "b")
    assert rotation(("a", "b", "c"))[0] == Turn("a", "c", ("b",), "c")
    assert str(rotation(("a", "b", "c"))[0]) == "a lifts, c coaches, b spots, c records"
    assert "c and d spot" in str(rotation(tuple("abcde"))[0])


def test_with_four_two_spot_and_the_coach_records() -> None:
    """A spotter's hands are at the bar; the coach's are free."""
    for turn in rotation(tuple("abcd")):
        assert len({turn.lifter, turn.coach, *turn.spotters}) == 4
        assert turn.recorder == turn.coach


@pytest.mark.parametrize("lifters", range(1, 10))
@pytest.mark.parametrize("others", range(1, 4))
def test_who_does_not_lift_coaches_and_records_and_never_spots(lifters: int, others: int) -> None:
    names, off = tuple("abcdefghij"[:lifters]), tuple("XYZ"[:others])
    turns = rotation(names, off)
    assert [turn.lifter for turn in turns] == list(names)
    assert not set(off) & set(counts(turns, "spotters"))
    spots = counts(turns, "spotters")
    if lifters > 1:
        assert {spots[name] for name in names} == {2 if lifters >= 4 else 1}
    else:
        assert turns[0].spotters == (INSTRUCTOR,)
    for role in ("coach", "recorder"):
        done = counts(turns, role)
        # More turns than another only where too few are free to share further: beside four
        # lifters, of whom two spot, somebody who does not lift has a role in every turn.
        most = 3 if (lifters, others) == (4, 1) else 2
        assert max(done.values()) - min(done[name] for name in names + off) <= most
    busy = [name for name in off for turn in turns if name in (turn.coach, turn.recorder)]
    assert set(busy) == set(off) or lifters == 1


def test_a_name_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="b: in the rotation twice; give each person one name"):
        rotation(("a", "b"), ("b",))
