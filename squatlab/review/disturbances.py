"""What may be wrong with a recording besides jitter, how much usually, and what it does."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.review.perspective import DEPTH_M, FAR_M, STRAIGHT, Standpoint, mean
from squatlab.review.view import View

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
        certain = dict.fromkeys((field.name for field in fields(cls)), 0.0)
        return cls(**certain | {"jitter": False, "grows": False})

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


class Circumstances(NamedTuple):
    """Hold what a view is placed by besides its points: numbers, or (row,) of each.

    ``nearness`` is 1 / distance of the camera, 1/m, ``height`` its height,
    m. ``body`` and ``load`` are factors of the masses declared, and
    ``outward`` is how much further out than usual a bent knee is, m.
    """

    nearness: ArrayLike
    height: ArrayLike
    body: ArrayLike = 1.0
    load: ArrayLike = 1.0
    outward: ArrayLike = 0.0

    @classmethod
    def of(cls, view: View) -> Circumstances:
        """Return those that a view counts as taken in."""
        return cls(1.0 / float(view.standpoint.distance_m), float(view.standpoint.height_m))

    def changed(self, view: View, seen: NDArray[np.float64]) -> View:
        """Return a view of other points in these circumstances."""
        distance = 1.0 / np.maximum(self.nearness, 1.0 / FAR_M)
        depths = view.depths
        if np.any(self.outward):
            depths = {**depths, "knee": depths.get("knee", DEPTH_M["knee"]) + self.outward}
        return replace(
            view,
            seen=seen,
            depths=depths,
            standpoint=Standpoint(distance, self.height, view.standpoint.declared),
            body_kg=None if view.body_kg is None else view.body_kg * self.body,
            bar_kg=None if view.bar_kg is None else view.bar_kg * self.load,
        )


@cache
def placement_m() -> dict[str, float]:
    """Return how far off each point is usually marked, SD in m."""
    rows = tables.read("limits")
    return {r["quantity"]: float(r["value"]) for r in rows if r["name"] == "placement"}


def disturbances_of(views: Sequence[View], model: ErrorModel) -> tuple[Disturbance, ...]:
    """Return everything that may be wrong with views of the same squats."""
    share = 1.0 if model.placement is None else model.placement
    disturbances: list[Disturbance] = []
    for number, view in enumerate(views):
        if not view.repetitions:
            continue
        for name in view.names if share else ():  # points that are marked exactly are right
            disturbances += _of_point(view, number, name, share)
        if view.kind in ("side", "front"):
            disturbances += _of_camera(view, number, model)
    disturbances += [
        Disturbance("slide", None, 0.01, model.slide_m, usual=model.slides_by_m),
        Disturbance("body", None, 0.05, model.body),
        Disturbance("load", None, 0.05, model.load),
    ]
    return tuple(one for one in disturbances if one.sd > 0)


def _of_point(view: View, number: int, name: str, share: float) -> list[Disturbance]:
    """Return what may be wrong with where a point is marked, axis by axis.

    ``share`` is how large placement errors are against the table.
    """
    joint = _joint(name)
    placement = share * placement_m().get(joint, placement_m()["other"])
    sds = {"placement": placement}
    if joint in TURNS:
        sds["turned"] = placement
    if joint in SKIN_M:
        sds["skin"] = share * SKIN_M[joint]
    if view.is_trimmed and joint not in FEET:
        sds["standing"] = TRIMMED_M
    return [
        Disturbance(kind, number, 0.01, sd, name, axis)
        for kind, sd in sds.items()
        for axis in range(view.seen.shape[-1])
    ]


def _of_camera(view: View, number: int, model: ErrorModel) -> list[Disturbance]:
    """Return what may be wrong with how a picture was taken."""
    declared, distance = view.standpoint.declared, float(view.standpoint.distance_m)
    # d(1 / distance) = share / distance.
    nearness = model.nearness / distance if declared else model.undeclared_nearness
    height = model.height_m if declared else model.undeclared_height_m
    disturbances = [
        Disturbance("roll", number, np.radians(1.0), np.radians(model.roll_deg)),
        Disturbance("yaw", number, np.radians(2.0), np.radians(model.yaw_deg)),
        Disturbance("scale", number, 0.02, model.scale),
        Disturbance("nearness", number, 0.01, nearness if model.nearness else 0.0),
        Disturbance("height", number, 0.05, height if model.height_m else 0.0),
    ]
    if view.kind == "side" and "knee" not in view.depths:
        outward = model.outward_m if declared else model.undeclared_outward_m
        disturbances.append(Disturbance("outward", number, 0.06, outward))
    return disturbances


def effects_of(
    view: View, number: int, disturbances: Sequence[Disturbance]
) -> Iterator[tuple[int, NDArray[np.float64]]]:
    """Give what one unit of each disturbance adds to the points seen.

    Only of those that move points, with their numbers: (time, point,
    axis), or (1, point, axis) where it is the same all the time.
    """
    if not view.repetitions:
        return
    for index, one in enumerate(disturbances):
        if one.view in (None, number) and one.kind in EFFECTS:
            yield index, EFFECTS[one.kind](view, one)


def _joint(name: str) -> str:
    """Return a point's name without its side."""
    return name[:-2] if name[-2:] in ("_r", "_l") else name


