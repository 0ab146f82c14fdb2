"""Who lifts, coaches, spots and records in each round at one rack."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

INSTRUCTOR = "instructor"
"""Fills a role for which nobody at the rack is left."""


@dataclass(frozen=True)
class Turn:
    """Name who does what while one person lifts.

    With three or four at a rack the coach records too, with two the
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
    the rested spot. From four lifters on there are two spotters; with
    four, one of them has just lifted, and the coach records.
    ``others`` do not lift today: they neither spot, but coach and record,
    as near to equally as can be. Raises ValueError for a name twice.
    """
    twice = [name for name, count in Counter(lifters + others).items() if count > 1]
    if twice:
        raise ValueError(f"{', '.join(twice)}: in the rotation twice; give each person one name")
    done: Counter[tuple[str, str]] = Counter()
    turns = []
    for number, lifter in enumerate(lifters):
        turn = _turn(lifter, lifters[number + 1 :] + lifters[:number], others, done)
        done.update([("coaches", turn.coach), ("records", turn.recorder)])
        turns.append(turn)
    return tuple(turns)


def _turn(
    lifter: str, circle: tuple[str, ...], others: tuple[str, ...], done: Counter[tuple[str, str]]
) -> Turn:
    """Fill the roles around a lifter; ``circle`` starts with the next one.

    The spotters have fixed places on the circle, so that each place, and
    so each role, comes to everybody once; if it can be, they are neither
    the next to lift nor the last.
    """
    # Of one or two others the next to lift spots; of more the second and the third.
    spotters = circle[:1] if len(circle) < 3 else circle[1:3]
    free = [name for name in circle + others if name not in spotters]
    if not free:
        partner = circle[0] if circle else INSTRUCTOR
        return Turn(lifter, partner, (partner,), partner)

    def least_often(role: str) -> list[str]:
        """Return names, who had a role least often first.

        Of those as often, who coached and recorded least, and does not lift.
        """

        def key(name: str) -> tuple[int, int, bool]:
            total = done["coaches", name] + done["records", name]
            return done[role, name], total, name in circle

        return sorted(free, key=key)

    coach, recorder = free[0], free[-1]
    if others:
        coach = least_often("coaches")[0]
        recorder = next((name for name in least_often("records") if name != coach), coach)
    watching = tuple(name for name in free if name not in (coach, recorder))
    return Turn(lifter, coach, spotters or (INSTRUCTOR,), recorder, watching)
