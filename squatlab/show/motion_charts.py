"""Charts over the time of a repetition: who starts, how fast the bar is, what it costs."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from squatlab.mechanics.dynamics import dynamic_moments
from squatlab.motion import Rep
from squatlab.motion.ascent import Ascent, ascent_of
from squatlab.motion.onsets import side_view
from squatlab.show import palette
from squatlab.show.chart import BOTTOM, LEFT, PAGE, RIGHT, TOP, Chart, words
from squatlab.signals import ONSET

START_S, WHOLE_S = (-0.1, 1.9), (-0.3, 5.5)
"""What the two panels show, s from the first bend."""

LOOKS = {"hip": (palette.HIP, "-", "o"), "knee": (palette.KNEE, (0, (6, 2)), "s")}
"""Colour, dash and marker of each joint."""


class RepetitionChart(Chart):
    """Plot who starts first, magnified, and below it the bar's speed.

    ``show`` draws a repetition, ``mark`` an instant of it. Shaded: the
    sticking region, from the first peak of speed to the slowest.
    """

    def __init__(self, size_px: tuple[int, int] = PAGE) -> None:
        names = "How far bent, % of the most", "Speed of the bar, m/s; up is above 0"
        super().__init__("Time from the first bend, s", names, size_px)
        width, height = size_px
        high = 0.5 * (height - 2 * TOP - BOTTOM - 24)
        for axes, low in zip(self.panels, (BOTTOM + high + TOP + 24, BOTTOM), strict=True):
            axes.set_position([LEFT / width, low / height, 1 - (LEFT + RIGHT) / width,
                               high / height])  # fmt: skip
        start, speed = self.panels
        start.set(xlim=START_S, ylim=(0, 40), xlabel="")
        start.axhline(100 * ONSET, color=palette.INK, lw=1, ls=(0, (1, 2)))
        speed.set(xlim=WHOLE_S, ylim=(-2.4, 1.9))
        speed.axhline(0, color=palette.SOFT, lw=1)
        self._region = self.moving(speed.axvspan(0, 0, fc=palette.NOTICE, ec=palette.SOFT))
        edge = {"color": palette.SOFT, "lw": 1, "ls": "--"}
        self._edges = {at: self.moving(speed.axvline(0, **edge)) for at in ("bottom", "ascent")}
        self._now = [self._line(axes, color=palette.INK, lw=1.5) for axes in self.panels]
        self._bends, self._onsets, self._names = {}, {}, {}
        for joint, (colour, dash, marker) in LOOKS.items():
            self._bends[joint] = self._line(start, color=colour, ls=dash, lw=3)
            look = {"marker": marker, "color": colour, "mec": palette.PAPER, "ms": 11}
            self._onsets[joint] = self._line(start, **look)
            self._names[joint] = self.moving(words(start, 0, 36, joint, bold=True))
        self._first = self.moving(words(start, 1.87, 13, "", bold=True, ha="right"))
        self._speed = self._line(speed, color=palette.SYSTEM, lw=3)
        self._peaks = self._line(speed, color=palette.SYSTEM, marker="D", ms=8, ls="")
        self._told = self.moving(words(speed, 5.4, 1.55, "", bold=True, ha="right"))
        self._parts = {part: self.moving(words(speed, 0, -1.95, part, ha="center"))
                       for part in ("down", "up")}  # fmt: skip

    def _line(self, axes: Axes, **look: Any) -> Line2D:
        return self.moving(axes.plot([], [], **look)[0])

    def show(self, rep: Rep) -> RepetitionChart:
        """Draw the first repetition of a set."""
        up, seen = ascent_of(rep), side_view(rep.posture)
        when = {name: at - rep.events["start"] for name, at in rep.events.items()}
        time, there = rep.time - rep.events["start"], {}
        for joint, curve in self._bends.items():
            angle = getattr(seen, joint)
            share = 100 * (angle - angle[0]) / (angle[rep.bottom] - angle[0])
            curve.set_data(time, share)
            self._onsets[joint].set_data([when[f"{joint}_onset"]], [100 * ONSET])
            there[joint] = float(np.interp(36, share[: rep.bottom], time[: rep.bottom]))
        for joint, name in self._names.items():
            # The name of whichever is ahead stands on the left of its curve.
            side, gap = ("right", -0.03) if there[joint] == min(there.values()) else ("left", 0.03)
            name.set(x=there[joint] + gap, ha=side)
        self._first.set_text(order_words(rep))
        self._speed.set_data(time, up.speed)
        for name, edge in self._edges.items():
            edge.set_xdata([when[name]] * 2)
        self._parts["down"].set_x(0.5 * when["bottom"])
        self._parts["up"].set_x(0.5 * (when["ascent"] + when["end"]))
        self._sticking(up, time)
        self.alt = (
            f"From the first bend the hips begin at {when['hip_onset']:.2f} s and the knees at "
            f"{when['knee_onset']:.2f} s: {order_words(rep)}. {speed_words(rep, up)}"
        )
        return self

    def _sticking(self, up: Ascent, time: np.ndarray) -> None:
        marked = [up.first_peak, up.slowest, up.second_peak] if up.sticks else [up.fastest]
        self._peaks.set_data(time[marked], up.speed[marked])
        self._told.set_text(", ".join(f"{up.speed[frame]:.2f}" for frame in marked) + " m/s")
        self._region.set_visible(up.sticks)
        if up.sticks:
            self._region.set_x(time[up.first_peak])
            self._region.set_width(time[up.slowest] - time[up.first_peak])

    def mark(self, instant_s: float) -> RepetitionChart:
        """Mark an instant, s from the first bend, in both panels."""
        for line in self._now:
            line.set_data([instant_s] * 2, line.axes.get_ylim())
        return self


def order_words(rep: Rep) -> str:
    """Return who begins first, and by how many ms."""
    hips_before_ms = 1000 * (rep.events["knee_onset"] - rep.events["hip_onset"])
    if abs(hips_before_ms) < 5:
        return "hips and knees together"
    return f"{'hips' if hips_before_ms > 0 else 'knees'} first by {abs(hips_before_ms):.0f} ms"


def speed_words(rep: Rep, up: Ascent) -> str:
    """Return in a sentence how fast the bar goes up and where it sticks."""
    mean = f"On the way up the bar's mean speed is {up.mean:.2f} m/s"
    if not up.sticks:
        return f"{mean}, at most {up.speed[up.fastest]:.2f} m/s, with one peak."
    thigh = rep.posture.thigh_deg[up.slowest]
    return (
        f"{mean}: first peak {up.speed[up.first_peak]:.2f}, slowest {up.speed[up.slowest]:.2f} "
        f"with the thighs {thigh:.0f}° above level, second peak {up.speed[up.second_peak]:.2f} m/s."
    )


def repetition_chart(rep: Rep) -> RepetitionChart:
    """Plot onsets and speed of a repetition."""
    return RepetitionChart().show(rep).mark(-1.0)


def still_and_moving(rep: Rep) -> Chart:
    """Plot the hip's and the knee's moment as if still, and as it moves.

    N·m per leg; the difference is what speeding up and slowing down adds.
    """
    chart = Chart("Time from the first bend, s", ("Hip, N·m per leg", "Knee, N·m per leg"))
    both = {"as if still": rep.moments, "moving": dynamic_moments(rep.posture, rep.time)}
    time, told = rep.time - rep.events["start"], []
    for axes, (joint, (colour, *_)) in zip(chart.panels, LOOKS.items(), strict=True):
        for (name, moments), dash in zip(both.items(), ((0, (4, 2)), "-"), strict=True):
            moment = getattr(moments, joint)
            axes.plot(time, moment, color=colour, ls=dash, lw=2.5)
            told.append(f"{joint} at most {moment.max():.0f} {name}")
        axes.set_xlim(time[0], time[-1])
        axes.set_ylim(top=1.18 * axes.get_ylim()[1])
        at = {"transform": axes.transAxes}
        words(axes, 0.02, 0.95, "dashed: as if still; solid: moving", **at)
    chart.alt = f"Moments in N·m per leg over a repetition: {', '.join(told)}."
    return chart
