"""How sure the points are: what may be wrong with a recording, weighed with what must hold.

A recording's points are off by errors that stay (where a joint was marked, a hip
point that slides as the hip bends, a rolled camera) and by jitter. Each error that
stays is a disturbance of known usual size. What must hold in any lifter (segments
keep their lengths, feet stand level, both views see one height) says how large the
disturbances were in this recording: a linear Gaussian estimate, from derivatives of
everything with respect to every disturbance, found by disturbing the points. All
disturbed pictures stand on one leading axis and are placed and read in one call.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import signal

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.review.errors import CannotTell
from squatlab.review.perspective import DEPTH_M, FAR_M, STRAIGHT, Standpoint, mean
from squatlab.review.quantities import Quantities
from squatlab.review.view import Block, View, views_of
from squatlab.signals import CUTOFF_HZ, low_pass
from squatlab.tracks import Tracks

DRAWS = 12
"""So many jitters like the recording's own show what jitter does to a value."""

USUAL_JITTER_M, USUAL_JITTER_S = 0.006, 0.1
"""Size and duration of the jitter where nobody stands still [teaching-value]."""

LAGS, STILL_FRAMES = 6, 12
"""The autocovariance is taken up to so many frames, in spans of so many."""

LOW, GROWTHS = 0.7, (0.5, 4.0)
"""Jitter at the bottom is that below this share of the way down; what it may
be against that of standing, at least and at most [teaching-value]."""

SHARES = np.array([0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0])
"""How large the placement error may be against the table: all are tried."""

USUAL_SHARE, SHARE_SPREAD = 0.6, 1.2
"""Median of that share over recordings, and its spread as a logarithm's SD
[teaching-value]: wide, so that the recording decides."""

TRIMMED_M = 0.02
"""How far the points of a first and last frame may be from where they are
when the lifter stands, if those frames stand in for standing, m
[teaching-value]. Feet stay where they are."""

FEET = ("ankle", "heel", "toe")

SKIN_M = {
    row["quantity"]: float(row["value"]) for row in tables.read("limits") if row["name"] == "skin"
}
"""What is marked on the skin moves over the bone as the lifter bends: by
about so much at the bottom, SD in m, at the full size of placement errors."""

TURNS = {
    row["quantity"]: np.radians(float(row["value"]))
    for row in tables.read("limits")
    if row["name"] == "placement_turns"
}
"""How far an error of where a point is marked turns with the body from standing
to the bottom, rad. What it turns into counts as independent of what it was."""

OUTWARD_M, UNDECLARED_OUTWARD_M = (
    tables.value("limits", name="knee_outward", quantity=quantity)
    for quantity in ("declared", "undeclared")
)
"""How far out of the picture a bent knee is differs between lifters by this SD,
m; by the other where the camera may stand off the side as well."""


@dataclass(frozen=True)
class ErrorModel:
    """Say how wrong a recording may be. Sizes are standard deviations.

    ``placement`` is how far off the points are marked, against the table
    of data/limits.csv (hip 2.2 cm, knee 1.3 cm, …); None estimates it from
    the recording. ``jitter`` tells whether the recording's own wander
    counts, ``grows`` whether it may be larger at the bottom. The hip point
    slides toward the knee at the bottom by ``slides_by_m``, give or take
    ``slide_m``. A declared camera's nearness
    (1 / distance) and height are right to ``nearness`` (a share) and
    ``height_m``, one that is not declared to ``undeclared_nearness`` (1/m)
    and ``undeclared_height_m``. Where no front view shows how far out the
    near knee is at the bottom, that is as usual to ``outward_m``, or
    ``undeclared_outward_m`` where the camera may stand off the side too.
    """

    placement: float | None = None
    jitter: bool = True
    grows: bool = True
    slide_m: float = 0.013
    slides_by_m: float = 0.008
    roll_deg: float = 2.0
    yaw_deg: float = 3.0
    scale: float = 0.015
    nearness: float = 0.06
    height_m: float = 0.07
    undeclared_nearness: float = 0.08
    undeclared_height_m: float = 0.35
    body: float = 0.04
    load: float = 0.03
    outward_m: float = OUTWARD_M
    undeclared_outward_m: float = UNDECLARED_OUTWARD_M

    @classmethod
    def exact(cls) -> ErrorModel:
        """Return the model of points that are known exactly: nothing is weighed."""
        return cls(0.0, False, False, *(0.0,) * 13)

    @classmethod
    def jitter_only(cls) -> ErrorModel:
        """Return the model of points that only jitter, as those of a synthetic film."""
        return replace(cls.exact(), jitter=True)

    @property
    def is_exact(self) -> bool:
        """Tell whether nothing may be wrong."""
        return self == ErrorModel.exact()


