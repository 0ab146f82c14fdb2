"""From a posture to a picture: side view, front view and joint moments.

Every picture has the same size and its scale depends on stature alone,
so that nothing jumps while a slider moves.
"""

from __future__ import annotations

from textwrap import wrap

from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.posture import Posture
from squatlab.show import palette, views
from squatlab.show.measures import kilograms, shift_words
from squatlab.show.moment_bars import moment_bars
from squatlab.show.picture import Scene
from squatlab.show.primitives import CHARACTER, Line, Primitive, Shape, Text, rectangle
from squatlab.show.views import FLOOR, FRONT, HEIGHT, MARGIN, SHOWABLE, SHOWN, SIDE, placed

__all__ = [
    "SHOWABLE",
    "SHOWN",
    "describe",
    "front_view",
    "lifter_picture",
    "no_posture",
    "side_view",
]

MOMENTS = 190.0
"""Width of the panel with the joint moments, picture units."""

HINT = "Move a slider back, or press Reset."

Panels = tuple[float, float, float]
"""Widths of side view, front view and moments; 0 where one is missing."""


def side_view(
    posture: Posture, ghost: Posture | None = None, show: tuple[str, ...] = SHOWN
) -> Scene:
    """Return one posture seen from the lifter's right.

    ``ghost`` is an earlier posture, drawn as a dashed outline. ``show``
    names what is measured on it. Raises ValueError for an unknown name
    or for an array of postures.
    """
    return _scene(posture, ghost, show, (SIDE, 0.0, 0.0), "Side view")


def front_view(posture: Posture, ghost: Posture | None = None) -> Scene:
    """Return one posture seen from the front.

    The lifter's right is on the picture's left. Raises ValueError for
    an array of postures.
    """
    return _scene(posture, ghost, SHOWN, (0.0, FRONT, 0.0), "Front view")


def lifter_picture(
    posture: Posture,
    ghost: Posture | None = None,
    moments: bool = True,
    show: tuple[str, ...] = SHOWN,
) -> Scene:
    """Return side view, front view and, if wanted, the joint moments.

    All stand on one floor at one scale; ``ghost`` and ``show`` as for
    the side view. Raises ValueError for an array of postures.
    """
    words = "Side view and front view"
    if moments:
        return _scene(posture, ghost, show, (SIDE, FRONT, MOMENTS), f"{words} with joint moments")
    return _scene(posture, ghost, show, (SIDE, FRONT, 0.0), words)


def _scene(
    posture: Posture, ghost: Posture | None, show: tuple[str, ...], panels: Panels, words: str
) -> Scene:
    if not placed(posture):
        return no_posture(posture.reason, ghost, panels)
    side, front, moments = panels
    verdict, below = _verdict(posture, sum(panels))
    parts = views.side(posture, ghost, show, 0.0, below) if side else []
    parts += views.front(posture, ghost, side) if front else []
    parts += _moments(posture, ghost, side + front) if moments else []
    bar = f"{posture.bar.name}, {kilograms(posture.bar.mass_kg)} kg"
    lifter = f"a lifter {float(posture.lifter.stature_m):.2f} m tall"
    alt = f"{words} of {lifter}, {bar}. {describe(posture)}"
    return Scene((*parts, *verdict), (0.0, 0.0, sum(panels), HEIGHT), alt)


def no_posture(
    reason: str, ghost: Posture | None = None, panels: Panels = (SIDE, FRONT, MOMENTS)
) -> Scene:
    """Return a picture of the same size that says why there is no body.

    ``ghost``, the last posture that could be held, stays as an outline.
    """
    width, words = sum(panels), _sentence(reason)
    lines = wrap(words, int((width - 6 * MARGIN) / (CHARACTER * 20)))
    left, bottom = 3 * MARGIN, 110.0 + 27 * len(lines)
    parts: list[Primitive] = [
        Line((complex(0, FLOOR), complex(width, FLOOR)), palette.RULE, 1.5),
        *(views.side_ghost(ghost, 0.0) if panels[0] else ()),
        *(views.front_ghost(ghost, panels[0]) if panels[1] else ()),
        *_notice(width, 22.0, bottom),
        Text(complex(left, 52), "This posture cannot be held", 15.0, bold=True, halo=False),
        *(
            Text(complex(left, 86 + 27 * row), line, 20.0, halo=False)
            for row, line in enumerate(lines)
        ),
        Text(complex(left, bottom - 16), HINT, 15.0, halo=False),
    ]
    return Scene(tuple(parts), (0.0, 0.0, width, HEIGHT), f"No posture. {words} {HINT}")


def describe(posture: Posture) -> str:
    """Return one sentence with the posture's numbers.

    Lean in degrees, arms to the bar in cm, moments in N·m, balance in
    cm; for a posture that cannot be held, the reason.
    """
    if not placed(posture) or not posture.feasible:
        return f"Cannot be held: {posture.reason.rstrip('.')}."
    arms, moments = posture.moment_arms(), joint_moments(posture)
    sentence = (
        f"Lean {posture.trunk_deg:.1f}° from the vertical; "
        f"bar {_aside(arms.hip_bar)} the hip, {_aside(arms.knee_bar)} the knee; "
        f"per leg hip {moments.hip:.0f}, knee {moments.knee:.0f}, ankle {moments.ankle:.0f} N·m; "
        f"low back {moments.l5s1:.0f} N·m; {shift_words(posture)}."
    )
    return sentence.replace(" -", " −")


def _aside(arm_m: float) -> str:
    cm = 100 * float(arm_m)
    if abs(cm) < 0.05:
        return "in line with"
    return f"{abs(cm):.1f} cm {'ahead of' if cm > 0 else 'behind'}"


def _sentence(reason: str) -> str:
    return f"{reason[:1].upper()}{reason[1:].rstrip('.')}."


def _notice(width: float, top: float, bottom: float) -> list[Primitive]:
    """Return the pale band on which a reason stands."""
    return [
        Shape(rectangle(MARGIN, top, width - MARGIN, bottom), palette.NOTICE),
        Shape(rectangle(MARGIN, top, MARGIN + 5, bottom), palette.SUPPORT),
    ]


def _verdict(posture: Posture, width: float) -> tuple[list[Primitive], float]:
    """Return the reason across the top, if any, and where it ends."""
    if posture.feasible:
        return [], 40.0
    lines = wrap(describe(posture), int((width - 4 * MARGIN) / (CHARACTER * 14)))
    bottom = 40.0 + 18 * len(lines)
    rows = (
        Text(complex(2 * MARGIN, 50 + 18 * row), line, 14.0, halo=False)
        for row, line in enumerate(lines)
    )
    return [*_notice(width, 34.0, bottom), *rows], bottom


def _moments(posture: Posture, ghost: Posture | None, left: float) -> list[Primitive]:
    before = joint_moments(ghost) if ghost is not None and placed(ghost) else None
    now, faint = joint_moments(posture), not posture.feasible
    edges = left + MARGIN, left + MOMENTS - MARGIN
    bars = moment_bars(now, before, *edges, top=104.0, faint=faint)
    return [*views.page("Joint moments", left, MOMENTS), *bars]
