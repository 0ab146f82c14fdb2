"""What is measured on a posture, drawn the engineer's way.

Each function returns primitives of one quantity. Labels keep to their
own lanes - hip on the left edge, knee on the right edge, lean behind
the back, balance below the floor - so that they never meet.
"""

from __future__ import annotations

from cmath import rect
from math import pi, radians

from squatlab import tables
from squatlab.mechanics.posture import Posture
from squatlab.show import palette
from squatlab.show.body import Frame, Places
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, rectangle, text_width

SLEEVE_RADIUS = 0.025
"""Radius of the bar where plates sit, m [common-practice]."""

EMPTY_BAR_KG, PLATE_KG, PLATE_WIDTH = 20.0, 20.0, 0.035
"""How plates are drawn: one for each begun 20 kg a side beyond an empty
bar [teaching-value]."""

TICK = 6.0


def plate_radius() -> float:
    """Return the outer radius of a full-size plate, m."""
    return 0.5 * tables.value("limits", name="plate", quantity="diameter")


def plate_side(
    bar: complex, frame: Frame, loaded: bool, radius: float | None = None
) -> list[Primitive]:
    """Return the near end of the bar and its plate, seen end on."""
    centre, unit, radius = frame.at(bar), frame.scale, radius or plate_radius()
    plate: list[Primitive] = []
    if loaded:
        plate = [
            Disc(centre, radius * unit, palette.STEEL, palette.SOFT, 1.8, opacity=0.08),
            Disc(centre, 0.80 * radius * unit, stroke=palette.RULE),
            Disc(centre, 0.30 * radius * unit, stroke=palette.RULE),
        ]
    return [*plate, Disc(centre, SLEEVE_RADIUS * unit, palette.STEEL, palette.PAPER, 1.2)]


