"""A jointed figure that squats, made of sines and cosines: known inputs for tests."""

from __future__ import annotations

import numpy as np

from squatlab.signals import minimum_jerk
from squatlab.tracks import Tracks

SHANK, THIGH, TRUNK, FOOT = 0.43, 0.42, 0.50, 0.26
JOINTS = ("toe", "heel", "ankle", "knee", "hip", "shoulder")
NAMES = tuple(f"{joint}_{side}" for side in "rl" for joint in JOINTS)
PX_PER_M = 375.0
DESCENT_S, ASCENT_S, STANDING_S = 1.3, 1.2, 0.8
PERIOD_S = DESCENT_S + ASCENT_S + STANDING_S


def depth_of(times, repetitions=1):
    """Return 0 standing to 1 at the bottom, repetitions one after the other."""
    share = np.zeros_like(times)
    for k in range(repetitions):
        begin = STANDING_S + k * PERIOD_S
        share += minimum_jerk((times - begin) / DESCENT_S).position
        share -= minimum_jerk((times - begin - DESCENT_S) / ASCENT_S).position
    return share


def bottoms(repetitions=1):
    """Return the times of the lowest points, s."""
    return [STANDING_S + DESCENT_S + k * PERIOD_S for k in range(repetitions)]


def figure(rate=60.0, repetitions=1):
    """Return times (time,) and positions (time, point, 3) in m, our axes."""
    seconds = STANDING_S + repetitions * PERIOD_S
    times = np.arange(int(seconds * rate) + 1) / rate
    depth = depth_of(times, repetitions)
    lean, thigh, trunk = (np.radians(a + (b - a) * depth) for a, b in ((3, 32), (87, -5), (4, 40)))
    zero = np.zeros_like(times)
    places = {
        "toe": (zero + FOOT / 2, zero + 0.02),
        "heel": (zero - FOOT / 2, zero + 0.03),
        "ankle": (zero - FOOT / 4, zero + 0.07),
    }
    places["knee"] = along(places["ankle"], SHANK, np.sin(lean), np.cos(lean))
    places["hip"] = along(places["knee"], THIGH, -np.cos(thigh), np.sin(thigh))
    places["shoulder"] = along(places["hip"], TRUNK, np.sin(trunk), np.cos(trunk))
    points = []
    for name in NAMES:
        joint, side = name.split("_")
        half_width = {"hip": 0.09, "shoulder": 0.2}.get(joint, 0.16)
        points.append((*places[joint], zero + (half_width if side == "r" else -half_width)))
    return times, np.moveaxis(np.array(points), 2, 0)


def along(start, length, x, y):
    return start[0] + length * x, start[1] + length * y


def space(rate=60.0, repetitions=1, **more):
    """Return the figure as tracks in space."""
    return Tracks(*figure(rate, repetitions), NAMES, "3d", **more)


def picture(view="side", rate=60.0, repetitions=1, **more):
    """Return the figure as a camera far away sees it, in px, y up."""
    times, positions = figure(rate, repetitions)
    flat = positions[..., :2] if view == "side" else positions[..., [2, 1]] * (-1, 1)
    more = {"units": "px", "scale_px_per_m": PX_PER_M} | more
    return Tracks(times, flat * PX_PER_M + (960, 40), NAMES, view, **more)
