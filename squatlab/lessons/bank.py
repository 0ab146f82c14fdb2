"""The questions of the notebooks: each takes a generator and computes its key."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.random import Generator

from squatlab.gym.plates import PlateSet
from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.lessons.question import Question, choice
from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance, leg_from_angles
from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.trunk import Bar, spot_of_bar

MEANINGS = {
    "shank lean": "how far the lower leg tips forward from the vertical",
    "depth, or thigh elevation": "how far the line from hip to knee is from level",
    "trunk lean": "how far the back tips forward from the vertical",
    "moment arm": "the level distance from a joint to the line of the load",
}


def notation(rng: Generator) -> Question:
    """Ask what one of the course's four words means."""
    word = str(rng.choice(list(MEANINGS)))
    return choice(
        rng, f'What does "{word}" mean in this course?', list(MEANINGS.values()), MEANINGS[word],
        f"{word[0].upper()}{word[1:]} is {MEANINGS[word]}.",
    )  # fmt: skip


def rack_hole(rng: Generator) -> Question:
    """Ask for the hole nearest to mid-sternum height."""
    stature, rack = float(rng.integers(150, 200)) / 100, Rack.of("50 mm")
    height = mid_sternum_m(stature)
    hole = rack.nearest(height)
    return Question(
        f"A lifter is {stature:.2f} m tall. In a rack whose hole 1 is {rack.first_hole_m:.2f} m "
        f"high and whose holes are {rack.spacing_m * 1000:.0f} mm apart, which hole is nearest to "
        "the middle of the breastbone? Count from the lowest as 1.",
        float(hole),
        f"Mid-sternum is about {height:.2f} m high and hole {hole} is {rack.height(hole):.2f} m.",
        unit="holes",
        tolerance=0.25,
    )


def plates_per_side(rng: Generator) -> Question:
    """Ask for the mass of plates on each end of the bar."""
    plates = PlateSet.of("kg", collar=0.0)
    total = plates.empty + 5.0 * int(rng.integers(6, 25))
    loading = plates.load(total)
    side = (total - plates.empty) / 2
    return Question(
        f"The bar weighs {plates.empty:g} kg without collars. How many kilograms of plates go on "
        f"each end for {total:g} kg in all?",
        side,
        f"({total:g} − {plates.empty:g}) / 2 = {side:g} kg: {loading}.",
        unit="kg",
        tolerance=0.01,
    )


def hip_arm(rng: Generator) -> Question:
    """Ask for the level distance from hip to bar."""
    lifter, bar = _somebody(rng), Bar.high(100)
    lean = int(rng.integers(25, 56))
    spot = spot_of_bar(lifter, bar)
    arm = 100 * pose(lifter, bar, Stance(), lean).moment_arms().hip_bar
    return Question(
        f"The bar lies {100 * spot.along:.0f} cm up the back from the hip and "
        f"{100 * spot.behind:.0f} cm behind the line of the trunk, which leans {lean}°. "
        "How far ahead of the hip is the bar?",
        float(arm),
        f"Up the back times sin {lean}°, less what lies behind times cos {lean}°.",
        unit="cm",
        tolerance=1.0,
    )


def bar_place(rng: Generator) -> Question:
    """Ask what a lower bar changes for the same legs and balance."""
    lifter, down = _somebody(rng), int(rng.integers(4, 9))
    high = Bar.high(10.0 * int(rng.integers(6, 15)))
    low = Bar(high.mass_kg, high.drop_m + down / 100, high.behind_m)
    before, after = (balance(lifter, bar, Stance()) for bar in (high, low))
    leaning = _direction(after.trunk_deg - before.trunk_deg, 0.1)
    holding = _direction(joint_moments(after).hip - joint_moments(before).hip, 0.1)
    options = [
        f"the trunk leans {lean} and the hip holds {hip}"
        for lean, hip in (("more", "the same"), ("more", "more"), ("the same", "less"),
                          ("less", "less"))
    ]  # fmt: skip
    return choice(
        rng,
        f"The bar ({high.mass_kg:g} kg) moves {down} cm down the back. Legs and balance stay. "
        "What changes?",
        options, f"the trunk leans {leaning} and the hip holds {holding}",
        f"Lean {before.trunk_deg:.1f}° → {after.trunk_deg:.1f}°; hip "
        f"{joint_moments(before).hip:.0f} → {joint_moments(after).hip:.0f} N·m each: the weight "
        "stays over the same place, so the legs hold the same.",
    )  # fmt: skip


