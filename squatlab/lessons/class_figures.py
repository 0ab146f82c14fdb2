"""The numbers that an instructor quotes, computed as the notebooks compute them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from squatlab import Bar, Lifter, Stance, balance, joint_moments, pose
from squatlab.faults import advice
from squatlab.gym import Rack, set_up
from squatlab.lessons.fault_cases import read, squat, suppose
from squatlab.review import prioritise
from squatlab.units import (
    BODY_LENGTH,
    MASS,
    MOMENT,
    READING,
    QuantityKind,
    cached_words,
    either,
)

TURNED_IN_DEG = 15.0
"""How far notebook 04 turns a knee in."""


@dataclass(frozen=True)
class Quoted:
    """Hold a quantity, in SI, that a table quotes in the units that are chosen.

    In a table ``{dip}`` stands for the figure with its unit, and
    ``{dip:figure}`` for the figure alone.
    """

    si: float
    kind: QuantityKind

    def __format__(self, spec: str) -> str:
        return self.kind.figure(self.si) if spec == "figure" else self.kind.words(self.si)


@cached_words(None)
def figures() -> dict[str, Quoted | float | str]:
    """Return every number and name that the tables of the day may quote.

    Lifters, loads and postures are those of the notebook that is on the
    screen then. Angles are plain numbers, in degrees; moments are per leg.
    """
    usual_kg, light_kg, heavy_kg = (
        MASS.si(load) for load in either((100.0, 20.0, 180.0), (225.0, 45.0, 405.0))
    )
    lifter, average = Lifter.from_stature(1.75, 75), Lifter.from_stature(1.75, 80)
    holes, lower = (set_up(Rack.of("50 mm"), lifter, bar(20)) for bar in (Bar.high, Bar.low))
    high, low = (balance(lifter, bar(usual_kg), Stance()) for bar in (Bar.high, Bar.low))
    held = pose(lifter, low.bar, Stance(), high.trunk_deg)
    sits = balance(lifter, low.bar, Stance(), shank_deg=26)
    statures = Lifter.from_stature(np.array([1.55, 1.95]), 80)
    tall = np.ptp(balance(statures, Bar.high(80), Stance()).trunk_deg)
    usual = balance(average, Bar.high(80), Stance()).trunk_deg
    long = balance(average.scaled(thigh=1.08), Bar.high(80), Stance()).trunk_deg
    light, heavy = (
        balance(average, Bar.high(kg), Stance(), shank_deg=28) for kg in (light_kg, heavy_kg)
    )
    plumb = balance(average, light.bar, Stance(), shank_deg=28, over="bar")
    over, fallen = (
        balance(average, Bar.high(60), replace(Stance(0.45, 20), valgus_deg=inward)).trunk_deg
        for inward in (0, TURNED_IN_DEG)
    )
    ranking = prioritise(
        four := suppose(knees_first=1.4, knee_valgus=2.6, heel_lift=2.2, fast_descent=3.0)
    )
    untold = [one.name for one in read(squat(), "side") if one.present == "cannot tell"]
    return {
        "dip": Quoted(holes.at.dip_m, BODY_LENGTH),
        "on_toes": Quoted(lower.above.base_m, BODY_LENGTH),
        "flat": Quoted(lower.at.base_m, BODY_LENGTH),
        "lowest_high": Quoted(holes.lowest_m, BODY_LENGTH),
        "lowest_low": Quoted(lower.lowest_m, BODY_LENGTH),
        "safety_high": holes.safety,
        "safety_low": lower.safety,
        "lean_high": high.trunk_deg,
        "lean_low": low.trunk_deg,
        "more": low.trunk_deg - high.trunk_deg,
        "hip_high": Quoted(joint_moments(high).hip, MOMENT),
        "hip_low": Quoted(joint_moments(low).hip, MOMENT),
        "hip_back": Quoted(joint_moments(sits).hip, MOMENT),
        "hip_held": Quoted(joint_moments(held).hip, MOMENT),
        "behind": Quoted(-held.com_shift, READING),
        "tall": tall,
        "long": long - usual,
        "light": Quoted(light.bar.mass_kg, MASS),
        "heavy": Quoted(heavy.bar.mass_kg, MASS),
        "light_ahead": Quoted(light.points["bar"][0], BODY_LENGTH),
        "heavy_ahead": Quoted(heavy.points["bar"][0], BODY_LENGTH),
        "plumb_behind": Quoted(-plumb.com_shift, BODY_LENGTH),
        "fallen": TURNED_IN_DEG,
        "fallen_lean": fallen - over,
        "untold": ", ".join(untold),
        "four": ", ".join(f"{one.name} ({one.size})" for one in four),
        "first": ranking.first.finding.name,
        "first_why": ranking.first.reason,
        "drop_why": next(one.reason for one in ranking if one.fault == "fast_descent"),
        "cue": advice("heel_lift").cue.rstrip("."),
        "back_cue": advice("lumbar_rounding").cue.rstrip("."),
    }
