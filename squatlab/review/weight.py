"""Where the weight is: the centre of mass of lifter and bar from seen points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.legs import end_masses
from squatlab.mechanics.trunk import spot_of_upper_trunk
from squatlab.review.reading import CannotTell, Reading
from squatlab.review.views import View
from squatlab.signals import Repetition

POINTS = ("hip", "knee", "ankle", "heel", "toe", "l5", "c7", "bar")


def bar_forward(view: View, rep: Repetition) -> Reading:
    """Measure how far the weight goes ahead of where it stood, as cm of bar.

    The centre of mass of lifter and bar, from the points and the declared
    masses, in the lower half of the way. Its way from standing counts, not
    its place: a camera that stands 3° off moves mid-foot against the bar
    by a centimetre, and that is the same standing and squatting.
    """
    if view.lifter is None or not view.bar_kg:
        raise CannotTell("the mass of lifter and bar is not declared")
    view.need_scale()
    ahead = _centre_ahead(view, view.lifter, view.bar_kg)
    ratio = (float(view.lifter.mass_kg) + view.bar_kg) / view.bar_kg
    standing = view.mean(ahead, view.stand_before(rep), POINTS, "while standing")
    low = view.mean(ahead, view.lower(rep, 0.5), POINTS, "in the lower half")
    value = 100 * ratio * float(low - standing)
    series = 100 * ratio * (ahead[rep.start : rep.end + 1] - standing)
    way = "forward" if value >= 0 else "back"
    words = f"the weight moves {abs(value / ratio):.1f} cm {way}, as {abs(value):.1f} cm of bar do"
    return Reading(value, words, series, rep.start)


def _centre_ahead(view: View, lifter: Lifter, bar_kg: float) -> NDArray[np.float64]:
    """Return how far the centre of mass is ahead of mid-foot, m, (time,).

    Both legs are as the near one.
    """
    shares = end_masses(lifter)
    weighted = sum(float(mass) * view[joint][:, 0] for joint, mass in shares.items())
    hat, pelvis = float(lifter.mass("hat")), float(lifter.mass("pelvis"))
    hip, l5, c7 = (view[name][:, 0] for name in ("hip", "l5", "c7"))
    # The upper trunk's centre, a share of the way from L5 to C7, whatever their distance.
    up = spot_of_upper_trunk(lifter).along - lifter.pelvis_m
    share = float(up / (lifter.hip_to_c7_m - lifter.pelvis_m))
    weighted = weighted + pelvis * (hip + lifter.centre("pelvis") * (l5 - hip))
    weighted = weighted + (hat - pelvis) * (l5 + share * (c7 - l5)) + bar_kg * view["bar"][:, 0]
    total = float(sum(shares.values())) + hat + bar_kg
    return weighted / total - 0.5 * (view["heel"][:, 0] + view["toe"][:, 0])
