"""The questions of notebooks 00 to 05: setting up, lever arms, build, stance and balance."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.random import Generator

from squatlab.gym.plates import PlateSet
from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.lessons.glossary import term
from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance, leg_from_angles
from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.trunk import Bar, spot_of_bar
from squatlab.questions.question import Check, choice, number
from squatlab.units import (
    FLOOR_HEIGHT,
    MASS,
    MOMENT,
    READING,
    STATURE,
    STATURE_IN_WORDS,
    WORKED_LENGTH,
    QuantityKind,
    either,
)

MEASURED = ("lean", "depth", "shin lean", "moment arm")
"""The words of the glossary whose meaning is asked."""


def notation(rng: Generator) -> Check:
    """Ask what one of the course's four measured words means."""
    meanings = {word: term(word).meaning for word in MEASURED}
    word = str(rng.choice(MEASURED))
    return choice(
        rng,
        f"What does “{word}” mean in this course?",
        {meaning: f"That is what “{other}” means." for other, meaning in meanings.items()},
        right=meanings[word],
        why=f"{word.capitalize()} is {meanings[word]}.",
        hint="Three of the four words are angles, of trunk, thigh and shin; one is a distance.",
    )


def rack_hole(rng: Generator) -> Check:
    """Ask for the hole nearest to mid-sternum height."""
    stature, rack = float(rng.integers(150, 200)) / 100, Rack.of(either("50 mm", "2 in"))
    height = mid_sternum_m(stature)
    hole = rack.nearest(height)
    return number(
        f"A lifter is {STATURE_IN_WORDS.words(stature)} tall. In a rack whose hole 1 is "
        f"{FLOOR_HEIGHT.words(rack.first_hole_m)} high and whose holes are {rack.step} apart, "
        "which hole is nearest to the middle of the breastbone? Count from the lowest as 1.",
        hole,
        unit="holes",
        tolerance=0.25,
        why=f"Mid-sternum is about {FLOOR_HEIGHT.words(height)} high and hole {hole} is "
        f"{FLOOR_HEIGHT.words(rack.height(hole))}.",
        hint="Find the height of the middle of the breastbone from the stature, as above. Then "
        "count how many holes fit between hole 1 and there.",
        slips={
            round(height / rack.spacing_m): "That is counted from the floor; hole 1 is already "
            f"{FLOOR_HEIGHT.words(rack.first_hole_m)} up.",
            hole - 1: f"Hole {hole - 1} is {FLOOR_HEIGHT.words(rack.height(hole - 1))} high. Is "
            "the next one nearer? Or did you call the lowest hole 0?",
            hole + 1: f"Hole {hole + 1} is {FLOOR_HEIGHT.words(rack.height(hole + 1))} high. Is "
            "the one below nearer?",
        },
    )


def plates_per_side(rng: Generator) -> Check:
    """Ask for the mass of plates on each end of the bar."""
    plates = PlateSet.of(MASS.unit, collar=0.0)
    total = plates.empty + either(5.0, 10.0) * int(rng.integers(6, 25))
    loading = plates.load(total)
    side, unit = (total - plates.empty) / 2, plates.unit
    return number(
        f"The bar weighs {plates.empty:g} {unit} without collars. How many "
        f"{either('kilograms', 'pounds')} of plates go on each end for {total:g} {unit} in all?",
        side,
        unit=unit,
        tolerance=0.01,
        why=f"({total:g} − {plates.empty:g}) / 2 = {side:g} {unit}: {loading}.",
        hint="Take the bar away first, then share what is left between two ends.",
        slips={
            total / 2: "Half of everything counts the bar as if it were plates.",
            total - plates.empty: "That is what both ends carry together.",
        },
    )


