"""The two views of a lifter: body, bar and what is measured on them.

`scene` puts the views into panes; `body` has the person and `measures`
the single quantities. A posture may hold arrays over positions, as all
that is made from it then does.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.mechanics.legs import foot
from squatlab.mechanics.posture import Posture
from squatlab.show import measures, palette
from squatlab.show.body import (
    FAINT,
    SOLID,
    Build,
    Frame,
    Places,
    front_body,
    front_places,
    side_body,
    side_places,
)
from squatlab.show.moving import Moving, where, worded
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, rectangle
from squatlab.units import BODY_LENGTH, MASS, READING

HEIGHT, FLOOR = 548.0, 476.0
SIDE, FRONT = 412.0, 498.0
"""Widths of the two views, picture units."""

MARGIN = 14.0
MID_FOOT = 226.0
"""Where mid-foot stands in the side view, from its left edge."""

SHOWABLE = ("bar", "hip", "knee", "lean", "com", "system")
SHOWN = ("bar", "hip", "knee", "lean", "com")
"""What a side view can show and what it shows unless told otherwise."""


def scale_of(stature_m: ArrayLike) -> ArrayLike:
    """Return picture units per metre: the bar and the head must fit."""
    return np.minimum(225.0, np.divide(408.0, stature_m))


def placed(posture: Posture) -> NDArray[np.bool_]:
    """Return whether every joint of a posture has a place (…)."""
    return np.isfinite(posture.sine) & np.isfinite(posture.hip.x)


def page(title: str, left: float, width: float, top: float = 0.0) -> list[Primitive]:
    """Return a titled white panel; it covers what spilled from the last."""
    return [
        Shape(rectangle(left, top, left + width, HEIGHT), palette.PAPER),
        Text(complex(left + MARGIN, top + 24), title, 15.0, bold=True),
    ]


TITLE = 40.0
"""Room for a title above what a picture shows, picture units."""


def headroom(*postures: Posture | None) -> float:
    """Return where a picture of postures may begin: only a title is missing above.

    Every ten units, so that pictures of like postures are alike.
    """
    highest = FLOOR
    for posture in postures:
        if posture is None or not placed(posture):
            continue
        frame, p = side_frame(posture, 0.0), side_places(posture)
        # The hair ends .083 of stature above the centre of the head (body.HAIR_SIDE).
        head = frame.at(p["head"]).imag - 0.09 * posture.lifter.stature_m * frame.scale
        # Above L5 stand the words of the lean, and beside them those of the bar.
        words = frame.at(p["l5"]).imag - LEAN_WORDS - 8
        highest = min(highest, head, _bar_line_top(p, frame) - 8, words)
    if highest == FLOOR:
        return 0.0
    return max(0.0, float(np.floor((highest - TITLE) / 10) * 10))


LEAN_WORDS = 124.0
"""How far above L5 the words of the lean end, picture units."""


def _bar_line_top(p: Places, frame: Frame) -> ArrayLike:
    """Return where the bar's line of action begins: 8 cm above its plates."""
    return frame.at(p["bar"]).imag - (measures.plate_radius() + 0.08) * frame.scale


def side_frame(posture: Posture, left: float, scale: float | None = None) -> Frame:
    """Return the frame of a side view whose left edge is at ``left``.

    ``scale``, units per metre, is as `scale_of` says unless given.
    """
    units = scale_of(posture.lifter.stature_m) if scale is None else scale
    return Frame(complex(left + MID_FOOT, FLOOR), units)


def front_frame(posture: Posture, left: float) -> Frame:
    """Return the frame of a front view whose left edge is at ``left``."""
    return Frame(complex(left + 0.5 * FRONT, FLOOR), scale_of(posture.lifter.stature_m))


def side_ghost(ghost: Posture | None, left: float, scale: float | None = None) -> list[Primitive]:
    """Return an earlier posture's contour and bar, if there is one."""
    if ghost is None or not placed(ghost):
        return []
    frame, p = side_frame(ghost, left, scale), side_places(ghost)
    bar = Disc(frame.at(p["bar"]), 6.0, palette.PAPER, palette.GHOST, 1.5, "3 2")
    return [*side_body(p, Build.of(ghost.lifter)).outline(frame), bar]


def front_ghost(ghost: Posture | None, left: float) -> list[Primitive]:
    """Return an earlier posture's contour from the front, if any."""
    if ghost is None or not placed(ghost):
        return []
    body = front_body(front_places(ghost), Build.of(ghost.lifter))
    return body.outline(front_frame(ghost, left))


