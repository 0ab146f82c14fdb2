"""Charts over the time of a repetition: who starts, how fast the bar is, what it costs."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from squatlab.mechanics.dynamics import dynamic_moments
from squatlab.motion import Rep
from squatlab.motion.ascent import Ascent, ascent_of
from squatlab.motion.onsets import side_view
from squatlab.show import palette
from squatlab.show.moving import Moving
from squatlab.show.plot import PAGE, Chart, Plot, axis, box_of, chart
from squatlab.show.primitives import Text
from squatlab.signals import ONSET
from squatlab.units import MOMENT

START_S, RISE_S = (-0.1, 1.9), (-0.2, 3.2)
"""What the two plots show, s from the first bend and from where the ascent begins."""

BENT, SPEEDS = (0.0, 40.0), (-0.2, 1.8)
"""How far bent, % of the most, and the bar's speed, m/s, that they show."""

LOOKS = {"hip": (palette.HIP, "", "round"), "knee": (palette.KNEE, "12 5", "square")}
"""Colour, dash and mark of each joint."""


class RepetitionChart:
    """Plot who starts first, magnified, and below it the bar's speed on the way up.

    ``of`` returns a repetition's chart with an instant marked. Shaded:
    the sticking region, from the first peak of speed to the slowest.
    """

    def __init__(
        self,
        size: tuple[float, float] = PAGE,
        speeds: tuple[float, float] = SPEEDS,
        rise_s: tuple[float, float] = RISE_S,
    ) -> None:
        self.size, self.speeds, self.rise_s = size, speeds, rise_s
        left, top, right, bottom = box_of(size)
        high = 0.5 * (bottom - top - 76)
        self.start = Plot(
            axis("Time from the first bend, s", *START_S),
            axis("How far bent, % of the most", *BENT, 4),
            (left, top, right, top + high),
        )
        self.speed = Plot(
            axis("Time from the start of the ascent, s", *rise_s),
            axis("Speed of the bar going up, m/s", *speeds, 4),
            (left, bottom - high, right, bottom),
        )
        self.stage = (
            *self.start.frame(),
            *self.speed.frame(),
            *self.start.level(100 * ONSET, palette.INK, "2 4", 1.0),
            *self.speed.level(0.0, palette.SOFT),
        )

    def of(self, rep: Rep, instant_s: ArrayLike = np.nan) -> Chart:
        """Return the chart of a set's first repetition.

        ``instant_s``, a number or (positions,), is marked in both plots,
        s from the first bend.
        """
        up, seen = ascent_of(rep), side_view(rep.posture)
        when = {name: at - rep.events["start"] for name, at in rep.events.items()}
        time = rep.time - rep.events["start"]
        rising = time - when["ascent"]
        marks = [*self._sticking(up, rising), *self._onsets(rep, seen, when, time)]
        marks += self.speed.upright(0.0, palette.SOFT, "4 3", 1.0)
        low, high = self.rise_s
        inside = (rising >= low) & (rising <= high) & (up.speed >= self.speeds[0])
        marks += self.speed.curve(*_thinned(rising[inside], up.speed[inside]), palette.SYSTEM)
        peaks = [up.first_peak, up.slowest, up.second_peak] if up.sticks else [up.fastest]
        for frame in peaks:
            marks += self.speed.mark(rising[frame], up.speed[frame], palette.SYSTEM, size=5.0)
        told = ", ".join(f"{up.speed[frame]:.2f}" for frame in peaks) + " m/s"
        marks += self.speed.words(high, self.speeds[1], told, "end", bold=True, shift=-8 + 14j)
        instant = np.asarray(instant_s, float)
        since_rise = instant - when["ascent"]
        shown = (self.start, START_S, instant), (self.speed, self.rise_s, since_rise)
        for plot, (low, high), at in shown:
            there = np.where((at >= low) & (at <= high), at, np.nan)[()]
            marks += plot.upright(there, palette.INK, "", 1.5)
        alt = (
            f"From the first bend the hips begin at {when['hip_onset']:.2f} s and the knees at "
            f"{when['knee_onset']:.2f} s: {order_words(rep)}. {speed_words(rep, up)}"
        )
        return chart(self.stage, self.size, alt, marks, max(instant.size, 1))

    def _sticking(self, up: Ascent, time: np.ndarray) -> list[Moving]:
        if not up.sticks:
            return []
        middle = 0.5 * (time[up.first_peak] + time[up.slowest])
        return [
            *self.speed.strip(time[up.first_peak], time[up.slowest]),
            *self.speed.words(middle, self.speeds[0], "sticking region", "middle", shift=-14j),
        ]

    def _onsets(self, rep: Rep, seen, when: dict[str, float], time: np.ndarray) -> list[Moving]:
        """Return how far each joint has bent, where it sets out, and its name."""
        marks: list[Moving] = []
        crossing = {}
        for joint, (colour, dash, kind) in LOOKS.items():
            angle = getattr(seen, joint)
            share = 100 * (angle - angle[0]) / (angle[rep.bottom] - angle[0])
            inside = (time >= START_S[0]) & (time <= START_S[1]) & (share <= BENT[1])
            inside &= np.arange(time.size) <= rep.bottom
            marks += self.start.curve(*_thinned(time[inside], share[inside]), colour, dash)
            marks += self.start.mark(when[f"{joint}_onset"], 100 * ONSET, colour, kind, 6.0)
            crossing[joint] = float(np.interp(36, share[: rep.bottom], time[: rep.bottom]))
        for joint, at in crossing.items():
            # The name of whichever is ahead stands on the left of its curve.
            ahead = at == min(crossing.values())
            marks += self.start.beside(at, 36, joint, not ahead, gap=14.0)
        return marks + self.start.words(
            START_S[1], 13, order_words(rep), "end", bold=True, shift=-8 + 0j
        )