def hip_arm(rng: Generator) -> Check:
    """Ask for the level distance from hip to bar."""
    lifter, bar = _somebody(rng), Bar.high(100)
    lean = int(rng.integers(25, 56))
    spot = spot_of_bar(lifter, bar)
    arm = float(pose(lifter, bar, Stance(), lean).moment_arms().hip_bar)
    sine, cosine = np.sin(np.radians(lean)), np.cos(np.radians(lean))
    return _measured(
        READING,
        f"The bar lies {_whole_cm(spot.along)} up the back from the hip and "
        f"{_whole_cm(spot.behind)} behind the line of the trunk, which leans {lean}°. "
        "How far ahead of the hip is the bar?",
        arm,
        tolerance=either(1.0, 0.4),
        why=f"Up the back times sin {lean}°, less what lies behind times cos {lean}°.",
        hint="An upright trunk has the bar behind the hip, a level one has it ahead by all that "
        "lies up the back. Which of sine and cosine grows with the lean?",
        slips={
            spot.along * cosine + spot.behind * sine: "That is how far the bar is above "
            "the hip: cosine keeps what is upright.",
            spot.along * cosine - spot.behind * sine: "Sine and cosine are exchanged: "
            "sine is what leaning brings forward.",
            spot.along * sine: "The bar does not lie on the line of the trunk but behind "
            "it, and that takes some of the distance away.",
            spot.along * sine + spot.behind * cosine: "What lies behind the line of the "
            "trunk makes the distance smaller, not larger.",
        },
    )


def bar_place(rng: Generator) -> Check:
    """Ask what a lower bar changes for the same legs and balance."""
    lifter, down = _somebody(rng), int(rng.integers(4, 9))
    high = Bar.high(10.0 * int(rng.integers(6, 15)))
    low = Bar(high.mass_kg, high.drop_m + down / 100, high.behind_m)
    before, after = (balance(lifter, bar, Stance()) for bar in (high, low))
    leaning = _direction(after.trunk_deg - before.trunk_deg, 0.1)
    holding = _direction(joint_moments(after).hip - joint_moments(before).hip, 0.1)
    options = {
        "the trunk leans more and the hip holds the same": "The hip holds what its distance from "
        "the line of the weight asks for. Did that distance stay?",
        "the trunk leans more and the hip holds more": "More lean looks like more work. But the "
        "weight stays over the same place and the hip where it was, so the distance between them "
        "stays, too.",
        "the trunk leans the same and the hip holds less": "A lower bar is closer to the hip along "
        "the back. With the same lean the weight would then lie behind mid-foot, and the lifter "
        "would tip over backward.",
        "the trunk leans less and the hip holds less": "Lower on the back is further back. The "
        "trunk has to bring the weight forward again: does it lean more or less for that?",
    }
    return choice(
        rng,
        f"The bar ({MASS.words(high.mass_kg)}) moves {WORKED_LENGTH.words(down / 100)} down the "
        "back. Legs and balance stay. "
        "What changes?",
        options,
        right=f"the trunk leans {leaning} and the hip holds {holding}",
        why=f"Lean {before.trunk_deg:.1f}° → {after.trunk_deg:.1f}°; hip "
        f"{MOMENT.figure(joint_moments(before).hip)} → "
        f"{MOMENT.words(joint_moments(after).hip)} each: the weight stays over the same place, so "
        "the legs hold the same.",
        hint="Bar and lifter together must stay over mid-foot. Start from there.",
    )


def _direction(change: float, least: float) -> str:
    """Return "more" or "less", or "the same" for a change smaller than ``least``."""
    if abs(change) < least:
        return "the same"
    return "more" if change > 0 else "less"


