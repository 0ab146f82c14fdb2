"""A lift as a camera in the room sees it: in perspective, and no joint marked.

The outlines are those of every picture of a lifter; here their points are
first put through a lens, so that near is larger than far, and no length in a
picture is true. What comes out are primitives over time, in picture units.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.motion import Camera, Rep
from squatlab.show import measures
from squatlab.show.body import Body, Build, Frame, Places, Tones, front_body, side_body
from squatlab.show.moving import Moving, taken
from squatlab.show.palette import EDGE, INK, PAPER, STEEL
from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Line, Points, Primitive, Shape, rectangle

UNITS_PER_M = 225.0
"""Picture units per metre at the lifter's middle: strokes are made for it."""

SKIN, FAR_SKIN = "#d0a98a", "#b38f74"
FAR_PLATE, SHADOW = "#cfd1d0", "#7d7160"
SHIRT, SHORTS, FAR_SHORTS, SHOE, FAR_SHOE = "#4d7ba8", "#39465a", "#2b3546", "#f2f2ee", "#c9c8c2"
WALL, FLOOR, PLATFORM = "#e7e6e1", "#c2bdb3", "#a89a86"
"""Flat colours of a room and of clothes that stay apart from each other
[teaching-value]."""

WALL_BEHIND_M, PLATFORM_HALF_M = 2.5, 1.25
"""Where the wall is behind the lifter, and half a lifting platform's width
[teaching-value]."""

MARGIN_M = 0.06
"""What stays free around the movement, at the lifter's middle."""

DRESSED = Tones(
    SKIN, "#4c4038", SHIRT, SHORTS, SHOE, SHOE, FAR_SKIN, FAR_SHORTS, FAR_SHOE,
    edge="none", crease="#a98465", eye=INK,
)  # fmt: skip

COLLAR = 0.024, 0.021, 0.026
"""A shoe's collar ahead of and behind the ankle, and above it, parts of stature."""


class Window(NamedTuple):
    """Hold what part of a picture is shown, in its units, and where it looks from.

    ``follow`` (time,) is how far the window has moved with the lifter.
    """

    name: str
    left: float
    top: float
    right: float
    bottom: float
    follow: NDArray[np.complex128] | None = None

    def bounds(self, frame: int) -> tuple[float, float, float, float]:
        """Return left, top, right and bottom at one frame."""
        shift = complex(self.follow[frame]) if self.follow is not None else 0j
        return (
            self.left + shift.real,
            self.top + shift.imag,
            self.right + shift.real,
            self.bottom + shift.imag,
        )


