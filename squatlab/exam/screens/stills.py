"""A lift as the pictures of an exam: pixels of what a camera sees, and no measurement.

Every view has the whole movement; the side view also a closer look at back and
feet. Only the rectangles that move are kept: beside each other in sheets, in
one set of colours, as lossless WebP (libwebp, BSD; Pillow brings it).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from io import BytesIO
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from squatlab.exam.screens.filmed_lift import UNITS_PER_M, FilmedLift, Window
from squatlab.motion import Camera
from squatlab.questions.question import PictureBox, PicturePanel, Pictures
from squatlab.show.raster import image

PX_PER_CM = 3.2
"""How large the lift is at the lifter's middle: the far foot, and all that is
nearer to the camera, have 3 px/cm or more [teaching-value]."""

CLOSER = {"back": 1.35, "feet": 1.6}
"""How much larger the closer looks are [teaching-value]."""

EVERY = 2
"""Every second frame of 60 a second is shown."""

ON_A_SHEET = 8
"""Pictures beside each other share rows, which packs them three times better
than one by one; more of them would be slow to open."""

COLOURS = 32
"""Flat fills and their smoothed edges need no more."""

EFFORT = {"lossless": True, "method": 1, "quality": 20}
"""Of the encoder: method 3 makes files a fifth smaller and takes twice as long."""

STILL_M = 1e-4
"""Points that move less than this since the last picture move no pixel."""

GAP_PX = 4
"""Between panels, so that no edge shines through."""


class Shot(NamedTuple):
    """Hold one window of one view, where its panel stands, and its scale."""

    lift: FilmedLift
    window: Window
    panel: PicturePanel


def cameras(seed: int) -> dict[str, Camera]:
    """Return where the cameras of a form stand, by view.

    Two forms differ a little: who measures in one form's pictures learns
    little about another's. So little that what a case shows, as its
    phones filmed it, is still seen.
    """
    cameras_of = {}
    for view in ("side", "front"):
        rng = np.random.default_rng([seed, zlib.crc32(view.encode())])
        cameras_of[view] = Camera(
            view,
            distance_m=rng.uniform(3.7, 4.5),
            height_m=rng.uniform(0.85, 1.15),
            yaw_deg=rng.uniform(-2.0, 2.0),
        )
    return cameras_of


def stills(
    case: Any, camera_seed: int = 0, px_per_cm: float = PX_PER_CM, every: int = EVERY
) -> Pictures:
    """Return what a case's views show, as a package takes it.

    ``case`` has the lift as ``rep`` and its views as ``cell.view``, which
    is "side", "front" or "both". ``camera_seed`` is the form's. Fewer
    ``px_per_cm``, and only ``every`` second or third of 60 frames a
    second, make a smaller and poorer clip.
    """
    view = case.cell.view
    names = ("side", "front") if view == "both" else (view,)
    standpoints = cameras(camera_seed)
    lifts = [FilmedLift(case.rep, standpoints[name]) for name in names]
    shots, width, height = _arranged(lifts, px_per_cm)
    taken = np.arange(0, case.rep.time.size, every)
    pictures = _different(case.rep.points, taken)
    times = taken[np.flatnonzero(np.diff(pictures, prepend=-1))]
    lowest = int(np.argmin(case.rep.points["pelvis"][taken, 1]))
    sheets = list(_sheets(shots, times.tolist(), width, height))
    rate = (case.rep.time.size - 1) / float(case.rep.time[-1] - case.rep.time[0]) / every
    seconds = float(case.rep.time[-1] - case.rep.time[0])
    alt = f"{' and '.join(names)} view, {seconds:.1f} s".capitalize()
    return Pictures(
        sheets=tuple(sheet.webp for sheet in sheets),
        boxes=tuple(sheet.box for sheet in sheets),
        on_a_sheet=ON_A_SHEET,
        width=width,
        height=height,
        frames=tuple(pictures.tolist()),
        rate=rate,
        panels=tuple(shot.panel for shot in shots),
        lowest=lowest,
        alt=f"{alt}, {taken.size} frames.",
    )


def picture(clip: Pictures, frame: int) -> Image.Image:
    """Return what a frame of a clip shows, as a screen puts it together."""
    sheet, place = clip.place(frame)
    with Image.open(BytesIO(clip.sheets[0])) as first:
        whole = first.convert("RGB")
    if sheet:
        box = clip.boxes[sheet]
        with Image.open(BytesIO(clip.sheets[sheet])) as many:
            left = place * box.width
            part = many.crop((left, 0, left + box.width, box.height)).convert("RGB")
        whole.paste(part, (box.left, box.top))
    return whole


def _arranged(lifts: list[FilmedLift], px_per_cm: float) -> tuple[list[Shot], int, int]:
    """Return the shots side by side, the closer ones above each other, and the size, px."""
    scale = 100 * px_per_cm / UNITS_PER_M
    shots: list[Shot] = []

    def place(lift: FilmedLift, window: Window, times: float, left: int, top: int) -> PicturePanel:
        width = round((window.right - window.left) * scale * times)
        height = round((window.bottom - window.top) * width / (window.right - window.left))
        shots.append(Shot(lift, window, PicturePanel(window.name, left, top, width, height)))
        return shots[-1].panel

    left = height = 0
    for lift in lifts:
        whole = place(lift, lift.whole(), 1.0, left, 0)
        left += whole.width + GAP_PX
        height = max(height, whole.height)
        if lift.camera.view == "side":
            back = place(lift, lift.back(), CLOSER["back"], left, 0)
            feet = place(lift, lift.feet(), CLOSER["feet"], left, back.height + GAP_PX)
            left += max(back.width, feet.width) + GAP_PX
            height = max(height, back.height + GAP_PX + feet.height)
        elif len(lifts) == 1:
            feet = place(lift, lift.feet(), CLOSER["feet"], left, 0)
            left += feet.width + GAP_PX
    return shots, left - GAP_PX, height


def _different(points: Any, taken: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return which picture each frame shows: another one as soon as anything has moved."""
    places = np.stack([place[taken] for place in points.values()])
    which, last = np.zeros(taken.size, dtype=int), 0
    for frame in range(1, which.size):
        moved = np.abs(places[:, frame] - places[:, last]).max() > STILL_M
        which[frame] = which[frame - 1] + moved
        last = frame if moved else last
    return which


