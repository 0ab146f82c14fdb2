"""From a posture to a picture: side view, front view and joint moments.

Every picture has the same size and its scale depends on stature alone,
so that nothing jumps while a slider moves. A pane holds one of them for
all positions of a slider (a posture of arrays); a still is one position.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
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
from squatlab.show.views import FLOOR, FRONT, HEIGHT, MARGIN, SHOWABLE, SHOWN, SIDE, placed
from squatlab.units import MASS, MOMENT, READING, STATURE_IN_WORDS

__all__ = [
    "SHOWABLE",
    "SHOWN",
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


MOST_CROPPED = 130.0
"""How much of a picture's top may go and still leave room for the moments, picture units."""


def _single(posture: Posture) -> Posture:
    count = positions_of(posture)
    if np.ndim(posture.sine):
        raise ValueError(
            f"a picture shows one posture and this holds {count}; "
            "make one with single numbers for depth and shank angle"
        )
    return posture


def _still(posture: Posture, words: str, *panes: Sweep) -> Scene:
    """Return panes of one posture beside each other, with words for all."""
    scene, *more = (pane.scene(0) for pane in panes)
    for other in more:
        scene = scene.beside(other)
    bar = f"{posture.bar.name}, {MASS.words(float(posture.bar.mass_kg))}"
    tall = STATURE_IN_WORDS.words(float(posture.lifter.stature_m))
    alt = f"{words} of a lifter {tall} tall, {bar}. "
    if not placed(posture):
        alt = "No posture. "
    return replace(scene, alt=alt + describe(posture))


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
    can, there = (np.broadcast_to(is_so, count) for is_so in (posture.feasible, placed(posture)))
    groups = []
    for present, draw in ((can, held), (there & ~can, not_held), (~there, nowhere)):
        positions = np.flatnonzero(present)
        if positions.size:
            some = posture
            if positions.size < count:
                some = rows_of(posture, positions, count)
            groups.append((positions, draw(some)))
    return grouped(groups, (0.0, top, width, HEIGHT), count)


def notice(
    reason: Words, width: float, outline: list[Moving] | None = None, top: float = 0.0
) -> list[Moving]:
    """Return the parts of a pane that says why there is no body.

    ``outline`` is the last posture that could be held.
    """
    lines, count = _lines(_sentence(reason), int((width - 6 * MARGIN) / (CHARACTER * 18)))
    hint, _ = _lines(HINT, int((width - 6 * MARGIN) / (CHARACTER * 14)))
    left, low = 3 * MARGIN, np.add(top + 70.0, np.multiply(24, count))
    bottom = low + 18 * len(hint) + 16
    return [
        _floor(width),
        *(outline or ()),
        *_notice(width, top + 22.0, bottom),
        Text(complex(left, top + 48), "This posture cannot be held", 15.0, bold=True, halo=""),
        *(
            Text(complex(left, top + 78 + 24 * row), line, 18.0, halo="")
            for row, line in enumerate(lines)
        ),
        *(
            Text(left + 1j * (low + 18 * (row + 1)), line, 14.0, halo="")
            for row, line in enumerate(hint)
        ),
    ]


def _floor(width: float) -> Line:
    return Line((complex(0, FLOOR), complex(width, FLOOR)), palette.RULE, 1.5)


def describe(posture: Posture) -> Words:
    """Return one sentence with the posture's numbers, or one for each posture.

    Lean, arms to the bar, moments and balance; for a posture that cannot
    be held, the reason.
    """

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
            f"Lean {lean:.1f}° from the vertical; ".replace(" -", " −")
            + f"bar {_aside(to_hip)} the hip, {_aside(to_knee)} the knee; "
            f"per leg hip {figure(hip)}, knee {figure(knee)}, ankle {MOMENT.words(ankle)}; "
            f"low back {MOMENT.words(back)}; {shift}."
        )

    figure = MOMENT.figure

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
    if READING.is_nought(arm_m):
        return "in line with"
    return f"{READING.words(abs(arm_m))} {'ahead of' if arm_m > 0 else 'behind'}"


def _sentence(reason: Words) -> Words:
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
    rows = range(counts.max())
    return [[lines[r] if r < len(lines) else "" for lines in broken] for r in rows], counts


def _notice(width: float, top: float, bottom: ArrayLike) -> list[Moving]:
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
    return [*_notice(width, top + 34.0, bottom), *rows], bottom
