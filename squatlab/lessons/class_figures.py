"""The numbers that an instructor quotes, computed as the notebooks compute them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from squatlab import Bar, Lifter, Stance, balance, joint_moments, pose
from squatlab.faults import advice
from squatlab.gym import Rack, set_up
from squatlab.lessons.fault_cases import read, squat, suppose
from squatlab.review import prioritise
from squatlab.units import BODY_LENGTH, FLOOR_HEIGHT, MASS, MOMENT, READING, cached_words, either

TURNED_IN_DEG = 15.0
"""How far notebook 04 turns a knee in."""


@cached_words(None)
def figures() -> dict[str, float | str]:
    """Return every number and name that the tables of the day may quote.

    Lifters, loads and postures are those of the notebook that is on the
    screen then. Angles in degrees; lengths, masses and moments per leg in
    words, in the chosen units.
    """
    # The bar of notebook 02, and the lightest and the heaviest of notebook 05: kilograms, or
    # the nearest load of pound plates, as the explorers on the screen start with.
    load = MASS.si(either(100, 225))
    light_load, heavy_load = MASS.si(either(20, 45)), MASS.si(either(180, 405))
    lifter, average = Lifter.from_stature(1.75, 75), Lifter.from_stature(1.75, 80)
    rack = Rack.of(either("50 mm", "2 in"))
    high_set, low_set = set_up(rack, lifter, Bar.high(20)), set_up(rack, lifter, Bar.low(20))
    high, low = balance(lifter, Bar.high(load), Stance()), balance(lifter, Bar.low(load), Stance())
    held = pose(lifter, low.bar, Stance(), high.trunk_deg)
    sits = balance(lifter, low.bar, Stance(), shank_deg=26)
    statures = Lifter.from_stature(np.array([1.55, 1.95]), 80)
    lean_by_stature = np.ptp(balance(statures, Bar.high(80), Stance()).trunk_deg)
    usual_lean = balance(average, Bar.high(80), Stance()).trunk_deg
    long_lean = balance(average.scaled(thigh=1.08), Bar.high(80), Stance()).trunk_deg
    light = balance(average, Bar.high(light_load), Stance(), shank_deg=28)
    heavy = balance(average, Bar.high(heavy_load), Stance(), shank_deg=28)
    plumb = balance(average, light.bar, Stance(), shank_deg=28, over="bar")
    feet = Stance(0.45, 20)
    over_feet = balance(average, Bar.high(60), feet)
    fallen_in = balance(average, Bar.high(60), replace(feet, valgus_deg=TURNED_IN_DEG))
    four = suppose(knees_first=1.4, knee_valgus=2.6, heel_lift=2.2, fast_descent=3.0)
    ranking = prioritise(four)
    untold = [one.name for one in read(squat(), "side") if one.present == "cannot tell"]
    return {
        "dip": BODY_LENGTH.words(high_set.at.dip_m),
        "on_toes": BODY_LENGTH.words(low_set.above.base_m),
        "flat": BODY_LENGTH.words(low_set.at.base_m),
        "lowest_high": FLOOR_HEIGHT.words(high_set.lowest_m),
        "lowest_low": FLOOR_HEIGHT.words(low_set.lowest_m),
        "safety_high": high_set.safety,
        "safety_low": low_set.safety,
        "lean_high": high.trunk_deg,
        "lean_low": low.trunk_deg,
        "more": low.trunk_deg - high.trunk_deg,
        "hip_high": MOMENT.words(joint_moments(high).hip),
        "hip_low": MOMENT.words(joint_moments(low).hip),
        "hip_back": MOMENT.words(joint_moments(sits).hip),
        "hip_held": MOMENT.words(joint_moments(held).hip),
        "behind": READING.words(-held.com_shift),
        "tall": lean_by_stature,
        "long": long_lean - usual_lean,
        "light": MASS.words(light.bar.mass_kg),
        "heavy": MASS.words(heavy.bar.mass_kg),
        "light_ahead": BODY_LENGTH.words(light.points["bar"][0]),
        "heavy_ahead": BODY_LENGTH.words(heavy.points["bar"][0]),
        "heels": BODY_LENGTH.words(-plumb.com_shift),
        "fallen": TURNED_IN_DEG,
        "fallen_lean": fallen_in.trunk_deg - over_feet.trunk_deg,
        "untold": ", ".join(untold),
        "four": ", ".join(f"{one.name} ({one.size})" for one in four),
        "first": ranking.first.finding.name,
        "first_why": ranking.first.reason,
        "drop_why": next(one.reason for one in ranking if one.fault == "fast_descent"),
        "cue": advice("heel_lift").cue.rstrip("."),
        "back_cue": advice("lumbar_rounding").cue.rstrip("."),
    }
