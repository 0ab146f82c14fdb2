"""The lifter as drawn everywhere: a person, in clothes, round the joints.

`side_body` and `front_body` turn the named points of a posture or a film
into outlines; scenes and clips (`views`, `clips`) put them on the picture.

Shapes are ours, made by eye [teaching-value]; how thick they are is not:
every limb has the volume that the segment table's mass and length give it
(see `Build`). No number shown anywhere depends on either. Points of the
body are complex here, in metres with y up; a ``Frame`` brings them to the
picture. A point may be an array over time: then every vertex is one too.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.mechanics.posture import Posture
from squatlab.segments import segments_of
from squatlab.show import palette
from squatlab.show.moving import Moving, placed_at, spots
from squatlab.show.primitives import Disc, Line, Points, Shape

Places = dict[str, complex]


class OutlineStation(NamedTuple):
    """Hold where an outline passes: part of the way from joint to joint and
    extra length along it, breadth ahead of and behind the line; the last
    three in parts of stature."""

    part: float
    extra: float
    ahead: float
    behind: float


Profile = tuple[OutlineStation, ...]


def _profile(*rows: tuple[float, float, float, float]) -> Profile:
    """Return a profile from rows of part, extra, ahead and behind."""
    return tuple(OutlineStation(*row) for row in rows)


# fmt: off
# The front of the thigh bulges above the middle, its back below the seat.
THIGH_SIDE = _profile((0, -.050, .030, .034), (.03, 0, .056, .062), (.30, 0, .060, .052),
                      (.62, 0, .049, .041), (.88, 0, .037, .035), (1, .010, .037, .031),
                      (1, .036, .019, .012))
# The calf stands out behind, a third of the way down; the shin is nearly straight.
SHANK_SIDE = _profile((0, -.034, .018, .012), (0, -.008, .036, .030), (.18, 0, .030, .036),
                      (.34, 0, .026, .045), (.64, 0, .020, .027), (1, .010, .019, .018))
PELVIS_SIDE = _profile((-.105, -.006, .022, .040), (-.06, 0, .056, .077), (.06, 0, .060, .082),
                       (.16, 0, .050, .056))
# Flat belly, full chest; hollow low back, round upper back.
TRUNK_SIDE = _profile((.02, 0, .054, .070), (.16, 0, .057, .060), (.32, 0, .060, .050),
                      (.52, 0, .069, .054), (.70, 0, .076, .063), (.86, 0, .062, .066),
                      (.965, 0, .034, .052), (1.01, 0, .012, .034))
THIGH_FRONT = _profile((0, -.050, .026, .026), (0, -.030, .055, .054), (.30, 0, .058, .056),
                       (.62, 0, .049, .047), (.88, 0, .037, .037), (1, .012, .035, .035),
                       (1, .036, .018, .018))
SHANK_FRONT = _profile((0, -.036, .017, .017), (0, -.012, .036, .036), (.16, 0, .034, .033),
                       (.36, 0, .041, .038), (.66, 0, .028, .026), (1, .010, .018, .018))
PELVIS_FRONT = _profile((-.11, 0, .040, .040), (-.07, 0, .090, .090), (.04, 0, .104, .104),
                        (.15, 0, .084, .084))
TRUNK_FRONT = _profile((.02, 0, .096, .096), (.16, 0, .088, .088), (.34, 0, .083, .083),
                       (.56, 0, .099, .099), (.74, 0, .116, .116), (.86, 0, .130, .130),
                       (.925, 0, .104, .104), (.985, 0, .044, .044), (1.00, 0, .030, .030))
UPPER_ARM = _profile((0, -.032, .014, .014), (0, -.010, .033, .033), (.35, 0, .030, .030),
                     (.80, 0, .023, .022), (1, .006, .022, .021), (1, .024, .010, .010))
# The forearm narrows to the wrist, and the fist closes round the bar.
FOREARM = _profile((0, -.018, .010, .010), (0, 0, .022, .022), (.28, 0, .025, .023),
                   (.79, 0, .013, .013), (1, -.008, .027, .027), (1, .024, .019, .019))
# fmt: on

SHORTS_END, SLEEVE_END, LOOSE = 0.60, 0.42, 0.006
"""Where shorts and sleeves end, in parts of thigh and upper arm, and how far
they stand off, in parts of stature [teaching-value]."""

THICK = {
    "thigh": (THIGH_SIDE, THIGH_FRONT),
    "shank": (SHANK_SIDE, SHANK_FRONT),
    "trunk": (TRUNK_SIDE, TRUNK_FRONT),
    "upper_arm": (UPPER_ARM, UPPER_ARM),
    "forearm": (FOREARM, FOREARM),
}
"""Both profiles of what is as thick as the segment table makes it."""

ARMS_OF = "deleva1996_men"
"""The table that gives head and arms where one has only head, arms and trunk together."""


class Build(NamedTuple):
    """Say how tall a lifter is, m, and how thick against the profiles above.

    Each of the others is a factor, 1 as the profiles are drawn: see `of`.
    """

    stature_m: ArrayLike
    thigh: ArrayLike
    shank: ArrayLike
    trunk: ArrayLike
    upper_arm: ArrayLike
    forearm: ArrayLike

    @classmethod
    def of(cls, lifter: Lifter) -> Build:
        """Return the build of a lifter, or of an array of them.

        A segment of mass m, length L and density ρ has the mean section
        m / (ρ L); so have its two profiles, as breadth and depth of an
        ellipse. Masses and lengths of the lifter's table, densities of
        `limits.csv` [winter2009].
        """
        lengths = {
            "thigh": lifter.thigh_m,
            "shank": lifter.shank_m,
            "trunk": lifter.hip_to_c7_m,
            "upper_arm": lifter.upper_arm_m,
            "forearm": lifter.forearm_m,
        }
        factors = {}
        for name, mass_share in _masses(lifter.table).items():
            density = tables.value("limits", name=name, quantity="density")
            section_m2 = mass_share * lifter.mass_kg / (density * lengths[name])
            # A factor k multiplies both breadths of the profiles, so it multiplies the
            # drawn section by k². As drawn that is _section · stature², m².
            factors[name] = np.sqrt(section_m2 / _section(*THICK[name])) / lifter.stature_m
        return cls(lifter.stature_m, **factors)

    def scaled(self, stature_m: float) -> Build:
        """Return a lifter of the same build and another stature."""
        return self._replace(stature_m=stature_m)


def _masses(table: str) -> dict[str, float]:
    """Return the share of body mass of each segment that has a thickness.

    Limbs are one of each pair. The trunk is what is left of head, arms and
    trunk ("hat") without both arms and the head.
    """
    segments = segments_of(table)
    arms = segments if "upper_arm" in segments else segments_of(ARMS_OF)
    one_arm = arms["upper_arm"].mass + arms["forearm"].mass + arms["hand"].mass
    return {
        "upper_arm": arms["upper_arm"].mass,
        "forearm": arms["forearm"].mass,
        "thigh": segments["thigh"].mass,
        "shank": segments["shank"].mass,
        "trunk": segments["hat"].mass - 2 * one_arm - arms["head"].mass,
    }


def _section(side: Profile, front: Profile) -> float:
    """Return the mean section between the joints, in parts of stature squared.

    An ellipse of depth d and breadth b has the area π d b / 4.
    """
    along = np.linspace(0.0, 1.0, 51)
    depth, breadth = _width(side, along), _width(front, along)
    return float(np.mean(np.pi * depth * breadth / 4))


def _width(profile: Profile, along: ArrayLike) -> NDArray[np.float64]:
    """Return how wide a profile is at parts of the way (…), in parts of stature."""
    parts = [station.part for station in profile]
    return np.interp(along, parts, [station.ahead + station.behind for station in profile])


def _cut(profile: Profile, start: float, stop: float, loose: float = 0.0) -> Profile:
    """Return the part of a profile between two parts of the way.

    A cut inside the limb has a flat end, as a hem has; an end of the limb
    itself stays round. ``loose`` is added to all breadths, in parts of
    stature.
    """
    parts = [station.part for station in profile]

    def at(part: float) -> OutlineStation:
        ahead = float(np.interp(part, parts, [station.ahead for station in profile]))
        behind = float(np.interp(part, parts, [station.behind for station in profile]))
        return OutlineStation(part, 0.0, ahead, behind)

    if start <= parts[0]:
        first = [station for station in profile if station.part <= start]
    else:
        first = [at(start)]
    inside = [station for station in profile if start < station.part < stop]
    if stop >= 1:
        last = [station for station in profile if station.part >= stop]
    else:
        # A doubled control point makes a corner of the smooth curve.
        last = [at(stop), at(stop)]
    return tuple(
        station._replace(ahead=station.ahead + loose, behind=station.behind + loose)
        for station in (*first, *inside, *last)
    )


SHORTS_SIDE = _cut(THIGH_SIDE, 0.0, SHORTS_END, LOOSE)
SHORTS_FRONT = _cut(THIGH_FRONT, 0.0, SHORTS_END, LOOSE)
KNEE_SIDE = _cut(THIGH_SIDE, SHORTS_END - 0.12, 1.0)
KNEE_FRONT = _cut(THIGH_FRONT, SHORTS_END, 1.0)
SLEEVE = _cut(UPPER_ARM, 0.0, SLEEVE_END, LOOSE)
BARE_ARM = _cut(UPPER_ARM, SLEEVE_END - 0.03, 1.0)

# The head, in parts of stature from its centre, forward and up: points of a smooth outline.
HEAD_SIDE = (
    (0.010 - 0.058j), (0.034 - 0.068j), (0.050 - 0.063j), (0.049 - 0.047j), (0.056 - 0.034j),
    (0.047 - 0.026j), (0.069 - 0.016j), (0.050 + 0.008j), (0.055 + 0.020j), (0.046 + 0.056j),
    (0.012 + 0.077j), (-0.044 + 0.070j), (-0.064 + 0.018j), (-0.054 - 0.022j), (-0.030 - 0.046j),
)  # fmt: skip
HAIR_SIDE = (
    (0.052 + 0.042j), (0.046 + 0.066j), (0.010 + 0.083j), (-0.048 + 0.075j), (-0.069 + 0.018j),
    (-0.058 - 0.026j), (-0.044 - 0.040j), (-0.026 - 0.026j), (-0.022 + 0.012j), (0.012 + 0.018j),
    (0.024 + 0.044j),
)  # fmt: skip
NOSE, MOUTH = (-0.004j, -0.023j), (-0.013 - 0.043j, 0.013 - 0.043j)
EAR, EYE_SIDE, EYES_FRONT = -0.010 - 0.006j, 0.036 + 0.004j, 0.0185 + 0.004j
HEAD_FRONT = (
    (0.018 - 0.073j), (0.042 - 0.050j), (0.048 - 0.010j), (0.050 + 0.040j), (0.030 + 0.076j),
)  # fmt: skip
HAIR_FRONT = (
    (0.043 + 0.030j), (0.053 + 0.006j), (0.054 + 0.050j), (0.030 + 0.084j),
)  # fmt: skip
"""Half of what is seen from the front; the other half is its mirror image."""


class Frame(NamedTuple):
    """Place metres on the picture: where the origin is, units per metre."""

    origin: complex
    scale: float

    def at(self, point: complex) -> complex:
        """Return the picture's point for one in metres, y up."""
        # In the picture y is down, so the imaginary part changes its sign.
        return self.origin + self.scale * point.conjugate()


