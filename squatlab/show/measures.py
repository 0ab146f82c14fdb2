"""What is measured on a posture, drawn the engineer's way.

Bar and plates, lines of action, moment arms, the lean, the base of
support: each function returns primitives of one quantity, and `views`
puts them on a body. Labels keep to their own lanes - hip on the left
edge, knee on the right edge, lean behind the back, balance below the
floor - so that they never meet. Places and amounts may be arrays over
positions (see `squatlab.show.moving`).
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import ArrayLike

from squatlab import tables
from squatlab.mechanics.posture import Posture
from squatlab.show import palette
from squatlab.show.body import Frame, Places
from squatlab.show.moving import Moving, where, worded
from squatlab.show.primitives import Disc, Line, Shape, Text, rectangle, text_width
from squatlab.units import MASS, READING, either, of_table

SLEEVE_RADIUS = 0.025
"""Radius of the bar where plates sit, m [common-practice]."""

PLATE_WIDTH, COLLAR_WIDTH = 0.035, 0.03
"""How wide a plate and the bar's collar are drawn, m [teaching-value]."""


def plate_kg() -> float:
    """Return the mass of an empty bar, and of the plates that are drawn, kg.

    20 kg, or 45 lb. One plate is drawn for each that is begun on a side
    [teaching-value].
    """
    return MASS.si(either(20.0, 45.0))


MOST_PLATES = 10
"""More have no room on the sleeve as drawn."""

TICK = 6.0


def plate_radius() -> float:
    """Return the outer radius of a full-size plate, m."""
    return 0.5 * tables.value("limits", name="plate", quantity="diameter")


def plate_side(
    bar: complex, frame: Frame, loaded: ArrayLike, radius: ArrayLike | None = None
) -> list[Moving]:
    """Return the near end of the bar and its plate, seen end on."""
    centre, unit = frame.at(bar), frame.scale
    radius = plate_radius() if radius is None else radius
    plate = [
        Disc(centre, radius * unit, palette.STEEL, palette.SOFT, 1.8, opacity=0.08),
        Disc(centre, 0.80 * radius * unit, stroke=palette.RULE),
        Disc(centre, 0.30 * radius * unit, stroke=palette.RULE),
    ]
    return [
        *where(loaded, plate),
        Disc(centre, SLEEVE_RADIUS * unit, palette.STEEL, palette.PAPER, 1.2, name="bar"),
    ]


def plates_a_side(mass_kg: ArrayLike) -> ArrayLike:
    """Return how many plates (…) are drawn on each side."""
    beyond = np.maximum(np.subtract(mass_kg, plate_kg()), 0.0)
    # Two full plates are two, whatever pounds in kilograms are rounded to.
    return np.minimum(np.ceil(beyond / (2 * plate_kg()) - 1e-9), MOST_PLATES)


def bar_front(p: Places, frame: Frame, mass_kg: float) -> list[Moving]:
    """Return the whole bar with its plates edge-on, level or not."""
    half = 0.5 * (p["bar_end_l"] - p["bar_end_r"])
    middle, end = 0.5 * (p["bar_end_l"] + p["bar_end_r"]), np.abs(half)
    along = half / end

    def block(start: float, stop: float, radius: float, fill: str) -> Shape:
        # Corners in metres along the bar from its middle, and across it.
        above = 1j * radius
        corners = start + above, stop + above, stop - above, start - above
        points = tuple(frame.at(middle + along * corner) for corner in corners)
        return Shape(points, fill, palette.PAPER, 1.0)

    collar, shaft = (
        0.5 * tables.value("limits", name="bar", quantity=quantity)
        for quantity in ("between_collars_least", "diameter_least")
    )
    parts = [
        block(-end, end, SLEEVE_RADIUS, palette.RULE),
        block(-collar, collar, shaft, palette.STEEL),
    ]
    for sign in (-1, 1):
        inner = sign * collar
        # The collar lies inside the plates; blocks go from the viewer's left to right.
        left, right = sorted((inner - sign * COLLAR_WIDTH, inner))
        parts.append(block(left, right, 1.5 * SLEEVE_RADIUS, palette.STEEL))
        plates = plates_a_side(mass_kg)
        # As many plates are drawn as the heaviest position has; the others hide the rest.
        for count in range(int(np.max(plates))):
            start = inner + sign * count * PLATE_WIDTH
            left, right = sorted((start, start + sign * PLATE_WIDTH))
            parts += where(plates > count, [block(left, right, plate_radius(), palette.SHOE)])
    return parts


def vertical(
    x: float, top: float, bottom: float, stroke: str, dash: str, width: float = 1.5
) -> Line:
    """Return a vertical dashed line in picture units."""
    return Line((x + 1j * top, x + 1j * bottom), stroke, width, dash)


def arm_dimension(
    joint: complex, line_x: float, edge: float, name: str, value: str, stroke: str
) -> list[Moving]:
    """Return a moment arm from a joint to a vertical line of action.

    The bold part is the arm; a thin leader runs on to ``edge``, where
    its name and, larger, its value stand on it.
    """
    y, left = joint.imag, edge < np.min(joint.real)
    ends = np.minimum(joint.real, line_x), np.maximum(joint.real, line_x)
    anchor = "start" if left else "end"
    start = ends[0] if left else ends[1]
    parts: list[Moving] = [
        Line((start + 1j * y, edge + 1j * y), stroke, 1.0),
        Line((ends[0] + 1j * y, ends[1] + 1j * y), palette.PAPER, 7.0),
        Line((ends[0] + 1j * y, ends[1] + 1j * y), stroke, 4.0),
        *(Line((x + 1j * (y - TICK), x + 1j * (y + TICK)), stroke, 2.0) for x in ends),
    ]
    parts.append(Text(edge + 1j * (y - 8), value, 18.0, anchor, bold=True))
    parts.append(Text(edge + 1j * (y - 29), name, 13.0, anchor, fill=palette.SOFT))
    return parts


