"""Charts over the time of a repetition: who starts, how fast the bar is, what it costs.

Notebook 06 shows them; its explorer (`motion_explorers`) marks an instant.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.mechanics.dynamics import dynamic_moments
from squatlab.motion import Rep
from squatlab.motion.ascent import Ascent, ascent_of
from squatlab.motion.onsets import side_view
from squatlab.show import palette
from squatlab.show.moving import Moving, per_position
from squatlab.show.plot import JOINT_LOOKS, PAGE, PAIR, Chart, Plot, axis, box_of, chart
from squatlab.show.primitives import Text
from squatlab.signals import ONSET
from squatlab.units import MOMENT

START_S, RISE_S = (-0.1, 1.9), (-0.2, 3.2)
"""What the two plots show, s from the first bend and from where the ascent begins."""

BENT, SPEEDS = (0.0, 40.0), (-0.2, 1.8)
"""How far bent, % of the most, and the bar's speed, m/s, that they show."""

STACKED = (PAGE[0], 500.0)
"""Width and height of both plots, which stand below each other, picture units."""

BETWEEN = 96.0
"""Between them: the name of the upper one's time, and that of the lower one's speed."""


class RepetitionChart:
    """Plot who starts first, magnified, and below it the bar's speed on the way up.

    ``of`` returns a repetition's chart with an instant marked. Shaded:
    the sticking region, from the first peak of speed to the slowest.
    """

    def __init__(
        self,
        size: tuple[float, float] = STACKED,
        speeds: tuple[float, float] = SPEEDS,
        rise_s: tuple[float, float] = RISE_S,
    ) -> None:
        self.size, self.speeds, self.rise_s = size, speeds, rise_s
        left, top, right, bottom = box_of(size)
        high = 0.5 * (bottom - top - BETWEEN)
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

    def of(self, rep: Rep | Sequence[Rep], instant_s: ArrayLike = np.nan) -> Chart:
        """Return the chart of a set's first repetition, or of one of each position.

        ``instant_s``, a number or (positions,), is marked in both plots,
        s from the first bend.
        """
        reps = [rep] if isinstance(rep, Rep) else list(rep)
        ways_up = [WayUp.of(each) for each in reps]
        instant = np.asarray(instant_s, float)
        marks = [
            *self._sticking(ways_up),
            *self._onsets(reps),
            *self.speed.upright(0.0, palette.SOFT, "4 3", 1.0),
            *self._speeds(ways_up),
            *self._instant(reps, instant),
        ]
        alt = [_in_words(way_up) for way_up in ways_up]
        return chart(self.stage, self.size, alt, marks, max(instant.size, len(reps)))

    def _speeds(self, ways_up: Sequence[WayUp]) -> list[Moving]:
        """Return the bar's speed going up, its peaks and its dip, and those in words."""
        low, high = self.rise_s
        curves = []
        for way_up in ways_up:
            time, speed = way_up.time, way_up.ascent.speed
            inside = (time >= low) & (time <= high) & (speed >= self.speeds[0])
            curves.append(_thinned(time[inside], speed[inside]))
        marks = self.speed.curve(*_padded(curves), palette.SYSTEM)
        # Repetitions differ in how many marks they have: what one lacks is nowhere.
        for number in range(max(len(way_up.extremes) for way_up in ways_up)):
            times, speeds = [], []
            for way_up in ways_up:
                frames = way_up.extremes
                has_mark = number < len(frames)
                times.append(way_up.time[frames[number]] if has_mark else np.nan)
                speeds.append(way_up.ascent.speed[frames[number]] if has_mark else np.nan)
            marks += self.speed.mark(
                per_position(times), per_position(speeds), palette.SYSTEM, size=5.0
            )
        sentences = []
        for way_up in ways_up:
            speeds = [f"{way_up.ascent.speed[frame]:.2f}" for frame in way_up.extremes]
            sentences.append(f"{', '.join(speeds)} m/s")
        words = per_position(sentences)
        marks += self.speed.words(high, self.speeds[1], words, "end", bold=True, shift=-8 + 14j)
        return marks

    def _instant(self, reps: Sequence[Rep], instant: NDArray[np.float64]) -> list[Moving]:
        """Return an upright line at the instant (positions,) in both plots, where it is inside."""
        rise_begins = per_position([_since_start(rep, "ascent") for rep in reps])
        marks: list[Moving] = []
        for plot, ends, at in (
            (self.start, START_S, instant),
            (self.speed, self.rise_s, instant - rise_begins),
        ):
            inside = (at >= ends[0]) & (at <= ends[1])
            marks += plot.upright(np.where(inside, at, np.nan)[()], palette.INK, "", 1.5)
        return marks

    def _sticking(self, ways_up: Sequence[WayUp]) -> list[Moving]:
        """Return the shaded sticking regions; one that does not stick has none."""
        begins, ends = [], []
        for way_up in ways_up:
            ascent = way_up.ascent
            begins.append(way_up.time[ascent.first_peak] if ascent.sticks else np.nan)
            ends.append(way_up.time[ascent.slowest] if ascent.sticks else np.nan)
        begin, end = per_position(begins), per_position(ends)
        return [
            *self.speed.strip(begin, end),
            *self.speed.words(end, self.speeds[1], "sticking region", shift=8 + 34j),
        ]

    def _onsets(self, reps: Sequence[Rep]) -> list[Moving]:
        """Return how far each joint has bent, where it sets out, and its name."""
        marks: list[Moving] = []
        views = [side_view(rep.posture) for rep in reps]
        named_at = {}
        for joint, look in JOINT_LOOKS.items():
            curves, onsets, crossings = [], [], []
            for rep, view in zip(reps, views, strict=True):
                angle, time = getattr(view, joint), rep.time - rep.events["start"]
                # Percent of the way from standing to the lowest point.
                share = 100 * (angle - angle[0]) / (angle[rep.bottom] - angle[0])
                inside = (time >= START_S[0]) & (time <= START_S[1]) & (share <= BENT[1])
                inside &= np.arange(time.size) <= rep.bottom
                curves.append(_thinned(time[inside], share[inside]))
                onsets.append(_since_start(rep, f"{joint}_onset"))
                down = slice(rep.bottom)
                crossings.append(float(np.interp(NAMED_AT, share[down], time[down])))
            marks += self.start.curve(*_padded(curves), look.colour, look.dash)
            marks += self.start.mark(per_position(onsets), 100 * ONSET, look.colour, look.mark, 6.0)
            named_at[joint] = per_position(crossings)
        first = np.minimum(*named_at.values())
        for joint, at in named_at.items():
            # The name of whichever is ahead stands on the left of its curve.
            marks += self.start.beside(at, NAMED_AT, joint, at != first, gap=14.0)
        words = per_position([order_words(rep) for rep in reps])
        return marks + self.start.words(START_S[1], 13, words, "end", bold=True, shift=-8 + 0j)


