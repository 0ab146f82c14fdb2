"""From a posture to a picture: side view, front view and joint moments.

A pane holds one of the three for all positions of a slider (a posture of
arrays); a still is one position. `views` and `moment_bars` draw, this
module puts what they draw together, with a reason where a posture cannot
be held and a sentence of its numbers. Explorers and charts use it.

Every picture has the same size and its scale depends on stature alone,
so that nothing jumps while a slider moves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from itertools import zip_longest
from textwrap import wrap

import numpy as np
from numpy.typing import ArrayLike

from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.posture import Posture
from squatlab.show import palette, views
from squatlab.show.measures import shift_words
from squatlab.show.moment_bars import moment_bars
from squatlab.show.moving import Moving, rows_of, worded
from squatlab.show.picture import Scene
from squatlab.show.primitives import CHARACTER, Line, Shape, Text, rectangle
from squatlab.show.sweep import Sweep, grouped
from squatlab.show.views import FLOOR, FRONT, HEIGHT, MARGIN, SHOWN, SIDE, placed
from squatlab.units import MASS, MOMENT, READING, STATURE_IN_WORDS, of_table

__all__ = [
    "describe",
    "front_pane",
    "front_view",
    "lifter_picture",
    "moments_pane",
    "notice",
    "side_pane",
    "side_view",
]

MOMENTS = 190.0
"""Width of the panel with the joint moments, picture units."""

MOST_CROPPED = 130.0
"""How much of a still's top may go and still leave room for the moments, picture units."""

HINT = "Move a slider back, or press Reset."

Words = str | list[str]
"""One string, or one for each position."""


def side_view(
    posture: Posture, ghost: Posture | None = None, show: tuple[str, ...] = SHOWN
) -> Scene:
    """Return one posture seen from the lifter's right.

    ``ghost`` is an earlier posture, drawn as a dashed outline. ``show``
    names what is measured on it. Raises ValueError for an unknown name
    or for an array of postures.
    """
    top = _top(_single(posture), ghost)
    return _still(posture, "Side view", side_pane(posture, ghost, show, top))


def front_view(posture: Posture, ghost: Posture | None = None) -> Scene:
    """Return one posture seen from the front.

    The lifter's right is on the picture's left. Raises ValueError for
    an array of postures.
    """
    top = _top(_single(posture), ghost)
    return _still(posture, "Front view", front_pane(posture, ghost, top=top))


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
    top = _top(_single(posture), ghost)
    panes = [side_pane(posture, ghost, show, top), front_pane(posture, ghost, False, top)]
    words = "Side view and front view"
    if moments:
        panes.append(moments_pane(posture, ghost, top))
        words += " with joint moments"
    return _still(posture, words, *panes)


def _top(posture: Posture, ghost: Posture | None) -> float:
    """Return where a still begins: a third of it would be empty above a deep squat."""
    room = views.headroom(posture, ghost)
    # A reason stands across the top, and the panel of moments needs its own height.
    return min(room, MOST_CROPPED) if placed(posture) and posture.feasible else 0.0


def _single(posture: Posture) -> Posture:
    """Return the posture if it is one. Raises ValueError for an array of postures."""
    if np.ndim(posture.sine):
        raise ValueError(
            f"a picture shows one posture and this holds {positions_of(posture)}; "
            "make one with single numbers for depth and shank angle"
        )
    return posture


def _still(posture: Posture, words: str, *panes: Sweep) -> Scene:
    """Return panes of one posture beside each other, with words for all."""
    scene = panes[0].scene(0)
    for pane in panes[1:]:
        scene = scene.beside(pane.scene(0))
    if placed(posture):
        bar = f"{posture.bar.name}, {MASS.words(float(posture.bar.mass_kg))}"
        stature = STATURE_IN_WORDS.words(float(posture.lifter.stature_m))
        subject = f"{words} of a lifter {stature} tall, {bar}."
    else:
        subject = "No posture."
    return replace(scene, alt=f"{subject} {describe(posture)}")


