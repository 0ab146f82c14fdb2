"""Charts over the time of a repetition: who starts, how fast the bar is, what it costs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from squatlab.mechanics.dynamics import dynamic_moments
from squatlab.motion import Rep
from squatlab.motion.ascent import Ascent, ascent_of
from squatlab.motion.onsets import side_view
from squatlab.show import palette
from squatlab.show.moving import Moving
from squatlab.show.plot import ALONE, PAGE, Chart, Plot, axis, box_of, chart
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
        size: tuple[float, float] = ALONE,
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

    def of(self, rep: Rep | Sequence[Rep], instant_s: ArrayLike = np.nan) -> Chart:
        """Return the chart of a set's first repetition, or of one of each position.

        ``instant_s``, a number or (positions,), is marked in both plots,
        s from the first bend.
        """
        reps = [rep] if isinstance(rep, Rep) else list(rep)
        ups = [ascent_of(each) for each in reps]
        risings = [each.time - each.events["ascent"] for each in reps]
        marks = [*self._sticking(ups, risings), *self._onsets(reps)]
        marks += self.speed.upright(0.0, palette.SOFT, "4 3", 1.0)
        low, high = self.rise_s
        curves = []
        for up, rising in zip(ups, risings, strict=True):
            inside = (rising >= low) & (rising <= high) & (up.speed >= self.speeds[0])
            curves.append(_thinned(rising[inside], up.speed[inside]))
        marks += self.speed.curve(*_padded(curves), palette.SYSTEM)
        peaks = [
            [up.first_peak, up.slowest, up.second_peak] if up.sticks else [up.fastest] for up in ups
        ]
        for number in range(max(map(len, peaks))):
            at = [
                (rising[frames[number]], up.speed[frames[number]])
                if number < len(frames)
                else NOWHERE
                for frames, up, rising in zip(peaks, ups, risings, strict=True)
            ]
            marks += self.speed.mark(
                *per_position(*zip(*at, strict=True)), palette.SYSTEM, size=5.0
            )
        sentences = [
            ", ".join(f"{up.speed[frame]:.2f}" for frame in frames) + " m/s"
            for frames, up in zip(peaks, ups, strict=True)
        ]
        (words,) = per_position(sentences)
        marks += self.speed.words(high, self.speeds[1], words, "end", bold=True, shift=-8 + 14j)
        instant = np.asarray(instant_s, float)
        (rise_begins,) = per_position(
            [each.events["ascent"] - each.events["start"] for each in reps]
        )
        since_rise = instant - rise_begins
        shown = (self.start, START_S, instant), (self.speed, self.rise_s, since_rise)
        for plot, (low, high), at in shown:
            there = np.where((at >= low) & (at <= high), at, np.nan)[()]
            marks += plot.upright(there, palette.INK, "", 1.5)
        alt = [
            f"From the first bend the hips begin at "
            f"{each.events['hip_onset'] - each.events['start']:.2f} s and the knees at "
            f"{each.events['knee_onset'] - each.events['start']:.2f} s: {order_words(each)}. "
            f"{speed_words(each, up)}"
            for each, up in zip(reps, ups, strict=True)
        ]
        return chart(self.stage, self.size, alt, marks, max(instant.size, len(reps)))

    def _sticking(self, ups: Sequence[Ascent], risings: Sequence[np.ndarray]) -> list[Moving]:
        """Return the shaded sticking regions; one that does not stick has none."""
        spans = [
            (rising[up.first_peak], rising[up.slowest]) if up.sticks else NOWHERE
            for up, rising in zip(ups, risings, strict=True)
        ]
        begin, end = per_position(*zip(*spans, strict=True))
        middle = 0.5 * (begin + end)
        return [
            *self.speed.strip(begin, end),
            *self.speed.words(middle, self.speeds[0], "sticking region", "middle", shift=-14j),
        ]

    def _onsets(self, reps: Sequence[Rep]) -> list[Moving]:
        """Return how far each joint has bent, where it sets out, and its name."""
        marks: list[Moving] = []
        bends = [side_view(rep.posture) for rep in reps]
        crossing = {}
        for joint, (colour, dash, kind) in LOOKS.items():
            curves, crossed = [], []
            for rep, seen in zip(reps, bends, strict=True):
                angle, time = getattr(seen, joint), rep.time - rep.events["start"]
                share = 100 * (angle - angle[0]) / (angle[rep.bottom] - angle[0])
                inside = (time >= START_S[0]) & (time <= START_S[1]) & (share <= BENT[1])
                inside &= np.arange(time.size) <= rep.bottom
                curves.append(_thinned(time[inside], share[inside]))
                crossed.append(float(np.interp(36, share[: rep.bottom], time[: rep.bottom])))
            onset, crossing[joint] = per_position(
                [rep.events[f"{joint}_onset"] - rep.events["start"] for rep in reps], crossed
            )
            marks += self.start.curve(*_padded(curves), colour, dash)
            marks += self.start.mark(onset, 100 * ONSET, colour, kind, 6.0)
        first = np.minimum(*crossing.values())
        for joint, at in crossing.items():
            # The name of whichever is ahead stands on the left of its curve.
            marks += self.start.beside(at, 36, joint, at != first, gap=14.0)
        (words,) = per_position([order_words(rep) for rep in reps])
        return marks + self.start.words(START_S[1], 13, words, "end", bold=True, shift=-8 + 0j)


NOWHERE = (np.nan, np.nan)
"""The place of a mark that a position does not have."""


def per_position(*rows: Sequence) -> list:
    """Return every row (positions,), or its only value: what stays is sent once."""
    return [
        row[0] if len(row) == 1 else list(row) if isinstance(row[0], str) else np.array(row)
        for row in rows
    ]


def _padded(curves: Sequence[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Return the x and y (positions, points) of curves of which some have fewer points."""
    if len(curves) == 1:
        return curves[0]
    padded = np.full((2, len(curves), max(x.size for x, _ in curves)), np.nan)
    for position, (x, y) in enumerate(curves):
        padded[:, position, : x.size] = x, y
    return padded[0], padded[1]


def _thinned(x: np.ndarray, y: np.ndarray, most: int = 160) -> tuple[np.ndarray, np.ndarray]:
    """Return at most about so many points of a curve: more would lie on one pixel."""
    step = max(1, x.size // most)
    shown = np.union1d(np.arange(0, x.size, step), [x.size - 1] if x.size else [])
    return x[shown.astype(int)], y[shown.astype(int)]


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
    time, sentences = rep.time - rep.events["start"], []
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
            sentences.append(f"{joint} at most {moment.max():.0f} {name}")
        corner = complex(plot.box[0] + 10, plot.box[1] + 16)
        parts.append(Text(corner, "dashed: as if still; solid: moving"))
    alt = f"Moments in {MOMENT.unit} per leg over a repetition: {', '.join(sentences)}."
    return chart(parts, PAGE, alt, columns=2)