def hip_plus_knee(rng: Generator) -> Check:
    """Ask for the knee's share once the hip's is known."""
    lifter, bar = _somebody(rng), Bar.high(10.0 * int(rng.integers(6, 15)))
    # A turned-out knee that comes forward also shortens the thigh seen from the side: feet
    # straight ahead keep the sum exact.
    ahead = Stance(float(lifter.hip_width_m), 0.0)
    first, second = (
        joint_moments(balance(lifter, bar, ahead, 0, shank_deg)) for shank_deg in (24.0, 34.0)
    )
    return _measured(
        MOMENT,
        "Thighs level, feet straight ahead. With upright shins each hip holds "
        f"{MOMENT.figure(first.hip)} and each knee {MOMENT.words(first.knee)}. The knees now come "
        f"forward and each hip holds {MOMENT.words(second.hip)}. What does each knee hold?",
        float(second.knee),
        tolerance=either(2.0, 1.5),
        why="For one thigh position hip and knee share one sum: what the hip loses the knee gains.",
        hint="The thigh lies as before, and the same weight rests on both its ends.",
        slips={
            float(first.knee): "The knee came forward, so its distance from the line of the weight "
            "grew.",
            float(first.knee + second.hip - first.hip): "You took from the knee what the hip lost. "
            "When the knee comes forward, does it come nearer to the weight or away from it?",
            float(second.hip): "Hip and knee hold the same only if the weight is midway between "
            "them.",
            float(first.hip): "That is what the hip held before.",
        },
    )


def who_leans_more(rng: Generator) -> Check:
    """Ask which of two lifters leans more."""
    tall_cm, has_long_thighs = float(rng.integers(178, 195)), bool(rng.integers(2))
    thigh = float(rng.integers(104, 111) if has_long_thighs else rng.integers(92, 97))
    trunk = 97.0 if has_long_thighs else 103.0
    a_is_tall = bool(rng.integers(2))
    a_m, b_m = (tall_cm / 100, 1.65) if a_is_tall else (1.65, tall_cm / 100)
    a = Lifter.from_stature(a_m, 80)
    b = Lifter.from_stature(b_m, 80).scaled(thigh=thigh / 100, trunk=trunk / 100)
    lean = {
        name: balance(lifter, Bar.high(100), Stance()).trunk_deg
        for name, lifter in (("A", a), ("B", b))
    }
    return choice(
        rng,
        f"A is {STATURE.words(a_m)} with average proportions. B is {STATURE.words(b_m)}, with "
        f"thighs {thigh:.0f} % and a trunk {trunk:.0f} % of average. Same depth, shins, "
        "bar and load: who leans more?",
        {
            "A": "A is of average build. Taller or shorter, thigh and trunk grow together, and no "
            "angle changes. Look at what is not average about B.",
            "B": f"B's thighs are {thigh:.0f} % and the trunk {trunk:.0f} % of average. Does a "
            "thigh like that, for such a trunk, send the hips further back or less far?",
            "both lean the same, within 1°": "That holds for two lifters of one build, whatever "
            "their stature. These two differ in thigh and trunk.",
        },
        right=max(lean, key=lean.get),
        why=f"A leans {lean['A']:.1f}°, B {lean['B']:.1f}°: thigh against trunk decides, not "
        "stature.",
        hint="Compare the length of the thigh with that of the trunk, for each of them.",
    )


def lean_explained(rng: Generator) -> Check:
    """Ask how much of an observed lean the build does not explain."""
    thigh, trunk = (float(rng.integers(94, 109)) / 100 for _ in range(2))
    lifter = Lifter.from_stature(1.75, 80).scaled(thigh=thigh, trunk=trunk)
    built = balance(lifter, Bar.high(100), Stance()).trunk_deg
    average = float(balance(Lifter.from_stature(1.75, 80), Bar.high(100), Stance()).trunk_deg)
    seen = round(float(built)) + int(rng.integers(3, 12))
    return number(
        f"You see {seen}° of lean with level thighs. The lifter is average at "
        f"{STATURE_IN_WORDS.words(1.75)} and {MASS.words(80)} but for thighs × {thigh:.2f} and "
        f"trunk × {trunk:.2f}: use "
        "Lifter.from_stature(1.75, 80).scaled(…) and balance with Bar.high(100) and Stance(). "
        "How many degrees does the build not explain?",
        float(seen - built),
        unit="°",
        tolerance=0.6,
        why=f"The build alone leans {built:.1f}°; only the rest is worth a coach's question.",
        hint="Let balance tell what this build leans, then compare with what you see.",
        slips={
            float(built): "That is what the build asks for. The question is what is left.",
            float(built - seen): "The other way round: what is seen, less what the build asks for.",
            seen - average: f"That compares with a lifter of average build, who leans "
            f"{average:.1f}°. Put thighs × {thigh:.2f} and trunk × {trunk:.2f} into scaled(…).",
            seen: "That is all the lean there is; the build explains a part of it.",
        },
    )