def side(
    posture: Posture,
    ghost: Posture | None,
    show: tuple[str, ...],
    left: float,
    below: ArrayLike,
    faint: bool = False,
    top: float = 0.0,
) -> list[Moving]:
    """Return the side view; its labels stay lower than ``below``.

    ``faint`` draws a body that cannot be held. Raises ValueError for a
    name in ``show`` that cannot be shown.
    """
    unknown = sorted(set(show) - set(SHOWABLE))
    if unknown:
        raise ValueError(f"show names {', '.join(unknown)}; choose from {', '.join(SHOWABLE)}")
    frame, p, stature = side_frame(posture, left), side_places(posture), posture.lifter.stature_m
    tones = FAINT if faint else SOLID
    body = side_body(p, Build.of(posture.lifter))
    # The plumb line over mid-foot is a little taller than the lifter stands.
    head = np.maximum(FLOOR - 1.02 * np.multiply(stature, frame.scale), top + TITLE)
    return [
        *page("Side view", left, SIDE, top),
        Line((complex(left, FLOOR), complex(left + SIDE, FLOOR)), palette.INK, 1.5),
        *_wedge(posture, p, frame),
        measures.vertical(frame.origin.real, head, FLOOR, palette.RULE, "1 4"),
        *side_ghost(ghost, left),
        *body.drawn(frame, tones),
        *measures.plate_side(p["bar"], frame, measures.plates_a_side(posture.bar.mass_kg) > 0),
        *_measured(posture, p, frame, show, left, below),
        *_support(posture, frame),
        *(_balance(posture, frame, left) if "com" in show else ()),
    ]


def _measured(
    posture: Posture, p: Places, frame: Frame, show: tuple[str, ...], left: float, below: ArrayLike
) -> list[Moving]:
    """Return lines of action, lean, arms and joints, as far as shown."""
    bar, l5 = frame.at(p["bar"]), frame.at(p["l5"])
    parts: list[Moving] = []
    if "com" in show:
        com = _centre(posture, frame)
        parts.append(measures.vertical(com.real, com.imag, FLOOR, palette.SYSTEM, "8 3 2 3"))
    if "bar" in show:
        ceiling = l5.imag - LEAN_WORDS
        top = np.maximum(np.minimum(_bar_line_top(p, frame), ceiling), np.add(below, 8))
        parts += _bar_line(posture, bar.real, top, ceiling)
    if "lean" in show:
        reach = measures.plate_radius() * frame.scale
        clear = bar.real - reach, bar.real + reach
        parts += measures.lean_arc(l5, posture.trunk_deg, clear, left + MARGIN)
    parts += _arms(posture, frame, show, left)
    return parts + [joint(frame.at(p[n]), n) for n in ("hip_r", "knee_r", "ankle_r", "l5")]


JOINTS = {"hip": "hip", "knee": "knee", "ankle": "ankle", "l5": "low back (L5/S1)"}
"""What joints are called in words, by the name of their point without its side."""


def joint(at: complex, name: str = "", front: bool = False) -> Disc:
    """Return the mark of a joint, with what a pointer over it is told.

    ``name`` is the point's, as "knee_r"; ``front`` tells sides apart.
    """
    point, _, side = name.partition("_")
    words = JOINTS.get(point, point)
    if front and side:
        words = f"{'right' if side == 'r' else 'left'} {words}"
    return Disc(at, 4.5, palette.PAPER, palette.INK, 1.8, name=words)


def _centre(posture: Posture, frame: Frame) -> complex:
    """Return where the centre of mass of lifter and bar is in the picture (…)."""
    com = posture.com
    return frame.at((com[..., 0] + 1j * com[..., 1])[()])


def _bar_line(posture: Posture, x: ArrayLike, top: ArrayLike, ceiling: ArrayLike) -> list[Moving]:
    """Return the bar's line of action and, where it reaches above ``ceiling``, its mass."""
    line = measures.vertical(x, top, FLOOR, palette.INK, "7 4", 1.6)
    words = worded(lambda mass: f"bar {MASS.words(mass)}", posture.bar.mass_kg)
    label = Text(np.subtract(x, 6) + 1j * np.add(top, 8), words, 13.0, "end")
    # Under a long reason a tall lifter leaves no room: the lean is worth more.
    return [line, *where(top <= ceiling, [label])]


