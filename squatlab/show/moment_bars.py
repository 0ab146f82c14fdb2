"""The narrow panel beside the body: joint moments as bars."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from squatlab.mechanics.moments import JointMoments
from squatlab.show import palette
from squatlab.show.moving import Moving, where, worded
from squatlab.show.primitives import Line, Shape, Text, rectangle
from squatlab.units import MOMENT, either


class MomentRow(NamedTuple):
    """Say how one moment is shown: field, label, fill, legs whose muscles share it."""

    field: str
    label: str
    fill: str
    legs: int = 1

    @property
    def limit(self) -> float:
        """Return the end of its scale, N·m: a number whose thirds are round."""
        return self.legs * MOMENT.si(either(*EACH_LEG))


EACH_LEG = 300.0, 225.0
"""End of the scale for a leg's joints, N·m or lbf·ft [teaching-value]. The
low back's is twice that: it carries what both hips carry together."""

GROUPS = (
    (
        "each leg",
        (
            MomentRow("hip", "Hip", palette.HIP),
            MomentRow("knee", "Knee", palette.KNEE),
            MomentRow("ankle", "Ankle", palette.ANKLE),
        ),
    ),
    ("at L5/S1, both sides", (MomentRow("l5s1", "Low back", palette.LOW_BACK, 2),)),
)
NEGATIVE = 1 / 8
"""Share of the scale that is kept left of zero."""


def moment_bars(
    now: JointMoments,
    before: JointMoments | None,
    left: float,
    right: float,
    top: float,
    faint: bool = False,
) -> list[Moving]:
    """Return labelled level bars of the moments on fixed scales.

    ``now`` may hold arrays over positions; ``before``, of one posture, is
    shown as a dashed outline. A bar beyond the scale ends in an arrow; its
    number is always the true one.
    """
    parts: list[Moving] = []
    y = top
    for title, rows in GROUPS:
        parts.append(Text(complex(left, y), title, 13.0, fill=palette.SOFT))
        y += 12
        for row in rows:
            parts += _row(row, now, before, left, right, y, faint)
            y += 58
        parts += _axis(rows[0].limit, left, right, y - 4)
        y += 52
    return parts


def _scale(limit: float, left: float, right: float) -> tuple[float, float]:
    """Return where zero is and how many units one N·m takes."""
    unit = (right - left - 12) / (limit * (1 + NEGATIVE))
    return left + limit * NEGATIVE * unit, unit


def _row(
    row: MomentRow,
    now: JointMoments,
    before: JointMoments | None,
    left: float,
    right: float,
    y: float,
    faint: bool,
) -> list[Moving]:
    """Return one bar with its label and number, and the earlier one's outline."""
    value = getattr(now, row.field)
    zero, unit = _scale(row.limit, left, right)
    shown = np.clip(value, -NEGATIVE * row.limit, row.limit)
    top, bottom, end = y + 24, y + 42, zero + shown * unit
    fill = palette.FAINT_BAR if faint else row.fill
    words = worded(MOMENT.words, value)
    bar = rectangle(np.minimum(zero, end), top, np.maximum(zero, end), bottom)
    middle, side = 0.5 * (top + bottom), np.sign(value)
    # The head of an arrow at the bar's end, for a moment that is beyond the scale.
    beyond = (end + side * 12 + 1j * middle, end + 1j * (top - 3), end + 1j * (bottom + 3))
    parts: list[Moving] = [
        Text(complex(left, y + 18), row.label, 14.0),
        Text(complex(right, y + 18), words, 15.0, "end", bold=True),
        Shape(bar, fill, palette.INK, 1.0),
        Line((complex(zero, top - 2), complex(zero, bottom + 4)), palette.INK, 1.5),
        *where(shown != value, [Shape(beyond, fill, palette.INK, 1.0)]),
    ]
    if before is not None:
        old = float(getattr(before, row.field))
        mark = zero + min(max(old, -NEGATIVE * row.limit), row.limit) * unit
        outline = rectangle(min(zero, mark), top - 3, max(zero, mark), bottom + 3)
        parts.append(Shape(outline, stroke=palette.GHOST, dash="4 3", width=1.2))
    return parts


def _axis(limit: float, left: float, right: float, bottom: float) -> list[Moving]:
    """Return a line with numbers at nought, a third, two thirds and the end."""
    zero, unit = _scale(limit, left, right)
    parts: list[Moving] = [Line((complex(left, bottom), complex(right, bottom)), palette.RULE, 1.0)]
    for third in range(4):
        x, value = zero + unit * limit * third / 3, limit * third / 3
        parts.append(Line((complex(x, bottom), complex(x, bottom + 5)), palette.RULE, 1.0))
        anchor = "end" if third == 3 else "middle"
        text_x = min(x + 12, right) if third == 3 else x
        words = MOMENT.figure(value)
        parts.append(Text(complex(text_x, bottom + 18), words, 13.0, anchor, fill=palette.SOFT))
    return parts