NAMED_AT = 36.0
"""How far bent, %, a curve is where its name stands beside it."""


class WayUp(NamedTuple):
    """Hold how the bar goes up in a repetition, and time (frame,), s.

    Time is counted from where the ascent begins.
    """

    rep: Rep
    ascent: Ascent
    time: NDArray[np.float64]

    @classmethod
    def of(cls, rep: Rep) -> WayUp:
        """Return the way up of a set's first repetition."""
        return cls(rep, ascent_of(rep), rep.time - rep.events["ascent"])

    @property
    def extremes(self) -> list[int]:
        """Return the frames to mark: both peaks and the dip between, or the fastest."""
        ascent = self.ascent
        if ascent.sticks:
            return [ascent.first_peak, ascent.slowest, ascent.second_peak]
        return [ascent.fastest]


def _since_start(rep: Rep, event: str) -> float:
    """Return when something happens in a repetition, s from the first bend."""
    return rep.events[event] - rep.events["start"]


def _in_words(way_up: WayUp) -> str:
    """Return who begins and how fast the bar goes up, in words."""
    rep = way_up.rep
    hips, knees = _since_start(rep, "hip_onset"), _since_start(rep, "knee_onset")
    return (
        f"From the first bend the hips begin at {hips:.2f} s and the knees at {knees:.2f} s: "
        f"{order_words(rep)}. {speed_words(rep, way_up.ascent)}"
    )


Curves = Sequence[tuple[NDArray[np.float64], NDArray[np.float64]]]
"""The x and y (points,) of several curves."""


def _padded(curves: Curves) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the x and y (positions, points) of curves of which some have fewer points."""
    if len(curves) == 1:
        return curves[0]
    padded = np.full((2, len(curves), max(x.size for x, _ in curves)), np.nan)
    for position, (x, y) in enumerate(curves):
        padded[:, position, : x.size] = x, y
    return padded[0], padded[1]


def _thinned(
    x: NDArray[np.float64], y: NDArray[np.float64], most: int = 160
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return at most about so many points of a curve: more would lie on one pixel."""
    if not x.size:
        return x, y
    step = max(1, x.size // most)
    # The last point is always there, so that the curve ends where it ends.
    shown = np.union1d(np.arange(0, x.size, step), [x.size - 1])
    return x[shown], y[shown]


TOGETHER_MS = 5.0
"""Less than this apart, hips and knees begin together, ms [teaching-value]."""


def order_words(rep: Rep) -> str:
    """Return who begins first, and by how many ms."""
    hips_before_ms = 1000 * (rep.events["knee_onset"] - rep.events["hip_onset"])
    if abs(hips_before_ms) < TOGETHER_MS:
        return "hips and knees together"
    first = "hips" if hips_before_ms > 0 else "knees"
    return f"{first} first by {abs(hips_before_ms):.0f} ms"


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
        speeds=(-0.12 * speed.max(), 1.6 * speed.max()), rise_s=(-0.1 * rise_s, 1.05 * rise_s)
    ).of(rep)


def still_and_moving(rep: Rep) -> Chart:
    """Plot the hip's and the knee's moment as if still, and as it moves.

    Per leg; the difference is what speeding up and slowing down adds.
    """
    both = {"as if still": rep.moments, "moving": dynamic_moments(rep.posture, rep.time)}
    time, sentences = rep.time - rep.events["start"], []
    parts: list[Moving] = []
    for part, (joint, look) in enumerate(JOINT_LOOKS.items()):
        curves = {name: MOMENT.shown(getattr(moments, joint)) for name, moments in both.items()}
        low = min(0.0, *(moment.min() for moment in curves.values()))
        most = max(moment.max() for moment in curves.values())
        plot = Plot(
            axis("Time from the first bend, s", time[0], time[-1]),
            axis(f"{joint.capitalize()}, {MOMENT.unit} per leg", low, 1.18 * most),
            box_of(PAIR, part=part, parts=2),
        )
        parts += plot.frame()
        for (name, moment), dash in zip(curves.items(), ("7 4", ""), strict=True):
            parts += plot.curve(*_thinned(time, moment, 300), look.colour, dash, 2.5)
            sentences.append(f"{joint} at most {moment.max():.0f} {name}")
        corner = complex(plot.box[0] + 10, plot.box[1] + 16)
        parts.append(Text(corner, "dashed: as if still; solid: moving"))
    alt = f"Moments in {MOMENT.unit} per leg over a repetition: {', '.join(sentences)}."
    return chart(parts, PAIR, alt, plots=2)
