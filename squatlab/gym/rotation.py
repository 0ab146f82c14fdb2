"""Who lifts, coaches, spots and records in each round at one rack."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

INSTRUCTOR = "instructor"
"""Fills a role for which nobody at the rack is left."""


@dataclass(frozen=True)
class Turn:
    """Name who does what while one person lifts.

    With three at a rack one person coaches and records, with two the
    partner does everything; the rest watch and load plates.
    """

    lifter: str
    coach: str
    spotters: tuple[str, ...]
    recorder: str
    watching: tuple[str, ...] = ()

    def __str__(self) -> str:
        return (
            f"{self.lifter} lifts, {self.coach} coaches, {' and '.join(self.spotters)} "
            f"{'spots' if len(self.spotters) == 1 else 'spot'}, {self.recorder} records"
        )


def rotation(lifters: tuple[str, ...], others: tuple[str, ...] = ()) -> tuple[Turn, ...]:
    """Return one turn for each lifter, in the order given.

    Everybody lifts once and, where all lift, does every role equally
    often. The next to lift coaches, the one who has just lifted records,
    the rested spot; from five lifters on there are two spotters.
    ``others`` do not lift today: they neither spot, but coach and record,
    as near to equally as can be. Raises ValueError for a name twice.
    """
    names = lifters + others
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        raise ValueError(f"{', '.join(twice)}: in the rotation twice; give each person one name")
    done: Counter[tuple[str, str]] = Counter()
    turns = []
    for number, lifter in enumerate(lifters):
        circle = lifters[number + 1 :] + lifters[:number]
        turn = _turn(lifter, circle, others, done)
        done.update((name, "spots") for name in turn.spotters)
        done.update([(turn.coach, "coaches"), (turn.recorder, "records")])
        turns.append(turn)
    return tuple(turns)


def _turn(
    lifter: str, circle: tuple[str, ...], others: tuple[str, ...], done: Counter[tuple[str, str]]
) -> Turn:
    """Fill the roles around a lifter; ``circle`` starts with the next one."""
    if not circle and not others:
        return Turn(lifter, INSTRUCTOR, (INSTRUCTOR,), INSTRUCTOR)
    spotters = _spotters(circle)
    free = [name for name in circle + others if name not in spotters]
    if not free:
        (partner,) = spotters
        return Turn(lifter, partner, spotters, partner)
    if others:
        coach = min(free, key=_seldom("coaches", circle, done))
        rest = [name for name in free if name != coach]
        recorder = min(rest, key=_seldom("records", circle, done), default=coach)
    else:
        coach, recorder = free[0], free[-1]
    watching = tuple(name for name in free if name not in (coach, recorder))
    return Turn(lifter, coach, spotters or (INSTRUCTOR,), recorder, watching)


def _seldom(
    role: str, circle: tuple[str, ...], done: Counter[tuple[str, str]]
) -> Callable[[str], tuple[int, int, bool]]:
    """Return what to order people by: fewest times in the role, then in any."""
    return lambda name: (
        done[name, role],
        done[name, "coaches"] + done[name, "records"],
        name in circle,
    )


def _spotters(circle: tuple[str, ...]) -> tuple[str, ...]:
    """Return the spotters: neither the next lifter nor the last, if it can be.

    Fixed places on the circle, so that each place, and so each role,
    comes to everybody once.
    """
    if len(circle) <= 2:
        return circle[:1]
    return circle[1:2] if len(circle) == 3 else circle[1:3]