class Disturbance(NamedTuple):
    """Hold one thing that may be wrong with one view, or with all (None).

    ``step`` is what it is moved by for a derivative, ``usual`` what it is
    on average and ``sd`` its spread, in m, rad, 1/m or as a share.
    """

    kind: str
    view: int | None
    step: float
    sd: float
    point: str = ""
    axis: int = 0
    usual: float = 0.0


class Jitter(NamedTuple):
    """Hold how points wander while the lifter stands still: SD, m, and how long, s.

    ``growth`` says how many times as large it is at the bottom, where
    limbs and plates hide each other.
    """

    sd_m: float
    seconds: float
    growth: float = 1.0


class Stack(NamedTuple):
    """Hold a block of a view with its disturbed pictures on the leading axis.

    Row 0 is as recorded, then come those of ``columns`` (numbers of
    disturbances), then draws of jitter.
    """

    view: View
    columns: tuple[int, ...]
    draws: int


@dataclass(frozen=True, eq=False)
class Estimate:
    """Hold what a recording's errors were, and the views freed of them.

    ``as_given`` are the views with their errors, which are disturbed block
    by block. ``covariance`` (disturbance, disturbance) is what stays
    uncertain. ``placement`` is the share of the table's placement error.
    """

    views: tuple[View, ...]
    as_given: tuple[View, ...]
    disturbances: tuple[Disturbance, ...]
    amounts: NDArray[np.float64]
    covariance: NDArray[np.float64]
    placement: float
    jitters: tuple[Jitter, ...]

    def stack(self, number: int, block: Block) -> Stack:
        """Return a block of a view with its disturbed pictures."""
        view = self.as_given[number].cut(block)
        return _stack(view, number, self.disturbances, self.jitters[number])

    def derivative(self, stack: Stack, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return derivatives (…, disturbance) of what a stack reads, (row, …)."""
        return _derivative(stack, self.disturbances, values)

    def jitter_sd(self, stack: Stack, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return what jitter does to what a stack reads, (row, …): its SD, (…)."""
        return _jitter_sd(stack, values)


@cache
def placement_m() -> dict[str, float]:
    """Return how far off each point is usually marked, SD in m."""
    rows = tables.read("limits")
    return {r["quantity"]: float(r["value"]) for r in rows if r["name"] == "placement"}


def estimate(views: Sequence[View], model: ErrorModel) -> Estimate:
    """Return what the errors of views of the same squats were.

    Each view needs a repetition to say anything; those without are left
    as they are. What must hold is looked at in the first repetition.
    """
    disturbances = tuple(_disturbances(views, model))
    jitters = tuple(
        _jitter(view, model.grows) if model.jitter else Jitter(0.0, 0.0) for view in views
    )
    stacks = [
        _stack(view.cut(view.blocks[0]), number, disturbances, jitters[number])
        for number, view in enumerate(views)
    ]
    prior = np.array([one.sd for one in disturbances])
    usual = np.array([one.usual for one in disturbances])
    is_placement = np.array(
        [one.kind in ("placement", "turned", "skin") for one in disturbances], bool
    )
    held = _held(stacks, disturbances)
    # The update is about what differs from usual.
    held = held._replace(away=held.away - held.slope @ usual)
    amounts, covariance, share = _weighed(held, prior, is_placement, model.placement)
    amounts = amounts + usual
    freed = tuple(_freed(view, number, disturbances, amounts) for number, view in enumerate(views))
    return Estimate(freed, tuple(views), disturbances, amounts, covariance, share, jitters)


def best_views(
    *tracks: Tracks,
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Any = None,
    errors: ErrorModel | None = None,
) -> tuple[View, ...]:
    """Return views of recordings with their likeliest errors taken off.

    Whatever shows a number about a recording reads these, so that all
    show the same. ``errors`` left out is estimated from the recording.
    Raises what `squatlab.review.view.views_of` does.
    """
    views = views_of(*tracks, lifter=lifter, bar_kg=bar_kg, camera=camera)
    model = ErrorModel() if errors is None else errors
    if model.is_exact or not any(view.repetitions for view in views):
        return views
    return estimate(views, model).views


# The disturbances, and what they do to a picture


def _disturbances(views: Sequence[View], model: ErrorModel) -> list[Disturbance]:
    """Return everything that may be wrong."""
    rad, found = np.radians, []
    share = 1.0 if model.placement is None else model.placement
    for number, view in enumerate(views):
        if not view.repetitions:
            continue
        for name in view.names if share else ():
            joint = _joint(name)
            sd = share * placement_m().get(joint, placement_m()["other"])
            found += [
                Disturbance("placement", number, 0.01, sd, name, axis)
                for axis in range(view.seen.shape[-1])
            ]
            if share and joint in TURNS:
                found += [
                    Disturbance("turned", number, 0.01, sd, name, axis)
                    for axis in range(view.seen.shape[-1])
                ]
            if share and joint in SKIN_M:
                found += [
                    Disturbance("skin", number, 0.01, share * SKIN_M[joint], name, axis)
                    for axis in range(view.seen.shape[-1])
                ]
            if view.is_trimmed and joint not in FEET:
                found += [
                    Disturbance("standing", number, 0.01, TRIMMED_M, name, axis)
                    for axis in range(view.seen.shape[-1])
                ]
        if view.kind not in ("side", "front"):
            continue
        declared, distance = view.standpoint.declared, float(view.standpoint.distance_m)
        near = model.nearness / distance if declared else model.undeclared_nearness
        height = model.height_m if declared else model.undeclared_height_m
        found += [
            Disturbance("roll", number, rad(1.0), rad(model.roll_deg)),
            Disturbance("yaw", number, rad(2.0), rad(model.yaw_deg)),
            Disturbance("scale", number, 0.02, model.scale),
            Disturbance("nearness", number, 0.01, near if model.nearness else 0.0),
            Disturbance("height", number, 0.05, height if model.height_m else 0.0),
        ]
        if view.kind == "side" and "knee" not in view.depths:
            outward = model.outward_m if declared else model.undeclared_outward_m
            found.append(Disturbance("outward", number, 0.06, outward))
    found += [
        Disturbance("slide", None, 0.01, model.slide_m, usual=model.slides_by_m),
        Disturbance("body", None, 0.05, model.body),
        Disturbance("load", None, 0.05, model.load),
    ]
    return [one for one in found if one.sd > 0]


def _effects(
    view: View, number: int, disturbances: Sequence[Disturbance]
) -> Iterator[tuple[int, NDArray[np.float64]]]:
    """Give what one unit of each disturbance adds to the points seen.

    Only of those that move points, with their numbers: (time, point,
    axis), or (1, point, axis) where it is the same all the time.
    """
    if not view.repetitions:
        return
    seen = view.seen
    middle = _middle(view)
    for index, one in enumerate(disturbances):
        if one.view not in (None, number):
            continue
        turns = TURNS.get(_joint(one.point), 0.0)
        is_constant = one.kind == "placement" and not turns
        shift = np.zeros((1, *seen.shape[1:]) if is_constant else seen.shape)
        # An error of constant size that turns by an angle keeps its cosine, and becomes by its
        # sine what it was not.
        if one.kind == "placement":
            kept = np.cos(turns * _lowered(view)) if turns else 1.0
            shift[:, view.names.index(one.point), one.axis] = kept
        elif one.kind == "turned":
            shift[:, view.names.index(one.point), one.axis] = np.sin(turns * _lowered(view))
        elif one.kind == "skin":
            shift[:, view.names.index(one.point), one.axis] = _lowered(view)
        elif one.kind == "standing":
            shift[view.stands[0], view.names.index(one.point), one.axis] = 1.0
        elif one.kind == "roll":
            # A small rotation of the picture about the feet: (x, y) → (x − θ y, y + θ x).
            away = seen - middle
            shift[..., 0], shift[..., 1] = -away[..., 1], away[..., 0]
        elif one.kind == "yaw":
            # What is z nearer the camera moves across by z sin(yaw).
            shift[..., 0] = _toward_camera(view)
            if view.kind == "front":
                shift += _turned_away(view)
        elif one.kind == "scale":
            shift = seen - middle
        elif one.kind == "slide":
            _slide(view, shift)
        else:
            continue
        yield index, shift


def _joint(name: str) -> str:
    """Return a point's name without its side."""
    return name[:-2] if name[-2:] in ("_r", "_l") else name


def _middle(view: View) -> NDArray[np.float64]:
    """Return the middle of the ankles, or of everything, while standing."""
    ankles = [view.names.index(n) for n in ("ankle_r", "ankle_l") if n in view.names]
    points = view.seen[:, ankles] if ankles else view.seen
    return np.nan_to_num(mean(mean(points[np.concatenate(view.stands)], 0), 0))


def _lowered(view: View) -> NDArray[np.float64]:
    """Return how far down the hips are, 0 standing to 1 at the bottom, (time,)."""
    low = min(view.hips[repetition.bottom] for repetition in view.repetitions)
    high = float(mean(view.hips[np.concatenate(view.stands)]))
    return np.nan_to_num(np.clip((high - view.hips) / max(high - low, 0.1), 0.0, 1.0))


def _toward_camera(view: View) -> NDArray[np.float64]:
    """Return how far toward the camera each point is, m, (time, point)."""
    toward = np.zeros(view.seen.shape[:2])
    for column, name in enumerate(view.names):
        if view.kind == "front":
            toward[:, column] = np.nan_to_num(view.placed.points[name][:, 0])
        elif name[-2:] in ("_r", "_l"):
            depths = DEPTH_M | dict(view.depths)
            toward[:, column] = depths.get(name[:-2], 0.0)
            if name[:-2] == "knee":
                straight = depths[STRAIGHT]
                toward[:, column] = straight + (depths["knee"] - straight) * _lowered(view)
    return toward


def _turned_away(view: View) -> NDArray[np.float64]:
    """Return what points far to a side shrink by as a front view is turned, (time, point, 2).

    By a turn of one radian a point at x across goes x away from the camera,
    and what is seen of it shrinks about the picture's axis by x / distance:
    that lowers one end of a bar above the camera and lifts the other.
    """
    shrunk = np.zeros(view.seen.shape)
    for column, name in enumerate(view.names):
        point = np.nan_to_num(view.placed.points[name])
        across, above = -point[:, 2], point[:, 1] - float(view.standpoint.height_m)
        share = -across / float(view.standpoint.distance_m)
        shrunk[:, column] = share[:, np.newaxis] * np.stack([across, above], axis=-1)
    return shrunk


def _slide(view: View, shift: NDArray[np.float64]) -> None:
    """Move hip points toward the knees, by a unit at the bottom."""
    for side in "rl":
        if {f"hip_{side}", f"knee_{side}"} <= set(view.names):
            hip, knee = (view.names.index(f"{joint}_{side}") for joint in ("hip", "knee"))
            thigh = view.seen[:, knee] - view.seen[:, hip]
            length = np.linalg.norm(thigh, axis=-1)
            full = np.nanquantile(length, 0.9) if np.isfinite(length).any() else 1.0
            shift[:, hip] = np.nan_to_num(_lowered(view)[:, np.newaxis] * thigh / full)


def _stack(
    view: View,
    number: int,
    disturbances: Sequence[Disturbance],
    jitter: Jitter,
) -> Stack:
    """Return a view with all its disturbed pictures and its draws of jitter."""
    effects = dict(_effects(view, number, disturbances))
    columns = tuple(
        index
        for index, one in enumerate(disturbances)
        if one.view == number
        or one.view is None
        and (one.kind != "slide" or np.any(effects.get(index, 0.0)))
    )
    if not view.repetitions:
        return Stack(view, (), 0)
    draws = DRAWS if jitter.sd_m > 0 else 0
    rows = 1 + len(columns) + draws
    seen = np.repeat(view.seen[np.newaxis], rows, axis=0)
    nearness = np.full(rows, 1.0 / float(view.standpoint.distance_m))
    height = np.full(rows, float(view.standpoint.height_m))
    body, load, outward = np.ones(rows), np.ones(rows), np.zeros(rows)
    moved = {
        "nearness": nearness,
        "height": height,
        "body": body,
        "load": load,
        "outward": outward,
    }
    for row, index in enumerate(columns, 1):
        one = disturbances[index]
        if index in effects:
            seen[row] += one.step * effects[index]
        else:
            moved[one.kind][row] += one.step
    if draws:
        seen[1 + len(columns) :] += _drawn(view, jitter, draws)
    changed = _changed(view, seen, nearness, height, body, load, outward)
    return Stack(changed, columns, draws)


def _changed(
    view: View,
    seen: NDArray[np.float64],
    nearness: NDArray[np.float64],
    height: NDArray[np.float64],
    body: NDArray[np.float64],
    load: NDArray[np.float64],
    outward: NDArray[np.float64],
) -> View:
    """Return a view with other points, camera, masses and knees further out."""
    standpoint = view.standpoint
    distance = 1.0 / np.maximum(nearness, 1.0 / FAR_M)
    depths = view.depths
    if np.any(outward):
        depths = {**depths, "knee": depths.get("knee", DEPTH_M["knee"]) + outward}
    return replace(
        view,
        seen=seen,
        depths=depths,
        standpoint=Standpoint(distance, height, standpoint.declared),
        body_kg=None if view.body_kg is None else view.body_kg * body,
        bar_kg=None if view.bar_kg is None else view.bar_kg * load,
    )


def _freed(
    view: View,
    number: int,
    disturbances: Sequence[Disturbance],
    amounts: NDArray[np.float64],
) -> View:
    """Return a view with the estimated disturbances taken off."""
    if not disturbances:
        return view
    effects = _effects(view, number, disturbances)
    seen = view.seen - sum(amounts[index] * shift for index, shift in effects)
    change = dict.fromkeys(("nearness", "height", "body", "load", "outward"), 0.0)
    for index, one in enumerate(disturbances):
        if one.kind in change and one.view in (None, number):
            change[one.kind] = amounts[index]
    nearness = 1.0 / float(view.standpoint.distance_m) - change["nearness"]
    height = float(view.standpoint.height_m) - change["height"]
    return _changed(
        view,
        seen,
        np.asarray(nearness),
        np.asarray(height),
        np.asarray(1 - change["body"]),
        np.asarray(1 - change["load"]),
        np.asarray(-change["outward"]),
    )


def _derivative(
    stack: Stack, disturbances: Sequence[Disturbance], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return derivatives (…, disturbance) of values (row, …) by finite differences."""
    found = np.zeros((*values.shape[1:], len(disturbances)))
    for row, index in enumerate(stack.columns, 1):
        found[..., index] = (values[row] - values[0]) / disturbances[index].step
    return np.nan_to_num(found)


def _jitter_sd(stack: Stack, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far (…) jitter takes values (row, …), the root of its mean square.

    A largest value is too large by jitter. Jitter added to jitter shows
    only √2 − 1 of that, so what the draws are larger by on average,
    beyond chance, counts as 1 / (√2 − 1) times as much.
    """
    if not stack.draws:
        return np.zeros(values.shape[1:])
    away = values[-stack.draws :] - values[0]
    shift = mean(away, 0)
    variance = mean((away - shift) ** 2, 0)
    beyond_chance = np.maximum(shift**2 - variance / stack.draws, 0.0)
    bias = beyond_chance / (np.sqrt(2) - 1) ** 2
    return np.sqrt(np.nan_to_num(variance + bias))


# Jitter


def _jitter(view: View, grows: bool) -> Jitter:
    """Return how the points wander while the lifter stands still.

    From the autocovariance of the unfiltered points, pooled over points
    and spans of standing. What all points do together is the lifter's own
    sway or the camera's, and no jitter. The mean of a short span hides
    part of a wander that lasts; how much follows from the wander itself,
    so it is found by repeating.
    """
    frames = np.unique(np.concatenate(view.stands)) if view.stands else np.zeros(0, int)
    runs = np.split(frames, np.flatnonzero(np.diff(frames) > 1) + 1)
    runs = [run for run in runs if run.size >= STILL_FRAMES]
    if not runs or view.is_trimmed or len(view.names) < 2:
        return Jitter(USUAL_JITTER_M, USUAL_JITTER_S)
    covariances, sizes = [], []
    for run in runs:
        part = view.unfiltered[run[0] : run[-1] + 1]
        away = part - mean(part, 0)
        away = np.nan_to_num(away - mean(away, 1)[:, np.newaxis])
        # Jumps of a tracker are not wander: cut at four times the usual.
        usual = 4 * 1.48 * np.median(np.abs(away), axis=0)
        away = np.clip(away, -usual, usual)
        points, count = len(view.names), len(away)
        products = [
            (away[lag:] * away[: count - lag]).sum() / (count * away[0].size) for lag in range(LAGS)
        ]
        # Taking off what the points do together takes off one share in so many points.
        covariances.append(np.array(products) * points / (points - 1))
        sizes.append(count)
    # The lifter may fidget between repetitions: the span in the middle counts.
    chosen = np.argsort([one[0] for one in covariances])[len(covariances) // 2]
    covariance, frames, squares = covariances[chosen], sizes[chosen], sizes[chosen] ** 2
    if not covariance[0] > 0:
        return Jitter(0.0, 0.0)
    lags = LAGS
    length, hidden, decay = squares / frames, 0.0, 0.0
    for _ in range(30):
        whole = covariance + hidden
        ratio = np.clip(whole[1:] / whole[0], 0.0, 0.999)
        # An exponential decay: each lag gives a decay per frame.
        decays = np.where(ratio > 0.1, ratio ** (1.0 / np.arange(1, lags)), 0.0)
        decay = float(np.clip(decays.mean(), 0.0, 0.95)) if ratio[0] > 0.15 else 0.0
        steps = np.arange(1, int(length))
        of_mean = 1 + 2 * ((1 - steps / length) * decay**steps).sum()
        hidden = min(whole[0] / length * of_mean, 2.0 * covariance[0])
    seconds = 0.0 if decay == 0 else -1.0 / (view.rate * np.log(decay))
    sd_m = float(np.sqrt(covariance[0] + hidden))
    growth = _growth(view, sd_m, decay) if grows and view.repetitions else 1.0
    return Jitter(sd_m, float(seconds), growth)


def _growth(view: View, sd_m: float, decay: float) -> float:
    """Return how many times as large jitter is at the bottom as standing.

    From third differences, from frame to frame, of which movement makes
    next to nothing. What they have more of at the bottom counts against
    what jitter of this size, that decays so from frame to frame, has.
    """
    quick = np.abs(np.diff(view.unfiltered, 3, axis=0))
    lowered = _lowered(view)[1:-2]
    low = lowered > LOW
    still = np.zeros(view.times.size, bool)
    still[np.concatenate(view.stands)] = True
    moments = quick[still[1:-2]], quick[low]
    seen = np.logical_and(*(np.isfinite(part).any(axis=0) for part in moments))
    if low.sum() < STILL_FRAMES or not seen.any():
        return 1.0
    standing, bottom = (
        np.mean((1.48 * np.nanmedian(part[:, seen], axis=0)) ** 2) for part in moments
    )
    # (1, −3, 3, −1) times itself, each step apart weighed by the decay.
    expected = sd_m**2 * (20 - 30 * decay + 12 * decay**2 - 2 * decay**3)
    # Those frames are not quite at the bottom: from 1 standing it grows in proportion.
    growth = np.sqrt(max(1.0 + (bottom - standing) / expected, 0.0))
    return float(np.clip(1.0 + (growth - 1.0) / lowered[low].mean(), *GROWTHS))


def _drawn(view: View, jitter: Jitter, draws: int) -> NDArray[np.float64]:
    """Return jitter like the recording's own, filtered as it is, (draw, time, point, axis)."""
    rng = np.random.default_rng(20)  # the same for every recording: a review repeats itself
    count = len(view.times)
    decay = 0.0 if jitter.seconds <= 0 else np.exp(-1.0 / (view.rate * jitter.seconds))
    white = rng.normal(0.0, jitter.sd_m, (count, draws, *view.seen.shape[1:]))
    if decay:
        white[0] /= np.sqrt(1 - decay**2)
        white = signal.lfilter([np.sqrt(1 - decay**2)], [1.0, -decay], white, axis=0)
    grown = 1.0 + (jitter.growth - 1.0) * _lowered(view)
    white *= grown[:, np.newaxis, np.newaxis, np.newaxis]
    calm = low_pass(white, view.rate, min(CUTOFF_HZ, 0.25 * view.rate))
    return np.moveaxis(calm, 0, 1)


# What must hold


class Held(NamedTuple):
    """Hold what must hold: how far each is from it, m, and by how much it may be.

    ``away`` (law,), ``slack`` (law,) the SD natural to it and of jitter,
    ``slope`` (law, disturbance).
    """

    away: NDArray[np.float64]
    slack: NDArray[np.float64]
    slope: NDArray[np.float64]


class Law(NamedTuple):
    """Hold what must hold in one view: value (row,), its target, its SD, m."""

    value: NDArray[np.float64]
    expected: float
    sd: float


def _held(stacks: Sequence[Stack], disturbances: Sequence[Disturbance]) -> Held:
    """Return everything that must hold in the views and between them."""
    away, slack, slope, heights = [], [], [], []
    for stack in stacks:
        if not stack.view.repetitions:
            continue
        laws, levels = _laws(stack.view), _levels(stack.view)
        heights.append((stack, levels))
        for law in laws:
            if np.isfinite(law.value[0]):
                away.append(law.value[0] - law.expected)
                slack.append(np.hypot(law.sd, _jitter_sd(stack, law.value)))
                slope.append(_derivative(stack, disturbances, law.value))
    for name in HEIGHTS if len(heights) == 2 else ():
        (one, first), (other, second) = heights
        if name in first and name in second and np.isfinite(first[name][0] + second[name][0]):
            away.append(first[name][0] - second[name][0])
            jitters = _jitter_sd(one, first[name]), _jitter_sd(other, second[name])
            slack.append(float(np.hypot(HEIGHT_SD_M, np.hypot(*jitters))))
            slope.append(
                _derivative(one, disturbances, first[name])
                - _derivative(other, disturbances, second[name])
            )
    count = len(disturbances)
    return Held(np.array(away), np.array(slack), np.array(slope).reshape(len(away), count))


HEIGHTS = ("hip standing", "knee standing", "hip bottom", "knee bottom")
HEIGHT_SD_M = 0.006
"""Both views see one height above the ankle; they are not filmed at the same
instant of the same repetition [teaching-value]."""


class MeanPlaces(NamedTuple):
    """Hold the mean place of a point (row, 3) standing, halfway and at the bottom."""

    standing: NDArray[np.float64]
    halfway: NDArray[np.float64]
    bottom: NDArray[np.float64]


def _places(view: View, name: str) -> MeanPlaces | None:
    """Return where a point of a view is at three moments of the first repetition."""
    if name not in view.placed.points:
        return None
    point, repetition = view.placed.points[name], view.repetitions[0]
    standing = view.stands[0]
    half = max(1, int(0.15 * view.rate))
    low = slice(max(0, repetition.bottom - half), repetition.bottom + half + 1)
    middle = 0.5 * (mean(view.hips[standing]) + view.hips[repetition.bottom])
    travel = mean(view.hips[standing]) - view.hips[repetition.bottom]
    frames = np.arange(repetition.start, repetition.end + 1)
    near = frames[np.abs(view.hips[frames] - middle) < 0.12 * travel]
    halfway = near if near.size else np.array([repetition.bottom])
    return MeanPlaces(*(mean(point[..., span, :], -2) for span in (standing, halfway, low)))


def _laws(view: View) -> list[Law]:
    """Return what must hold in one view by itself."""
    if view.kind == "side":
        return _laws_of_leg(view, view.near) + _laws_of_trunk(view)
    if view.kind == "front":
        return _laws_across(view)
    if view.kind == "3d":
        both = _laws_of_leg(view, "r") + _laws_of_leg(view, "l")
        return both + _laws_of_trunk(view) + _laws_across(view)
    return []


def _distance(view: View, one: str, other: str) -> tuple[NDArray[np.float64], ...] | None:
    """Return how far two points are apart at three moments, each (row,) m.

    A side view does not see how far a knee is out beside the hip; where
    it usually is counts. To a point of the trunk lengths are measured in
    the lifter's middle plane.
    """
    first, second = _places(view, one), _places(view, other)
    if first is None or second is None:
        return None
    in_plane = not (one[-2:] in ("_r", "_l") and other[-2:] in ("_r", "_l"))
    spans = []
    for moment, share in (("standing", 0.0), ("halfway", 0.5), ("bottom", 1.0)):
        line = getattr(first, moment) - getattr(second, moment)
        aside = 0.0
        if in_plane:
            line = line[..., :2]
        elif view.kind == "side":
            aside = _aside(view, one, share) - _aside(view, other, share)
        spans.append(np.sqrt((line**2).sum(axis=-1) + aside**2))
    return tuple(spans)


def _aside(view: View, name: str, lowered: float) -> ArrayLike:
    """Return how far out a point of a side view is, m, a number or (row,)."""
    depths = DEPTH_M | dict(view.depths)
    if name[-2:] not in ("_r", "_l"):
        return 0.0
    if name[:-2] == "knee":
        return depths[STRAIGHT] + lowered * (depths["knee"] - depths[STRAIGHT])
    return depths.get(name[:-2], 0.0)


def _constant(
    view: View,
    one: str,
    other: str,
    halfway_sd: float,
    bottom_sd: float,
    declared: str = "",
    declared_sd: float = 0.0,
) -> list[Law]:
    """Return that a length stays what it is standing, and is what was declared."""
    spans = _distance(view, one, other)
    if spans is None:
        return []
    standing, halfway, bottom = spans
    laws = [Law(halfway - standing, 0.0, halfway_sd), Law(bottom - standing, 0.0, bottom_sd)]
    if declared and view.lifter is not None and view.scale.known:
        laws.append(Law(standing, float(getattr(view.lifter, declared)), declared_sd))
    return laws


def _laws_of_leg(view: View, side: str) -> list[Law]:
    """Return what must hold of one leg and its foot. SDs are teaching-values."""
    hip, knee, ankle, heel, toe = (
        f"{joint}_{side}" for joint in ("hip", "knee", "ankle", "heel", "toe")
    )
    laws = _constant(view, hip, knee, 0.006, 0.009, "thigh_m", 0.022)
    laws += _constant(view, knee, ankle, 0.005, 0.008, "shank_m", 0.018)
    places = {name: _places(view, name) for name in (heel, toe, ankle)}
    if places[heel] and places[toe]:
        foot = places[toe].standing - places[heel].standing
        laws.append(Law(foot[..., 1], 0.0, 0.006))  # a flat foot is level
        if places[ankle]:
            ankle_at = places[ankle].standing - places[heel].standing
            if view.lifter is not None and view.scale.known:
                height = float(view.lifter.ankle_height_m)
                laws.append(Law(ankle_at[..., 1], height, 0.010))
    return laws


def _laws_of_trunk(view: View) -> list[Law]:
    """Return what must hold of pelvis, trunk and bar, and of balance."""
    hip = f"hip_{view.near}"
    laws = _constant(view, hip, "l5", 0.008, 0.010, "pelvis_m", 0.012)
    laws += _constant(view, "l5", "c7", 0.012, 0.025)
    laws += _constant(view, "c7", "bar", 0.012, 0.018)
    try:
        quantities = Quantities(view)
        body, bar = (np.asarray(kg)[..., np.newaxis] for kg in (view.body_kg, view.bar_kg))
        ahead = quantities.centre_ahead(body, bar)[..., view.stands[0]]
        laws.append(Law(mean(ahead), 0.0, 0.022))  # nobody stands on heels or toes alone
    except (CannotTell, TypeError, AttributeError):
        pass
    return laws


LEVEL_SD_M = {
    "hip": 0.010,
    "knee": 0.010,
    "ankle": 0.006,
    "heel": 0.005,
    "toe": 0.005,
    "bar_end": 0.012,
}
"""How far from level both sides of a standing lifter are [teaching-value]."""

MIDDLE_SD_M = {"hip": 0.010, "knee": 0.012, "heel": 0.006, "toe": 0.010}
"""How far from over the ankles' middle other middles are [teaching-value]."""


def _laws_across(view: View) -> list[Law]:
    """Return what must hold between right and left of a standing lifter."""
    laws, middles = [], {}
    for joint, sd in LEVEL_SD_M.items():
        right, left = _places(view, f"{joint}_r"), _places(view, f"{joint}_l")
        if right is None or left is None:
            continue
        laws.append(Law(right.standing[..., 1] - left.standing[..., 1], 0.0, sd))
        middles[joint] = 0.5 * (right.standing[..., 2] + left.standing[..., 2])
        if joint == "hip":
            width = right.standing[..., 2] - left.standing[..., 2]
            low = right.bottom[..., 2] - left.bottom[..., 2]
            laws.append(Law(low - width, 0.0, 0.012))
            if view.lifter is not None and view.scale.known:
                laws.append(Law(width, float(view.lifter.hip_width_m), 0.015))
    if "ankle" in middles:
        laws += [
            Law(middles[joint] - middles["ankle"], 0.0, sd)
            for joint, sd in MIDDLE_SD_M.items()
            if joint in middles
        ]
    return laws


def _levels(view: View) -> dict[str, NDArray[np.float64]]:
    """Return heights above the ankle that both views see, (row,) m."""
    side = view.near
    ankle = _places(view, f"ankle_{side}")
    levels = {}
    for joint in ("hip", "knee") if ankle else ():
        places = _places(view, f"{joint}_{side}")
        if places:
            base = ankle.standing[..., 1]
            levels[f"{joint} standing"] = places.standing[..., 1] - base
            levels[f"{joint} bottom"] = places.bottom[..., 1] - base
    return levels


# The estimate


def _weighed(
    held: Held,
    prior: NDArray[np.float64],
    is_placement: NDArray[np.bool_],
    placement: float | None,
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Return the disturbances' amounts, their covariance, and the share of placement.

    away = slope · amounts + slack: with a prior of SD ``prior`` on the
    amounts this is a Gaussian update. How large the placement errors are
    is one more unknown: each share is weighed by how well it explains
    what is seen (its marginal likelihood), and the results are mixed.
    """
    if not prior.size:
        return np.zeros(0), np.zeros((0, 0)), 0.0
    shares = SHARES if placement is None and is_placement.any() else np.array([1.0])
    scores, means, covariances = [], [], []
    for share in shares:
        sd = np.where(is_placement, share * prior, prior)
        spread = held.slope * sd**2  # (law, disturbance): slope · D
        total = spread @ held.slope.T + np.diag(held.slack**2)
        gain = np.linalg.solve(total, spread).T if held.away.size else np.zeros((sd.size, 0))
        means.append(gain @ held.away)
        covariances.append(np.diag(sd**2) - gain @ spread)
        score = -0.5 * (np.log(share / USUAL_SHARE) / SHARE_SPREAD) ** 2
        if held.away.size:
            _, log_determinant = np.linalg.slogdet(total)
            score -= 0.5 * (log_determinant + held.away @ np.linalg.solve(total, held.away))
        scores.append(score)
    weights = np.exp(np.array(scores) - max(scores))
    weights /= weights.sum()
    amounts = sum(weight * one for weight, one in zip(weights, means, strict=True))
    covariance = sum(
        weight * (spread + np.outer(one - amounts, one - amounts))
        for weight, one, spread in zip(weights, means, covariances, strict=True)
    )
    return amounts, covariance, float(weights @ shares)