@dataclass(frozen=True, eq=False)
class FilmedLift:
    """Hold a repetition as one camera sees it; `scene` gives one picture.

    ``camera`` is of `squatlab.motion`; its focal length does not matter.
    """

    rep: Rep
    camera: Camera

    @cached_property
    def places(self) -> Places:
        """Return every point in the picture, in m at the lifter's middle, y up."""
        return {name: self._seen(place) for name, place in self.rep.points.items()}

    def _seen(self, points: ArrayLike) -> NDArray[np.complex128]:
        """Return where points (…, 3) m appear, in m at the lifter's middle, y up.

        The pinhole formula is the camera's own. The picture is so large
        that nothing lies outside it, and the floor below the middle is 0.
        """
        wide = 10_000.0
        scale = 300.0
        focal = scale * self.camera.distance_m
        large = Camera(
            self.camera.view,
            self.camera.distance_m,
            self.camera.height_m,
            self.camera.yaw_deg,
            focal,
            wide,
            wide,
        )
        picture = (large.project(points) - 0.5 * wide) / scale
        return picture[..., 0] + 1j * (picture[..., 1] + self.camera.height_m)

    @cached_property
    def frame(self) -> Frame:
        """Return how metres at the lifter's middle become picture units."""
        return Frame(0j, UNITS_PER_M)

    @cached_property
    def moving(self) -> tuple[Moving, ...]:
        """Return lifter and bar from back to front, their points over time."""
        return tuple(self._side() if self.camera.view == "side" else self._front())

    def scene(self, frame: int, window: Window) -> Scene:
        """Return one frame as a window shows it."""
        bounds = window.bounds(frame)
        figure = (taken(part, frame) for part in self.moving)
        parts = (*self._room(bounds), *(part for part in figure if part is not None))
        return Scene(parts, bounds, "")

    def _room(self, bounds: tuple[float, float, float, float]) -> Iterable[Primitive]:
        """Yield wall, floor and platform."""
        left, top, right, bottom = bounds
        edge = self._floor_edge
        yield Shape(rectangle(left, top, right, bottom), WALL)
        yield Shape(rectangle(left, max(edge, top), right, max(bottom, edge)), FLOOR)
        yield self._platform

    @cached_property
    def _floor_edge(self) -> float:
        """Return how far down the picture the floor meets the wall, picture units."""
        away = _toward(self.camera) * -WALL_BEHIND_M
        return self.frame.at(complex(self._seen(away))).imag

    @cached_property
    def _platform(self) -> Shape:
        """Return the platform, which stays where it is in every frame."""
        half = PLATFORM_HALF_M
        signs = ((1, 1), (1, -1), (-1, -1), (-1, 1))
        corners = np.array([(ahead * half, 0.0, aside * half) for ahead, aside in signs])
        return Shape(
            tuple(self.frame.at(complex(corner)) for corner in self._seen(corners)), PLATFORM
        )

    def _side(self) -> list[Moving]:
        """Return the parts of a side view from back to front."""
        body = side_body(self.places, Build.of(self.rep.lifter))
        figure = self._dressed(body, "lr")
        far_plate, near_plate = self._plates()
        ends = (self.frame.at(self.places[name]) for name in ("bar_end_l", "bar_end_r"))
        return [*far_plate, Line(tuple(ends), STEEL, 7.0), *figure, *near_plate]

    def _front(self) -> list[Moving]:
        """Return the parts of a front view from back to front."""
        body = front_body(self.places, Build.of(self.rep.lifter))
        figure = self._dressed(body, "rl")
        bar = measures.bar_front(self.places, self.frame, float(self.rep.bar.mass_kg))
        return [*bar, *figure]

    def _dressed(self, body: Body, sides: str) -> list[Moving]:
        """Return a body in its colours, with shoes as a camera above the floor sees them.

        ``sides`` are those of the shoes, from back to front.
        """
        shoes, left = (SHOE, FAR_SHOE), iter(sides)
        drawn: list[Moving] = []
        for part in body.drawn(self.frame, DRESSED):
            fill = getattr(part, "fill", "none")
            if fill not in shoes:
                drawn.append(part)
            elif getattr(drawn[-1], "fill", "none") not in shoes:  # its sole comes next
                side = next(left)
                drawn.append(Shape(self._hull_of(self._sole(side) * (1, 0, 1)), SHADOW))
                drawn.append(Shape(self._hull_of(self._shoe(side)), fill, EDGE, 1.4))
        return drawn

    def _plates(self) -> tuple[list[Moving], list[Moving]]:
        """Return the far and the near end of the bar with its plates, from the side."""
        points = self.rep.points
        bar = points["bar"]
        loaded = measures.plates_a_side(float(self.rep.bar.mass_kg)) > 0
        ends = []
        for sign in (-1, 1):  # the tracked plate is the right one; the left lies opposite
            rim = [bar + sign * (points[name] - bar) for name in ("plate_top", "plate_bottom")]
            top, bottom = map(self._seen, rim)
            radius = float(np.median(np.abs(top - bottom))) / 2
            ends.append((0.5 * (top + bottom), radius))
        (far, far_radius), (near, near_radius) = ends
        behind = [Disc(self.frame.at(far), far_radius * UNITS_PER_M, FAR_PLATE)]
        # As if of glass: the near plate hides nothing, its rim and the sleeve show the bar.
        before = [Disc(self.frame.at(near), near_radius * UNITS_PER_M, "none", STEEL, 2.5)]
        sleeve = Disc(self.frame.at(near), measures.SLEEVE_RADIUS * UNITS_PER_M, STEEL, PAPER, 1.2)
        return (behind, [*before, sleeve]) if loaded else ([], [sleeve])

    def _hull_of(self, solid: NDArray[np.float64]) -> Points:
        """Return the outline of a solid's corners (corner, time, 3) m in the picture."""
        return _hulls(self.frame.at(self._seen(solid)))

    def _along(self, side: str) -> NDArray[np.float64]:
        """Return the level direction of a shoe (time, 3), from heel to toe."""
        points = self.rep.points
        return _unit((points[f"toe_{side}"] - points[f"heel_{side}"]) * (1, 0, 1))

    def _sole(self, side: str) -> NDArray[np.float64]:
        """Return the edge of a sole (corner, time, 3) m; it bends at the ball."""
        points, size = self.rep.points, float(self.rep.lifter.stature_m)
        heel, ball, toe = (points[f"{name}_{side}"] for name in ("heel", "ball", "toe"))
        along = self._along(side)
        across = along[:, ::-1] * (-1, 0, 1)
        stations = (
            (heel - 0.016 * size * along, 0.017),
            (heel + 0.15 * (ball - heel), 0.021),
            (ball, 0.028),
            (toe + 0.006 * size * along, 0.016),
        )
        edges = [at + sign * half * size * across for at, half in stations for sign in (-1, 1)]
        return np.stack(edges)

    def _shoe(self, side: str) -> NDArray[np.float64]:
        """Return the corners of a whole shoe (corner, time, 3) m: sole, cap and collar."""
        points, size = self.rep.points, float(self.rep.lifter.stature_m)
        heel, ball, toe, ankle = (points[f"{n}_{side}"] for n in ("heel", "ball", "toe", "ankle"))
        along, up = self._along(side), np.array([0.0, 1.0, 0.0])
        across = along[:, ::-1] * (-1, 0, 1)
        # The collar tips with the foot as the heel rises.
        leg = ankle - heel
        leg = _unit(leg - along * np.sum(leg * along, axis=1, keepdims=True))
        ahead, behind, above = COLLAR
        upper = []
        for sign in (-1, 1):
            upper += [
                toe + size * (0.020 * up + sign * 0.012 * across - 0.010 * along),
                ball + size * (0.034 * up + sign * 0.020 * across),
                ankle + size * (ahead * along + above * leg + sign * 0.016 * across),
                ankle + size * (-behind * along + above * leg + sign * 0.016 * across),
            ]
        return np.concatenate([self._sole(side), np.stack(upper)])

    @cached_property
    def reach(self) -> tuple[float, float, float, float]:
        """Return left, top, right and bottom of all that moves, picture units."""
        spots = []
        for part in self.moving:
            if isinstance(part, Disc):
                corner = part.radius * (1 + 1j)
                spots += [part.centre - corner, part.centre + corner]
            else:
                spots += part.points
        every = np.concatenate(spots)
        return every.real.min(), every.imag.min(), every.real.max(), every.imag.max()

    def whole(self) -> Window:
        """Return the window that shows the whole movement, and no more."""
        left, top, right, bottom = self.reach
        free = MARGIN_M * UNITS_PER_M
        return Window(self.camera.view, left - free, top - free, right + free, bottom + free)

    def feet(self) -> Window:
        """Return the window on the shoes."""
        shoes = [p for p in self.moving if isinstance(p, Shape) and p.fill in (SHOE, FAR_SHOE)]
        every = np.concatenate([spot for shoe in shoes for spot in shoe.points])
        free = MARGIN_M * UNITS_PER_M
        return Window(
            "feet",
            every.real.min() - free,
            every.imag.min() - free,
            every.real.max() + free,
            every.imag.max() + free,
        )

    def back(self, half_m: float = 0.33) -> Window:
        """Return the window on the low back, which goes with it as a camera is turned."""
        low_back = self.frame.at(self.places["l5"])
        smooth = np.convolve(np.pad(low_back, 15, mode="edge"), np.ones(31) / 31, "valid")
        half = half_m * UNITS_PER_M
        # More room ahead of the low back and above it, where the rest of the back is.
        ahead, up = 0.25 * half, 0.35 * half
        return Window("back", ahead - half, -half - up, ahead + half, half - up, smooth)


