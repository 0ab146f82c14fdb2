"""The charts of the notebooks: each a picture that also says its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.trunk import Bar
from squatlab.show import palette
from squatlab.show.chart import Chart, depth_axis, words
from squatlab.show.feasible_map import OBSTACLES, FeasibleMap, regions
from squatlab.show.marked_charts import LeanByBuild, LeanByLoad

__all__ = [
    "Chart",
    "bar_path",
    "feasible_map",
    "lean_by_build",
    "lean_by_load",
    "moments_by_depth",
    "moments_by_shank",
    "shift_by_bar_place",
]

WAY_DOWN = np.linspace(60, -30, 91)
"""Thigh elevations of a descent, °: from 60° above level to 30° below."""

LOOKS = {
    "hip": (palette.HIP, "-", "o"),
    "knee": (palette.KNEE, (0, (6, 2)), "s"),
    "ankle": (palette.PLUM, (0, (2, 1.5)), "^"),
}
"""Colour, dash and marker of each joint's line."""


def shank_on_the_way(shank_deg: float = 30.0) -> NDArray[np.float64]:
    """Return the shank's lean at each depth of ``WAY_DOWN``, °.

    From 2° standing (thigh 88° above level); most of it comes early, as
    the knees lead, and all of it is there at the end [teaching-value].
    """
    part = (88.0 - WAY_DOWN) / (88.0 - WAY_DOWN[-1])
    return 2.0 + (shank_deg - 2.0) * np.sin(0.5 * np.pi * part)


def moments_by_depth(
    lifter: Lifter, load_kg: float = 60.0, stance: Stance | None = None, shank_deg: float = 30.0
) -> Chart:
    """Plot joint moments and lean against depth, high bar and low bar.

    With the same legs in balance the moments of both coincide; only the
    lean differs. Load in kg.
    """
    chart = Chart(
        "Depth: thigh above or below level", ("Moment, N·m per leg", "Trunk lean, °"), right=60
    )
    left, right = chart.panels
    told = {}
    for bar, style in ((Bar.high(load_kg), "-"), (Bar.low(load_kg), "--")):
        shank = shank_on_the_way(shank_deg)
        way = balance(lifter, bar, stance or Stance(), WAY_DOWN, shank)
        moments = joint_moments(way)
        for joint, (colour, _, marker) in LOOKS.items():
            y = _held(getattr(moments, joint), way.feasible)
            if style == "-":
                left.plot(-WAY_DOWN, y, color=colour, lw=3)
                _at_the_end(left, y, joint)
            else:
                left.plot(-WAY_DOWN[4::10], y[4::10], marker, ms=8, mfc="white", mec=colour, mew=2)
        lean = _held(way.trunk_deg, way.feasible)
        right.plot(-WAY_DOWN, lean, style, color=palette.INK, lw=3)
        end = np.flatnonzero(np.isfinite(lean))[-1]
        up = "bottom" if style == "--" else "top"
        words(right, -WAY_DOWN[end] + 2, lean[end], bar.name.replace(" ", "\n"), va=up)
        level = int(np.argmin(abs(WAY_DOWN)))
        told[bar.name] = moments, lean[level], level
    for axes in chart.panels:
        axes.set(xlim=(-60, 30), ylim=(0, 1.15 * axes.get_ylim()[1]))
        depth_axis(axes)
    note = "lines: high bar · open marks: low bar"
    words(left, 0.02, 0.96, note, transform=left.transAxes)
    (moments, high_lean, level), (_, low_lean, _) = told["high bar"], told["low bar"]
    chart.alt = (
        f"Joint moments and lean against depth with {load_kg:g} kg. With level thighs hip "
        f"{moments.hip[level]:.0f}, knee {moments.knee[level]:.0f}, ankle "
        f"{moments.ankle[level]:.0f} N·m per leg for both bars; lean {high_lean:.1f}° with the "
        f"high bar and {low_lean:.1f}° with the low bar."
    )
    return chart


