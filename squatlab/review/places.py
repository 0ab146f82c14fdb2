"""Where the points of one view are in space, in the lifter's own axes.

A picture shows what is near larger. In a side view the near leg is 10 to 25 cm
nearer than the trunk, which alone makes a level thigh look 3° too high; from
the front, knees that come forward seem to fall in by 2°.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.review.picture import DEPTH_M, FAR_M, STRAIGHT, Standpoint
from squatlab.review.reading import mean
from squatlab.segments import lengths_of

ANKLE_M = lengths_of("winter2009")["ankle_height"] * 1.75
"""Height of an ankle, where heel and toe are not seen, m [winter2009]."""

SIGN = {"r": 1.0, "l": -1.0}


class Places(NamedTuple):
    """Hold points (name: (time, 3) m; x forward, y up, z right) of a view.

    ``stand`` is from where they count as seen. ``yaw`` is how far the lifter
    stands turned to the right in the view, rad, nan if it cannot be told;
    the points are turned back. ``foot_m`` is how long a foot is taken to be.
    """

    points: dict[str, NDArray[np.float64]]
    stand: Standpoint
    yaw: float = np.nan
    foot_m: float = np.nan


def from_the_side(
    names: Sequence[str],
    flat: NDArray[np.float64],
    standing: NDArray[np.intp],
    near: str,
    stand: Standpoint,
    lifter: Lifter | None,
    depths: Mapping[str, float],
) -> Places:
    """Place the points of a side view, (time, point, 2) m, in space.

    How near the camera each joint of the near side is comes from a front
    view (``depths``), or is as usual. z stays 0: it is not seen.
    """
    depth = dict(DEPTH_M)
    if lifter is not None:
        depth["hip"] = 0.5 * float(lifter.hip_width_m)
    depth = {f"{joint}_{near}": where for joint, where in (depth | dict(depths)).items()}
    still = dict(zip(names, mean(flat[standing]), strict=True))
    feet = (f"heel_{near}", f"toe_{near}")
    origin, stand = axis(still, depth, stand, feet)
    shrink = 1.0 - np.array([depth.get(name, 0.0) for name in names]) / stand.distance_m
    placed = np.zeros((*flat.shape[:2], 3))
    placed[..., :2] = (flat - origin) * shrink[:, np.newaxis]
    if f"knee_{near}" in names:
        knee, low = names.index(f"knee_{near}"), depth[f"knee_{near}"]
        inward = (low - depth[f"{STRAIGHT}_{near}"]) * (1 - _lowered(placed, names, near, standing))
        placed[:, knee] *= (1.0 - (low - inward) / stand.distance_m)[:, np.newaxis] / shrink[knee]
    placed[..., 1] += stand.height_m
    return Places(by_name(names, placed), stand, 0.0)


def _lowered(
    placed: NDArray[np.float64], names: Sequence[str], near: str, standing: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return how far the hip is down, 0 to 1, (time,): so far the knee has come out."""
    if f"hip_{near}" not in names or not len(standing):
        return np.ones(len(placed))
    height = placed[:, names.index(f"hip_{near}"), 1]
    top = mean(height[standing])
    return np.clip((top - height) / max(top - np.fmin.reduce(height), 0.1), 0.0, 1.0)


def in_space(
    names: Sequence[str],
    solid: NDArray[np.float64],
    standing: NDArray[np.intp],
    stand: Standpoint,
) -> Places:
    """Turn points (time, point, 3) so that the hips' line points to the right."""
    yaw = 0.0
    if {"hip_r", "hip_l"} <= set(names):
        hips = mean(solid[:, [names.index("hip_r"), names.index("hip_l")]][standing])
        yaw = np.arctan2(hips[1, 0] - hips[0, 0], hips[0, 2] - hips[1, 2])
    return Places(by_name(names, rotated(solid, float(yaw))), stand, 0.0)


def by_name(names: Sequence[str], placed: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
    """Return each point (time, 3) of (time, point, 3) by its name."""
    return {name: placed[:, column] for column, name in enumerate(names)}


def rotated(points: NDArray[np.float64], yaw: float) -> NDArray[np.float64]:
    """Return points (…, 3) in axes turned by ``yaw`` to the right, if it is known."""
    if not yaw or np.isnan(yaw):
        return points
    sine, cosine = np.sin(yaw), np.cos(yaw)
    return points @ np.array([[cosine, 0, -sine], [0, 1, 0], [sine, 0, cosine]])


def axis(
    still: Mapping[str, NDArray[np.float64]],
    toward: Mapping[str, float],
    stand: Standpoint,
    feet: Sequence[str],
) -> tuple[NDArray[np.float64], Standpoint]:
    """Return where the camera's axis meets the picture, (2,), and its standpoint.

    It points at the lifter's mid-foot, level, and the floor is as far
    below it as the camera is high. Without feet there is no floor to go
    by, so the picture counts as taken from far away.
    """

    def seen(wanted: Sequence[str]) -> list[str]:
        return [name for name in wanted if name in still and np.isfinite(still[name][0])]

    ground, height = seen(feet), 0.0
    if len(ground) < len(feet):
        ground, height = seen(("ankle_r", "ankle_l")), ANKLE_M
    if not ground:
        return np.zeros(2), Standpoint(FAR_M, 0.0, declared=False)
    origin = sum(still[name] for name in ground) / len(ground)
    far = stand.distance_m
    drop = sum(far / (far - toward[name]) for name in ground) / len(ground)
    return origin + (0.0, drop * (stand.height_m - height)), stand