def _toward(camera: Camera) -> NDArray[np.float64]:
    """Return the level direction from the lifter's middle to the camera."""
    return np.array([np.cos(camera.azimuth), 0.0, np.sin(camera.azimuth)])


def _unit(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return vectors (…, xyz) of length 1."""
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def _hulls(points: NDArray[np.complex128]) -> Points:
    """Return the convex outline of points (point, time), as many corners at every time."""
    # Feet stay where they are for most of a lift: an outline is worked out once for all frames
    # that have the very same points.
    different, which = np.unique(points.T, axis=0, return_inverse=True)
    outlines = [_hull(corners.tolist()) for corners in different]
    most = max(map(len, outlines))
    padded = [outline + [outline[-1]] * (most - len(outline)) for outline in outlines]
    return tuple(np.array(padded)[which.ravel()].T)


def _hull(points: list[complex]) -> list[complex]:
    """Return the corners of the convex hull in order (Andrew's monotone chain)."""
    order = sorted(points, key=lambda point: (point.real, point.imag))
    half: list[list[complex]] = []
    for row in (order, order[::-1]):
        chain: list[complex] = []
        for point in row:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= 0:
                chain.pop()
            chain.append(point)
        half.append(chain[:-1])
    return half[0] + half[1]


def _turn(start: complex, middle: complex, end: complex) -> float:
    """Return twice the area of a triangle: above 0 if it turns from x toward y."""
    return ((middle - start).conjugate() * (end - middle)).imag
