"""The lifter's outline: limbs, trunk, head and shoes around the joints.

Widths are parts of stature and only for the eye [teaching-value]; no
number shown anywhere depends on them. Points of the body are complex
here too, in metres with y up; a ``Frame`` brings them to the picture.
A point may be an array over time: then every vertex is one as well.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from squatlab.mechanics.posture import Posture
from squatlab.show import palette
from squatlab.show.primitives import Points, Shape

Places = dict[str, complex]
Profile = tuple[tuple[float, float, float, float], ...]
"""Stations from one joint to the next: part of the way, extra length
along it, and the breadth ahead of and behind the line, parts of stature."""

# fmt: off
THIGH_SIDE: Profile = ((0, -.050, .020, .020), (0, -.034, .050, .048), (.20, 0, .062, .055),
                       (.60, 0, .052, .043), (.88, 0, .038, .036), (1, .006, .037, .034),
                       (1, .036, .018, .014))
SHANK_SIDE: Profile = ((0, -.034, .016, .014), (0, -.010, .035, .032), (.16, 0, .033, .039),
                       (.36, 0, .027, .046), (.62, 0, .021, .032), (.9, 0, .018, .019),
                       (1, .02, .018, .018))
TRUNK_SIDE: Profile = ((-.07, -.010, .030, .030), (-.05, 0, .056, .072), (.08, 0, .060, .080),
                       (.24, 0, .060, .060), (.45, 0, .064, .052), (.70, 0, .072, .062),
                       (.86, 0, .068, .062), (.97, 0, .042, .046), (1.03, 0, .022, .026))
THIGH_FRONT: Profile = ((0, -.052, .022, .022), (0, -.034, .054, .054), (.25, 0, .058, .056),
                        (.65, 0, .048, .046), (.95, 0, .037, .037), (1, .020, .036, .036),
                        (1, .042, .018, .018))
SHANK_FRONT: Profile = ((0, -.036, .016, .016), (0, -.016, .037, .037), (.14, 0, .034, .034),
                        (.36, 0, .042, .038), (.65, 0, .029, .028), (.92, 0, .020, .020),
                        (1, .02, .019, .019))
TRUNK_FRONT: Profile = ((-.10, 0, .030, .030), (-.06, 0, .082, .082), (.04, 0, .106, .106),
                        (.24, 0, .090, .090), (.42, 0, .082, .082), (.66, 0, .100, .100),
                        (.80, 0, .126, .126), (.91, 0, .136, .136), (.985, 0, .100, .100),
                        (1.02, 0, .040, .040))
UPPER_ARM: Profile = ((0, -.030, .012, .012), (0, -.018, .031, .031), (.4, 0, .031, .029),
                      (.85, 0, .023, .022), (1, .004, .023, .022), (1, .026, .010, .010))
FOREARM: Profile = ((0, -.018, .010, .010), (0, -.004, .022, .022), (.3, 0, .024, .024),
                    (.8, 0, .016, .016), (1, -.010, .018, .018), (1, .016, .020, .020),
                    (1, .026, .010, .010))
NECK: Profile = ((-.35, 0, .038, .038), (0, 0, .036, .036), (1, 0, .031, .031))
HEAD_SIDE: Profile = ((0, -.065, .023, -.009), (0, -.060, .046, .009), (0, -.035, .046, .030),
                      (0, -.023, .049, .040), (0, -.012, .063, .049), (0, .007, .044, .056),
                      (0, .030, .049, .058), (0, .056, .039, .048), (0, .070, .009, .018))
HEAD_FRONT: Profile = ((0, -.067, .012, .012), (0, -.055, .028, .028), (0, -.018, .040, .040),
                       (0, .023, .044, .044), (0, .055, .033, .033), (0, .069, .012, .012))
# fmt: on


class Frame(NamedTuple):
    """Place metres on the picture: where the origin is, units per metre."""

    origin: complex
    scale: float

    def at(self, point: complex) -> complex:
        """Return the picture's point for one in metres, y up."""
        return self.origin + self.scale * point.conjugate()