class Tones(NamedTuple):
    """Name the colours of a body and its clothes."""

    skin: str = palette.SKIN
    hair: str = palette.HAIR
    shirt: str = palette.SHIRT
    shorts: str = palette.SHORTS
    shoe: str = palette.SHOE
    sole: str = palette.SOLE
    far_skin: str = palette.FAR_SKIN
    far_shorts: str = palette.FAR_SHORTS
    far_shoe: str = palette.FAR_SHOE
    edge: str = palette.EDGE
    crease: str = palette.CREASE
    eye: str = palette.INK


SOLID = Tones()
FAINT = Tones(
    palette.FAINT_SKIN,
    palette.FAINT_HAIR,
    palette.FAINT_SHIRT,
    palette.FAINT_SHORTS,
    palette.FAINT_SHOE,
    palette.PAPER,
    palette.FAINT_FAR,
    palette.FAINT_FAR,
    palette.FAINT_SHOE,
    eye=palette.EDGE,
)


def side_places(posture: Posture) -> Places:
    """Return every named point (…) seen from the lifter's right, m."""
    return {name: (p[..., 0] + 1j * p[..., 1])[()] for name, p in posture.points.items()}


def front_places(posture: Posture) -> Places:
    """Return every named point (…) seen from the front, m.

    The lifter's right is on the viewer's left.
    """
    return {name: (-p[..., 2] + 1j * p[..., 1])[()] for name, p in posture.points.items()}