def moments_by_shank(
    lifter: Lifter, bar: Bar, stance: Stance | None = None, thigh_deg: float = 0.0
) -> Chart:
    """Plot joint moments against the lean of the shanks, at one depth.

    Hip and knee share a total that hardly changes: what one gains the
    other loses.
    """
    chart = Chart("Shank lean, ° from upright", "Moment, N·m per leg", right=130)
    shank = np.linspace(5, 45, 81)
    way = balance(lifter, bar, stance or Stance(), thigh_deg, shank)
    moments = joint_moments(way)
    both = moments.hip + moments.knee
    for joint, (colour, dash, _) in LOOKS.items():
        y = _held(getattr(moments, joint), way.feasible)
        chart.axes.plot(shank, y, color=colour, ls=dash, lw=3)
        _at_the_end(chart.axes, y, joint, shank)
    total = _held(both, way.feasible)
    chart.axes.plot(shank, total, ":", color=palette.INK, lw=2.5)
    _at_the_end(chart.axes, total, "hip + knee", shank)
    chart.axes.set(xlim=(5, 45), ylim=(min(0, np.nanmin(_held(moments.knee, way.feasible))), None))
    chart.axes.set_ylim(top=1.25 * chart.axes.get_ylim()[1])
    _shade(chart.axes, shank, regions(way, shank.shape))
    held = shank[way.feasible]
    first, last = (np.flatnonzero(way.feasible)[i] for i in (0, -1))
    chart.alt = (
        f"Joint moments against shank lean, {bar.name} {bar.mass_kg:g} kg, N·m per leg: at "
        f"{held[0]:.0f}° hip {moments.hip[first]:.0f} and knee {moments.knee[first]:.0f}, at "
        f"{held[-1]:.0f}° hip {moments.hip[last]:.0f} and knee {moments.knee[last]:.0f}; "
        f"together {both[first]:.0f} and {both[last]:.0f}."
    )
    return chart


def lean_by_build(lifter: Lifter | None = None) -> LeanByBuild:
    """Plot lean against thigh-to-trunk length over a population [ansur2].

    ``lifter``, if given, is marked among them.
    """
    chart = LeanByBuild()
    return chart if lifter is None else chart.mark(lifter)


def lean_by_load(
    lifter: Lifter, bar: Bar, stance: Stance | None = None, thigh_deg: float = 0.0
) -> LeanByLoad:
    """Plot the lean by both rules of balance against load.

    The bar's own load is marked.
    """
    chart = LeanByLoad().show(lifter, bar, stance or Stance(), thigh_deg)
    return chart.mark(float(bar.mass_kg))


def feasible_map(
    lifter: Lifter,
    bar: Bar,
    stance: Stance | None = None,
    across: str = "shank",
    up: str = "depth",
) -> FeasibleMap:
    """Map what the lifter can hold, over two of four quantities.

    ``across`` and ``up`` are "shank", "depth", "width" or "turnout".
    """
    return FeasibleMap(across, up).show(lifter, bar, stance or Stance())


def bar_path(
    lifter: Lifter, bar: Bar, loads_kg: Sequence[float] = (20, 60, 180), shank_deg: float = 30.0
) -> Chart:
    """Plot the way of the bar's centre down a squat, for several loads.

    At every depth bar and lifter together are over mid-foot; the
    heavier the bar, the nearer it runs to the line itself.
    """
    chart = Chart("Bar ahead of mid-foot, cm", "Height of the bar, cm")
    axes, told = chart.axes, []
    axes.axvline(0, color=palette.INK, lw=1.5, ls=(0, (1, 3)))
    styles = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (8, 2, 2, 2)))
    colours = (palette.BLUE, palette.RED, palette.PLUM, palette.VIOLET)
    for number, load in enumerate(loads_kg):
        look = {"color": colours[number % 4], "ls": styles[number % 4], "lw": 3}
        way = balance(
            lifter, replace(bar, mass_kg=load), Stance(), WAY_DOWN, shank_on_the_way(shank_deg)
        )
        x = _held(100 * way.bar_centre.x, way.feasible)
        y = _held(100 * way.bar_centre.y, way.feasible)
        axes.plot(x, y, **look)
        furthest = int(np.nanargmax(abs(x)))
        words(axes, x[furthest] + 0.25, y[furthest], f"{load:g} kg")
        told.append(f"{x[furthest]:.1f} cm with {load:g} kg")
    widest = max(8.0, *(np.abs(axes.get_xlim())))
    axes.set_xlim(-0.4 * widest, 1.15 * widest)
    words(axes, -0.1, axes.get_ylim()[1], "mid-foot", ha="right", va="top")
    chart.alt = (
        f"Path of the bar ({bar.name}) on the way down, bar and lifter together over mid-foot "
        f"at every depth. Furthest ahead of mid-foot: {', '.join(told)}."
    )
    return chart


