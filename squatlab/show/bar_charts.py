"""Charts of the bar: its path down a squat, and its place on the back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.show import palette
from squatlab.show.chart import PAGE, Chart, held, shank_on_the_way, takeaway, words

LOOKS = (
    (palette.BLUE, "-"),
    (palette.RED, (0, (6, 2))),
    (palette.PLUM, (0, (2, 1.5))),
    (palette.VIOLET, (0, (8, 2, 2, 2))),
)
"""Colour and dash of the loads, in their order."""


class BarPath(Chart):
    """Plot the way of the bar's centre down a squat, for several loads.

    At every depth bar and lifter together are over mid-foot; the heavier
    the bar, the nearer it runs to the line itself. The band is the foot
    on the floor. Loads in kg. Raises ValueError for more than four.
    """

    WAY = np.linspace(60, -15, 76)
    SHANK_DEG = 28.0

    def __init__(
        self, lifter: Lifter, loads: Sequence[float], size_px: tuple[int, int] = PAGE
    ) -> None:
        if not 1 <= len(loads) <= len(LOOKS):
            raise ValueError(
                f"{len(loads)} loads given; choose 1 to {len(LOOKS)}, such as (20, 60, 140)"
            )
        super().__init__("Bar ahead of mid-foot, cm", "Height of the bar, cm", size_px)
        told = [
            self._draw(lifter, float(load), look) for load, look in zip(loads, LOOKS, strict=False)
        ]
        self._feet(lifter)
        takeaway(self.axes, "The heavier the bar, the nearer it stays to mid-foot")
        self.alt = (
            "Path of the high bar from thighs 60° above to 15° below level, bar and lifter "
            f"together over mid-foot at every depth. Furthest ahead of mid-foot: {', '.join(told)}."
        )

    def _draw(self, lifter: Lifter, load: float, look: tuple) -> str:
        shank = shank_on_the_way(self.WAY, self.SHANK_DEG)
        way = balance(lifter, Bar.high(load), Stance(), self.WAY, shank)
        x, y = (held(100 * part, way) for part in (way.bar_centre.x, way.bar_centre.y))
        self.axes.plot(x, y, color=look[0], ls=look[1], lw=3)
        if not np.isfinite(x).any():
            return f"none with {load:g} kg, which cannot be held"
        furthest = int(np.nanargmax(np.abs(x)))
        words(self.axes, x[furthest] + 0.5, y[furthest], f"{load:g} kg", bold=True)
        return f"{x[furthest]:.1f} cm with {load:g} kg".replace("-", "−")

    def _feet(self, lifter: Lifter) -> None:
        foot = balance(lifter, Bar.high(20), Stance()).right
        heel, toe = 100 * foot.heel.x, 100 * foot.toe.x
        self.axes.axvspan(heel, toe, fc=palette.NOTICE, ec=palette.SOFT, zorder=0)
        self.axes.axvline(0, color=palette.INK, lw=1.5, ls=(0, (1, 3)))
        furthest = max(toe, self.axes.dataLim.x1)
        self.axes.set_xlim(min(heel, self.axes.dataLim.x0) - 2, furthest + 4)
        low, high = self.axes.get_ylim()
        floor = low - 0.12 * (high - low)
        self.axes.set_ylim(floor, high)
        at = {"va": "bottom", "bbox": None}
        text = floor + 0.015 * (high - floor)
        words(self.axes, heel + 0.3, text, "heels", **at)
        words(self.axes, toe - 0.3, text, "toes", ha="right", **at)
        words(self.axes, -0.3, text, "mid-foot", ha="right", **at)


class ShiftByBar(Chart):
    """Plot where the centre of mass goes as only the bar slides down.

    Legs and trunk are held as they balance the high bar: the lower the
    bar, the further back the centre of bar and lifter together.
    ``mark`` marks one place of the bar.
    """

    DOWN = np.linspace(0, 10, 101)

    def __init__(self, lifter: Lifter, load_kg: float, size_px: tuple[int, int] = PAGE) -> None:
        super().__init__(
            "How far the bar is moved down the back, cm",
            "Centre of mass ahead of mid-foot, cm",
            size_px,
        )
        high = Bar.high(load_kg)
        start = balance(lifter, high, Stance())
        if not start.feasible:
            raise ValueError(f"this lifter cannot hold the high bar: {start.reason}")
        moved = replace(high, drop_m=high.drop_m + self.DOWN / 100)
        self.shift = 100 * pose(lifter, moved, Stance(), start.trunk_deg).com_shift
        self.axes.plot(self.DOWN, self.shift, color=palette.SYSTEM, lw=3)
        self.axes.axhline(0, color=palette.INK, lw=1.5, ls=(0, (1, 3)))
        floor = 1.2 * float(self.shift[-1])
        self.axes.set(xlim=(0, 10), ylim=(floor, -0.25 * floor))
        words(self.axes, 9.95, -0.03 * floor, "balanced: over mid-foot", ha="right", va="bottom")
        low = 100 * (Bar.low(0).drop_m - high.drop_m)
        self.axes.axvline(low, color=palette.SOFT, lw=1.5, ls=(0, (4, 3)))
        words(self.axes, low + 0.1, 0.96 * floor, "place of the low bar", va="bottom")
        takeaway(self.axes, "Trunk held, bar lower: the weight goes back")
        self._dot = self.mark_of()
        self._name = self.moving(words(self.axes, 0, 0, "", bold=True))
        self._told = (
            f"Centre of mass against bar place with {load_kg:g} kg, trunk held at "
            f"{start.trunk_deg:.1f}°: at the low bar's place, {low:.1f} cm down, it is "
            f"{-np.interp(low, self.DOWN, self.shift):.1f} cm behind mid-foot."
        )
        self.alt = self._told

    def mark(self, drop_cm: float) -> ShiftByBar:
        """Mark a bar moved so far down the back, and return the chart.

        Raises ValueError outside 0 to 10 cm.
        """
        if not 0 <= drop_cm <= 10:
            raise ValueError(f"drop_cm is {drop_cm}; choose 0 to 10 cm below the high bar's place")
        back = abs(float(np.interp(drop_cm, self.DOWN, self.shift)))
        self._dot.set_data([drop_cm], [-back])
        left = drop_cm > 6
        self._name.set(
            position=(drop_cm - 0.25 if left else drop_cm + 0.25, -back),
            text=f"{drop_cm:g} cm down: {back:.1f} cm back",
            ha="right" if left else "left",
            va="top" if left else "bottom",
        )
        self.alt = f"{self._told} Marked: {drop_cm:g} cm down, {back:.1f} cm behind."
        return self