def around(
    start: complex, end: complex, profile: Profile, build: Build, girth: ArrayLike, ahead: complex
) -> Points:
    """Return the outline of a limb from ``start`` to ``end``.

    ``girth`` is a factor of ``build``; ``ahead`` turns the limb's own
    direction toward its front side (1j or −1j). All outlines turn the
    same way round, so that several can be one area.
    """
    line = end - start
    along = _direction(line) * build.stature_m
    across = along * ahead * girth
    front, back = [], []
    for part, extra, before, behind in profile:
        at = start + line * part + along * extra
        front.append(at + across * before)
        back.append(at - across * behind)
    outline = (*front, *reversed(back))
    return outline if ahead.imag > 0 else outline[::-1]


def _direction(line: complex) -> complex:
    """Return a line of length 1 in the same direction; down if it has none."""
    length = np.abs(line)
    return np.where(length > 1e-9, line / np.maximum(length, 1e-9), -1j)[()]


EDGE_WIDTH = 1.4
"""Of the line round a limb or a piece of clothing, picture units."""


def _area(tone: str, *outlines: Points, smooth: bool = True) -> Shape:
    """Return one or several outlines as one area with an edge round all of it."""
    points = tuple(point for outline in outlines for point in outline)
    pieces = tuple(map(len, outlines)) if len(outlines) > 1 else ()
    return Shape(points, tone, "edge", EDGE_WIDTH, smooth=smooth, pieces=pieces)


