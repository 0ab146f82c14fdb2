"""Words as ready pixels stand where matplotlib would set them."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from squatlab.show.chart import words
from squatlab.show.stamp import stamp

LETTER = 5
"""Half a letter, pixels: one way rounds every letter's width, the other does not."""


def inked(pixels: np.ndarray) -> tuple[np.ndarray, ...]:
    """Return first and last row and column that are not white."""
    rows, columns = np.nonzero((pixels[..., :3] < 200).any(axis=-1))
    return rows.min(), rows.max(), columns.min(), columns.max()


@pytest.mark.parametrize("text", ["this lifter: 0.85, 41°", "ankles do not\nbend so far"])
@pytest.mark.parametrize(
    ("ha", "rotation"), [("left", 0), ("center", 0), ("right", 0), ("center", 90)]
)
def test_words_stand_where_matplotlib_sets_them(text, ha, rotation):
    figure = Figure(figsize=(5, 4), dpi=100)
    canvas = FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    canvas.draw()
    blank = np.array(canvas.buffer_rgba())
    word = words(axes, 0.5, 0.5, text, ha=ha, rotation=rotation)
    canvas.draw()
    stamp(word, blank)
    drawn = np.asarray(canvas.buffer_rgba())
    assert np.abs(np.subtract(inked(blank), inked(drawn))).max() <= LETTER


@pytest.mark.parametrize("at", [(-3, 0.5), (0.5, -3), (4, 0.5), (0.5, 4), (np.nan, 0.5)])
def test_words_outside_are_left_out_and_half_of_them_half(at):
    axes = Figure(figsize=(2, 2), dpi=100).add_axes((0, 0, 1, 1))
    ground = np.full((200, 200, 4), 255, np.uint8)
    stamp(words(axes, *at, "words"), ground)
    assert (ground == 255).all()
    stamp(words(axes, 0.9, 0.01, "words"), ground)
    assert inked(ground)[1] == inked(ground)[3] == 199
