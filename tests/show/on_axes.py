"""Pictures as matplotlib draws them: the other renderer to compare with."""

from __future__ import annotations

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from squatlab.show.axes_painter import draw
from squatlab.show.palette import PAPER
from squatlab.show.picture import Scene


def pixels(scene: Scene, width_px: int = 1100) -> np.ndarray:
    """Return a scene drawn on axes, (row, column, RGB)."""
    left, top, right, bottom = scene.bounds
    size = width_px / 100, width_px / 100 * (bottom - top) / (right - left)
    figure = Figure(figsize=size, dpi=100, facecolor=PAPER)
    canvas = FigureCanvasAgg(figure)
    draw(scene, figure.add_axes((0, 0, 1, 1)))
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3]