class Body(NamedTuple):
    """Hold the parts of one view, each from back to front.

    Parts are primitives in metres, their colours the names of tones.
    """

    far: tuple[Moving, ...]
    near: tuple[Moving, ...]

    def drawn(self, frame: Frame, tones: Tones) -> list[Moving]:
        """Return all of it in its place and colours."""
        return [_painted(part, frame, tones) for part in (*self.far, *self.near)]

    def outline(self, frame: Frame) -> list[Shape]:
        """Return the near part as one pale area with a dashed edge."""
        areas = [part for part in self.near if isinstance(part, Shape) and part.smooth]
        return [contour([_placed(area, frame) for area in areas])]


def contour(areas: Iterable[Shape]) -> Shape:
    """Return areas as a single pale one whose outer edge alone is seen, dashed."""
    points, pieces = [], []
    for area in areas:
        points += area.points
        pieces += area.pieces or (len(area.points),)
    look = {"stroke": palette.GHOST, "width": 1.2, "dash": "5 3", "smooth": True}
    return Shape(tuple(points), palette.GHOST_FILL, pieces=tuple(pieces), **look)


def _painted(part: Moving, frame: Frame, tones: Tones) -> Moving:
    """Return a part on the picture, the names of its tones replaced by colours."""
    placed = _placed(part, frame)
    colours = {}
    for field in ("fill", "stroke"):
        if field in part._fields:
            colours[field] = getattr(tones, getattr(part, field), "none")
    return placed._replace(**colours)