def _middle(view: View) -> NDArray[np.float64]:
    """Return the middle of the ankles, or of everything, while standing."""
    ankles = [view.names.index(n) for n in ("ankle_r", "ankle_l") if n in view.names]
    points = view.seen[:, ankles] if ankles else view.seen
    return np.nan_to_num(mean(mean(points[np.concatenate(view.stands)], 0), 0))


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
                toward[:, column] = straight + (depths["knee"] - straight) * view.lowered
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


def _placement(view: View, one: Disturbance) -> NDArray[np.float64]:
    """Return what a point marked one unit off adds, which turns with the body.

    An error of constant size that turns by an angle keeps its cosine.
    """
    turns = TURNS.get(_joint(one.point), 0.0)
    return _of_one_point(view, one, np.cos(turns * view.lowered) if turns else np.ones(1))


def _turned(view: View, one: Disturbance) -> NDArray[np.float64]:
    """Return what an error in the other axis turns into: its sine."""
    return _of_one_point(view, one, np.sin(TURNS[_joint(one.point)] * view.lowered))


def _skin(view: View, one: Disturbance) -> NDArray[np.float64]:
    """Return what skin that moves over the bone adds, one unit at the bottom."""
    return _of_one_point(view, one, view.lowered)


def _standing(view: View, one: Disturbance) -> NDArray[np.float64]:
    """Return what a point adds that was a unit away from where it is when standing."""
    first = np.zeros(len(view.seen))
    first[view.stands[0]] = 1.0
    return _of_one_point(view, one, first)


def _of_one_point(view: View, one: Disturbance, amount: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a shift of one point along one axis, by an amount of shape (time,) or (1,)."""
    shift = np.zeros((len(amount), *view.seen.shape[1:]))
    shift[:, view.names.index(one.point), one.axis] = amount
    return shift


def _roll(view: View, _: Disturbance) -> NDArray[np.float64]:
    """Return a small rotation of the picture about the feet: (x, y) → (x − θ y, y + θ x)."""
    away = view.seen - _middle(view)
    shift = np.zeros(view.seen.shape)
    shift[..., 0], shift[..., 1] = -away[..., 1], away[..., 0]
    return shift


def _yaw(view: View, _: Disturbance) -> NDArray[np.float64]:
    """Return what a turned camera adds: what is z nearer to it moves across by z sin(yaw)."""
    shift = np.zeros(view.seen.shape)
    shift[..., 0] = _toward_camera(view)
    return shift + _turned_away(view) if view.kind == "front" else shift


def _scale(view: View, _: Disturbance) -> NDArray[np.float64]:
    """Return what a picture grows by about the feet."""
    return view.seen - _middle(view)


def _slide(view: View, _: Disturbance) -> NDArray[np.float64]:
    """Return hip points that slide toward the knees, by a unit at the bottom."""
    shift = np.zeros(view.seen.shape)
    for side in "rl":
        if {f"hip_{side}", f"knee_{side}"} <= set(view.names):
            hip, knee = (view.names.index(f"{joint}_{side}") for joint in ("hip", "knee"))
            thigh = view.seen[:, knee] - view.seen[:, hip]
            length = np.linalg.norm(thigh, axis=-1)
            full = np.nanquantile(length, 0.9) if np.isfinite(length).any() else 1.0
            shift[:, hip] = np.nan_to_num(view.lowered[:, np.newaxis] * thigh / full)
    return shift


EFFECTS: dict[str, Callable[[View, Disturbance], NDArray[np.float64]]] = {
    "placement": _placement,
    "turned": _turned,
    "skin": _skin,
    "standing": _standing,
    "roll": _roll,
    "yaw": _yaw,
    "scale": _scale,
    "slide": _slide,
}
"""What one unit of a disturbance that moves points adds to them, by its kind.

Of shape (time, point, axis), or (1, point, axis) where it is the same all the time.
"""