def _arms(posture: Posture, frame: Frame, show: tuple[str, ...], left: float) -> list[Moving]:
    """Return the moment arms of hip and knee, as far as shown.

    To the bar's line of action and, with "system", to that of lifter and bar.
    """
    arms, parts = posture.moment_arms(), []
    edges = {"hip": left + MARGIN, "knee": left + SIDE - MARGIN}
    colours = {"hip": palette.HIP, "knee": palette.KNEE}
    for name in ("hip", "knee"):
        if name not in show:
            continue
        point = getattr(posture, name)
        joint, edge, stroke = frame.at(point.x + 1j * point.y), edges[name], colours[name]
        to_bar, to_centre = (getattr(arms, f"{name}_{line}") for line in ("bar", "system"))
        if "system" in show:
            x = joint.real + to_centre * frame.scale
            words = worded(lambda arm: f"to centre {_apart(arm)}", to_centre)
            parts += measures.second_arm(joint, x, edge, words, stroke)
        x, words = joint.real + to_bar * frame.scale, worded(_apart, to_bar)
        parts += measures.arm_dimension(joint, x, edge, f"{name} to bar", words, stroke)
    return parts


def _apart(metres: float) -> str:
    return READING.words(abs(metres))


def _wedge(posture: Posture, p: Places, frame: Frame) -> list[Moving]:
    """Return the wedge under the near heel, a triangle from the ball, if any."""
    # The wedge stays where the heel rests on it, also once the heel has risen off it.
    heel = foot(posture.lifter, replace(posture.stance, heel_rise_deg=0.0), "r")[0]
    ball = p["ball_r"]
    # The shoe's sole reaches a little behind the heel, and so does the wedge.
    rear = ball + 1.06 * (heel.x + 1j * heel.y - ball)
    corners = tuple(frame.at(corner) for corner in (ball, rear, rear.real + 0j))
    wedge = Shape(corners, palette.RULE, palette.INK, 1.0)
    return where(np.greater(posture.stance.wedge_m, 0), [wedge])


def _support(posture: Posture, frame: Frame) -> list[Moving]:
    """Return the base of support below the floor."""
    back, front = (frame.at(x + 0j).real for x in posture.base)
    return measures.base_of_support(back, front, frame.origin.real, FLOOR)


def _balance(posture: Posture, frame: Frame, left: float) -> list[Moving]:
    """Return the centre of mass and the row that says where it is against its target."""
    com, target = _centre(posture, frame), frame.at(posture.target_x_m + 0j).real
    edges = left + MARGIN, left + SIDE - MARGIN
    words = measures.shift_words(posture)
    return [
        *measures.centre_mark(com),
        *measures.balance_row(words, target, com.real, FLOOR, *edges),
    ]


def front(
    posture: Posture,
    ghost: Posture | None,
    left: float,
    faint: bool = False,
    top: float = 0.0,
) -> list[Moving]:
    """Return the front view; ``faint`` draws a body that cannot be held."""
    frame, p = front_frame(posture, left), front_places(posture)
    tones = FAINT if faint else SOLID
    body = front_body(p, Build.of(posture.lifter))
    knees = [frame.at(p[f"knee_{side}"]) for side in "rl"]
    joints = [f"{name}_{side}" for name in ("hip", "knee", "ankle") for side in "rl"]
    return [
        *page("Front view", left, FRONT, top),
        Line((complex(left, FLOOR), complex(left + FRONT, FLOOR)), palette.INK, 1.5),
        *front_ghost(ghost, left),
        *measures.bar_front(p, frame, posture.bar.mass_kg),
        *body.drawn(frame, tones),
        *(measures.vertical(k.real, k.imag, FLOOR, palette.PAPER, "", 4.0) for k in knees),
        *(measures.vertical(k.real, k.imag, FLOOR, palette.KNEE, "4 4", 1.8) for k in knees),
        *(joint(frame.at(p[name]), name, True) for name in joints),
        *_from_above(posture, left),
        *_stance(posture, p, frame, left),
    ]


ABOVE, ABOVE_Y, ABOVE_SCALE = 72.0, 440.0, 180.0
"""The feet from above: from the picture's sides, where their heels are, units per metre."""

ON_LINE_M = 0.005
"""So near its foot's line a knee is over the foot, m [teaching-value]."""