def _placed(part: Moving, frame: Frame) -> Moving:
    """Return a part in metres as one in picture units."""
    placed = placed_at(part, tuple(frame.at(spot) for spot in spots(part)))
    if isinstance(placed, Disc):
        return placed._replace(radius=part.radius * frame.scale)
    return placed


def side_body(p: Places, build: Build, bend: ArrayLike | None = None) -> Body:
    """Return what is seen from the lifter's right.

    ``bend`` is where L5/S1 lies on the way from the hips to C7, for all
    positions or each; left out, the middle of all.
    """
    bend = bend_of(p) if bend is None else bend

    def leg(side: str, far: str = "") -> tuple[Shape, ...]:
        hip, knee, ankle = (p[f"{name}_{side}"] for name in ("hip", "knee", "ankle"))
        shank = around(knee, ankle, SHANK_SIDE, build, build.shank, 1j)
        thigh = around(hip, knee, KNEE_SIDE, build, build.thigh, 1j)
        shorts = around(hip, knee, SHORTS_SIDE, build, build.thigh, 1j)
        seat = () if far else (_pelvis_side(p, build, bend),)
        return (
            _area(f"{far}skin", shank, thigh),
            *_shoe_side(p, side, build, far),
            _area(f"{far}shorts", shorts, *seat),
        )

    def arm(side: str, far: str = "") -> tuple[Shape, ...]:
        shoulder, elbow, wrist = (p[f"{name}_{side}"] for name in ("shoulder", "elbow", "wrist"))
        upper = around(shoulder, elbow, BARE_ARM, build, build.upper_arm, 1j)
        fore = around(elbow, wrist, FOREARM, build, build.forearm, 1j)
        sleeve = around(shoulder, elbow, SLEEVE, build, build.upper_arm, 1j)
        # The sleeve lies below the hand, which holds the bar beside the shoulder.
        return (*(() if far else (_area("shirt", sleeve),)), _area(f"{far}skin", upper, fore))

    trunk = _area("shirt", _trunk_side(p, build, bend))
    return Body(
        (*arm("l", "far_"), *leg("l", "far_")),
        (*_head_side(p, build), trunk, *leg("r"), *arm("r")),
    )


def _head_side(p: Places, build: Build) -> tuple[Moving, ...]:
    """Return neck, face, hair, ear and eye in profile."""
    size, centre = build.stature_m, p["head"]
    # The face is held up, half out of the lean.
    upright = _direction(_direction(p["head"] - p["c7"]) + 1j)

    def at(offset: complex) -> complex:
        # Offsets are forward + i up. A turn by −90° lays "up" along the real axis, and
        # times `upright` it then points where the head does.
        return centre + upright * (offset * -1j) * size

    nape, throat = at(-0.040 - 0.020j), at(0.022 - 0.052j)
    spine = _direction(p["c7"] - p["l5"])
    back, front, low = (p["c7"] + spine * off * size for off in (0.036j, -0.040j, -0.05))
    neck = (nape, at(0.0j), throat, front, low, back)
    return (
        _area("skin", neck),
        _area("skin", tuple(at(offset) for offset in HEAD_SIDE)),
        _area("hair", tuple(at(offset) for offset in HAIR_SIDE)),
        Disc(at(EAR), 0.0115 * size, "skin", "edge", 1.0),
        Disc(at(EYE_SIDE), 0.0050 * size, "eye"),
    )