def ankle_needed(rng: Generator) -> Check:
    """Ask whether an ankle allows a shank lean with heels down."""
    limit, lean = int(rng.integers(20, 41)), int(rng.integers(22, 39))
    works, fails = (
        "it works with the heels down",
        "the heels come up, or the shins must stay more upright",
    )
    return choice(
        rng,
        f"The ankles bend {limit}° under weight. The lifter wants {lean}° of shin lean. "
        "What happens?",
        {
            works: f"With the foot flat the ankle bends as far as the shin leans. Are {lean}° "
            f"there, of {limit}°?",
            fails: f"They would come up if the shin leaned further than the ankle bends. Compare "
            f"{lean}° with {limit}°.",
            "nothing: the knees make up for it": "The knee bends thigh against shin. The angle "
            "between shin and foot is the ankle's alone.",
        },
        right=works if lean <= limit else fails,
        why=f"{lean}° of shin lean needs {lean}° at the ankle with a flat foot, and {limit}° are "
        "there.",
        hint="With a flat foot, how far does the ankle bend when the shin leans?",
    )


def stance_reach(rng: Generator) -> Check:
    """Ask which stance a lifter can reach with level thighs."""
    lean, widths = 15, either((50, 65, 80, 95), (20, 26, 32, 38))
    lifter, toes = _somebody(rng), int(rng.integers(10, 31))
    unit = READING.unit
    thigh, shank = READING.shown(lifter.thigh_m), READING.shown(lifter.shank_m)
    hips = READING.shown(lifter.hip_width_m)
    ankle = READING.shown(lifter.ankle_from_heel * lifter.foot_m)
    stances = [Stance(READING.si(width), toes) for width in widths]
    postures = [balance(lifter, Bar.high(60), stance, 0, lean) for stance in stances]
    # How far to the side of its hip joint each knee is: the level thigh must span that.
    knees = [leg_from_angles(lifter, stance, 0.0, np.radians(lean)).knee for stance in stances]
    aside = [READING.shown(float(knee.z)) - hips / 2 for knee in knees]
    knee_words = ", ".join(
        f"{knee:.1f} at {width}" for width, knee in zip(widths, aside, strict=True)
    )
    reached = [width for width, posture in zip(widths, postures, strict=True) if posture.feasible]
    return choice(
        rng,
        f"Level thighs, toes {toes}° out, shins leaning {lean}° the way the feet point. Thighs "
        f"are {thigh:.1f} {unit} long, shins {shank:.1f} {unit}; the hip joints are {hips:.1f} "
        f"{unit} apart, each ankle is {ankle:.1f} {unit} ahead of its heel. Which is the widest "
        "of these stances, between the heels, that can be reached?",
        {
            f"{width} {unit}": f"At {width} {unit} the knee is {knee:.1f} {unit} to the side of "
            f"the hip, and the thigh spans {thigh:.1f} {unit} at most: "
            + ("it can be reached, and so can a wider one." if posture.feasible else "too far.")
            for width, knee, posture in zip(widths, aside, postures, strict=True)
        },
        right=f"{max(reached)} {unit}",
        why=f"The knee is ½ stance + ({ankle:.1f} + {shank:.1f} sin {lean}°) sin {toes}° − ½ "
        f"{hips:.1f} {unit} to the side of the hip: {knee_words}. The thigh spans {thigh:.1f} "
        f"{unit} at most.",
        hint="A level thigh reaches from the hip joint to the knee. Find how far to the side of "
        "the hip joint the knee is, for each stance.",
    )