def _from_above(posture: Posture, left: float) -> list[Moving]:
    """Return each foot from above with its line, the knee and how far that is off the line."""
    right_foot = _foot_from_above(posture, "r", left + ABOVE)
    return [*right_foot, *_foot_from_above(posture, "l", left + FRONT - ABOVE)]


SHOE_HALF_BREADTH = 0.026
"""Half the greatest breadth of a shoe, in parts of stature [teaching-value]."""


def _foot_from_above(posture: Posture, side: str, x: float) -> list[Moving]:
    """Return one foot, its line, the knee and how far that is off the line."""
    # The toes point up the page: the lifter's right is on the left, as in the front view.
    heel, toe, ankle, knee = (
        -posture.points[f"{name}_{side}"][..., 2] + 1j * posture.points[f"{name}_{side}"][..., 0]
        for name in ("heel", "toe", "ankle", "knee")
    )
    foot = toe - heel
    along = foot / np.abs(foot)
    # The knee against the ankle in the foot's own axes: how far along it, and how far to its left.
    knee_at = (knee - ankle) * np.conj(along)
    inward = -knee_at.imag if side == "r" else knee_at.imag
    # Heels stand level, feet in the middle of their place.
    corner = Frame(x + 1j * ABOVE_Y, ABOVE_SCALE).at(-0.5 * (heel + toe).real - 1j * heel.imag)
    frame = Frame(corner, ABOVE_SCALE)
    # The shoe begins 2 cm behind the heel, is broadest at the ball, and ends 1.2 cm beyond
    # the toes; its shape is made by eye.
    half = SHOE_HALF_BREADTH * posture.lifter.stature_m * along * 1j
    stations = ((heel - 0.02 * along, 0.6), (heel + 0.3 * foot, 0.7), (heel + 0.72 * foot, 1.0))
    left_edge = [middle + breadth * half for middle, breadth in stations]
    right_edge = [middle - breadth * half for middle, breadth in stations]
    outline = (*left_edge, toe + 0.012 * along, *reversed(right_edge))
    on_line = ankle + along * knee_at.real
    words = worded(_off_the_foot, inward)
    return [
        Shape(tuple(map(frame.at, outline)), palette.FAR_SHOE, palette.EDGE, 1.0, smooth=True),
        Line((frame.at(heel), frame.at(heel + 1.5 * foot)), palette.INK, 1.2, "5 3"),
        Line((frame.at(on_line), frame.at(knee)), palette.RED, 3.0),
        joint(frame.at(knee), f"knee_{side}", True),
        Text(complex(x, ABOVE_Y + 26), words, 13.0, "middle"),
        Text(complex(x, ABOVE_Y - 80), "from above", 13.0, "middle", fill=palette.SOFT),
    ]


def _off_the_foot(inward_m: float) -> str:
    """Return where a knee is against its foot's line, in words."""
    # A knee without a place (nan) is not said to be off the line either.
    if not abs(inward_m) >= ON_LINE_M:
        return "knee over foot"
    direction = "in" if inward_m > 0 else "out"
    return f"knee {READING.words(abs(inward_m))} {direction}"


def _stance(posture: Posture, p: Places, frame: Frame, left: float) -> list[Moving]:
    """Return what is said below the floor of the front view."""
    heels = [frame.at(p[f"heel_{side}"].real + 0j) + 12j for side in "rl"]
    heels_apart = np.abs(p["heel_r"].real - p["heel_l"].real)
    knees_apart = np.abs(p["knee_r"].real - p["knee_l"].real)

    def sentence(heels_m: float, knees_m: float, turnout_deg: float) -> str:
        heels_words, knees_words = BODY_LENGTH.words(heels_m), BODY_LENGTH.words(knees_m)
        return f"heels {heels_words} · knees {knees_words} apart · toes {turnout_deg:.0f}° out"

    words = worded(sentence, heels_apart, knees_apart, posture.stance.turnout_deg)
    right, low = left + FRONT - MARGIN, FLOOR + 62
    return [
        Line(tuple(heels), palette.INK, 2.0),
        *(measures.vertical(h.real, h.imag - 6, h.imag + 6, palette.INK, "", 2.0) for h in heels),
        Text(complex(left + 0.5 * FRONT, FLOOR + 36), words, 14.0, "middle"),
        Text(complex(left + MARGIN, low), "lifter's right", 13.0, fill=palette.SOFT),
        Text(complex(right, low), "lifter's left", 13.0, "end", fill=palette.SOFT),
    ]