def bends(p: Places) -> ArrayLike:
    """Return where L5/S1 lies on the way from the hips to C7, a share (…) of it."""
    above, below = np.abs(p["c7"] - p["l5"]), np.abs(p["l5"] - p["pelvis"])
    return below / (below + above)


def bend_of(p: Places) -> float:
    """Return the middle of `bends` in a film.

    One cut for all of it: noise must not move vertices from one part to the other.
    """
    share = bends(p)
    if np.ndim(share):
        seen = share[~np.isnan(share)]
        share = np.median(seen) if seen.size else 0.5
    return float(share)


def _pelvis_side(p: Places, build: Build, bend: ArrayLike) -> Points:
    """Return the seat of the shorts, which turns with the pelvis."""
    # Where C7 would be if the back went on straight from the pelvis: profiles run from
    # the hips to C7, and L5/S1 lies at the part `bend` of that way.
    top = p["pelvis"] + (p["l5"] - p["pelvis"]) / bend
    return around(p["pelvis"], top, PELVIS_SIDE, build, build.trunk, -1j)


def _trunk_side(p: Places, build: Build, bend: ArrayLike) -> Points:
    """Bend the trunk's outline at L5/S1: stations below it follow the pelvis."""
    # The whole outline is drawn twice, straight in line with the pelvis and straight in
    # line with the upper trunk, each so that L5/S1 lies at the part `bend` of its way:
    # l5 = start + bend · (c7 − start) and l5 = pelvis + bend · (top − pelvis).
    start = p["l5"] - (p["c7"] - p["l5"]) * (bend / (1 - bend))
    top = p["pelvis"] + (p["l5"] - p["pelvis"]) / bend
    low = around(p["pelvis"], top, TRUNK_SIDE, build, build.trunk, -1j)
    high = around(start, p["c7"], TRUNK_SIDE, build, build.trunk, -1j)
    # The outline runs up one side of the stations and down the other.
    stations = (*TRUNK_SIDE, *reversed(TRUNK_SIDE))
    return tuple(
        np.where(station.part < bend, below, above)[()]
        for station, below, above in zip(stations, low, high, strict=True)
    )


def _shoe_side(p: Places, side: str, build: Build, far: str) -> tuple[Shape, ...]:
    """Return a shoe and, of a near one, its sole, which bends at the ball of the foot."""
    heel, ball, toe, ankle = (p[f"{name}_{side}"] for name in ("heel", "ball", "toe", "ankle"))
    size = build.stature_m
    foot = toe - heel
    up = _direction(foot) * 1j * size
    back, front = heel - foot * 0.05, toe + foot * 0.04
    # A doubled control point makes a corner of the smooth curve.
    shoe = (
        back,
        back,
        ball,
        front,
        front + up * 0.022,
        toe - foot * 0.14 + up * 0.032,
        ankle + foot * 0.15 + up * 0.010,
        ankle + foot * 0.10 + up * 0.026,
        ankle - foot * 0.13 + up * 0.026,
        back + up * 0.044,
    )
    if far:
        return (_area("far_shoe", shoe),)
    upper_edge = front + up * 0.011, ball + up * 0.011, back + up * 0.014
    return _area("shoe", shoe), _area("sole", (back, ball, front, *upper_edge), smooth=False)


class _FrontArm(NamedTuple):
    """Hold the skin of an arm and the outline of its sleeve, part of the shirt."""

    bare: Shape
    sleeve: Points


class _FrontLeg(NamedTuple):
    """Hold skin and shoe of a leg and the outline of its half of the shorts."""

    bare: tuple[Shape, ...]
    shorts: Points


