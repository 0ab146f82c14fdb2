"""The pictures of an exam: of the lift itself, as practice shows it, and nothing beside it."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from squatlab.exam.screens.stills import HEIGHT_PX, stills
from squatlab.questions.items import item
from squatlab.show.film import film
from squatlab.show.footage import footage
from squatlab.show.raster import image


@pytest.fixture(scope="module", params=["spot_both", "spot_side", "spot_front"])
def case(request):
    return item(request.param, 3).case


def picture(clip, frame: int) -> np.ndarray:
    """Return what a frame shows, as the screen cuts it from a sheet."""
    sheet, place = divmod(clip.frames[frame], clip.on_a_sheet)
    made = Image.open(BytesIO(clip.sheets[sheet])).convert("RGB")
    left = place * clip.width
    return np.asarray(made.crop((left, 0, left + clip.width, clip.height)), dtype=int)


def test_every_frame_shows_the_lift_in_that_frame(case):
    clip = stills(case)
    blind = film(footage(case.rep), (), blind=True)
    count = case.rep.time.size
    assert len(clip.frames) == count and clip.rate == pytest.approx(60)
    for frame in (0, count // 3, clip.lowest, count - 1):
        drawn = image(blind.scene(frame, case.cell.view), clip.width)
        assert (clip.width, clip.height) == drawn.size and clip.height == HEIGHT_PX
        apart = np.abs(picture(clip, frame) - np.asarray(drawn, dtype=int))
        # 64 colours for all: an edge may be a few shades off, nothing may be elsewhere.
        assert (apart.max(axis=2) > 24).mean() < 0.001


def test_what_stands_still_is_one_picture_and_what_moves_is_another(case):
    clip = stills(case)
    frames = np.array(clip.frames)
    assert frames[0] == 0 and set(np.diff(frames)) <= {0, 1}
    assert frames[-1] + 1 <= sum(
        Image.open(BytesIO(s)).width // clip.width for s in clip.sheets
    ) == len(set(clip.frames))  # fmt: skip
    assert (frames[:30] == 0).all(), "half a second of standing"
    arrives = case.rep.bottom  # it may stay there for a while
    moving = frames[arrives - 40 : arrives - 10]
    assert len(set(moving)) == moving.size
    assert not np.array_equal(picture(clip, arrives - 40), picture(clip, arrives - 10))


def test_only_the_views_of_the_cell_are_there(case):
    clip = stills(case)
    names = {"both": ["side", "front"]}.get(case.cell.view, [case.cell.view])
    assert [name for name, _, _ in clip.panels] == names
    assert clip.panels[0][1] == 0
    assert sum(width for *_, width in clip.panels) == pytest.approx(clip.width, abs=1)
    seconds = case.rep.time[-1] - case.rep.time[0]
    words = " and ".join(names).capitalize()
    assert clip.alt == f"{words} view, {seconds:.1f} s, {case.rep.time.size} frames."
