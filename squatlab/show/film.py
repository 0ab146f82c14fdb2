"""A film: a clip's views beside each other, every part of them moving.

`footage` sets the points on the floor, `film` draws them and `lines` what
is measured; `clips` plays the film, `frame_row` prints frames of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.show import lines, measures, palette, views
from squatlab.show.body import SOLID, Body, Frame, contour, front_body, side_body
from squatlab.show.footage import Footage, FootageView, at_moments
from squatlab.show.lines import MeasuredLine
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

    ``frame`` places metres of the view on the picture. ``measured`` draws
    ``lines`` and lists them with their numbers.
    """

    name: str
    left: float
    width: float
    frame: Frame
    stage: tuple[Primitive, ...]
    figure: tuple[Moving, ...]
    measured: tuple[Moving, ...]
    lines: tuple[MeasuredLine, ...]

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
        parts: list[Moving] = []
        for panel in shown:
            parts += panel.always
            if measured:
                parts += panel.measured
        stills = [taken(part, frame) for part in parts]
        return Scene(tuple(s for s in stills if s is not None), bounds, self.sentence)

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
    shown = at_moments(footages, frames)
    scale = np.array([_scale(lift) for lift in footages])
    others = None
    if behind:
        in_step = []
        for lift, other, frame in zip(footages, behind, frames, strict=True):
            in_step.append(int(_in_step(lift, other)[frame]))
        others = at_moments(behind, in_step)
    panels = _panels(shown, scale, wanted, blind=False, behind=others)
    parts = [part for panel in panels for part in (*panel.always, *panel.measured)]
    bounds = 0.0, 0.0, panels[-1].left + panels[-1].width, HEIGHT
    return whole(parts, bounds, len(frames), [lines.describe(lift) for lift in footages])


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
        shown = () if blind else tuple(lines.measured(footage, view, frame, wanted))
        measured = tuple(lines.with_words(shown, view.name, left + MARGIN))
        panels.append(Panel(view.name, left, width, frame, stage, figure, measured, shown))
        left += width
    return tuple(panels)


def _first_repetition(footage: Footage) -> list[int]:
    """Return the frames that meet: before all, start, lowest point, end, after all."""
    frames = footage.time.size
    if not footage.repetitions:
        return [-1, 0, footage.bottoms[0], frames, frames]
    first = footage.repetitions[0]
    return [-1, first.start, first.bottom, first.end, frames]


def _in_step(shown: Footage, other: Footage) -> NDArray[np.intp]:
    """Return which frame of another lift goes with each frame (frame,) of the one shown."""
    # Start, lowest point and end of the first repetition meet; the time between is stretched,
    # and so is what is before and after them.
    moments = _first_repetition
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
    areas = []
    for part in figure:
        if isinstance(part, Shape) and part.smooth and part.fill not in FAR_FILLS:
            area = taken(part, frame)
            if area is not None:
                areas.append(area)
    return contour(areas)


def _scale(footage: Footage) -> float:
    """Return the greatest scale at which the whole movement stays in every view."""
    return min(_fitting(view) for view in footage.views)


def _fitting(view: FootageView) -> float:
    """Return the greatest scale at which the whole movement stays in its view.

    Picture units per metre, at most that of a still (`views.scale_of`).
    """
    # How much room there is to the left and right of the view's origin.
    to_left, to_right = MID_FOOT, SIDE - MID_FOOT
    if view.name == "front":
        to_left = to_right = 0.5 * FRONT
    places = np.concatenate([place[~np.isnan(place)] for place in view.places.values()])
    # Metres per picture unit that the furthest point needs on each side and upward.
    needed = max(
        (-places.real / (to_left - EDGE)).max(),
        (places.real / (to_right - EDGE)).max(),
        places.imag.max() / (FLOOR - 60),
        1e-9,
    )
    return min(scale_of(view.build.stature_m), 1.0 / needed)


def _stage(name: str, left: float, width: float, middle: float, mid_foot: bool) -> list[Primitive]:
    """Return title, floor and what is written below it."""
    parts = views.page(f"{name.capitalize()} view", left, width)
    parts.append(Line((complex(left, FLOOR), complex(left + width, FLOOR)), palette.INK, 1.5))

    def below(x: float, words: str, anchor: str) -> Text:
        return Text(complex(x, FLOOR + 30), words, 13.0, anchor, fill=palette.SOFT)

    if name == "front":
        parts.append(below(left + MARGIN, "lifter's right", "start"))
        parts.append(below(left + width - MARGIN, "lifter's left", "end"))
    if mid_foot:
        notch = (
            complex(middle, FLOOR + 3),
            complex(middle - 6, FLOOR + 15),
            complex(middle + 6, FLOOR + 15),
        )
        parts.append(measures.vertical(middle, lines.TOP, FLOOR, palette.RULE, "1 4"))
        parts.append(Shape(notch, palette.INK, palette.PAPER))
        parts.append(below(middle, "mid-foot", "middle"))
    return parts


def _body(view: FootageView) -> Body:
    """Return the lifter as seen in a view, in metres."""
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