def front_body(p: Places, build: Build) -> Body:
    """Return what is seen from the front."""

    def leg(side: str, outward: complex) -> _FrontLeg:
        hip, knee, ankle = (p[f"{name}_{side}"] for name in ("hip", "knee", "ankle"))
        shank = around(knee, ankle, SHANK_FRONT, build, build.shank, outward)
        thigh = around(hip, knee, KNEE_FRONT, build, build.thigh, outward)
        shorts = around(hip, knee, SHORTS_FRONT, build, build.thigh, outward)
        return _FrontLeg((_area("skin", shank, thigh), *_shoe_front(p, side, build)), shorts)

    def arm(side: str, outward: complex) -> _FrontArm:
        shoulder, elbow, wrist = (p[f"{name}_{side}"] for name in ("shoulder", "elbow", "wrist"))
        upper = around(shoulder, elbow, BARE_ARM, build, build.upper_arm, outward)
        fore = around(elbow, wrist, FOREARM, build, build.forearm, outward)
        sleeve = around(shoulder, elbow, SLEEVE, build, build.upper_arm, outward)
        return _FrontArm(_area("skin", upper, fore), sleeve)

    # A trunk seen end on keeps a little height, or its outline would turn over.
    lift = np.maximum(p["pelvis"].imag + 0.02 - p["c7"].imag, 0.0)
    upright = p["c7"] + 1j * lift
    trunk = around(p["pelvis"], upright, TRUNK_FRONT, build, build.trunk, 1j)
    seat = around(p["pelvis"], upright, PELVIS_FRONT, build, build.trunk, 1j)
    # Outward is the leg's front side turned toward the viewer's left or right.
    legs = leg("r", -1j), leg("l", 1j)
    arms = arm("r", -1j), arm("l", 1j)
    near = (
        *(arm.bare for arm in arms),
        _area("shirt", trunk, *(arm.sleeve for arm in arms)),
        *_head_front(p, upright, build),
        _area("shorts", seat, *(leg.shorts for leg in legs)),
        # Knees that come toward the viewer stand before the shorts.
        *(part for leg in legs for part in leg.bare),
    )
    return Body((), near)


def _head_front(p: Places, base: complex, build: Build) -> tuple[Moving, ...]:
    """Return neck, face, hair and eyes from the front."""
    size, centre = build.stature_m, p["head"]

    def both(half: tuple[complex, ...]) -> Points:
        mirrored = tuple(-offset.conjugate() for offset in reversed(half))
        return tuple(centre + offset * size for offset in (*half, *mirrored))

    # From the chin down to the notch of the breastbone, where the shirt's collar is.
    notch, wide = base - 0.052j * size, 0.033 * size
    neck = (notch, base + 1.25 * wide, centre + wide, centre - wide, base - 1.25 * wide)
    return (
        _area("skin", neck),
        _area("skin", both(HEAD_FRONT)),
        _area("hair", both(HAIR_FRONT)),
        *(
            Disc(centre + offset * size, 0.0050 * size, "eye")
            for offset in (EYES_FRONT, -EYES_FRONT.conjugate())
        ),
        Line(tuple(centre + offset * size for offset in NOSE), "crease", 1.4),
        Line(tuple(centre + offset * size for offset in MOUTH), "crease", 1.6),
    )


def _shoe_front(p: Places, side: str, build: Build) -> tuple[Shape, Shape]:
    """Return a shoe and its sole from the front, as wide as turned out it is."""
    toe, ankle, size = p[f"toe_{side}"], p[f"ankle_{side}"], build.stature_m
    half = 0.030 * size
    # Turned out, the shoe reaches from below the ankle to the toes.
    left = np.minimum(toe.real, ankle.real + 0.2 * half) - half
    right = np.maximum(toe.real, ankle.real - 0.2 * half) + half
    up = 1j * size
    shoe = (
        right + 0j,
        right + up * 0.030,
        0.5 * (right + ankle.real + half) + up * 0.038,
        ankle + complex(0.026, 0.018) * size,
        ankle + complex(-0.026, 0.018) * size,
        0.5 * (left + ankle.real - half) + up * 0.038,
        left + up * 0.030,
        left + 0j,
    )
    sole = right + 0j, right + up * 0.012, left + up * 0.012, left + 0j
    return _area("shoe", shoe), _area("sole", sole, smooth=False)
