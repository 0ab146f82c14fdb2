"""Whether a lifter can make this movement, and whether it is a clean one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.mechanics.posture import Posture
from squatlab.motion.plan import Plan
from squatlab.motion.schedule import Timeline
from squatlab.units import READING

OVERSHOOT_DEG = 6.0
"""A clean lifter leans nowhere on the way down more than this beyond the lean
at the bottom, ° [teaching-value]. On the way up people lean further than on
the way down, and the fault of hips that rise first says how far is too far."""

AHEAD_M, BEHIND_M = 0.001, 0.04
"""A clean lifter's weight stays this near to mid-foot, m [teaching-value]. A
light bar kept over mid-foot takes it back, never forward."""


def obstacle(posture: Posture, time: NDArray[np.float64]) -> str:
    """Return in words why a posture that changes over time cannot be, or "".

    The first posture that is not feasible, or a bar that would have to
    come down faster than it falls.
    """
    wrong = np.flatnonzero(~np.broadcast_to(posture.feasible, time.shape))
    if wrong.size:
        words = np.broadcast_to(posture.reason, time.shape)[wrong[0]]
        return f"{time[wrong[0]]:.2f} s into the set {words}"
    # Second differences over the frame's time squared: the bar's acceleration, m/s².
    fall = -np.diff(posture.bar_centre.y, 2).min() / (time[1] - time[0]) ** 2
    if fall > tables.G:
        return (
            f"the bar would leave the back: it would have to speed up at {fall:.1f} m/s² and "
            f"falls at {tables.G}; take more time"
        )
    return ""


def uncleanness(posture: Posture, line: Timeline, plan: Plan) -> str:
    """Return in words what is not clean in a feasible set, or "".

    Clean is to lean nowhere on the way down more than 6° beyond the lean
    at the bottom, and to keep the weight over mid-foot.
    """
    lean = posture.trunk_deg
    bottom = line.start + plan.descent_s
    lowest = np.interp(bottom, line.time, lean)
    going_down = line.time <= np.broadcast_to(bottom, line.start.shape)[line.which]
    # reduceat takes the largest of each repetition's frames, which begin at ``firsts``.
    firsts = np.searchsorted(line.which, np.arange(line.start.size))
    largest = np.maximum.reduceat(np.where(going_down, lean, -90.0), firsts)
    overshoot = np.max(largest - lowest)
    if overshoot > OVERSHOOT_DEG:
        return (
            f"on the way down the trunk leans {overshoot:.1f}° further than at the bottom, and "
            f"{OVERSHOOT_DEG:g}° at most is clean; squat less deep or load the bar more"
        )
    x = posture.system_centre.x
    if np.max(x) > AHEAD_M or np.min(x) < -BEHIND_M:
        return f"the weight is up to {READING.words(np.max(np.abs(x)))} away from mid-foot"
    return ""
