"""What each joint must hold while the body moves: Newton and Euler.

Every moment is a sum over bodies: weight and inertia of each, at its
distance from the joint, plus the ground's push where it is known.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.mechanics import trunk
from squatlab.mechanics.legs import midway
from squatlab.mechanics.moments import JointMoments
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.vectors import Vector
from squatlab.ranges import check_shapes, numbers


def chain_moments(
    points: ArrayLike,
    masses: ArrayLike,
    inertias: ArrayLike,
    com_fractions: ArrayLike,
    ground_force: ArrayLike | None = None,
    ground_point: ArrayLike | None = None,
    time: ArrayLike | None = None,
    accelerations: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Return the moments at the joints of a measured chain of segments.

    ``points`` (time, point, 2 or 3) m run from the proximal end to the
    end on the ground; segment i lies between points i and i + 1 with
    its mass (kg), moment of inertia across its length about its centre
    (kg·m²) and centre as a fraction from the proximal end. The ground's
    force (time, axis) N acts at ``ground_point`` (time, axis) m; left
    out, the proximal end is taken to be free and the ground's push
    follows from the chain itself. Accelerations of the points, m/s²,
    come from ``time`` (s) by differences unless given; neither means
    at rest. Filter measured points first.

    Returns (time, segment) in a plane, (time, segment, 3) in space,
    N·m on the distal segment at each proximal end, counter-clockwise
    positive. Raises ValueError for shapes that do not fit
    [vandenbogert1996].
    """
    points = numbers("points", points)
    if points.ndim < 2 or points.shape[-2] < 2:
        raise ValueError(
            f"points has shape {points.shape}; give (time, point, 2 or 3), two points or more "
            "for each time, from the proximal end to the one on the ground"
        )
    planar = points.shape[-1] == 2
    count = points.shape[-2] - 1
    masses, inertias, com_fractions = (
        _per_segment(name, value, count)
        for name, value in (
            ("masses", masses),
            ("inertias", inertias),
            ("com_fractions", com_fractions),
        )
    )
    points = _in_space(points)
    acceleration = _accelerations(points, time, accelerations)
    start, end = points[..., :-1, :], points[..., 1:, :]
    a_start, a_end = acceleration[..., :-1, :], acceleration[..., 1:, :]
    centres = start + com_fractions[:, None] * (end - start)
    a_centres = a_start + com_fractions[:, None] * (a_end - a_start)
    # What must act on each segment, N: m (a − g), that is inertia and weight together.
    force = masses[:, None] * (a_centres + [0.0, tables.G, 0.0])
    # What must turn it about its own centre, N·m: I α. The angular acceleration of a rod is
    # α = r × r̈ / |r|², with r from one end to the other, as long as its length stays.
    line = end - start
    squared = np.sum(line**2, axis=-1, keepdims=True)
    spin = inertias[:, None] * np.cross(line, a_end - a_start) / squared

    # Moments about the origin are added up over the segments first; a joint's own moment
    # then needs one shift, M_joint = M_origin − r_joint × F.
    about_origin = np.cross(centres, force) + spin
    if ground_force is None:
        held_force = -_running_total(force, from_ground=False)
        held_moment = -_running_total(about_origin, from_ground=False)
    else:
        push = _at_each_instant("ground_force", ground_force, points)
        where = _at_each_instant("ground_point", ground_point, points)
        held_force = _running_total(force, from_ground=True) - push
        held_moment = _running_total(about_origin, from_ground=True) - np.cross(where, push)
    moments = held_moment - np.cross(start, held_force)
    return moments[..., 2] if planar else moments


def _running_total(values: NDArray, from_ground: bool) -> NDArray:
    """Return, per joint, the sum over the segments on one side of it."""
    if from_ground:
        return np.cumsum(values[..., ::-1, :], axis=-2)[..., ::-1, :]
    return np.cumsum(values, axis=-2) - values


def _per_segment(name: str, value: ArrayLike, count: int) -> NDArray[np.float64]:
    """Return one number a segment, (segment,), or raise ValueError."""
    array = numbers(name, value)
    if array.shape != (count,):
        raise ValueError(
            f"{name} has shape {array.shape}; {count + 1} points make {count} segments, "
            f"so give {count} numbers, proximal first"
        )
    return array


def _at_each_instant(name: str, value: ArrayLike | None, points: NDArray) -> NDArray[np.float64]:
    """Return a vector for each instant, (…, 1, 3), to set beside the points."""
    if value is None:
        raise ValueError(f"{name} is missing; the ground's force needs the point where it acts")
    vectors = _in_space(numbers(name, value))
    check_shapes("the ground", {"points": points.shape[:-2], name: vectors.shape[:-1]})
    return vectors[..., None, :]


def _in_space(array: NDArray) -> NDArray[np.float64]:
    """Return planar vectors with z = 0, spatial ones as they are."""
    if array.shape[-1:] == (2,):
        return np.concatenate([array, np.zeros_like(array[..., :1])], axis=-1)
    if array.shape[-1:] != (3,):
        raise ValueError(
            f"the last axis of shape {array.shape} is wrong; it must be x, y or x, y, z"
        )
    return array