def _direction(change: float, least: float) -> str:
    return "the same" if abs(change) < least else "more" if change > 0 else "less"


def hip_plus_knee(rng: Generator) -> Question:
    """Ask for the knee's share once the hip's is known."""
    lifter, bar = _somebody(rng), Bar.high(10.0 * int(rng.integers(6, 15)))
    # A turned-out knee that comes forward also shortens the thigh seen from the side: feet
    # straight ahead keep the sum exact.
    ahead = Stance(float(lifter.hip_width_m), 0.0)
    first, second = (joint_moments(balance(lifter, bar, ahead, 0, s)) for s in (24.0, 34.0))
    return Question(
        f"Thighs level, feet straight ahead. With upright shanks each hip holds {first.hip:.0f} "
        f"and each knee {first.knee:.0f} N·m. The knees now come forward and each hip holds "
        f"{second.hip:.0f} N·m. What does each knee hold?",
        float(second.knee),
        "For one thigh position hip and knee share one sum: what the hip loses the knee gains.",
        unit="N·m",
        tolerance=2.0,
    )


def who_leans_more(rng: Generator) -> Question:
    """Ask which of two lifters leans more."""
    tall, long = float(rng.integers(178, 195)), bool(rng.integers(2))
    thigh = float(rng.integers(104, 111) if long else rng.integers(92, 97))
    trunk = 97.0 if long else 103.0
    first, other = (tall, 165.0) if rng.integers(2) else (165.0, tall)
    a = Lifter.from_stature(first / 100, 80)
    b = Lifter.from_stature(other / 100, 80).scaled(thigh=thigh / 100, trunk=trunk / 100)
    lean = {
        name: balance(lifter, Bar.high(100), Stance()).trunk_deg
        for name, lifter in (("A", a), ("B", b))
    }
    return choice(
        rng,
        f"A is {first:.0f} cm with average proportions. B is {other:.0f} cm, with thighs "
        f"{thigh:.0f} % and a trunk {trunk:.0f} % of average. Same depth, shanks, "
        "bar and load: who leans more?",
        ["A", "B", "both lean the same, within 1°"],
        max(lean, key=lean.get),
        f"A leans {lean['A']:.1f}°, B {lean['B']:.1f}°: thigh against trunk decides, not stature.",
    )


def lean_explained(rng: Generator) -> Question:
    """Ask how much of an observed lean the build does not explain."""
    thigh, trunk = (float(rng.integers(94, 109)) / 100 for _ in range(2))
    lifter = Lifter.from_stature(1.75, 80).scaled(thigh=thigh, trunk=trunk)
    built = balance(lifter, Bar.high(100), Stance()).trunk_deg
    seen = round(float(built)) + int(rng.integers(3, 12))
    return Question(
        f"You see {seen}° of lean with level thighs. The lifter is average at 1.75 m and 80 kg but "
        f"for thighs × {thigh:.2f} and trunk × {trunk:.2f}: use "
        "Lifter.from_stature(1.75, 80).scaled(…) and balance with Bar.high(100) and Stance(). "
        "How many degrees does the build not explain?",
        float(seen - built),
        f"The build alone leans {built:.1f}°; only the rest is worth a coach's question.",
        unit="°",
        tolerance=0.6,
    )


def ankle_needed(rng: Generator) -> Question:
    """Ask whether an ankle allows a shank lean with heels down."""
    limit, lean = int(rng.integers(20, 41)), int(rng.integers(22, 39))
    options = {
        True: "it works with the heels down",
        False: "the heels come up, or the shanks must stay more upright",
    }
    return choice(
        rng,
        f"The ankles bend {limit}° under weight. The lifter wants {lean}° of shank lean. "
        "What happens?",
        [*options.values(), "nothing: the knees make up for it"],
        options[lean <= limit],
        f"{lean}° of shank lean needs {lean}° at the ankle with a flat foot, and {limit}° are "
        "there.",
    )


