"""The charts of the notebooks, stills: each a picture that also says its numbers.

Those over the time of a repetition are in `motion_charts`, those of a
phone's errors in `phone_charts`; `plot` has axes, lines and marks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.show import palette
from squatlab.show.feasible_map import FeasibleMap
from squatlab.show.marked_charts import COUNT, SEED, LeanByBuild, LeanByLoad
from squatlab.show.moving import Moving
from squatlab.show.plot import (
    JOINT_LOOKS,
    PAGE,
    PAIR,
    Chart,
    Plot,
    axis,
    box_of,
    chart,
    depth_axis,
    held,
    mark,
    shank_on_the_way,
)
from squatlab.show.primitives import Text
from squatlab.units import BAR_PLACE, BODY_LENGTH, MASS, MOMENT, READING, either

__all__ = [
    "bar_path",
    "com_shift_by_bar",
    "feasible_map",
    "lean_by_build",
    "lean_by_load",
    "lean_by_stance",
    "moments_by_depth",
]

LOAD_KG = 100.0
"""On the bar where a chart is asked for without one [teaching-value]."""

WAY_DOWN = np.linspace(60, -20, 81)
"""Thigh elevations of a descent, °: from 60° above level to 20° below."""


TURNOUTS = {0: (palette.BLUE, ""), 15: (palette.RED, "12 5"), 30: (palette.PLUM, "5 4")}
"""Turnouts compared, °, each with its colour and dash."""

LOADS_LOOK = (
    (palette.BLUE, ""),
    (palette.RED, "12 5"),
    (palette.PLUM, "5 4"),
    (palette.VIOLET, "16 4 4 4"),
)
"""Colour and dash of the loads of a bar path, in their order."""


def _someone(lifter: Lifter | None) -> Lifter:
    """Return the lifter, or one of 1.75 m, 80 kg and average build."""
    return Lifter.from_stature(1.75, 80) if lifter is None else lifter


def _least(values: ArrayLike, at_most: float) -> float:
    """Return the least of what is finite, but no more than ``at_most``."""
    known = np.asarray(values)[np.isfinite(values)]
    return min(known.min(initial=at_most), at_most)


def _most(values: ArrayLike, at_least: float) -> float:
    """Return the most of what is finite, but no less than ``at_least``."""
    known = np.asarray(values)[np.isfinite(values)]
    return max(known.max(initial=at_least), at_least)


def lean_by_build(lifter: Lifter | None = None, seed: int = SEED, count: int = COUNT) -> Chart:
    """Plot lean against thigh-to-trunk length over a population [ansur2].

    ``lifter``, if given, is marked among ``count`` women and men drawn
    with ``seed``.
    """
    people = LeanByBuild(seed, count)
    return people.alone() if lifter is None else people.marked(lifter)


def lean_by_load(
    lifter: Lifter | None = None,
    bar: Bar | None = None,
    stance: Stance | None = None,
    thigh_deg: float = 0.0,
    shank_deg: float = 28.0,
) -> Chart:
    """Plot the lean by both rules of balance against load; the bar's own is marked."""
    bar = Bar.high(LOAD_KG) if bar is None else bar
    legs = stance or Stance(), thigh_deg, shank_deg
    return LeanByLoad().marked(bar.mass_kg, _someone(lifter), bar, *legs)


def feasible_map(
    lifter: Lifter | None = None,
    bar: Bar | None = None,
    stance: Stance | None = None,
    across: str = "shank",
    up: str = "depth",
) -> Chart:
    """Map what the lifter can hold, over two of four quantities.

    ``across`` and ``up`` are "shank", "depth", "width" or "turnout".
    """
    bar = Bar.high(LOAD_KG) if bar is None else bar
    return FeasibleMap(across, up).of(_someone(lifter), bar, stance or Stance())


