"""What a view from the side shows: back, depth, knees, heels, head."""

from __future__ import annotations

import numpy as np

from squatlab.review.reading import Reading, mean
from squatlab.review.views import View
from squatlab.signals import Repetition

BACK = ("c7", "l5", "hip")

LOWEST_S = 0.1
"""Depth is a mean over this long around the lowest frame [teaching-value]."""

UNCORRECTED_DEG = 4.0
"""A camera at knee or at head height makes this of depth, 4 m away."""

GAZE_M = (0.91, 1.83)
"""Where the eyes rest with a high bar, ahead of the toes: 3 to 6 feet
[common-practice]."""

GAZE_LOW_M = (0.08, 0.15)
"""The same with a low bar: 3 to 6 inches [common-practice]."""

LOW_BAR_M = 0.06
"""A bar further than this down the back from C7 is a low bar; between
both positions of the table [teaching-value]."""


def lumbar_rounding(view: View, rep: Repetition) -> Reading:
    """Measure lumbar flexion at the bottom less standing, °."""
    standing = view.mean(view.lumbar, view.stand_before(rep), BACK, "while standing")
    bottom = view.mean(view.lumbar, view.around(rep.bottom), BACK, "at the bottom")
    series = np.degrees(view.lumbar[rep.start : rep.end + 1] - standing)
    value = float(np.degrees(bottom - standing))
    return Reading(value, "lumbar flexion at the bottom less standing", series, rep.start)


def lumbar_overarching(view: View, rep: Repetition) -> Reading:
    """Measure lumbar extension in the first quarter of the descent, °."""
    standing = view.mean(view.lumbar, view.stand_before(rep), BACK, "while standing")
    quarter = slice(rep.start, rep.start + max(1, (rep.bottom - rep.start) // 4) + 1)
    early = view.mean(view.lumbar, quarter, BACK, "at the start of the descent")
    series = np.degrees(standing - view.lumbar[quarter])
    words = "lumbar extension in the first quarter of the descent"
    return Reading(float(np.degrees(standing - early)), words, series, rep.start)


def short_depth(view: View, rep: Repetition) -> Reading:
    """Measure how far the thigh is from level at the lowest point, °."""
    thigh, names = view["hip"] - view["knee"], ("hip", "knee")
    standing = view.mean(thigh, view.stand_before(rep), names, "while standing")
    bottom = view.mean(thigh, view.around(rep.bottom, LOWEST_S), names, "at the bottom")
    length = float(np.linalg.norm(standing))
    value = np.degrees(np.arcsin(np.clip(bottom[1] / length, -1, 1)))
    words = f"hip {abs(value):.1f}° {'above' if value > 0 else 'below'} the knee"
    if not view.places.stand.declared:
        words += f", {UNCORRECTED_DEG:g}° more or less: not corrected for the camera's height"
    return Reading(float(value), words, np.array([value]), rep.bottom)


def knees_far_forward(view: View, rep: Repetition) -> Reading:
    """Measure how far the knee is ahead of the toe, at most, cm."""
    view.need_scale()
    frames, names = slice(rep.start, rep.end + 1), ("knee", "toe")
    ahead = 100 * (view["knee"][frames, 0] - mean(view["toe"][frames, 0]))
    view.check(ahead, view.lower(rep, 0.5) - rep.start, names, "in the lower half")
    value = view.most(ahead, names)
    words = f"knee {abs(value):.1f} cm {'ahead of' if value > 0 else 'behind'} the toe"
    return Reading(value, words, ahead, rep.start)


def heel_lift(view: View, rep: Repetition) -> Reading:
    """Measure how high the heel is in the lower half, less standing, cm."""
    view.need_scale()
    heel = 100 * view["heel"][:, 1]
    standing = view.mean(heel, view.stand_before(rep), ("heel",), "while standing")
    value = view.mean(heel, view.lower(rep, 0.5), ("heel",), "in the lower half") - standing
    series = heel[rep.start : rep.end + 1] - standing
    return Reading(float(value), "height of the heel in the lower half", series, rep.start)


def head_up(view: View, rep: Repetition) -> Reading:
    """Measure how far the head is back beyond what the gaze needs, °.

    Eyes that rest on a spot of the floor come up a little as the lifter
    goes down; the head beyond that, less standing, counts.
    """
    names = ("head", "c7")
    line, frames = view["head"] - view["c7"], slice(rep.start, rep.end + 1)
    stand = view.stand_before(rep)
    back = -np.arctan2(line[:, 0], line[:, 1])
    standing = view.mean(back, stand, names, "while standing")
    view.check(back, view.lower(rep, 0.5), names, "in the lower half")
    beyond = np.degrees(back[frames] - standing - _gaze_rise(view, stand, frames))
    value = view.most(beyond, names)
    return Reading(value, "head back beyond the gaze line, less standing", beyond, rep.start)


def _gaze_rise(view: View, stand: np.ndarray, frames: slice) -> np.ndarray:
    """Return how much further up than standing the eyes look, rad, (frame,)."""
    places = view.places.points
    toe = mean(view["toe"][frames, 0]) if "toe" in view else 0.13
    spots = GAZE_M
    if "bar" in view:
        drop = mean((view["c7"] - places["bar"])[stand])
        spots = GAZE_LOW_M if drop[1] > LOW_BAR_M else GAZE_M
    head = view["head"]
    at_first = mean(head[stand])
    rises = [
        np.arctan2(at_first[1], toe + spot - at_first[0])
        - np.arctan2(head[frames, 1], toe + spot - head[frames, 0])
        for spot in spots
    ]
    return np.maximum(*rises)
