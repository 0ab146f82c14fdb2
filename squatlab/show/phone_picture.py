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
from squatlab.show.moving import Moving, per_position, where, worded
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
        room, frame = SIDE, views.side_frame(truth, 0.0)
        ghost, body = views.side_ghost(truth, 0.0), side_body(p, build, bends(p))
        # The plate is as large as its top and bottom are apart on the screen.
        radius = 0.5 * abs(p["plate_top"] - p["plate_bottom"])
        bar = measures.plate_side(p["plate_top"] - 1j * radius, frame, True, radius)
        lifter = [*body.drawn(frame, SOLID), *bar]
    else:
        room, frame = FRONT, views.front_frame(truth, 0.0)
        ghost, body = views.front_ghost(truth, 0.0), front_body(p, build)
        lifter = [*measures.bar_front(p, frame, load), *body.drawn(frame, SOLID)]
    lines = []
    for start, end, colour, dash in READ[view]:
        ends = frame.at(p[start]), frame.at(p[end])
        lines += Line(ends, palette.PAPER, 6.0), Line(ends, colour, 3.0, dash)
    # Standard normal noise across and up, times the camera's own, m at the lifter.
    jitter = np.random.default_rng(seed).normal(0, 1, (len(MARKED[view]), 2)) @ (1, 1j)
    noise_m = per_position([camera.noise_px / camera.px_per_m for camera in cameras])
    crosses = [
        _cross(frame.at(p[name] + noise_m * error))
        for name, error in zip(MARKED[view], jitter.tolist(), strict=True)
    ]
    words = screen_words(view, by_eye(p), by_eye(on_screen(rep, None, view)))
    parts = [
        *views.page(f"{view.capitalize()} view on the screen", 0.0, room),
        Line((complex(0, FLOOR), complex(room, FLOOR)), palette.INK, 1.5),
        *ghost,
        *lifter,
        *lines,
        *crosses,
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
    return {name: per_position([screen[name] for screen in screens]) for name in screens[0]}


def screen_words(view: str, seen: ByEye, true: ByEye) -> tuple[Words, Words]:
    """Return in two sentences what is on the screen and what is true.

    What is seen may be numbers or arrays (positions,).
    """

    def lean_words(lean_deg: float) -> str:
        return f"Lean on the screen {lean_deg:.1f}°, truly {true.lean_deg:.1f}°."

    def thigh_words(thigh_deg: float) -> str:
        return f"Thigh {_above(thigh_deg)}, truly {_above(true.thigh_deg)} level."

    def tilt_words(tilt_deg: float) -> str:
        on_it, truly = abs(tilt_deg), abs(true.tilt_deg)
        return f"Bar on the screen {on_it:.1f}° off level, truly {truly:.1f}°."

    def hips_words(aside_cm: float) -> str:
        return f"Hips {_beside(aside_cm)} beside the feet, truly {_beside(true.hips_aside_cm)}."

    if view == "side":
        return worded(lean_words, seen.lean_deg), worded(thigh_words, seen.thigh_deg)
    return worded(tilt_words, seen.tilt_deg), worded(hips_words, seen.hips_aside_cm)


def _beside(cm: float) -> str:
    """Return how far the hips are from the middle, in words."""
    return of_table(abs(cm), "cm")


def _above(degrees: float) -> str:
    """Return how far above or below level a thigh is, in words."""
    return f"{abs(degrees):.1f}° {'above' if degrees >= 0 else 'below'}"


def _cross(at: complex) -> Line:
    """Return the mark of a point: one line through both arms of a cross."""
    arm = 5
    return Line((at - arm, at + arm, at, at - arm * 1j, at + arm * 1j), palette.INK, 2.0)


UNDER_TITLE = 34.0
"""Where the picture's title ends, picture units."""


def _outside(cameras: Sequence[Camera], frame: Frame, width: float) -> list[Moving]:
    """Return what the pictures do not hold in grey, and each picture's edge."""
    lower_left, upper_right = [], []
    for camera in cameras:
        # The optical axis is level, at the camera's height, over mid-foot.
        middle = 1j * camera.height_m
        half = 0.5 * complex(camera.width_px, camera.height_px) / camera.px_per_m
        lower_left.append(frame.at(middle - half))
        upper_right.append(frame.at(middle + half))
    low, high = per_position(lower_left), per_position(upper_right)
    # Below the title, above the picture's end.
    left, right = np.maximum(np.real(low), 0.0), np.minimum(np.real(high), width)
    top, bottom = np.maximum(np.imag(high), UNDER_TITLE), np.minimum(np.imag(low), HEIGHT - 2)
    # Above, below, left and right of what the camera has.
    bands = (
        (0, UNDER_TITLE, width, top),
        (0, bottom, width, FLOOR + 20),
        (0, top, left, bottom),
        (right, top, width, bottom),
    )
    parts: list[Moving] = []
    for band_left, band_top, band_right, band_bottom in bands:
        is_seen = (band_right - band_left > 1) & (band_bottom - band_top > 1)
        outline = rectangle(band_left, band_top, band_right, band_bottom)
        parts += where(is_seen, [Shape(outline, palette.GHOST, opacity=0.55)])
    return [*parts, Shape(rectangle(left, top, right, bottom), stroke=palette.INK, width=1.5)]
