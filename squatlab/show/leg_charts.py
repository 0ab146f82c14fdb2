"""Charts of what depth, shank lean and stance do to moments and lean."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.posture import OBSTACLES, Posture
from squatlab.mechanics.trunk import Bar
from squatlab.show import palette
from squatlab.show.chart import (
    Chart,
    depth_axis,
    held,
    name_ends,
    shank_on_the_way,
    takeaway,
    words,
)
from squatlab.show.feasible_map import regions

LOAD_KG = 100.0
"""On the bar where a chart is asked for without one [teaching-value]."""

WAY_DOWN = np.linspace(60, -20, 81)
"""Thigh elevations of a descent, °: from 60° above level to 20° below."""

LOOKS = {
    "hip": (palette.HIP, "-", "o"),
    "knee": (palette.KNEE, (0, (6, 2)), "s"),
    "hip + knee": (palette.INK, (0, (1, 1.5)), "D"),
}
"""Colour, dash and marker of each joint's line."""

TURNOUTS = {
    0: (palette.BLUE, "-"),
    15: (palette.RED, (0, (6, 2))),
    30: (palette.PLUM, (0, (2, 1.5))),
}
"""Turnouts compared, °, each with its colour and dash."""

NARROW = 55
"""Width of the narrowest shaded strip that has room for words, pixels."""


def someone(lifter: Lifter | None) -> Lifter:
    """Return the lifter, or one of 1.75 m, 80 kg and average build."""
    return Lifter.from_stature(1.75, 80) if lifter is None else lifter


def moments_by_depth(
    lifter: Lifter | None = None,
    load_kg: float = LOAD_KG,
    shank_deg: float = 30.0,
    stance: Stance | None = None,
) -> Chart:
    """Plot joint moments and lean against depth, high bar and low bar.

    With the same legs in balance the moments of both coincide; only the
    lean differs. Load in kg; ``shank_deg`` is the shank's lean with level
    thighs, less above and more below.
    """
    chart = Chart(
        "Depth: thigh above or below level", ("Moment, N·m per leg", "Trunk lean, °"), right=100
    )
    moments_panel, lean_panel = chart.panels
    shank = shank_on_the_way(WAY_DOWN, shank_deg)
    ways = {
        bar.name: balance(someone(lifter), bar, stance or Stance(), WAY_DOWN, shank)
        for bar in (Bar.high(load_kg), Bar.low(load_kg))
    }
    joints = {}
    for joint in ("hip", "knee"):
        colour, dash, marker = LOOKS[joint]
        high, low = (held(getattr(joint_moments(way), joint), way) for way in ways.values())
        moments_panel.plot(-WAY_DOWN, high, color=colour, ls=dash, lw=3)
        marks = {"ms": 9, "mfc": "white", "mec": colour, "mew": 2}
        moments_panel.plot(-WAY_DOWN[4::12], low[4::12], marker, **marks)
        joints[joint] = -WAY_DOWN, high
    leans = {}
    for (name, way), dash in zip(ways.items(), ("-", (0, (6, 2))), strict=True):
        lean = held(way.trunk_deg, way)
        lean_panel.plot(-WAY_DOWN, lean, color=palette.INK, ls=dash, lw=3)
        leans[name] = -WAY_DOWN, lean
    for axes, lines in ((moments_panel, joints), (lean_panel, leans)):
        axes.set(xlim=(-60, 20), ylim=(0, 1.22 * axes.get_ylim()[1]))
        depth_axis(axes)
        name_ends(axes, lines)
    at = {"transform": moments_panel.transAxes}
    words(moments_panel, 0.02, 0.95, "lines: high bar; open marks: low bar", **at)
    takeaway(moments_panel, "Both bars alike")
    takeaway(lean_panel, "Lower bar, more lean")
    chart.alt = _depth_words(ways, load_kg)
    return chart


def _depth_words(ways: dict[str, Posture], load_kg: float) -> str:
    level = int(np.argmin(np.abs(WAY_DOWN)))
    high, low = ways.values()
    head = f"Joint moments and lean against depth with {load_kg:g} kg. With level thighs "
    if not (high.feasible[level] and low.feasible[level]):
        return f"{head}the posture cannot be held: {high.reason[level] or low.reason[level]}."
    moments = joint_moments(high)
    return (
        f"{head}hip {moments.hip[level]:.0f} and knee {moments.knee[level]:.0f} N·m per leg with "
        f"either bar; lean {high.trunk_deg[level]:.1f}° with the high bar and "
        f"{low.trunk_deg[level]:.1f}° with the low bar."
    )


