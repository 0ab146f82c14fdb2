"""Read values back from where a chart draws them."""

from __future__ import annotations

import numpy as np

from squatlab.show.plot import Plot
from squatlab.show.primitives import Line


def values_of(plot: Plot, points) -> tuple[np.ndarray, np.ndarray]:
    """Return what values a plot's places stand for: its axes the other way round."""
    left, top, right, bottom = plot.box
    places = np.array(points)
    x = plot.x.start + (places.real - left) / (right - left) * (plot.x.end - plot.x.start)
    y = plot.y.start + (bottom - places.imag) / (bottom - top) * (plot.y.end - plot.y.start)
    return x, y


def curves(parts, colour: str, dash: str | None = None) -> list[Line]:
    """Return the drawn curves of a colour: lines of more than ten points."""
    return [
        part
        for part in parts
        if isinstance(part, Line)
        and part.stroke == colour
        and len(part.points) > 10
        and dash in (None, part.dash)
    ]
