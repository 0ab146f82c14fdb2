"""A lifter as a camera sees them, over the outline of how they truly are."""

from __future__ import annotations

import numpy as np

from squatlab.lessons.filming import ByEye, by_eye, on_screen
from squatlab.motion import Camera, Rep
from squatlab.motion.instant import posture_at
from squatlab.show import measures, palette, views
from squatlab.show.body import SOLID, Build, Frame, front_body, side_body
from squatlab.show.picture import Scene
from squatlab.show.primitives import Line, Primitive, Shape, Text, rectangle
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
    """Return the lowest instant as a side or front camera has it.

    Dashed is the outline as it truly is; grey is outside the picture.
    Crosses are points with the camera's noise, drawn from ``seed``.
    """
    view, truth, p = camera.view, posture_at(rep, rep.bottom), on_screen(rep, camera)
    build, load = Build.of(rep.lifter), float(rep.bar.mass_kg)
    if view == "side":
        width, frame, body = SIDE, views.side_frame(truth, 0.0), side_body(p, build)
        ghost, radius = views.side_ghost(truth, 0.0), 0.5 * abs(p["plate_top"] - p["plate_bottom"])
        bar = measures.plate_side(p["plate_top"] - 1j * radius, frame, True, radius)
    else:
        width, frame, body = FRONT, views.front_frame(truth, 0.0), front_body(p, build)
        ghost, bar = views.front_ghost(truth, 0.0), measures.bar_front(p, frame, load)
    drawn = body.drawn(frame, SOLID)
    lines = [
        Line((frame.at(p[start]), frame.at(p[end])), *look)
        for start, end, colour, dash in READ[view]
        for look in ((palette.PAPER, 6.0), (colour, 3.0, dash))
    ]
    jitter = np.random.default_rng(seed).normal(0, 1, (len(MARKED[view]), 2)) @ (1, 1j)
    jitter = (camera.noise_px / camera.px_per_m * jitter).tolist()
    marks = [_cross(frame.at(p[n] + off)) for n, off in zip(MARKED[view], jitter, strict=True)]
    words = screen_words(view, by_eye(p), by_eye(on_screen(rep, None, view)))
    parts = [
        *views.page(f"{view.capitalize()} view on the screen", 0.0, width),
        Line((complex(0, FLOOR), complex(width, FLOOR)), palette.INK, 1.5),
        *ghost,
        *([*drawn, *bar] if view == "side" else [*bar, *drawn]),
        *lines,
        *marks,
        *_outside(camera, frame, width),
        *(Text(complex(MARGIN, FLOOR + y), line) for y, line in zip((40, 62), words, strict=True)),
    ]
    told = f"The lowest point of the squat on the screen of a {view} camera. {' '.join(words)}"
    return Scene(tuple(parts), (0.0, 0.0, width, HEIGHT), told)


def screen_words(view: str, seen: ByEye, true: ByEye) -> tuple[str, str]:
    """Return in two sentences what is on the screen and what is true."""
    if view == "side":
        return (
            f"Lean on the screen {seen.lean_deg:.1f}°, truly {true.lean_deg:.1f}°.",
            f"Thigh on the screen {_above(seen.thigh_deg)}, truly {_above(true.thigh_deg)} level.",
        )
    return (
        f"Bar on the screen {abs(seen.tilt_deg):.1f}° off level, truly {abs(true.tilt_deg):.1f}°.",
        f"Hips on the screen {_beside(seen)} beside the feet, truly {_beside(true)}.",
    )


def _beside(one: ByEye) -> str:
    return of_table(abs(one.hips_aside_cm), "cm")


def _above(degrees: float) -> str:
    return f"{abs(degrees):.1f}° {'above' if degrees >= 0 else 'below'}"


def _cross(at: complex) -> Line:
    arm = 5
    return Line((at - arm, at + arm, at, at - arm * 1j, at + arm * 1j), palette.INK, 2.0)


def _outside(camera: Camera, frame: Frame, width: float) -> list[Primitive]:
    """Return what the picture does not hold in grey, and the picture's edge."""
    half = 0.5 * complex(camera.width_px, camera.height_px) / camera.px_per_m
    low, high = (frame.at(1j * camera.height_m + corner) for corner in (-half, half))
    left, right = max(low.real, 0.0), min(high.real, width)
    top, bottom = max(high.imag, 34.0), min(low.imag, HEIGHT - 2)
    bands = (
        (0, 34, width, top),
        (0, bottom, width, FLOOR + 20),
        (0, top, left, bottom),
        (right, top, width, bottom),
    )
    seen = [band for band in bands if band[2] - band[0] > 1 and band[3] - band[1] > 1]
    grey = [Shape(rectangle(*band), palette.GHOST, opacity=0.55) for band in seen]
    return [*grey, Shape(rectangle(left, top, right, bottom), stroke=palette.INK, width=1.5)]