class Tones(NamedTuple):
    """Name the fills of a body."""

    near: str = palette.NEAR
    trunk: str = palette.TRUNK
    far: str = palette.FAR
    shoe: str = palette.SHOE
    far_shoe: str = palette.FAR_SHOE


SOLID = Tones()
FAINT = Tones(
    palette.FAINT_NEAR,
    palette.FAINT_TRUNK,
    palette.FAINT_FAR,
    palette.FAINT_SHOE,
    palette.FAINT_SHOE,
)


def side_places(posture: Posture) -> Places:
    """Return every named point (…) seen from the lifter's right, m."""
    return {name: (p[..., 0] + 1j * p[..., 1])[()] for name, p in posture.points.items()}


def front_places(posture: Posture) -> Places:
    """Return every named point (…) seen from the front, m.

    The lifter's right is on the viewer's left.
    """
    return {name: (-p[..., 2] + 1j * p[..., 1])[()] for name, p in posture.points.items()}


def around(start: complex, end: complex, profile: Profile, size: float, ahead: complex) -> Points:
    """Return the outline of a limb from ``start`` to ``end``.

    ``size`` is the stature in metres; ``ahead`` turns the limb's own
    direction toward its front side (1j or −1j).
    """
    line = end - start
    along = _direction(line)
    across = along * ahead * size
    front, back = [], []
    for part, extra, before, behind in profile:
        at = start + line * part + along * (extra * size)
        front.append(at + across * before)
        back.append(at - across * behind)
    return (*front, *reversed(back))


def _direction(line: complex) -> complex:
    """Return a line of length 1 in the same direction; down if it has none."""
    length = np.abs(line)
    return np.where(length > 1e-9, line / np.maximum(length, 1e-9), -1j)[()]


class Body(NamedTuple):
    """Hold the outlines of one view, from back to front, in metres."""

    far: tuple[tuple[str, Points], ...]
    near: tuple[tuple[str, Points], ...]
    arms: tuple[tuple[str, Points], ...]

    def shapes(self, frame: Frame, part: str, tones: Tones) -> list[Shape]:
        """Return a part ("far", "near" or "arms") as drawn areas."""
        return [
            Shape(
                tuple(map(frame.at, points)), getattr(tones, tone), palette.EDGE, 1.4, smooth=True
            )
            for tone, points in getattr(self, part)
        ]

    def outline(self, frame: Frame) -> list[Shape]:
        """Return the near part as one pale area with a dashed edge.

        Fills cover the inner halves of all edges, so that only the
        outer contour stays.
        """
        parts = [tuple(map(frame.at, points)) for _, points in self.near]
        edges = [Shape(p, stroke=palette.GHOST, width=2.4, dash="5 3", smooth=True) for p in parts]
        return edges + [Shape(p, palette.GHOST_FILL, smooth=True) for p in parts]


def side_body(p: Places, size: float) -> Body:
    """Return the outlines seen from the lifter's right."""

    def leg(side: str, tone: str, shoe_tone: str):
        hip, knee, ankle = (p[f"{name}_{side}"] for name in ("hip", "knee", "ankle"))
        return (
            (shoe_tone, _shoe_side(p, side, size)),
            (tone, around(knee, ankle, SHANK_SIDE, size, 1j)),
            (tone, around(hip, knee, THIGH_SIDE, size, 1j)),
        )

    def arm(side: str, tone: str):
        shoulder, elbow, wrist = (p[f"{name}_{side}"] for name in ("shoulder", "elbow", "wrist"))
        return (
            (tone, around(shoulder, elbow, UPPER_ARM, size, 1j)),
            (tone, around(elbow, wrist, FOREARM, size, 1j)),
        )

    body = (
        ("near", around(p["c7"], p["head"], NECK, size, -1j)),
        ("near", around(p["head"], p["head"] + _gaze(p), HEAD_SIDE, size, -1j)),
        ("trunk", _trunk_side(p, size)),
    )
    far = (*arm("l", "far"), *leg("l", "far", "far_shoe"))
    return Body(far, (*body, *leg("r", "near", "shoe")), arm("r", "near"))


def _gaze(p: Places) -> complex:
    """Return the head's upright: the face is held up, half out of the lean."""
    return _direction(p["head"] - p["c7"]) + 1j


