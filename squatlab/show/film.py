"""A film: a clip's views beside each other, every part of them moving."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.show import lines, measures, palette, views
from squatlab.show.body import SOLID, Body, Frame, contour, front_body, side_body
from squatlab.show.footage import Footage, FootageView, at_moments
from squatlab.show.moving import Moving, seen, taken
from squatlab.show.picture import Scene
from squatlab.show.primitives import Line, Primitive, Shape, Text
from squatlab.show.sweep import Sweep, whole
from squatlab.show.views import FLOOR, FRONT, HEIGHT, MARGIN, MID_FOOT, SIDE, scale_of

EDGE = 1.0
"""What stays free at the edges of a view, picture units."""


FAR_FILLS = SOLID.far_skin, SOLID.far_shorts, SOLID.far_shoe
"""Fills of the far limbs: behind the near ones of a squat they are not to be seen."""


class Panel(NamedTuple):
    """Hold what one view shows: stage, lifter, and what is measured on request.

    ``frame`` places metres of the view on the picture.
    """

    name: str
    left: float
    width: float
    frame: Frame
    stage: tuple[Primitive, ...]
    figure: tuple[Moving, ...]
    measured: tuple[Moving, ...]
    found: tuple[lines.Measured, ...]

    @property
    def always(self) -> tuple[Moving, ...]:
        """Return the stage and the lifter."""
        return (*self.stage, *self.figure)


@dataclass(frozen=True, eq=False)
class Film:
    """Hold a clip as moving primitives; ``sentence`` says what it shows.

    ``one_view`` says so for each view alone, by its name.
    """

    footage: Footage
    panels: tuple[Panel, ...]
    sentence: str
    one_view: Mapping[str, str]

    def scene(self, frame: int, view: str = "both", measured: bool = False) -> Scene:
        """Return one frame as a picture of a view's name, or of both.

        Raises ValueError for a view that was not filmed.
        """
        shown = [panel for panel in self.panels if view in ("both", panel.name)]
        if not shown:
            names = ", ".join(panel.name for panel in self.panels)
            raise ValueError(f"the view is {view!r}; this clip shows {names}, or both")
        bounds = shown[0].left, 0.0, shown[-1].left + shown[-1].width, HEIGHT
        parts = [part for p in shown for part in (*p.always, *(p.measured if measured else ()))]
        still = (taken(part, frame) for part in parts)
        return Scene(tuple(part for part in still if part is not None), bounds, self.sentence)

    def sweeps(self, panel: Panel) -> tuple[Sweep, Sweep]:
        """Return one view over time: the figure, and its measured lines."""
        bounds, count = (panel.left, 0.0, panel.left + panel.width, HEIGHT), self.footage.time.size
        return whole(panel.always, bounds, count), whole(panel.measured, bounds, count)


def film(
    footage: Footage,
    wanted: tuple[str, ...] = (),
    blind: bool = False,
    behind: Footage | None = None,
) -> Film:
    """Return footage as a film of its views beside each other.

    ``wanted`` names the measured lines, otherwise those a coach looks for
    first; ``blind`` leaves out lines and numbers. ``behind`` is another
    lift, drawn as a dashed outline that goes down and up in step.
    """
    if behind is not None:
        behind = _taken(behind, _in_step(footage, behind))
    panels = _panels(footage, _scale(footage), wanted, blind, behind)
    one_view = {
        view.name: lines.describe(replace(footage, views=(view,)), blind) for view in footage.views
    }
    return Film(footage, panels, lines.describe(footage, blind), one_view)


def instants(
    footages: Sequence[Footage],
    frames: Sequence[int],
    wanted: tuple[str, ...] = (),
    behind: Sequence[Footage] = (),
) -> Sweep:
    """Return one frame of each of several lifts, with its lines, as one sweep.

    Each is what its own film shows there; ``behind`` has the other lift
    of each.
    """
    shown, scale = at_moments(footages, frames), np.array([_scale(one) for one in footages])
    steps = [
        int(_in_step(one, other)[frame])
        for one, other, frame in zip(footages, behind, frames, strict=bool(behind))
    ]
    panels = _panels(shown, scale, wanted, False, at_moments(behind, steps) if behind else None)
    parts = [part for panel in panels for part in (*panel.always, *panel.measured)]
    bounds = 0.0, 0.0, panels[-1].left + panels[-1].width, HEIGHT
    return whole(parts, bounds, len(frames), [lines.describe(one) for one in footages])


def _panels(
    footage: Footage,
    scale: ArrayLike,
    wanted: tuple[str, ...],
    blind: bool,
    behind: Footage | None,
) -> tuple[Panel, ...]:
    """Return every view at a scale, with the lift behind at the same moments."""
    panels, left = [], 0.0
    for view in footage.views:
        width, middle = (FRONT, 0.5 * FRONT) if view.name == "front" else (SIDE, MID_FOOT)
        frame = Frame(complex(left + middle, FLOOR), scale)
        mid_foot = view.name == "side" and np.isfinite(view.places["toe_r"]).any()
        stage = tuple(_stage(view.name, left, width, left + middle, mid_foot))
        figure = tuple(_figure(view, frame, footage.bar_kg))
        for other in behind.views if behind is not None else ():
            if other.name == view.name:
                figure = (*_body(other).outline(frame), *figure)
        found = () if blind else lines.measured(footage, view, frame, wanted)
        measured = lines.with_words(found, view.name, left + MARGIN)
        panels.append(
            Panel(view.name, left, width, frame, stage, figure, tuple(measured), tuple(found))
        )
        left += width
    return tuple(panels)


def _in_step(shown: Footage, other: Footage) -> NDArray[np.intp]:
    """Return which frame of another lift goes with each frame of the one that is shown."""

    def moments(footage: Footage) -> list[int]:
        start, low, end = (*footage.repetitions, (0, footage.bottoms[0], footage.time.size))[0][:3]
        return [-1, start, low, end, footage.time.size]

    # Start, lowest point and end of the first repetition meet; the time between is stretched,
    # and so is what is before and after them.
    frames = np.interp(np.arange(shown.time.size), moments(shown), moments(other))
    return np.clip(np.rint(frames).astype(int), 0, other.time.size - 1)


def _taken(footage: Footage, frames: NDArray[np.intp]) -> Footage:
    """Return footage whose points are those of other frames of it."""
    views = [
        view._replace(places={name: place[frames] for name, place in view.places.items()})
        for view in footage.views
    ]
    return replace(footage, views=tuple(views))


def outline(figure: tuple[Moving, ...], frame: int) -> Shape:
    """Return a lifter's contour in one frame, dashed and pale."""
    limbs = [p for p in figure if isinstance(p, Shape) and p.smooth and p.fill not in FAR_FILLS]
    body = [part for part in (taken(limb, frame) for limb in limbs) if part is not None]
    return contour(body)