def shift_by_bar_place(
    lifter: Lifter, loads_kg: Sequence[float] = (20, 60, 120), stance: Stance | None = None
) -> Chart:
    """Plot where the centre of mass goes when only the bar slides down.

    Legs and trunk are held as they balance the high bar: the lower the
    bar, the further back the centre of bar and lifter together.
    """
    chart = Chart("Bar position, cm below the neck bone (C7)", "Centre of mass ahead of mid-foot, cm",
                  right=100)  # fmt: skip
    drop, told = np.linspace(0, 14, 57), []
    feet = stance or Stance()
    chart.axes.axhline(0, color=palette.INK, lw=1.5, ls=(0, (1, 3)))
    styles = zip(
        (palette.BLUE, palette.RED, palette.PLUM, palette.VIOLET) * 2,
        ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (8, 2, 2, 2))) * 2,
        strict=True,
    )
    low_cm = 100 * float(Bar.low(0).drop_m)
    for load, (colour, dash) in zip(loads_kg, styles, strict=False):
        high = Bar.high(load)
        lean = float(balance(lifter, high, feet).trunk_deg)
        shift = 100 * pose(lifter, replace(high, drop_m=drop / 100), feet, lean).com_shift
        chart.axes.plot(drop, shift, color=colour, ls=dash, lw=3)
        words(chart.axes, 14.2, shift[-1], f"{load:g} kg")
        told.append(f"{np.interp(low_cm, drop, shift):.1f} cm with {load:g} kg")
    chart.axes.set_xlim(0, 14)
    for name, cm in (("high bar", 100 * float(Bar.high(0).drop_m)), ("low bar", low_cm)):
        chart.axes.axvline(cm, color=palette.SOFT, lw=1.2)
        words(chart.axes, cm, chart.axes.get_ylim()[0], f" {name}", va="bottom")
    chart.alt = (
        "Centre of mass ahead of mid-foot against bar position, legs and trunk held as they "
        f"balance the high bar. At the low bar's place: {', '.join(told)}."
    ).replace(" -", " −")
    return chart


def _held(values: ArrayLike, feasible: ArrayLike) -> NDArray[np.float64]:
    """Return the values, nan where the posture cannot be held."""
    return np.where(feasible, values, np.nan)


def _at_the_end(
    axes: Axes, y: NDArray[np.float64], name: str, x: NDArray[np.float64] = -WAY_DOWN
) -> None:
    """Write a line's name where the line ends."""
    end = np.flatnonzero(np.isfinite(y))[-1]
    words(axes, x[end] + 1.2, y[end], name)


def _shade(axes: Axes, x: NDArray[np.float64], numbers: NDArray[np.int64]) -> None:
    """Shade the parts of an axis that cannot be held and say why."""
    for number in np.unique(numbers[numbers > 0]):
        there = x[numbers == number]
        axes.axvspan(there[0], there[-1], color=palette.NOTICE, zorder=0)
        text = OBSTACLES[number - 1].replace(" do not ", "\ndo not\n").replace(" so", "\nso")
        middle, top = there.mean(), axes.get_ylim()[1]
        words(axes, middle, top, text, ha="center", va="top", linespacing=1.05)