def moments_by_depth(
    lifter: Lifter | None = None,
    load_kg: float = LOAD_KG,
    shank_deg: float = 30.0,
    stance: Stance | None = None,
) -> Chart:
    """Plot joint moments and lean against depth, high bar and low bar.

    With the same legs in balance the moments of both coincide; only the
    lean differs. Load in kg; ``shank_deg`` is the shin's lean with level
    thighs, less above and more below.
    """
    shank = shank_on_the_way(WAY_DOWN, shank_deg)
    postures = [
        balance(_someone(lifter), bar, stance or Stance(), WAY_DOWN, shank)
        for bar in (Bar.high(load_kg), Bar.low(load_kg))
    ]
    high, low = postures
    # By joint, with the high bar and with the low one.
    moments = {
        joint: [_shown_moment(posture, joint) for posture in postures] for joint in JOINT_LOOKS
    }
    leans = {posture.bar.name: held(posture.trunk_deg, posture) for posture in postures}
    most = max(_most(both, MOMENT.shown(100.0)) for both in moments.values())
    steepest = max(_most(lean, 30.0) for lean in leans.values())
    boxes = [box_of(PAIR, right=92, part=part, parts=2) for part in range(2)]
    depth = depth_axis(-60, 20, 30)
    left = Plot(depth, axis(f"Moment, {MOMENT.unit} per leg", 0, 1.22 * most), boxes[0])
    right = Plot(depth, axis("Trunk lean, °", 0, 1.22 * steepest), boxes[1])
    parts: list[Moving] = [*left.frame(), *right.frame()]
    for joint, look in JOINT_LOOKS.items():
        with_high, with_low = moments[joint]
        parts += left.curve(-WAY_DOWN, with_high, look.colour, look.dash)
        # Both lines coincide: the second is a mark here and there.
        places = left.at(-WAY_DOWN[4::12], with_low[4::12])
        parts += [
            mark(complex(at), palette.PAPER, look.mark, 5.0, look.colour, 2.0)
            for at in places[np.isfinite(places)]
        ]
    for lean, dash in zip(leans.values(), ("", "12 5"), strict=True):
        parts += right.curve(-WAY_DOWN, lean, palette.INK, dash)
    parts += left.name_ends({joint: (-WAY_DOWN, both[0]) for joint, both in moments.items()})
    parts += right.name_ends({name: (-WAY_DOWN, lean) for name, lean in leans.items()})
    corner = complex(boxes[0][0] + 10, boxes[0][1] + 16)
    parts.append(Text(corner, "lines: high bar; open marks: low bar"))
    parts += [*left.takeaway("Both bars alike"), *right.takeaway("Lower bar, more lean")]
    level = int(np.argmin(np.abs(WAY_DOWN)))
    head = f"Joint moments against depth with {MASS.words(load_kg)}. With thighs level: "
    for posture in postures:
        if not posture.feasible[level]:
            alt = f"{head}cannot be held: {posture.reason[level]}."
            return chart(parts, PAIR, alt, plots=2)
    hip, knee = joint_moments(high).hip[level], joint_moments(high).knee[level]
    return chart(
        parts,
        PAIR,
        f"{head}hip {MOMENT.figure(hip)} and knee {MOMENT.words(knee)} per leg "
        f"with either bar; lean {high.trunk_deg[level]:.1f}° with the high bar and "
        f"{low.trunk_deg[level]:.1f}° with the low bar.",
        plots=2,
    )


def _shown_moment(posture: Posture, joint: str) -> NDArray[np.float64]:
    """Return a joint's moment (…) in the unit chosen, nan where it cannot be held."""
    return held(MOMENT.shown(getattr(joint_moments(posture), joint)), posture)


