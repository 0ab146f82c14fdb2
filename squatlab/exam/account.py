"""A lift in words and numbers over time, for whoever cannot watch the clip."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.questions.cases import Case
from squatlab.review.front_faults import LEAST_LEAN_DEG
from squatlab.review.recording import look
from squatlab.review.views import View
from squatlab.signals import onset

MOMENTS = {
    "standing": 1.0, "¼ down": 0.75, "½ down": 0.5, "¾ down": 0.25, "lowest": 0.0,
    "¼ up": 0.25, "½ up": 0.5, "¾ up": 0.75, "up": 1.0,
}  # fmt: skip
"""What is told when, and how high the hips are then, as a share of their way."""


class Account(NamedTuple):
    """Hold a lift as a heading and rows of numbers, one for each moment.

    It says how things stand and names no fault; whoever reads it judges.
    Printing it shows an aligned table.
    """

    heading: str
    moments: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]

    def __repr__(self) -> str:
        rows = [("", self.moments), *self.rows]
        name = max(len(row[0]) for row in rows)
        lines = [
            " ".join([words.ljust(name), *(cell.rjust(8) for cell in cells)]).rstrip()
            for words, cells in rows
        ]
        return "\n".join([self.heading, "", *lines])


def account(case: Case) -> Account:
    """Return what a case's tracks show, as far as its views go."""
    rep = case.rep
    view = look(rep.tracks(), rep.lifter, float(rep.bar.mass_kg), None, {})
    frames, lasts = _frames(view), case.findings["fast_descent"].amount
    heading = f"{case.lifter} The way down lasts {lasts}."
    rows = [("time, s", _cells(view.times, frames, 2))]
    if case.cell.view != "front":
        hip, knee = _begins_to_bend(view)
        heading += (
            f" Seen from the side the hip has begun to bend at {hip:.2f} s, the knee at "
            f"{knee:.2f} s; {case.findings['bar_forward'].reason}."
        )
        rows += [(words, _cells(values, frames)) for words, values in _from_the_side(view)]
    if case.cell.view != "side":
        rows += [(words, _cells(values, frames)) for words, values in _from_the_front(view)]
    return Account(heading, tuple(MOMENTS), tuple(rows))


def _begins_to_bend(view: View) -> NDArray[np.float64]:
    """Return when hip and knee have done a twentieth of their bending, s."""
    move = view.repetitions[0]
    part = slice(max(0, move.start - int(view.rate)), move.bottom + 1)
    return onset(view.bending[part], view.times[part], end=view.bending[move.bottom])


def _frames(view: View) -> list[float]:
    """Return when each moment is, in frames and parts of them."""
    move, height = view.repetitions[0], view.height
    low, high = height[move.bottom], view.standing_height(move)
    found = [float(view.stand_before(move)[0])]
    for name, share in list(MOMENTS.items())[1:-1]:
        way = np.arange(move.bottom, move.end + 1)
        if name.endswith("down"):
            way = np.arange(move.bottom, move.start - 1, -1)
        rising = np.maximum.accumulate(height[way])
        found.append(float(np.interp(low + share * (high - low), rising, way)))
    found[4] = float(move.bottom)
    return [*found, len(height) - 1.0]


def _cells(values: NDArray, frames: list[float], digits: int = 1) -> tuple[str, ...]:
    read = np.round(np.interp(frames, np.arange(len(values)), values), digits) + 0.0
    return tuple("–" if v != v else f"{v:.{digits}f}".replace("-", "−") for v in read)


def _from_the_side(view: View) -> Iterator[tuple[str, NDArray]]:
    stand = view.stand_before(view.repetitions[0])
    head = view["head"] - view["c7"]
    middle = 0.5 * (view["heel"] + view["toe"])[:, 0]
    low_back, nod = view.lumbar, -np.arctan2(head[:, 0], head[:, 1])
    heel = view["heel"][:, 1]
    yield "trunk leans forward, °", np.degrees(view.lean)
    yield "low back rounder than standing, °", np.degrees(low_back - low_back[stand].mean())
    yield "thigh above level, °", 90 - np.degrees(view.thigh)
    yield "knee bent, °", np.degrees(view.knee_flexion)
    yield "knee ahead of the toe, cm", 100 * (view["knee"] - view["toe"])[:, 0]
    yield "heel above standing, cm", 100 * (heel - heel[stand].mean())
    yield "bar ahead of mid-foot, cm", 100 * (view["bar"][:, 0] - middle)
    yield "head further back than standing, °", np.degrees(nod - nod[stand].mean())


def _from_the_front(view: View) -> Iterator[tuple[str, NDArray]]:
    stand = view.stand_before(view.repetitions[0])
    points = view.places.points
    for side, sign, name in (("r", 1, "right"), ("l", -1, "left")):
        for what, start, end in (("foot", "heel", "toe"), ("knee", "ankle", "knee")):
            line = points[f"{end}_{side}"] - points[f"{start}_{side}"]
            out = np.degrees(np.arctan2(sign * line[:, 2], line[:, 0]))
            upright = np.degrees(np.arccos(line[:, 1] / np.linalg.norm(line, axis=1)))
            yield f"{name} {what} points out, °", np.where(upright < LEAST_LEAN_DEG, np.nan, out)
    hips = 50 * (points["hip_r"] + points["hip_l"])[:, 2]
    bar = points["bar_end_r"] - points["bar_end_l"]
    yield "hips to the right of standing, cm", hips - hips[stand].mean()
    yield "bar lower at the right end, °", np.degrees(np.arctan2(-bar[:, 1], bar[:, 2]))