class PictureSheet(NamedTuple):
    """Hold pictures beside each other as WebP, and which part of the whole they are."""

    webp: bytes
    box: PictureBox


def _sheets(shots: list[Shot], times: list[int], width: int, height: int) -> Iterator[PictureSheet]:
    """Yield sheets and what part of the picture each renews.

    The first is the whole first picture; what none of a sheet's pictures
    changes is not in it. All are drawn upon that first picture.
    """
    first, middle = (
        _picture(shots, time, width, height) for time in (times[0], times[len(times) // 2])
    )
    both = Image.new("RGB", (2 * width, height))
    both.paste(first, (0, 0))
    both.paste(middle, (width, 0))
    # One set of colours for all: what is still stays the very same.
    colours = both.quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=0)
    palette = colours.getpalette()

    def indices(time: int) -> NDArray[np.uint8]:
        drawn = _picture(shots, time, width, height)
        return np.asarray(drawn.quantize(palette=colours, dither=0))

    base = indices(times[0])
    yield PictureSheet(_packed([base], palette), PictureBox(0, 0, width, height))
    for start in range(1, len(times), ON_A_SHEET):
        some = [indices(time) for time in times[start : start + ON_A_SHEET]]
        changed = np.any([picture_indices != base for picture_indices in some], axis=0)
        rows, columns = (np.flatnonzero(changed.any(axis=axis)) for axis in (1, 0))
        if not rows.size:
            rows = columns = np.array([0])
        top, bottom = int(rows[0]), int(rows[-1]) + 1
        left, right = int(columns[0]), int(columns[-1]) + 1
        cut = [picture_indices[top:bottom, left:right] for picture_indices in some]
        yield PictureSheet(_packed(cut, palette), PictureBox(left, top, right - left, bottom - top))


def _picture(shots: list[Shot], time: int, width: int, height: int) -> Image.Image:
    """Return all panels at one frame."""
    whole = Image.new("RGB", (width, height), "#ffffff")
    for lift, window, panel in shots:
        drawn = image(lift.scene(time, window), panel.width)
        whole.paste(drawn.crop((0, 0, panel.width, panel.height)), (panel.left, panel.top))
    return whole


def _packed(pictures: list[NDArray[np.uint8]], palette: list[int]) -> bytes:
    """Return pictures of palette indices beside each other, as WebP."""
    sheet = Image.fromarray(np.concatenate(pictures, axis=1), "P")
    sheet.putpalette(palette)
    buffer = BytesIO()
    sheet.convert("RGB").save(buffer, "webp", **EFFORT)
    return buffer.getvalue()