def _accelerations(
    points: NDArray, time: ArrayLike | None, accelerations: ArrayLike | None
) -> NDArray[np.float64]:
    """Return the points' accelerations, m/s²: given, by differences, or none."""
    if accelerations is not None:
        given = _in_space(numbers("accelerations", accelerations))
        check_shapes("the chain", {"points": points.shape, "accelerations": given.shape})
        return given
    if time is None:
        return np.zeros_like(points)
    return second_derivative(points, time)


def second_derivative(values: ArrayLike, time: ArrayLike) -> NDArray[np.float64]:
    """Return the second derivative along the first axis, by differences.

    ``time`` (time,) in s need not be even. Raises ValueError for fewer
    than five instants, a time that does not increase and values that
    have not one row for each instant.
    """
    time, values = numbers("time", time), np.asarray(values, dtype=float)
    if time.ndim != 1 or time.size < 5 or not np.all(np.diff(time) > 0):
        raise ValueError(
            "time must be one increasing row of at least 5 times, s, "
            f"to tell accelerations; given shape {time.shape}"
        )
    if values.shape[:1] != time.shape:
        raise ValueError(
            f"time has {time.size} values and the values' shape is {values.shape}; "
            "their first axis must be time, one row for each time"
        )
    velocity = np.gradient(values, time, axis=0, edge_order=2)
    return np.gradient(velocity, time, axis=0, edge_order=2)


def dynamic_moments(posture: Posture, time: ArrayLike) -> JointMoments:
    """Return joint moments of a posture that changes over time.

    The posture's arrays have time first; ``time`` (time,) in s. As
    ``joint_moments``, with each body's inertia added to its weight: at
    a crawl both agree. Differences between left and right legs are
    averaged. Raises ValueError for an unusable time and for a posture
    whose first axis is not that time.
    """
    time = numbers("time", time)
    if posture.shape[:1] != time.shape:
        raise ValueError(
            f"the posture's shape is {posture.shape} and that of time {time.shape}; give one "
            "posture for each time, time first"
        )

    def acceleration(component: ArrayLike) -> ArrayLike:
        # What has no axis of time, or one of length 1, is the same at every instant.
        constant = np.ndim(component) < len(posture.shape) or np.shape(component)[0] == 1
        return 0.0 if constant else second_derivative(component, time)

    second_derivative(time, time)  # refuses an unusable time, even where nothing moves
    bodies, spin = _bodies(posture), _spin_rates(posture, acceleration)

    def inertia_and_weight(mass: ArrayLike, centre: Vector, joint: Vector) -> ArrayLike:
        """Return the moment about a joint that carries a body along, N·m."""
        arm = centre - joint
        forward, up = acceleration(centre.x), acceleration(centre.y)
        return mass * (arm.x * (up + tables.G) - arm.y * forward)

    def hold(joint: Vector, *above: str) -> ArrayLike:
        """Return the moment of both legs that holds the bodies above a joint, N·m."""
        return sum(inertia_and_weight(*bodies[name], joint) + spin[name] for name in above)

    # Per leg; weight behind the knee bends it, so extension has the other sign there.
    return JointMoments(
        hip=0.5 * hold(posture.hip, "bar", "hat"),
        knee=-0.5 * hold(posture.knee, "bar", "hat", "thigh"),
        ankle=0.5 * hold(posture.ankle, "bar", "hat", "thigh", "shank"),
        l5s1=hold(posture.l5s1, "bar", "upper"),
    )


def _bodies(posture: Posture) -> dict[str, tuple[ArrayLike, Vector]]:
    """Return mass, kg, and centre of each moving body, both legs as one."""
    lifter, right, left = posture.lifter, posture.right, posture.left
    upper = trunk.spot_of_upper_trunk(lifter, posture.lumbar)
    return {
        "bar": (posture.bar.mass_kg, posture.bar_centre),
        "hat": (lifter.mass("hat"), posture.hat),
        "upper": (lifter.mass("hat") - lifter.mass("pelvis"), posture.at(upper)),
    } | {
        name: (
            2.0 * lifter.mass(name),
            midway(right.centre(lifter, name), left.centre(lifter, name)),
        )
        for name in ("thigh", "shank")
    }


def _spin_rates(
    posture: Posture, acceleration: Callable[[ArrayLike], ArrayLike]
) -> dict[str, ArrayLike]:
    """Return each body's rate of change of angular momentum about z, N·m.

    The whole HAT's inertia is used for L5/S1 too: the pelvis, left out
    there, has little of it.
    """
    lifter = posture.lifter
    trunk_line = Vector(posture.sine, posture.cosine, 0.0) * lifter.trunk_m
    lines = {
        "hat": [trunk_line],
        "thigh": [leg.hip - leg.knee for leg in (posture.right, posture.left)],
        "shank": [leg.knee - leg.ankle for leg in (posture.right, posture.left)],
    }
    rates = {"bar": 0.0}
    for body, both in lines.items():
        # I α = m (ρ L)² (e × ë), with the direction e = line / L: the length L cancels and
        # leaves m ρ² (line × its acceleration).
        inertia = lifter.mass(body) * lifter.gyration(body) ** 2
        turning = sum(
            line.x * acceleration(line.y) - line.y * acceleration(line.x) for line in both
        )
        rates[body] = inertia * turning
    rates["upper"] = rates["hat"]
    return rates
