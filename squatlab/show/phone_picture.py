"""A lifter as a camera sees them, over the outline of how they truly are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from squatlab.lessons.filming import ByEye, by_eye, on_screen
from squatlab.motion import Camera, Rep
from squatlab.motion.instant import posture_at
from squatlab.show import measures, palette, views
from squatlab.show.body import SOLID, Build, Frame, bends, front_body, side_body
from squatlab.show.moving import Moving, where, worded
from squatlab.show.picture import Scene
from squatlab.show.primitives import Line, Shape, Text, rectangle
from squatlab.show.scene import Words
from squatlab.show.sweep import Sweep, whole
from squatlab.show.views import FLOOR, FRONT, HEIGHT, MARGIN, SIDE
from squatlab.units import of_table

MARKED = {
    "side": ("c7", "l5", "hip_r", "knee_r", "ankle_r", "heel_r", "toe_r"),
    "front": tuple(f"{n}_{s}" for n in ("hip", "knee", "ankle", "toe", "bar_end") for s in "rl"),
}
"""The points that are marked where a film with its noise has them."""

READ = {
    "side": (("hip_r", "c7", palette.BLUE, ""), ("hip_r", "knee_r", palette.RED, "12 4")),
    "front": (("bar_end_r", "bar_end_l", palette.BLUE, ""),),
}
"""The lines that are read: from, to, colour and dash."""


def phone_picture(rep: Rep, camera: Camera, seed: int = 1) -> Scene:
    """Return the lowest instant as one camera has it, as `phone_pane` does."""
    pane = phone_pane(rep, [camera], seed)
    return pane.scene(0)


def phone_pane(rep: Rep, cameras: Sequence[Camera], seed: int = 1, width: float = 0.0) -> Sweep:
    """Return the lowest instant as side or front cameras (positions,) have it.

    Dashed is the outline as it truly is; grey is outside the picture.
    Crosses are points with the camera's noise, drawn from ``seed``. All
    cameras have one view; the picture is at least ``width`` wide.
    """
    view, truth, p = cameras[0].view, posture_at(rep, rep.bottom), on_screens(rep, cameras)
    build, load = Build.of(rep.lifter), float(rep.bar.mass_kg)
    if view == "side":
        room, frame, body = SIDE, views.side_frame(truth, 0.0), side_body(p, build, bends(p))
        ghost, radius = views.side_ghost(truth, 0.0), 0.5 * abs(p["plate_top"] - p["plate_bottom"])
        bar = measures.plate_side(p["plate_top"] - 1j * radius, frame, True, radius)
    else:
        room, frame, body = FRONT, views.front_frame(truth, 0.0), front_body(p, build)
        ghost, bar = views.front_ghost(truth, 0.0), measures.bar_front(p, frame, load)
    drawn = body.drawn(frame, SOLID)
    lines = [
        Line((frame.at(p[start]), frame.at(p[end])), *look)
        for start, end, colour, dash in READ[view]
        for look in ((palette.PAPER, 6.0), (colour, 3.0, dash))
    ]
    jitter = np.random.default_rng(seed).normal(0, 1, (len(MARKED[view]), 2)) @ (1, 1j)
    noise_m = _plain([camera.noise_px / camera.px_per_m for camera in cameras])
    marks = [
        _cross(frame.at(p[name] + noise_m * off))
        for name, off in zip(MARKED[view], jitter.tolist(), strict=True)
    ]
    seen, true = by_eye(p), by_eye(on_screen(rep, None, view))
    words = screen_words(view, seen, true)
    parts = [
        *views.page(f"{view.capitalize()} view on the screen", 0.0, room),
        Line((complex(0, FLOOR), complex(room, FLOOR)), palette.INK, 1.5),
        *ghost,
        *([*drawn, *bar] if view == "side" else [*bar, *drawn]),
        *lines,
        *marks,
        *_outside(cameras, frame, room),
        *(Text(complex(MARGIN, FLOOR + y), line) for y, line in zip((40, 62), words, strict=True)),
    ]
    sentence = worded(lambda *both: f"{WHERE.format(view)} {' '.join(both)}", *words)
    alt = (sentence,) if isinstance(sentence, str) else sentence
    return whole(parts, (0.0, 0.0, max(room, width), HEIGHT), len(cameras), alt)


WHERE = "The lowest point of the squat on the screen of a {} camera."


def on_screens(rep: Rep, cameras: Sequence[Camera]) -> dict[str, ArrayLike]:
    """Return every point as `on_screen` does, on each screen (positions,).

    On the only one where there is but one camera.
    """
    screens = [on_screen(rep, camera) for camera in cameras]
    return {name: _plain([screen[name] for screen in screens]) for name in screens[0]}


def _plain(values: list) -> ArrayLike:
    return np.array(values) if len(values) > 1 else values[0]


def screen_words(view: str, seen: ByEye, true: ByEye) -> tuple[Words, Words]:
    """Return in two sentences what is on the screen and what is true.

    What is seen may be numbers or arrays (positions,).
    """
    if view == "side":
        return (
            worded(
                lambda lean: f"Lean on the screen {lean:.1f}°, truly {true.lean_deg:.1f}°.",
                seen.lean_deg,
            ),
            worded(
                lambda thigh: f"Thigh {_above(thigh)}, truly {_above(true.thigh_deg)} level.",
                seen.thigh_deg,
            ),
        )
    return (
        worded(
            lambda tilt: (
                f"Bar on the screen {abs(tilt):.1f}° off level, truly {abs(true.tilt_deg):.1f}°."
            ),
            seen.tilt_deg,
        ),
        worded(
            lambda aside: (
                f"Hips {_beside(aside)} beside the feet, truly {_beside(true.hips_aside_cm)}."
            ),
            seen.hips_aside_cm,
        ),
    )


def _beside(cm: float) -> str:
    return of_table(abs(cm), "cm")


def _above(degrees: float) -> str:
    return f"{abs(degrees):.1f}° {'above' if degrees >= 0 else 'below'}"


def _cross(at: complex) -> Line:
    arm = 5
    return Line((at - arm, at + arm, at, at - arm * 1j, at + arm * 1j), palette.INK, 2.0)


def _outside(cameras: Sequence[Camera], frame: Frame, width: float) -> list[Moving]:
    """Return what the pictures do not hold in grey, and each picture's edge."""
    corners = []
    for camera in cameras:
        half = 0.5 * complex(camera.width_px, camera.height_px) / camera.px_per_m
        corners.append([frame.at(1j * camera.height_m + corner) for corner in (-half, half)])
    low, high = (_plain(list(row)) for row in zip(*corners, strict=True))
    left, right = np.maximum(np.real(low), 0.0), np.minimum(np.real(high), width)
    top, bottom = np.maximum(np.imag(high), 34.0), np.minimum(np.imag(low), HEIGHT - 2)
    bands = (
        (0, 34, width, top),
        (0, bottom, width, FLOOR + 20),
        (0, top, left, bottom),
        (right, top, width, bottom),
    )
    parts: list[Moving] = []
    for x0, y0, x1, y1 in bands:
        there = (x1 - x0 > 1) & (y1 - y0 > 1)
        band = Shape(rectangle(x0, y0, x1, y1), palette.GHOST, opacity=0.55)
        parts += where(there, [band])
    return [*parts, Shape(rectangle(left, top, right, bottom), stroke=palette.INK, width=1.5)]