def positions_of(posture: Posture) -> int:
    """Return how many postures there are."""
    shapes = [np.shape(posture.sine), np.shape(posture.hip.x), posture.lifter.shape]
    for noun in (posture.bar, posture.stance):
        shapes += [np.shape(getattr(noun, field.name)) for field in fields(noun)]
    return int(np.prod(np.broadcast_shapes(*shapes), dtype=int))


def side_pane(
    posture: Posture,
    ghost: Posture | None = None,
    show: tuple[str, ...] = SHOWN,
    top: float = 0.0,
) -> Sweep:
    """Return postures (positions,) seen from the lifter's right.

    ``ghost``, one earlier posture, and ``show`` as for `side_view`;
    ``top`` is where the picture begins.
    """

    def held(some: Posture) -> list[Moving]:
        return views.side(some, ghost, show, 0.0, top + 40.0, top=top)

    def not_held(some: Posture) -> list[Moving]:
        verdict, below = _verdict(some, SIDE, top)
        return [*views.side(some, ghost, show, 0.0, below, faint=True, top=top), *verdict]

    def nowhere(some: Posture) -> list[Moving]:
        return notice(some.reason, SIDE, views.side_ghost(ghost, 0.0), top)

    return _pane(posture, SIDE, top, held, not_held, nowhere)


def front_pane(
    posture: Posture, ghost: Posture | None = None, reason: bool = True, top: float = 0.0
) -> Sweep:
    """Return postures (positions,) seen from the front.

    ``reason`` says in the picture why one cannot be held; ``top`` is
    where the picture begins.
    """

    def held(some: Posture) -> list[Moving]:
        return views.front(some, ghost, 0.0, top=top)

    def not_held(some: Posture) -> list[Moving]:
        verdict = _verdict(some, FRONT, top)[0] if reason else []
        return [*views.front(some, ghost, 0.0, faint=True, top=top), *verdict]

    def nowhere(some: Posture) -> list[Moving]:
        outline = views.front_ghost(ghost, 0.0)
        return notice(some.reason, FRONT, outline, top) if reason else [_floor(FRONT), *outline]

    return _pane(posture, FRONT, top, held, not_held, nowhere)


def moments_pane(posture: Posture, ghost: Posture | None = None, top: float = 0.0) -> Sweep:
    """Return the joint moments of postures (positions,) as bars.

    ``top`` is as for the views.
    """
    before = joint_moments(ghost) if ghost is not None and placed(ghost) else None

    def bars(some: Posture, faint: bool = False) -> list[Moving]:
        now, edges = joint_moments(some), (MARGIN, MOMENTS - MARGIN)
        shown = moment_bars(now, before, *edges, top=top + 64.0, faint=faint)
        return [*views.page("Joint moments", 0.0, MOMENTS, top), *shown]

    def nowhere(_: Posture) -> list[Moving]:
        none = Text(complex(MARGIN, top + 64), "none: no posture", 13.0, fill=palette.SOFT)
        return [*views.page("Joint moments", 0.0, MOMENTS, top), none]

    return _pane(posture, MOMENTS, top, bars, lambda some: bars(some, faint=True), nowhere)


Draw = Callable[[Posture], list[Moving]]


def _pane(
    posture: Posture, width: float, top: float, held: Draw, not_held: Draw, nowhere: Draw
) -> Sweep:
    """Return postures drawn in three structures: held, not held, without a place."""
    count = positions_of(posture)
    is_feasible = np.broadcast_to(posture.feasible, count)
    is_placed = np.broadcast_to(placed(posture), count)
    structures = (
        (is_feasible, held),
        (is_placed & ~is_feasible, not_held),
        (~is_placed, nowhere),
    )
    groups = []
    for present, draw in structures:
        positions = np.flatnonzero(present)
        if positions.size == count:
            groups.append((positions, draw(posture)))
        elif positions.size:
            groups.append((positions, draw(rows_of(posture, positions, count))))
    return grouped(groups, (0.0, top, width, HEIGHT), count)