def _thinned(x: np.ndarray, y: np.ndarray, most: int = 160) -> tuple[np.ndarray, np.ndarray]:
    """Return at most about so many points of a curve: more would lie on one pixel."""
    step = max(1, x.size // most)
    kept = np.union1d(np.arange(0, x.size, step), [x.size - 1] if x.size else [])
    return x[kept.astype(int)], y[kept.astype(int)]


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


def repetition_chart(rep: Rep) -> Chart:
    """Plot onsets and speed of a repetition."""
    speed = ascent_of(rep).speed
    # As large as it goes: what sticks is a small dip.
    rise_s = rep.events["end"] - rep.events["ascent"]
    return RepetitionChart(
        speeds=(-0.12 * speed.max(), 1.4 * speed.max()), rise_s=(-0.1 * rise_s, 1.05 * rise_s)
    ).of(rep)


def still_and_moving(rep: Rep) -> Chart:
    """Plot the hip's and the knee's moment as if still, and as it moves.

    Per leg; the difference is what speeding up and slowing down adds.
    """
    both = {"as if still": rep.moments, "moving": dynamic_moments(rep.posture, rep.time)}
    time, told = rep.time - rep.events["start"], []
    parts: list[Moving] = []
    for part, (joint, (colour, *_)) in enumerate(LOOKS.items()):
        curves = {name: MOMENT.shown(getattr(moments, joint)) for name, moments in both.items()}
        low = min(0.0, *(moment.min() for moment in curves.values()))
        most = max(moment.max() for moment in curves.values())
        plot = Plot(
            axis("Time from the first bend, s", time[0], time[-1]),
            axis(f"{joint.capitalize()}, {MOMENT.unit} per leg", low, 1.18 * most),
            box_of(PAGE, part=part, parts=2),
        )
        parts += plot.frame()
        for (name, moment), dash in zip(curves.items(), ("7 4", ""), strict=True):
            parts += plot.curve(*_thinned(time, moment, 300), colour, dash, 2.5)
            told.append(f"{joint} at most {moment.max():.0f} {name}")
        corner = complex(plot.box[0] + 10, plot.box[1] + 16)
        parts.append(Text(corner, "dashed: as if still; solid: moving"))
    alt = f"Moments in {MOMENT.unit} per leg over a repetition: {', '.join(told)}."
    return chart(parts, PAGE, alt)
