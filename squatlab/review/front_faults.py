"""What a view from the front shows: knees over feet, hips, feet and bar."""

from __future__ import annotations

import numpy as np

from squatlab.review.places import SIGN
from squatlab.review.reading import CannotTell, Reading
from squatlab.review.views import LOWEST, View
from squatlab.signals import Repetition

LEAST_LEAN_DEG = 15.0
"""A shank more upright than this points nowhere."""

TURNOUT_DEG = (5.0, 20.0)
"""Feet turned out between these are usual [common-practice]."""

NEAR_LIMIT_DEG = 4.0
"""Without a declared camera turnout is not surer than this."""

STRAIGHT_DEG = 3.0
"""A camera is put up straight to within this; more is not corrected."""

SURE_SHIFT_CM = 6.0
"""With a camera further off, a shift from here on is called clear."""

SIDES = {"r": "right", "l": "left"}


def knee_valgus(view: View, rep: Repetition) -> Reading:
    """Measure how far the shank leans inward of the foot's direction, °.

    In the lowest part of the way; the worse knee. A standing shank points
    nowhere, so nothing is taken off for standing.
    """
    frames = view.lower(rep, LOWEST)
    stand = view.stand_before(rep)
    found = {}
    for side in "rl":
        names = (f"knee_{side}", f"ankle_{side}")
        shank = view[names[0]] - view[names[1]]
        low = view.mean(shank, frames, names, "at the bottom")
        lean = np.degrees(np.arccos(np.clip(low[1] / np.linalg.norm(low), -1, 1)))
        if lean < LEAST_LEAN_DEG:
            continue
        turnout = _turnout_deg(view, side, stand)
        points_to = np.degrees(np.arctan2(SIGN[side] * shank[:, 2], shank[:, 0]))
        value = turnout - np.degrees(np.arctan2(SIGN[side] * low[2], low[0]))
        found[side] = (float(value), turnout - points_to[rep.start : rep.end + 1], turnout)
    if not found:
        raise CannotTell(f"the shanks lean less than {LEAST_LEAN_DEG:.0f}°: they point nowhere")
    worse = max(found, key=lambda side: found[side][0])
    value, series, turnout = found[worse]
    words = f"{SIDES[worse]} knee, the foot turned out {turnout:.0f}°"
    upright = np.ones(len(series), dtype=bool)
    upright[frames - rep.start] = False
    return Reading(value, words, np.where(upright, np.nan, series), rep.start)


def lateral_shift(view: View, rep: Repetition) -> Reading:
    """Measure how far the middle of the hips goes to a side, cm.

    As the feet show how the camera stood, or else only a large shift is
    called one: hips that go straight back then seem to slide.
    """
    view.need_scale()
    names = ("hip_r", "hip_l")
    middle = 50 * (view[names[0]][:, 2] + view[names[1]][:, 2])
    standing = view.mean(middle, view.stand_before(rep), names, "while standing")
    low = view.mean(middle, view.around(rep.bottom), names, "at the bottom")
    series = middle[rep.start : rep.end + 1] - standing
    sign = 1.0 if low >= standing else -1.0
    words = f"to the {SIDES['r' if sign > 0 else 'l']}"
    reading = Reading(float(abs(low - standing)), words, sign * series, rep.start)
    yaw = view.places.yaw
    if abs(np.degrees(yaw)) <= STRAIGHT_DEG:
        return reading
    stood = (
        "cannot be told without heels and toes"
        if np.isnan(yaw)
        else (f"stood {abs(np.degrees(yaw)):.0f}° off the front")
    )
    doubt = f"the camera {stood}: a shift below {SURE_SHIFT_CM:.0f} cm cannot be told"
    return reading._replace(doubt=doubt, certain_from=SURE_SHIFT_CM, most=2.0)


def turnout_out_of_range(view: View, rep: Repetition) -> Reading:
    """Measure how far a foot's turnout is outside the usual range, °.

    The worse foot. What seems the camera's own turn is taken off, up to
    what a camera may be off; the rest is the lifter's.
    """
    stand = view.stand_before(rep)
    yaw = np.degrees(np.nan_to_num(view.places.yaw))
    lifter_s = yaw - np.clip(yaw, -STRAIGHT_DEG, STRAIGHT_DEG)
    low, high = TURNOUT_DEG
    found = {}
    for side in "rl":
        turnout = _turnout_deg(view, side, stand) + SIGN[side] * lifter_s
        found[side] = (max(low - turnout, turnout - high), turnout)
    worse = max(found, key=lambda side: found[side][0])
    value, turnout = found[worse]
    words = f"{SIDES[worse]} foot turned out {turnout:.0f}°"
    reading = Reading(max(float(value), 0.0), words, np.array([value]), rep.start)
    if view.places.stand.declared or abs(value) > NEAR_LIMIT_DEG:
        return reading
    raise CannotTell(f"{words}, too near a limit while the camera's distance is not declared")


def uneven_bar(view: View, rep: Repetition) -> Reading:
    """Measure the tilt of the bar, at most, less standing, °."""
    names = ("bar_end_r", "bar_end_l")
    bar = view[names[0]] - view[names[1]]
    tilt = np.degrees(np.arctan2(-bar[:, 1], bar[:, 2]))
    standing = view.mean(tilt, view.stand_before(rep), names, "while standing")
    frames = slice(rep.start, rep.end + 1)
    view.check(tilt, frames, names, "during the repetition")
    tilt = tilt[frames] - standing
    lower = {side: view.most(SIGN[side] * tilt, names) for side in "rl"}
    side = max(lower, key=lower.__getitem__)
    return Reading(lower[side], f"{SIDES[side]} end lower", SIGN[side] * tilt, rep.start)


def _turnout_deg(view: View, side: str, stand: np.ndarray) -> float:
    """Return how far a foot is turned out while standing, °.

    From how far the toe is outside the heel and the foot's length: what a
    front view shows of its length is too short to go by.
    """
    names = (f"toe_{side}", f"heel_{side}")
    foot = view.mean(view[names[0]] - view[names[1]], stand, names, "while standing")
    if view.kind == "3d":
        return float(np.degrees(np.arctan2(SIGN[side] * foot[2], foot[0])))
    yaw = np.nan_to_num(view.places.yaw)
    # Back in the picture's own axes only the way across was seen.
    across = foot[0] * np.sin(yaw) + foot[2] * np.cos(yaw)
    turned = np.arcsin(np.clip(across / view.places.foot_m, -1, 1))
    return float(np.degrees(SIGN[side] * (turned - yaw)))