def notice(
    reason: Words, width: float, outline: list[Moving] | None = None, top: float = 0.0
) -> list[Moving]:
    """Return the parts of a pane that says why there is no body.

    ``outline`` is the last posture that could be held.
    """
    room = width - 6 * MARGIN
    lines, count = _lines(_sentence(reason), int(room / (CHARACTER * 18)))
    hint, _ = _lines(HINT, int(room / (CHARACTER * 14)))
    # From the top: a heading, the reason in lines of 24 units, the hint in lines of 18.
    left, hint_top = 3 * MARGIN, np.add(top + 70.0, np.multiply(24, count))
    bottom = hint_top + 18 * len(hint) + 16
    parts = [
        _floor(width),
        *(outline or ()),
        *_band(width, top + 22.0, bottom),
        Text(complex(left, top + 48), "This posture cannot be held", 15.0, bold=True, halo=""),
    ]
    for row, line in enumerate(lines):
        parts.append(Text(complex(left, top + 78 + 24 * row), line, 18.0, halo=""))
    for row, line in enumerate(hint):
        parts.append(Text(left + 1j * (hint_top + 18 * (row + 1)), line, 14.0, halo=""))
    return parts


def _floor(width: float) -> Line:
    """Return the line of the floor where no body stands on it."""
    return Line((complex(0, FLOOR), complex(width, FLOOR)), palette.RULE, 1.5)


def describe(posture: Posture) -> Words:
    """Return one sentence with the posture's numbers, or one for each posture.

    Lean, arms to the bar, moments and balance; for a posture that cannot
    be held, the reason.
    """
    figure = MOMENT.figure

    def words(
        can: bool,
        reason: str,
        lean: float,
        to_hip: float,
        to_knee: float,
        hip: float,
        knee: float,
        ankle: float,
        back: float,
        shift: str,
    ) -> str:
        if not can:
            return f"Cannot be held: {reason.rstrip('.')}."
        return (
            f"Lean {of_table(lean, '°')} from the vertical; "
            f"bar {_aside(to_hip)} the hip, {_aside(to_knee)} the knee; "
            f"per leg hip {figure(hip)}, knee {figure(knee)}, ankle {MOMENT.words(ankle)}; "
            f"low back {MOMENT.words(back)}; {shift}."
        )

    arms, moments = posture.moment_arms(), joint_moments(posture)
    return worded(
        words,
        posture.feasible,
        posture.reason,
        posture.trunk_deg,
        arms.hip_bar,
        arms.knee_bar,
        *moments,
        shift_words(posture),
    )


def _aside(arm_m: float) -> str:
    """Return how far ahead of a joint the bar is, in words."""
    if READING.is_nought(arm_m):
        return "in line with"
    return f"{READING.words(abs(arm_m))} {'ahead of' if arm_m > 0 else 'behind'}"


def _sentence(reason: Words) -> Words:
    """Return a reason with a capital letter and one full stop."""
    if not isinstance(reason, str):
        return [_sentence(each) for each in reason]
    return f"{reason[:1].upper()}{reason[1:].rstrip('.')}."


def _lines(words: Words, characters: int) -> tuple[list[Words], ArrayLike]:
    """Return words broken into lines, "" past the last, and how many there are (…)."""
    if isinstance(words, str):
        lines = wrap(words, characters)
        return lines, len(lines)
    broken = [wrap(each, characters) for each in words]
    counts = np.array([len(lines) for lines in broken])
    # From the lines of each position to the words of each line at all positions.
    return [list(row) for row in zip_longest(*broken, fillvalue="")], counts


def _band(width: float, top: float, bottom: ArrayLike) -> list[Moving]:
    """Return the pale band on which a reason stands."""
    return [
        Shape(rectangle(MARGIN, top, width - MARGIN, bottom), palette.NOTICE),
        Shape(rectangle(MARGIN, top, MARGIN + 5, bottom), palette.SUPPORT),
    ]


def _verdict(posture: Posture, width: float, top: float) -> tuple[list[Moving], ArrayLike]:
    """Return the reason across the top, and where it ends."""
    lines, count = _lines(describe(posture), int((width - 4 * MARGIN) / (CHARACTER * 14)))
    bottom = top + 40.0 + 18 * np.asarray(count)
    rows = [
        Text(complex(2 * MARGIN, top + 50 + 18 * row), line, 14.0, halo="")
        for row, line in enumerate(lines)
    ]
    return [*_band(width, top + 34.0, bottom), *rows], bottom
