"""Pixels agree with the other renderer of the same primitives, and with geometry."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, balance
from squatlab.show import palette
from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Line, Shape, Text, rectangle
from squatlab.show.raster import image
from squatlab.show.scene import lifter_picture
from tests.show import on_axes

LIFTER = Lifter.from_stature(1.75, 80)
NOW = balance(LIFTER, Bar.high(100), Stance(), 0, 28)
BEFORE = balance(LIFTER, Bar.high(100), Stance(), 30, 20)
SCENES = (
    lifter_picture(NOW, moments=False),
    lifter_picture(NOW, BEFORE),
    lifter_picture(balance(LIFTER, Bar.high(20), Stance(), 40, 10), moments=False, show=()),
)


def pixels(scene: Scene, width_px: int = 910) -> np.ndarray:
    return np.asarray(image(scene, width_px), dtype=float)


def of(*parts) -> Scene:
    return Scene(parts, (0.0, 0.0, 200.0, 100.0), "")


@pytest.mark.parametrize("scene", SCENES)
def test_it_looks_as_matplotlib_draws_it(scene):
    # Outside source: matplotlib's own rendering of the same list. Letters are another matter.
    scene = replace(scene, primitives=tuple(p for p in scene.primitives if not isinstance(p, Text)))
    # At one pixel a unit: in a height that is cut, lines lie half a pixel apart.
    left, _, right, _ = scene.bounds
    other = on_axes.pixels(scene, round(right - left)).astype(float)
    mine = pixels(scene, round(right - left))
    assert mine.shape == other.shape
    difference, blank = np.abs(mine - other), np.abs(255 - other)
    assert difference.mean() < 2
    assert difference.mean() < 0.2 * blank.mean()
    # What differs is edges: averaged over 8 pixels each way hardly anything is left.
    height, width = (side // 8 * 8 for side in mine.shape[:2])
    blocks = (mine - other)[:height, :width].reshape(height // 8, 8, width // 8, 8, 3)
    assert np.quantile(np.abs(blocks.mean(axis=(1, 3))), 0.99) < 15


def test_the_words_are_where_they_should_be():
    text = Text(100 + 60j, "lowest point", 13.0, "middle", bold=True)
    dark = np.argwhere(pixels(of(text), 800).min(axis=2) < 128) / 4
    (top, left), (bottom, right) = dark.min(axis=0), dark.max(axis=0)
    box = text.box()
    assert box[0] - 8 <= left and right <= box[2] + 8 and box[1] <= top and bottom <= box[3] + 1
    assert 0.5 * (left + right) == pytest.approx(100, abs=1)


def test_a_smooth_outline_has_the_area_of_its_spline():
    corners = (60 + 20j, 140 + 20j, 140 + 80j, 60 + 80j)
    # Outside source: Archimedes. At each corner the parabola between the midpoints of the sides
    # cuts a third off the triangle of midpoints and corner, an eighth of the rectangle.
    expected = 80 * 60 * (1 - 4 / 3 / 8)
    covered = (255 - pixels(of(Shape(corners, "#000000", smooth=True)), 800)[..., 0]).sum() / 255
    assert covered / 16 == pytest.approx(expected, rel=0.015)


def test_dashes_have_their_lengths():
    line = Line((10 + 50j, 190 + 50j), "#000000", 4.0, "9 3 2 3")
    row = pixels(of(line), 800)[200, :, 0] < 128
    starts = np.flatnonzero(np.diff(row.astype(int)) == 1) / 4
    ends = np.flatnonzero(np.diff(row.astype(int)) == -1) / 4
    assert len(starts) == 2 * (180 // 17) + 1 == len(ends)
    assert (ends - starts)[:6] == pytest.approx([9, 2] * 3, abs=0.75)
    assert np.diff(starts)[:4] == pytest.approx([12, 5, 12, 5], abs=0.75)


def test_a_pale_fill_lets_through_what_lies_below():
    under = Shape(rectangle(0, 0, 100, 100), "#ff0000")
    scene = of(under, Disc(100 + 50j, 40, "#0000ff", opacity=0.5))
    shown = pixels(scene, 200)
    assert shown[50, 80] == pytest.approx((127, 0, 128), abs=2)
    assert shown[50, 120] == pytest.approx((127, 127, 255), abs=2)
    assert shown[5, 150] == pytest.approx((255, 255, 255))


def test_a_line_and_its_arrow_are_as_wide_as_they_should_be():
    line = Line((20 + 50j, 120 + 50j), palette.INK, 6.0, arrow=True)
    dark = pixels(of(line), 800).min(axis=2) < 128
    assert dark[:, 4 * 60].sum() == pytest.approx(4 * 6, abs=1)
    assert dark[:, 4 * 112].sum() == pytest.approx(4 * 2 * 3.8 * 8 / 9, abs=3)
    assert not dark[:, 4 * 121 :].any()


def test_pixels_need_no_widgets():
    code = "import sys, squatlab.show.raster; sys.exit('ipywidgets' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