def plates_a_side(mass_kg: float) -> int:
    """Return how many plates are drawn on each side."""
    return min(int(-(-max(mass_kg - EMPTY_BAR_KG, 0.0) // (2 * PLATE_KG))), 10)


def bar_front(p: Places, frame: Frame, mass_kg: float) -> list[Primitive]:
    """Return the whole bar with its plates edge-on, level or not."""
    half = 0.5 * (p["bar_end_l"] - p["bar_end_r"])
    middle, end = 0.5 * (p["bar_end_l"] + p["bar_end_r"]), abs(half)
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
        ends = sorted((inner - sign * 0.03, inner))
        parts.append(block(*ends, 1.5 * SLEEVE_RADIUS, palette.STEEL))
        for count in range(plates_a_side(mass_kg)):
            start = inner + sign * count * PLATE_WIDTH
            near, far = sorted((start, start + sign * PLATE_WIDTH))
            parts.append(block(near, far, plate_radius(), palette.SHOE))
    return parts


def vertical(
    x: float, top: float, bottom: float, stroke: str, dash: str, width: float = 1.5
) -> Line:
    """Return a vertical dashed line in picture units."""
    return Line((complex(x, top), complex(x, bottom)), stroke, width, dash)


def arm_dimension(
    joint: complex, line_x: float, edge: float, name: str, value: str, stroke: str
) -> list[Primitive]:
    """Return a moment arm from a joint to a vertical line of action.

    The bold part is the arm; a thin leader runs on to ``edge``, where
    its name and, larger, its value stand on it.
    """
    y, left = joint.imag, edge < joint.real
    ends = sorted((joint.real, line_x))
    anchor = "start" if left else "end"
    start = ends[0] if left else ends[1]
    parts: list[Primitive] = [
        Line((complex(start, y), complex(edge, y)), stroke, 1.0),
        Line((complex(ends[0], y), complex(ends[1], y)), palette.PAPER, 7.0),
        Line((complex(ends[0], y), complex(ends[1], y)), stroke, 4.0),
        *(Line((complex(x, y - TICK), complex(x, y + TICK)), stroke, 2.0) for x in ends),
    ]
    parts.append(Text(complex(edge, y - 8), value, 18.0, anchor, bold=True))
    parts.append(Text(complex(edge, y - 29), name, 13.0, anchor, fill=palette.SOFT))
    return parts


def second_arm(
    joint: complex, line_x: float, edge: float, words: str, stroke: str
) -> list[Primitive]:
    """Return a thinner arm below the first, to the system's line."""
    y = joint.imag + 11
    ends = complex(joint.real, y), complex(line_x, y)
    ticks = (Line((complex(e.real, y - 4), complex(e.real, y + 4)), stroke, 1.5) for e in ends)
    anchor = "start" if edge < joint.real else "end"
    label = Text(complex(edge, joint.imag + 17), words, 13.0, anchor, fill=palette.SOFT)
    return [Line(ends, stroke, 2.0, "5 3"), *ticks, label]


def lean_arc(
    l5: complex, lean_deg: float, clear: tuple[float, float], left: float
) -> list[Primitive]:
    """Return the trunk's lean: a vertical, an arc and the angle.

    The angle stands behind the back, outside the plate that reaches
    from ``clear[0]`` to ``clear[1]``.
    """
    radius = 70.0
    up, trunk = -1j * (radius + 12), rect(radius + 12, -pi / 2 + radians(lean_deg))
    steps = [l5 + rect(radius, -pi / 2 + radians(lean_deg) * i / 12) for i in range(13)]
    words = f"{lean_deg:.1f}°"
    width = text_width(words, 18.0, bold=True)
    anchor, x = "start", max(l5.real + 10, clear[1] + 5)
    if lean_deg >= 0:
        anchor, x = "end", max(min(l5.real - 10, clear[0] - 5), left + width)
    return [
        Line((l5 + up, l5, l5 + trunk), palette.INK, 1.2, "2 3"),
        Line(tuple(steps), palette.INK, 1.8),
        Text(complex(x, l5.imag - radius - 8), words, 18.0, anchor, bold=True),
        Text(complex(x, l5.imag - radius - 29), "lean", 13.0, anchor, fill=palette.SOFT),
    ]


def centre_mark(at: complex, radius: float = 8.0) -> list[Primitive]:
    """Return the quartered circle that marks a centre of mass."""
    parts: list[Primitive] = [Disc(at, radius, palette.PAPER, palette.SYSTEM, 1.8)]
    for start in (0.0, pi):
        quarter = (at, *(at + rect(radius, start + pi / 2 * i / 6) for i in range(7)))
        parts.append(Shape(quarter, palette.SYSTEM))
    return parts


def base_of_support(back: float, front: float, middle: float, floor: float) -> list[Primitive]:
    """Return the band from heel to toe below the floor, mid-foot marked."""
    y = floor + 3
    notch = (complex(middle, y), complex(middle - 6, y + 12), complex(middle + 6, y + 12))
    return [
        Shape(rectangle(back, y, front, y + 8), palette.SUPPORT, palette.INK, 1.0),
        Shape(notch, palette.INK, palette.PAPER, 1.0),
        Text(
            complex(min(back, middle - 36) - 8, floor + 29),
            "base of support",
            anchor="end",
            fill=palette.SOFT,
        ),
        Text(complex(middle, floor + 29), "mid-foot", anchor="middle", fill=palette.SOFT),
    ]


def shift_words(posture: Posture) -> str:
    """Return where the centre of mass is, in words with centimetres."""
    if posture.target_x_m == 0:
        target = "mid-foot"
    else:
        target = "the ball of the foot" if not posture.stance.support.heels_bear else "its target"
    cm = 100 * float(posture.com_shift)
    if abs(cm) < 0.05:
        return f"centre of mass over {target}"
    return f"centre of mass {abs(cm):.1f} cm {'ahead of' if cm > 0 else 'behind'} {target}"


def kilograms(mass: float) -> str:
    """Return a mass without a needless decimal."""
    return f"{float(mass):.1f}".removesuffix(".0")


def balance_row(
    words: str, target: float, com: float, floor: float, left: float, right: float
) -> list[Primitive]:
    """Return the row below the floor that says whether it balances.

    A shift that can be seen is drawn as an arrow from the target.
    """
    y, size, off = floor + 62, 14.0, abs(com - target) >= 0.5
    half = 0.5 * (text_width(words, size, off) + 24)
    middle = min(max(target, left + half), right - half)
    parts: list[Primitive] = [
        *centre_mark(complex(middle - half + 8, y - 5), 7.0),
        Text(complex(middle - half + 24, y), words, size, bold=off),
    ]
    if off:
        row = floor + 41
        parts += [
            vertical(target, row - 5, row + 5, palette.SYSTEM, ""),
            Line((complex(target, row), complex(com, row)), palette.SYSTEM, 2.5, arrow=True),
            vertical(com, row - 5, row + 5, palette.SYSTEM, ""),
        ]
    return parts