def stance_reach(rng: Generator) -> Question:
    """Ask which stance a lifter can reach with level thighs."""
    lean, widths = 15, (50, 65, 80, 95)
    lifter, toes = _somebody(rng), int(rng.integers(10, 31))
    thigh, shank, hips, ankle = 100 * np.array([
        lifter.thigh_m, lifter.shank_m, lifter.hip_width_m, lifter.ankle_from_heel * lifter.foot_m
    ])  # fmt: skip
    stood = [balance(lifter, Bar.high(60), Stance(w / 100, toes), 0, lean) for w in widths]
    aside = [100 * float(leg_from_angles(lifter, posture.stance, 0.0, np.radians(lean)).knee.z)
             - hips / 2 for posture in stood]  # fmt: skip
    told = ", ".join(f"{knee:.1f} at {width}" for width, knee in zip(widths, aside, strict=True))
    return choice(
        rng,
        f"Level thighs, toes {toes}° out, shanks leaning {lean}° the way the feet point. Thighs "
        f"are {thigh:.1f} cm long, shanks {shank:.1f} cm; the hip joints are {hips:.1f} cm apart, "
        f"each ankle is {ankle:.1f} cm ahead of its heel. Which is the widest of these stances, "
        "between the heels, that can be reached?",
        [f"{width} cm" for width in widths],
        f"{max(w for w, p in zip(widths, stood, strict=True) if p.feasible)} cm",
        f"The knee is ½ stance + ({ankle:.1f} + {shank:.1f} sin {lean}°) sin {toes}° − ½ "
        f"{hips:.1f} cm to the side of the hip: {told}. The thigh spans {thigh:.1f} cm at most.",
    )  # fmt: skip


def bar_or_system(rng: Generator) -> Question:
    """Ask where a light bar is when lifter and bar balance."""
    lifter, load = _somebody(rng), int(rng.integers(0, 4)) * 5 + 20
    posture = balance(lifter, Bar.high(load), Stance())
    ahead = 100 * float(posture.points["bar"][0])
    options = ["ahead of mid-foot", "over mid-foot", "behind mid-foot"]
    right = options[1 if abs(ahead) < 0.5 else 0 if ahead > 0 else 2]
    return choice(
        rng,
        f"A {lifter.mass_kg:.0f} kg lifter squats a bar of {load} kg to level thighs, in balance. "
        "Where is the bar?",
        options,
        right,
        f"It is {abs(ahead):.1f} cm {right.split(' mid')[0]} mid-foot: what must be over mid-foot "
        "is lifter and bar together. The heavier the bar, the closer it comes.",
    )


def com_shift(rng: Generator) -> Question:
    """Ask how far a lower bar takes the centre of mass, the trunk held."""
    lifter, load = _somebody(rng), 10.0 * int(rng.integers(6, 15))
    high, low = Bar.high(load), Bar.low(load)
    start = balance(lifter, high, Stance())
    lean = round(float(start.trunk_deg))
    before, after = (pose(lifter, bar, Stance(), lean) for bar in (high, low))
    back = 100 * float(before.com[0] - after.com[0])
    down = 100 * (low.drop_m - high.drop_m)
    return Question(
        f"A {lifter.mass_kg:.0f} kg lifter holds the trunk at {lean}°. A bar of {load:g} kg moves "
        f"{down:.2f} cm down the back. How far back does the common centre of mass move?",
        back,
        f"The bar goes {down:.2f} × sin {lean}° back; the centre follows by the bar's share of the "
        f"mass, {load:g} / {load + lifter.mass_kg:g}.",
        unit="cm",
        tolerance=0.2,
    )


def _somebody(rng: Generator) -> Lifter:
    """Return a lifter of average proportions, stature and mass in round numbers."""
    return Lifter.from_stature(rng.integers(158, 193) / 100, float(rng.integers(58, 101)))


MAKERS: dict[str, Callable[[Generator], Question]] = {
    maker.__name__: maker
    for maker in (
        notation, rack_hole, plates_per_side, hip_arm, bar_place, hip_plus_knee, who_leans_more,
        lean_explained, ankle_needed, stance_reach, bar_or_system, com_shift,
    )
}  # fmt: skip