def lean_by_stance(lifter: Lifter | None = None, bar: Bar | None = None) -> Chart:
    """Plot lean, and the thigh's length seen from the side, by stance.

    Against heel width, for three turnouts; thighs level, shins 30°.
    Knees over the feet: turning out shortens the thigh in the side view.
    """
    bar = Bar.high(LOAD_KG) if bar is None else bar
    narrowest, widest = either((10.0, 70.0), (4.0, 28.0))
    width = np.linspace(narrowest, widest, 121)
    leans, thighs, sentences = {}, {}, []
    for turnout in TURNOUTS:
        posture = balance(_someone(lifter), bar, Stance(BODY_LENGTH.si(width), turnout))
        lean = held(posture.trunk_deg, posture)
        thigh_m = held(posture.knee.x - posture.hip.x, posture)
        name = f"{turnout}° out" if turnout else "straight"
        leans[name], thighs[name] = (width, lean), (width, READING.shown(thigh_m))
        # In words: the narrowest and the widest stance that can be held.
        feet = f"feet turned out {turnout}°" if turnout else "feet straight ahead"
        can_be_held = np.flatnonzero(posture.feasible)
        ends = []
        for i in can_be_held[[0, -1]] if can_be_held.size else ():
            stance_words = BODY_LENGTH.words(BODY_LENGTH.si(width[i]))
            ends.append(f"{lean[i]:.1f}° at {stance_words} (thigh {READING.words(thigh_m[i])})")
        sentences.append(f"{feet} {', '.join(ends) or 'none can be held'}")
    parts: list[Moving] = []
    lines_of = {"Trunk lean, °": leans, f"Thigh seen from the side, {READING.unit}": thighs}
    for part, (label, named) in enumerate(lines_of.items()):
        values = np.concatenate([y for _, y in named.values()])
        low, high = _least(values, 0.0), _most(values, READING.shown(0.1))
        plot = Plot(
            axis(f"Stance width between heels, {BODY_LENGTH.unit}", narrowest, widest),
            axis(label, min(0.0, low), 1.1 * high),
            box_of(PAIR, right=84, part=part, parts=2),
        )
        parts += plot.frame()
        for (colour, dash), (x, y) in zip(TURNOUTS.values(), named.values(), strict=True):
            parts += plot.curve(x, y, colour, dash)
        parts += plot.name_ends(named)
    head = f"Trunk lean against stance width, {bar.name} {MASS.words(bar.mass_kg)}: "
    alt = head + "; ".join(sentences).replace(" -", " −") + "."
    return chart(parts, PAIR, alt, plots=2)


def bar_path(loads: Sequence[float] = (20, 60, 140), lifter: Lifter | None = None) -> Chart:
    """Plot the way of the bar's centre down a squat, for several loads, kg.

    At every depth bar and lifter together are over mid-foot; the heavier
    the bar, the nearer it runs to the line itself. The band is the foot
    on the floor. Raises ValueError for more than four loads.
    """
    if not 1 <= len(loads) <= len(LOADS_LOOK):
        raise ValueError(
            f"{len(loads)} loads given; choose 1 to {len(LOADS_LOOK)}, such as (20, 60, 140)"
        )
    someone, way_down = _someone(lifter), np.linspace(60, -15, 76)
    shank = shank_on_the_way(way_down, 28.0)
    paths, furthest_words = {}, []
    for load in map(float, loads):
        posture = balance(someone, Bar.high(load), Stance(), way_down, shank)
        x = held(READING.shown(posture.bar_centre.x), posture)
        y = held(READING.shown(posture.bar_centre.y), posture)
        paths[load] = x, y
        if np.isfinite(x).any():
            furthest = x[_furthest(x)]
            furthest_words.append(f"{READING.words(READING.si(furthest))} with {MASS.words(load)}")
        else:
            furthest_words.append(f"none with {MASS.words(load)}, which cannot be held")
    foot = balance(someone, Bar.high(20), Stance()).right
    heel, toe = READING.shown(foot.heel.x), READING.shown(foot.toe.x)
    across = np.concatenate([x for x, _ in paths.values()])
    high = np.concatenate([y for _, y in paths.values()])
    low, top = _least(high, READING.shown(2.0)), _most(high, 0.0)
    room = 0.14 * (top - low)
    plot = Plot(
        axis(
            f"Bar ahead of mid-foot, {READING.unit}",
            min(heel, _least(across, 0.0)) - READING.shown(0.02),
            max(toe, _most(across, 0.0)) + READING.shown(0.04),
            8,
        ),
        axis(f"Height of the bar, {READING.unit}", low - room, top + 0.3 * room),
        box_of(PAGE),
    )
    parts: list[Moving] = [*plot.strip(heel, toe), *plot.frame(grid=False)]
    parts += plot.upright(0.0, palette.INK, "2 5", 1.5)
    for (load, (x, y)), (colour, dash) in zip(paths.items(), LOADS_LOOK, strict=False):
        parts += plot.curve(x, y, colour, dash)
        if np.isfinite(x).any():
            i = _furthest(x)
            # Inside its arc, where the next path does not run.
            ground = palette.NOTICE if x[i] < toe else palette.PAPER
            words = MASS.words(load)
            parts += plot.words(x[i], y[i], words, "end", True, shift=-8 + 0j, ground=ground)
    bottom = plot.y.start
    on_foot = palette.NOTICE
    parts += plot.words(heel, bottom, "heels", "start", shift=6 - 14j, ground=on_foot)
    parts += plot.words(toe, bottom, "toes", "end", shift=-6 - 14j, ground=on_foot)
    parts += plot.words(0, bottom, "mid-foot", "end", shift=-6 - 14j, ground=on_foot)
    parts += plot.takeaway("The heavier the bar, the nearer it stays to mid-foot")
    return chart(
        parts,
        PAGE,
        "Path of the high bar from thighs 60° above to 15° below level, bar and lifter "
        "together over mid-foot at every depth. Furthest ahead of mid-foot: "
        f"{', '.join(furthest_words)}.",
    )