def _scale(footage: Footage) -> float:
    """Return the greatest scale at which the whole movement stays in every view."""
    return min(_fitting(view) for view in footage.views)


def _fitting(view: FootageView) -> float:
    """Return the greatest scale at which the whole movement stays in its view."""
    low, high = (0.5 * FRONT, 0.5 * FRONT) if view.name == "front" else (MID_FOOT, SIDE - MID_FOOT)
    places = np.concatenate([place[~np.isnan(place)] for place in view.places.values()])
    reach = (-places.real / (low - EDGE)).max(), (places.real / (high - EDGE)).max()
    tall = places.imag.max() / (FLOOR - 60)
    return min(scale_of(view.build.stature_m), 1.0 / max(*reach, tall, 1e-9))


def _stage(name: str, left: float, width: float, middle: float, mid_foot: bool) -> list[Primitive]:
    """Return title, floor and what is written below it."""
    parts = views.page(f"{name.capitalize()} view", left, width)
    parts.append(Line((complex(left, FLOOR), complex(left + width, FLOOR)), palette.INK, 1.5))
    below = {
        "lifter's right": (left + MARGIN, "start"),
        "lifter's left": (left + width - MARGIN, "end"),
    }
    if name != "front":
        below = {}
    if mid_foot:
        notch = (complex(middle, FLOOR + 3), complex(middle - 6, FLOOR + 15))
        parts += [
            measures.vertical(middle, 64, FLOOR, palette.RULE, "1 4"),
            Shape((*notch, notch[1] + 12), palette.INK, palette.PAPER),
        ]
        below = {"mid-foot": (middle, "middle")}
    return parts + [
        Text(complex(x, FLOOR + 30), words, 13.0, anchor, fill=palette.SOFT)
        for words, (x, anchor) in below.items()
    ]


def _body(view: FootageView) -> Body:
    if view.name == "front":
        return front_body(view.places, view.build)
    return side_body(view.places, view.build, view.bend)


def _figure(view: FootageView, frame: Frame, bar_kg: float) -> list[Moving]:
    """Return the lifter and the bar as far as their points were seen."""
    p, front = view.places, view.name == "front"
    # A bar of unknown weight has one plate a side.
    kg = 2 * measures.plate_kg() if np.isnan(bar_kg) else bar_kg
    with np.errstate(invalid="ignore", divide="ignore"):
        figure = _body(view).drawn(frame, SOLID)
        if front:
            parts = [*measures.bar_front(p, frame, kg), *figure]
            joints = [f"{name}_{side}" for name in ("hip", "knee", "ankle") for side in "rl"]
        else:
            loaded = measures.plates_a_side(kg) > 0
            bar = measures.plate_side(p["bar"], frame, loaded, view.plate_m)
            parts, joints = [*figure, *bar], ("hip_r", "knee_r", "ankle_r", "l5")
        parts += [views.joint(frame.at(p[name]), name, front) for name in joints]
    return [part for part in parts if seen(part)]