def bar_or_system(rng: Generator) -> Check:
    """Ask where a light bar is when lifter and bar balance."""
    lifter, load = _somebody(rng), int(rng.integers(0, 4)) * 5 + 20
    posture = balance(lifter, Bar.high(load), Stance())
    ahead = float(posture.points["bar"][0])
    options = {
        "ahead of mid-foot": "The bar would be ahead if the rest of the lifter's weight lay "
        "behind. Does it, here?",
        "over mid-foot": "A bar much heavier than the lifter is nearly there. This one is light: "
        "what must be over mid-foot is lifter and bar together.",
        "behind mid-foot": "The lifter's own weight is a little behind mid-foot. A bar that "
        "is behind as well would balance nothing.",
    }
    right = list(options)[1 if abs(ahead) < 0.005 else 0 if ahead > 0 else 2]
    return choice(
        rng,
        f"A lifter of {MASS.words(lifter.mass_kg)} squats a bar of {MASS.words(load)} to level "
        "thighs, in balance. Where is the bar?",
        options,
        right=right,
        why=f"It is {READING.words(abs(ahead))} {right.split(' mid')[0]} mid-foot: what must be "
        "over mid-foot is lifter and bar together. The heavier the bar, the closer it comes.",
        hint="Where is the lifter's own weight, and what must balance it?",
    )


def com_shift(rng: Generator) -> Check:
    """Ask how far a lower bar takes the centre of mass, the trunk held."""
    lifter, load = _somebody(rng), 10.0 * int(rng.integers(6, 15))
    high, low = Bar.high(load), Bar.low(load)
    start = balance(lifter, high, Stance())
    lean = round(float(start.trunk_deg))
    before, after = (pose(lifter, bar, Stance(), lean) for bar in (high, low))
    back = float(before.com[0] - after.com[0])
    down = low.drop_m - high.drop_m
    lower = f"{READING.shown(down):.2f}"
    whole = f"{MASS.figure(load)} / {MASS.figure(load + lifter.mass_kg)}"
    sine, share = np.sin(np.radians(lean)), load / (load + lifter.mass_kg)
    return _measured(
        READING,
        f"A lifter of {MASS.words(lifter.mass_kg)} holds the trunk at {lean}°. A bar of "
        f"{MASS.words(load)} moves {lower} {READING.unit} down the back. How far back does the "
        "common centre of mass move?",
        back,
        tolerance=either(0.2, 0.08),
        why=f"The bar goes {lower} × sin {lean}° back; the centre follows by the bar's share of "
        f"the mass, {whole}.",
        hint="First how far back the bar itself goes on a back that leans so. Then which part of "
        "all the mass the bar is.",
        slips={
            down * sine: "That is how far the bar goes back. The lifter is weighed as well, and "
            "does not move.",
            down * share: "Down a back that leans, only a part of the way is backward.",
            down * np.cos(np.radians(lean)) * share: "Cosine gives how far down the bar goes; "
            "backward is the sine.",
            down * sine * load / lifter.mass_kg: "The bar's share is of all the mass: lifter and "
            "bar together.",
        },
    )


def _measured(
    kind: QuantityKind,
    text: str,
    right: float,
    tolerance: float,
    why: str,
    hint: str,
    slips: Mapping[float, str],
) -> Check:
    """Return a question for a quantity in the unit chosen.

    ``right`` and the numbers of ``slips`` are in SI, ``tolerance`` is in
    the unit chosen.
    """
    shown = {float(kind.shown(slip)): words for slip, words in slips.items()}
    return number(text, float(kind.shown(right)), kind.unit, tolerance, why, hint, shown)


def _whole_cm(length_m: float) -> str:
    """Return a length to whole centimetres, or to tenths of an inch."""
    return WORKED_LENGTH.words(either(round(length_m, 2), length_m))


def _somebody(rng: Generator) -> Lifter:
    """Return a lifter of average proportions, stature and mass in round numbers."""
    return Lifter.from_stature(rng.integers(158, 193) / 100, float(rng.integers(58, 101)))


MAKERS: dict[str, Callable[[Generator], Check]] = {
    maker.__name__: maker
    for maker in (
        notation,
        rack_hole,
        plates_per_side,
        hip_arm,
        bar_place,
        hip_plus_knee,
        who_leans_more,
        lean_explained,
        ankle_needed,
        stance_reach,
        bar_or_system,
        com_shift,
    )
}
