"""Every range of a motion reaches the ends that its errors name, and no further.

The ends are ours [teaching-value]; they stand here a second time so that
none slips: a size refused that the catalogue has, or minutes taken for
seconds.
"""

from __future__ import annotations

import pytest

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Camera, Injection, Tempo, synthesise

A_LITTLE = 1e-6
LIFTER = Lifter.from_stature(1.75, 80)
SLOW = {"descent_s": 6.0}
"""A descent in which half a second is no long lead."""

TEMPO = {
    "descent_s": (0.4, 6.0),
    "pause_s": (0.0, 5.0),
    "ascent_s": (0.4, 8.0),
    "standing_s": (0.3, 10.0),
    "hip_lead_s": (-0.5, 0.5),
    "intent": (0.0, 1.0),
    "braking": (0.0, 0.8),
}
CAMERA = {
    "distance_m": (1.0, 30.0),
    "height_m": (0.0, 3.0),
    "yaw_deg": (-45.0, 45.0),
    "focal_px": (100.0, 20_000.0),
    "width_px": (100.0, 10_000.0),
    "height_px": (100.0, 10_000.0),
    "rate": (5.0, 2000.0),
    "noise_px": (0.0, 50.0),
    "dropped": (0.0, 0.5),
    "swapped": (0.0, 0.5),
}
INJECTION = {
    "lumbar_rounding": (0.0, 70.0),
    "knees_first": (0.0, 400.0),
    "hips_rise_first": (0.0, 20.0),
    "lumbar_overarching": (0.0, 35.0),
    "knee_valgus": (-8.0, 20.0),
    "knees_far_forward": (-10.0, 20.0),
    "short_depth": (-25.0, 45.0),
    "turnout_out_of_range": (0.0, 30.0),
    "heel_lift": (0.0, 7.0),
    "bar_forward": (0.0, 15.0),
    "lateral_shift": (-12.0, 12.0),
    "uneven_bar": (-15.0, 15.0),
    "head_up": (0.0, 60.0),
    "fast_descent": (0.5, 3.0),
}
SET = {
    "asymmetry_deg": (-20.0, 20.0),
    "standing_lean_deg": (2.0, 7.0),
    "straightness": (0.0, 1.0),
    "slows_from": (0.3, 0.99),
    "slowest_deg": (0.0, 60.0),
    "thigh_deg": (-40.0, 60.0),
    "shank_deg": (0.0, 60.0),
    "lumbar_deg": (0.0, 60.0),
    "rate": (20.0, 2000.0),
}


def tempo(name, value):
    """Make a tempo with one value set."""
    more = {"hip_lead_s": 0.0} if name == "descent_s" else SLOW
    return Tempo(**(more | {name: value}))


def squat(name, value):
    """Move a set with one value set, at few frames per second."""
    return synthesise(LIFTER, Bar.high(60), Stance(), **({"rate": 20.0} | {name: value}))


@pytest.mark.parametrize(
    ("make", "name", "ends"),
    [
        *((tempo, name, ends) for name, ends in TEMPO.items()),
        *((lambda n, v: Camera(**{n: v}), name, ends) for name, ends in CAMERA.items()),
        *((Injection, name, ends) for name, ends in INJECTION.items()),
        *((squat, name, ends) for name, ends in SET.items()),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_range_is_taken_to_its_ends_and_no_further(make, name, ends):
    least, most = ends
    for value in ends:
        make(name, value)
    for value in (least - A_LITTLE, most + A_LITTLE):
        with pytest.raises(ValueError, match=name):
            make(name, value)


def test_repetitions_are_whole_and_fifty_at_most():
    assert Tempo(repetitions=50).repetitions == 50
    for count in (0, 51, 2.5):
        with pytest.raises(ValueError, match="repetitions"):
            Tempo(repetitions=count)


def test_a_lead_is_four_tenths_of_the_descent_at_most():
    assert Tempo(descent_s=1.0, hip_lead_s=-0.4).hip_lead_s == -0.4
    for lead in (-0.4 - A_LITTLE, 0.4 + A_LITTLE):
        with pytest.raises(ValueError, match="at most 0.4 of the descent"):
            Tempo(descent_s=1.0, hip_lead_s=lead)