def moments_by_shank(
    lifter: Lifter | None = None,
    bar: Bar | None = None,
    thigh_deg: float = 0.0,
    stance: Stance | None = None,
) -> Chart:
    """Plot joint moments against the lean of the shanks, at one depth.

    Hip and knee share a total that hardly changes, and not at all with
    the feet straight ahead: what one gains the other loses.
    """
    bar = Bar.high(LOAD_KG) if bar is None else bar
    chart = Chart("Shank lean, ° from upright", "Moment, N·m per leg", right=130)
    shank = np.linspace(5, 45, 81)
    way = balance(someone(lifter), bar, stance or Stance(), thigh_deg, shank)
    moments = joint_moments(way)
    lines = {
        name: held(values, way)
        for name, values in (
            ("hip", moments.hip),
            ("knee", moments.knee),
            ("hip + knee", moments.hip + moments.knee),
        )
    }
    for name, y in lines.items():
        colour, dash, _ = LOOKS[name]
        chart.axes.plot(shank, y, color=colour, ls=dash, lw=3)
    low, high = chart.axes.get_ylim()
    chart.axes.set(xlim=(5, 45), ylim=(min(0, low), 1.25 * high))
    _shade(chart.axes, shank, regions(way, shank.shape))
    name_ends(chart.axes, {name: (shank, y) for name, y in lines.items()})
    takeaway(chart.axes, "What the hip gives up, the knee takes on")
    head = f"Joint moments against shank lean, {bar.name} {bar.mass_kg:g} kg, N·m per leg: "
    there = np.flatnonzero(way.feasible)
    if not there.size:
        chart.alt = f"{head}no shank lean can be held at this depth."
        return chart
    (hip, knee, both), ends = lines.values(), there[[0, -1]]
    told = (f"at {shank[i]:.0f}° hip {hip[i]:.0f} and knee {abs(knee[i]):.0f}" for i in ends)
    first, last = (f"{both[i]:.0f}" for i in ends)
    chart.alt = f"{head}{', '.join(told)}; hip and knee together {first} and {last}."
    return chart


def lean_by_stance(lifter: Lifter | None = None, bar: Bar | None = None) -> Chart:
    """Plot lean, and the thigh's length seen from the side, by stance.

    Against heel width, for three turnouts; thighs level, shanks 30°.
    Knees over the feet: turning out shortens the thigh in the side view.
    """
    bar = Bar.high(LOAD_KG) if bar is None else bar
    chart = Chart("Stance width between heels, cm",
                  ("Trunk lean, °", "Thigh seen from the side, cm"), right=100)  # fmt: skip
    width = np.linspace(10, 70, 121)
    lean_lines, thigh_lines, told = {}, {}, []
    for turnout, (colour, dash) in TURNOUTS.items():
        way = balance(someone(lifter), bar, Stance(width / 100, turnout))
        lean, thigh = held(way.trunk_deg, way), held(100 * (way.knee.x - way.hip.x), way)
        for axes, y in zip(chart.panels, (lean, thigh), strict=True):
            axes.plot(width, y, color=colour, ls=dash, lw=3)
        name = f"{turnout}° out" if turnout else "straight"
        lean_lines[name], thigh_lines[name] = (width, lean), (width, thigh)
        there = np.flatnonzero(way.feasible)
        feet = f"feet turned out {turnout}°" if turnout else "feet straight ahead"
        told += [
            f"{feet} "
            + ", ".join(
                f"{lean[i]:.1f}° at {width[i]:.0f} cm (thigh {thigh[i]:.1f} cm)"
                for i in there[[0, -1]]
            )
            if there.size
            else f"{feet} none can be held"
        ]
    for axes, lines in zip(chart.panels, (lean_lines, thigh_lines), strict=True):
        low, high = axes.get_ylim()
        axes.set(xlim=(10, 70), ylim=(min(0, low), 1.1 * high))
        name_ends(axes, lines)
    head = f"Trunk lean against stance width, {bar.name} {bar.mass_kg:g} kg: "
    chart.alt = head + "; ".join(told).replace(" -", " −") + "."
    return chart


def _shade(axes: Axes, x: NDArray[np.float64], numbers: NDArray[np.int64]) -> None:
    """Shade the parts of an axis that cannot be held and say why."""
    degree = axes.get_window_extent().width / (x[-1] - x[0])
    for number in np.unique(numbers[numbers > 0]):
        there = x[numbers == number]
        axes.axvspan(there[0], there[-1], fc=palette.NOTICE, ec=palette.SOFT, zorder=0)
        if degree * (there[-1] - there[0]) < NARROW:
            continue
        text = OBSTACLES[number - 1].replace(" do not ", "\ndo not\n").replace(" so", "\nso")
        middle, top = there.mean(), axes.get_ylim()[1]
        words(axes, middle, top, text, ha="center", va="top", linespacing=1.05, bbox=None)