def second_arm(joint: complex, line_x: float, edge: float, words: str, stroke: str) -> list[Moving]:
    """Return a thinner arm below the first, to the system's line."""
    y = joint.imag + 11
    ends = joint.real + 1j * y, line_x + 1j * y
    ticks = (Line((end - 4j, end + 4j), stroke, 1.5) for end in ends)
    anchor = "start" if edge < np.min(joint.real) else "end"
    label = Text(edge + 1j * (joint.imag + 17), words, 13.0, anchor, fill=palette.SOFT)
    return [Line(ends, stroke, 2.0, "5 3"), *ticks, label]


def lean_arc(l5: complex, lean_deg: float, clear: tuple[float, float], left: float) -> list[Moving]:
    """Return the trunk's lean: a vertical, an arc and the angle.

    The angle stands behind the back, outside the plate that reaches
    from ``clear[0]`` to ``clear[1]``.
    """
    radius = 70.0
    lean = np.radians(lean_deg)

    def leaning(reach: float, angle: ArrayLike) -> complex:
        # Straight up is −90° here, as y is down in the picture.
        return reach * np.exp(1j * (angle - pi / 2))

    steps = tuple(l5 + leaning(radius, lean * i / 12) for i in range(13))
    words = worded(lambda value: of_table(value, "°"), lean_deg)
    width = text_width(words, 18.0, bold=True)
    forward = np.greater_equal(lean_deg, 0)
    behind = np.maximum(np.minimum(l5.real - 10, clear[0] - 5), left + width)
    ahead = np.maximum(l5.real + 10, clear[1] + 5)
    value, name = 1j * (l5.imag - radius - 8), 1j * (l5.imag - radius - 29)
    legs = l5 - 1j * (radius + 12), l5, l5 + leaning(radius + 12, lean)
    parts: list[Moving] = [
        Line(legs, palette.INK, 1.2, "2 3"),
        Line(steps, palette.INK, 1.8),
    ]
    # Leaning back, the words change sides: they stay behind the line that leans.
    for present, x, anchor in ((forward, behind, "end"), (~forward, ahead, "start")):
        labels = [
            Text(x + value, words, 18.0, anchor, bold=True),
            Text(x + name, "lean", 13.0, anchor, fill=palette.SOFT),
        ]
        parts += where(present, labels)
    return parts


def centre_mark(at: complex, radius: float = 8.0) -> list[Moving]:
    """Return the quartered circle that marks a centre of mass."""
    parts: list[Moving] = [Disc(at, radius, palette.PAPER, palette.SYSTEM, 1.8)]
    for start in (0.0, pi):
        rim = radius * np.exp(1j * (start + pi / 2 * np.arange(7) / 6))
        quarter = (at, *(at + corner for corner in rim.tolist()))
        parts.append(Shape(quarter, palette.SYSTEM))
    return parts


def base_of_support(back: float, front: float, middle: float, floor: float) -> list[Moving]:
    """Return the band from heel to toe below the floor, mid-foot marked."""
    y = floor + 3
    notch = (complex(middle, y), complex(middle - 6, y + 12), complex(middle + 6, y + 12))
    return [
        Shape(rectangle(back, y, front, y + 8), palette.SUPPORT, palette.INK, 1.0),
        Shape(notch, palette.INK, palette.PAPER, 1.0),
        Text(
            np.minimum(back, middle - 36) - 8 + 1j * (floor + 29),
            "base of support",
            anchor="end",
            fill=palette.SOFT,
        ),
        Text(complex(middle, floor + 29), "mid-foot", anchor="middle", fill=palette.SOFT),
    ]


def shift_words(posture: Posture) -> str | list[str]:
    """Return where the centre of mass is, in words with how far off."""

    def words(shift_m: float, target_m: float, heels_bear: bool) -> str:
        target = "mid-foot"
        if target_m != 0:
            target = "its target" if heels_bear else "the ball of the foot"
        if READING.is_nought(shift_m):
            return f"centre of mass over {target}"
        side = "ahead of" if shift_m > 0 else "behind"
        return f"centre of mass {READING.words(abs(shift_m))} {side} {target}"

    return worded(words, posture.com_shift, posture.target_x_m, posture.stance.support.heels_bear)


def balance_row(
    words: str, target: float, com: float, floor: float, left: float, right: float
) -> list[Moving]:
    """Return the row below the floor that says whether it balances.

    A shift that can be seen, half a picture unit, is drawn as an arrow from
    the target, and its words are bold.
    """
    y, size, off = floor + 62, 14.0, np.abs(com - target) >= 0.5
    width = np.where(off, text_width(words, size, bold=True), text_width(words, size))
    # A mark of 24 units and the words, centred on the target as far as the edges allow.
    half = 0.5 * (width + 24)
    middle = np.minimum(np.maximum(target, left + half), right - half)
    mark, start, row = middle - half + 8, middle - half + 24, floor + 41
    return [
        *centre_mark(mark + 1j * (y - 5), 7.0),
        *where(~off, [Text(start + 1j * y, words, size)]),
        *where(
            off,
            [
                Text(start + 1j * y, words, size, bold=True),
                vertical(target, row - 5, row + 5, palette.SYSTEM, ""),
                Line((target + 1j * row, com + 1j * row), palette.SYSTEM, 2.5, arrow=True),
                vertical(com, row - 5, row + 5, palette.SYSTEM, ""),
            ],
        ),
    ]