def _trunk_side(p: Places, size: float) -> Points:
    """Bend the trunk's outline at L5/S1: stations below it follow the pelvis."""
    whole, pelvis = p["c7"] - p["l5"], p["l5"] - p["pelvis"]
    share = abs(pelvis) / (abs(pelvis) + abs(whole))
    if not isinstance(share, float):
        # One cut for the whole film: noise must not move vertices from one part to the other.
        share = float(np.median(share[share == share] if (share == share).any() else 0.5))
    start = p["l5"] - whole * (share / (1 - share))
    low = around(p["pelvis"], p["pelvis"] + pelvis / share, TRUNK_SIDE, size, -1j)
    high = around(start, p["c7"], TRUNK_SIDE, size, -1j)
    count = len(TRUNK_SIDE)
    cut = sum(station[0] < share for station in TRUNK_SIDE)
    return low[:cut] + high[cut : 2 * count - cut] + low[2 * count - cut :]


def _shoe_side(p: Places, side: str, size: float) -> Points:
    heel, ball, toe, ankle = (p[f"{name}_{side}"] for name in ("heel", "ball", "toe", "ankle"))
    sole = toe - heel
    across = _direction(sole) * 1j * size
    back = heel - sole * 0.04
    front = toe + sole * 0.03
    # A doubled control point makes a corner of the smooth curve.
    return (
        back,
        back,
        ball,
        ball,
        front,
        front + across * 0.020,
        toe - sole * 0.14 + across * 0.030,
        ankle + sole * 0.16 + across * 0.008,
        ankle + sole * 0.11 + across * 0.022,
        ankle - sole * 0.13 + across * 0.022,
        back + across * 0.042,
        back + across * 0.012,
    )


def front_body(p: Places, size: float) -> Body:
    """Return the outlines seen from the front."""

    def leg(side: str, outward: complex):
        hip, knee, ankle = (p[f"{name}_{side}"] for name in ("hip", "knee", "ankle"))
        return (
            ("near", around(hip, knee, THIGH_FRONT, size, outward)),
            ("near", around(knee, ankle, SHANK_FRONT, size, outward)),
            ("shoe", _shoe_front(p, side, size)),
        )

    def arm(side: str, outward: complex):
        shoulder, elbow, wrist = (p[f"{name}_{side}"] for name in ("shoulder", "elbow", "wrist"))
        return (
            ("near", around(shoulder, elbow, UPPER_ARM, size, outward)),
            ("near", around(elbow, wrist, FOREARM, size, outward)),
        )

    # A trunk seen end on keeps a little height, or its outline would turn over.
    lift = np.maximum(p["pelvis"].imag + 0.02 - p["c7"].imag, 0.0)
    upright = p["c7"] + 1j * lift
    body = (
        ("near", around(p["c7"], p["head"], NECK, size, 1j)),
        ("trunk", around(p["pelvis"], upright, TRUNK_FRONT, size, 1j)),
        ("near", around(p["head"], p["head"] + 1j, HEAD_FRONT, size, 1j)),
    )
    # Outward is the leg's front side turned toward the viewer's left or right.
    return Body((), (*body, *leg("r", -1j), *leg("l", 1j)), (*arm("r", -1j), *arm("l", 1j)))


def _shoe_front(p: Places, side: str, size: float) -> Points:
    toe, ankle = p[f"toe_{side}"], p[f"ankle_{side}"]
    half = 0.030 * size
    # Turned out, the shoe reaches from below the ankle to the toes.
    left = -np.maximum(-toe.real, -ankle.real - 0.2 * half) - half
    right = np.maximum(toe.real, ankle.real - 0.2 * half) + half
    return (
        left + 0j,
        left + 0j,
        right + 0j,
        right + 0j,
        right + 0.026j * size,
        0.5 * (right + ankle.real + half) + 0.036j * size,
        ankle + complex(0.026, 0.018) * size,
        ankle + complex(-0.026, 0.018) * size,
        0.5 * (left + ankle.real - half) + 0.036j * size,
        left + 0.026j * size,
    )