def _furthest(ahead: NDArray[np.float64]) -> int:
    """Return where on its way (points,) the bar is furthest from mid-foot, ahead or behind."""
    return int(np.nanargmax(np.abs(ahead)))


def com_shift_by_bar(lifter: Lifter | None = None, load_kg: float = LOAD_KG) -> Chart:
    """Plot where the centre of mass goes when only the bar slides down.

    Legs and trunk are held as they balance the high bar. Raises
    ValueError for a lifter who cannot hold that.
    """
    someone, high = _someone(lifter), Bar.high(load_kg)
    start = balance(someone, high, Stance())
    if not start.feasible:
        raise ValueError(f"this lifter cannot hold the high bar: {start.reason}")
    furthest = either(10.0, 4.0)
    down = np.linspace(0, furthest, 101)
    moved = replace(high, drop_m=high.drop_m + BAR_PLACE.si(down))
    shift = READING.shown(pose(someone, moved, Stance(), start.trunk_deg).com_shift)
    floor = 1.2 * float(shift[-1])
    plot = Plot(
        axis(f"How far the bar is moved down the back, {BAR_PLACE.unit}", 0, furthest, 10),
        axis(f"Centre of mass ahead of mid-foot, {READING.unit}", floor, -0.25 * floor),
        box_of(PAGE),
    )
    low_m = Bar.low(0).drop_m - high.drop_m
    low = BAR_PLACE.shown(low_m)
    back = -float(np.interp(low, down, shift))
    # As finely as the table has it in metric; to a quarter inch in US.
    lower = either(f"{low:.4g} cm", BAR_PLACE.words(low_m))
    behind = READING.words(READING.si(back))
    parts: list[Moving] = [
        *plot.frame(),
        *plot.level(0.0, palette.INK, "2 5", 1.5),
        *plot.upright(low, palette.SOFT, "8 5", 1.5),
        *plot.curve(down, shift, palette.SYSTEM),
        *plot.mark(low, -back, palette.RED),
        *plot.words(furthest, 0.0, "balanced: over mid-foot", "end", shift=-8 - 14j),
        *plot.words(low, floor, "place of the low bar", shift=8 - 16j),
        # Below the line, where it has come from the left: there is room in every unit.
        *plot.words(low, -back, f"{lower} down: {behind} back", "end", True, shift=-14 + 14j),
        *plot.takeaway("Trunk held, bar lower: the weight goes back"),
    ]
    return chart(
        parts,
        PAGE,
        f"Centre of mass against bar place with {MASS.words(load_kg)}, trunk held at "
        f"{start.trunk_deg:.1f}°: at the low bar's place, {lower} down, it is {behind} "
        "behind mid-foot.",
    )
