"""Why a lifter cannot hold a posture, in words a coach can act on."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables

if TYPE_CHECKING:
    from squatlab.mechanics.posture import Posture

SLACK = 1e-6
"""Rounding allowed at a limit, degrees or metres."""

OBSTACLES = (
    "stance out of reach",
    "no lean balances",
    "ankles do not bend so far",
    "knees do not bend so far",
    "hips do not bend so far",
    "tips backward",
    "tips forward",
)
"""Short names of the problems, in the order in which they are looked for."""


class Problem(NamedTuple):
    """Say where a problem is present and how to word it for one posture."""

    present: ArrayLike
    words: Callable[..., str]
    values: tuple[ArrayLike, ...] = ()


def problems(posture: Posture) -> tuple[Problem, ...]:
    """Return every check of a posture, in the order of ``OBSTACLES``."""
    reachable = np.isfinite(posture.hip.x) & np.isfinite(posture.knee.x)
    return (
        Problem(
            ~reachable,
            lambda: (
                "the stance is out of reach: the thigh is too short for these feet and knees; "
                "bring the heels closer, turn the feet out less or choose another depth"
            ),
        ),
        Problem(
            reachable & ~np.isfinite(posture.sine),
            lambda: (
                "no trunk lean balances this: even level, the trunk cannot bring the weight "
                "over the feet; lean the shanks more or squat less deep"
            ),
        ),
        _over_limit(
            _worse(posture, "dorsiflexion"),
            posture.lifter.dorsiflexion_deg,
            lambda needed, limit: (
                f"the ankles would have to bend {needed:.0f}° and this lifter's "
                f"limit is {limit:.0f}°; keep the shins more upright or put a "
                "wedge under the heels"
            ),
        ),
        _over_limit(
            _worse(posture, "knee_flexion"),
            tables.value("limits", name="knee", quantity="flexion"),
            lambda needed, limit: (
                f"the knees would have to bend {needed:.0f}°, past the "
                f"{limit:.0f}° at which thigh meets calf; squat less deep"
            ),
        ),
        _over_limit(
            posture.hip_flexion_deg,
            tables.value("limits", name="hip", quantity="flexion"),
            lambda needed, limit: (
                f"the hips would have to bend {needed:.0f}°, past the "
                f"{limit:.0f}° at which trunk meets thigh; squat less deep or lean less"
            ),
        ),
        *_off_the_feet(posture),
    )


def _worse(posture: Posture, angle: str) -> ArrayLike:
    """Return the larger of both legs' angles, degrees."""
    right = getattr(posture.right, angle)()
    if posture.right.knee.x is not posture.left.knee.x:
        right = np.maximum(right, getattr(posture.left, angle)())
    return np.degrees(right)


def _over_limit(needed: ArrayLike, limit: ArrayLike, words: Callable[..., str]) -> Problem:
    return Problem(np.greater(needed, np.asarray(limit) + SLACK), words, (needed, limit))


def _off_the_feet(posture: Posture) -> tuple[Problem, Problem]:
    """Return the two ways of tipping off the part of the foot that bears."""
    base = posture.base
    x = posture.system_centre.x
    return (
        Problem(
            np.less(x, base.rear_x - SLACK),
            lambda x, edge: (
                f"the lifter tips backward: the centre of mass is "
                f"{100 * (edge - x):.1f} cm behind the "
                "part of the foot that bears weight; lean more or bring the knees forward"
            ),
            (x, base.rear_x),
        ),
        Problem(
            np.greater(x, base.front_x + SLACK),
            lambda x, edge: (
                f"the lifter tips forward: the centre of mass is "
                f"{100 * (x - edge):.1f} cm ahead of the toes; lean less or sit back"
            ),
            (x, base.front_x),
        ),
    )


def first_reason(found: tuple[Problem, ...]) -> str | NDArray[np.str_]:
    """Return the first problem's words; "" without one; arrays for many."""
    shape = np.broadcast_shapes(*(np.shape(problem.present) for problem in found))
    reasons = np.full(shape, "", dtype=object)
    for problem in reversed(found):
        present = np.broadcast_to(problem.present, shape)
        values = [np.broadcast_to(value, shape) for value in problem.values]
        for index in np.argwhere(present):
            at = tuple(index)
            reasons[at] = problem.words(*(value[at] for value in values))
    return reasons[()] if shape == () else reasons
