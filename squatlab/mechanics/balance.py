"""Find the lean that balances, or hold a chosen one."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from squatlab.lifter import Lifter
from squatlab.mechanics import trunk
from squatlab.mechanics.legs import Leg, Stance, end_masses, leg_from_angles, midway
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.ranges import check_shapes, shown, within

THIGH_RANGE = (-60.0, 89.0, "° of thigh elevation (0 is level, negative is deeper)")
SHANK_RANGE = (-30.0, 70.0, "° of shank lean from the vertical")
TRUNK_RANGE = (-30.0, 90.0, "° of trunk lean from the vertical")
LUMBAR_RANGE = (-45.0, 80.0, "° of lumbar flexion")
TARGET_RANGE = (-0.5, 0.5, "m ahead of mid-foot")


def balance(
    lifter: Lifter,
    bar: Bar,
    stance: Stance,
    thigh_deg: ArrayLike = 0.0,
    shank_deg: ArrayLike = 30.0,
    over: str = "system",
    target_x_m: ArrayLike | None = None,
    lumbar_deg: ArrayLike = 0.0,
) -> Posture:
    """Find the trunk lean that balances a given leg posture.

    Puts the system's centre of mass (``over="system"``) or the bar
    (``over="bar"``) over ``target_x_m``, which is left to
    the feet's support unless given: mid-foot, or the ball of the foot
    where the heels are in the air. Any argument may be an array; closed
    form. A posture that cannot be is marked, not raised; ValueError for
    numbers out of range.
    """
    if target_x_m is not None:
        target_x_m = within("target_x_m", target_x_m, *TARGET_RANGE)
    _check_fit(
        lifter,
        bar,
        stance,
        thigh_deg=thigh_deg,
        shank_deg=shank_deg,
        target_x_m=target_x_m,
        lumbar_deg=lumbar_deg,
    )
    right, left = _legs(lifter, stance, thigh_deg, shank_deg)
    lumbar = np.radians(within("lumbar_deg", lumbar_deg, *LUMBAR_RANGE))
    return balance_on(lifter, bar, stance, right, left, over, target_x_m, lumbar)


def balance_on(
    lifter: Lifter,
    bar: Bar,
    stance: Stance,
    right: Leg,
    left: Leg,
    over: str = "system",
    target_x_m: ArrayLike | None = None,
    lumbar: ArrayLike = 0.0,
) -> Posture:
    """Find the balancing trunk lean over legs that are already placed.

    As ``balance``; ``lumbar`` is in radians.
    """
    if target_x_m is None:
        target_x_m = stance.support.target_x(right.ball)
    spot, level = _spot_and_target(lifter, bar, right, left, over, target_x_m, lumbar)
    # A lean of τ takes the spot to along sin τ − behind cos τ ahead of the hips, and that
    # must be ``level``. With radius = hypot(along, behind) it reads
    #   sin(τ − atan2(behind, along)) = level / radius,
    # and of the two roots the one with the trunk above the level is meant. Nothing balances
    # where level is more than the radius: the root is nan and the posture is marked.
    radius = np.hypot(spot.along, spot.behind)
    up, back = spot.along / radius, spot.behind / radius
    ratio = level / radius
    with np.errstate(invalid="ignore"):
        root = np.sqrt(1.0 - ratio * ratio)
    # Sine and cosine of τ = asin(ratio) + atan2(behind, along) by the addition theorems: two
    # products in place of three slow functions, for a million postures.
    sine = ratio * up + root * back
    cosine = root * up - ratio * back
    return Posture(lifter, bar, stance, right, left, sine, cosine, lumbar, target_x_m)


def pose(
    lifter: Lifter,
    bar: Bar,
    stance: Stance,
    trunk_deg: ArrayLike,
    thigh_deg: ArrayLike = 0.0,
    shank_deg: ArrayLike = 30.0,
    lumbar_deg: ArrayLike = 0.0,
) -> Posture:
    """Hold a chosen trunk lean, balanced or not.

    ``com_shift`` says how far ahead of mid-foot the system's centre then
    is; not feasible once it leaves the feet. ValueError for numbers out
    of range.
    """
    _check_fit(
        lifter,
        bar,
        stance,
        trunk_deg=trunk_deg,
        thigh_deg=thigh_deg,
        shank_deg=shank_deg,
        lumbar_deg=lumbar_deg,
    )
    right, left = _legs(lifter, stance, thigh_deg, shank_deg)
    lean = np.radians(within("trunk_deg", trunk_deg, *TRUNK_RANGE))
    lumbar = np.radians(within("lumbar_deg", lumbar_deg, *LUMBAR_RANGE))
    return Posture(lifter, bar, stance, right, left, np.sin(lean), np.cos(lean), lumbar)


def _check_fit(lifter: Lifter, bar: Bar, stance: Stance, **numbers: ArrayLike | None) -> None:
    """Raise ValueError where nouns and numbers do not broadcast together."""
    shapes = {"lifter": lifter.shape, "bar": bar.shape, "stance": stance.shape}
    shapes |= {name: np.shape(number) for name, number in numbers.items() if number is not None}
    check_shapes("a posture", shapes)


def _legs(
    lifter: Lifter, stance: Stance, thigh_deg: ArrayLike, shank_deg: ArrayLike
) -> tuple[Leg, Leg]:
    """Return the right and the left leg; ValueError for angles out of range."""
    thigh = np.radians(within("thigh_deg", thigh_deg, *THIGH_RANGE))
    shank = np.radians(within("shank_deg", shank_deg, *SHANK_RANGE))
    right = leg_from_angles(lifter, stance, thigh, shank)
    return right, right.mirrored()


def _spot_and_target(
    lifter: Lifter,
    bar: Bar,
    right: Leg,
    left: Leg,
    over: str,
    target_x_m: ArrayLike,
    lumbar: ArrayLike,
) -> tuple[trunk.Spot, ArrayLike]:
    """Return the spot of the trunk to place, and how far ahead of the hips, m.

    The bar's own spot, or the common centre of all that the hips carry:
    that centre belongs where the whole system's centre comes over the
    target, M x_target = load (x_hip + level) + Σ m x of the legs' joints.
    """
    hip_x = midway(right.hip, left.hip).x
    if isinstance(over, str) and over == "bar":
        return trunk.spot_of_bar(lifter, bar, lumbar), target_x_m - hip_x
    if not isinstance(over, str) or over != "system":
        raise ValueError(f'over is {shown(over)}; choose "system" or "bar"')
    load, spot = trunk.load_on_hips(lifter, bar, lumbar)
    shares = end_masses(lifter)
    total = load + sum(shares.values())
    # First moments of mass, kg·m; what is left for the load after hips and legs.
    moment = total * target_x_m - load * hip_x
    for joint, mass in shares.items():
        moment = moment - mass * midway(getattr(right, joint), getattr(left, joint)).x
    return spot, moment / load
