"""Charts of how well a phone sees: every reading's error, and what filming costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from squatlab import faults
from squatlab.lessons.filming import Case, score
from squatlab.review import Finding
from squatlab.show import palette
from squatlab.show.chart import PAGE, Chart, words

SHORT = {name: fault.short for name, fault in faults.catalogue().items()}
"""What is read for each fault, in a word or two."""

UNTOLD = "cannot tell"

REACH = 2.0
"""Errors of more steps than this are marked at the edge."""

TRIED = (
    ("noise_px", (0, 3, 6, 9, 12), "Noise of each point, px"),
    ("rate", (15, 30, 60, 120, 240), "Frames per second"),
    ("yaw_deg", (0, 5, 10, 15, 20), "Camera askew, °"),
)
"""What the curves try: a field of the camera, its values, its name."""


def steps(fault: str, error: float) -> float:
    """Return an error in steps from slight to clear; above 0 looks worse.

    An error of one step makes a slight fault look clear.
    """
    entry = faults.fault(fault)
    return error / (entry.clear - entry.slight)


class ErrorChart(Chart):
    """Plot each reading's error in steps from slight to clear of its fault.

    ``show`` takes errors by fault, in the fault's unit, nan where the
    reading cannot be told. Squares are wrong by a whole step or more.
    """

    def __init__(self, size_px: tuple[int, int] = PAGE) -> None:
        super().__init__("Steps from slight to clear", "Read wrongly by", size_px, 122, 109)
        rows = np.arange(len(SHORT))
        self.axes.set(xlim=(-REACH, REACH), ylim=(len(rows) - 0.5, -0.5), yticks=rows)
        self.axes.set_yticklabels(SHORT.values())
        self.axes.axvspan(-0.5, 0.5, fc=palette.GHOST_FILL, ec=palette.GHOST, zorder=0)
        self.axes.axvline(0, color=palette.SOFT, lw=1.5)
        self._bars = self.moving(self.axes.hlines([], 0, 0, color=palette.BLUE, lw=4))
        self._small = self.moving(self.axes.plot([], [], "o", color=palette.BLUE, ms=9)[0])
        look = {"color": palette.RED, "ms": 11, "clip_on": False}
        self._large = self.moving(self.axes.plot([], [], "s", **look)[0])
        right = REACH * (1 + 30 / self.axes.bbox.width)
        self._told = [self.moving(words(self.axes, right, row, "", bbox=None)) for row in rows]

    def show(self, errors: Mapping[str, float]) -> ErrorChart:
        """Draw these errors and return the chart."""
        far = np.array([steps(name, errors[name]) for name in SHORT])
        at, rows = np.clip(far, -REACH, REACH), np.arange(far.size)
        self._bars.set_segments([[(0, y), (x, y)] for x, y in zip(at, rows, strict=True) if x == x])
        large = np.abs(far) >= 1
        self._small.set_data(at[~large], rows[~large])
        self._large.set_data(at[large], rows[large])
        for name, text in zip(SHORT, self._told, strict=True):
            text.set_text(amount(name, errors[name]) or UNTOLD)
        told = [f"{SHORT[n]} {amount(n, errors[n])}" for n in SHORT if not np.isnan(errors[n])]
        untold = [SHORT[n] for n in SHORT if np.isnan(errors[n])]
        self.alt = f"Read wrongly by: {', '.join(told) or 'nothing is read'}."
        if untold:
            self.alt += f" Cannot tell: {', '.join(untold)}."
        return self


def amount(fault: str, error: float) -> str:
    """Return an error with its sign and unit; nothing for nan."""
    told = Finding(fault, error).amount
    return f"+{told}" if told and not told.startswith("−") else told


def accuracy(people: Sequence[Case]) -> Chart:
    """Plot how many clear faults are found and how many clean are blamed.

    Against noise, frames per second and how far the camera stands askew;
    the rest as usual (3 px, 60 per second, straight). ``people`` come from
    `lessons.filming.cast`.
    """
    chart = Chart("", ("Share, %", "Share, %", "Share, %"), (1000, 400))
    told = []
    for axes, (field, values, name) in zip(chart.panels, TRIED, strict=True):
        scores = [score(people, **{field: value}) for value in values]
        place = range(len(values))
        for share, (colour, mark, dash) in (
            ("found", (palette.BLUE, "o", "-")), ("blamed", (palette.RED, "s", (0, (6, 2)))),
        ):  # fmt: skip
            y = [getattr(one, share) for one in scores]
            axes.plot(place, y, mark, ls=dash, color=colour, lw=3, ms=9, clip_on=False)
            told.append(f"{share} {', '.join(f'{v:.0f}' for v in y)} %")
        told[-2] = f"{name} {', '.join(map(str, values))}: {told[-2]}"
        axes.set(xlim=(-0.2, len(values) - 0.8), ylim=(0, 104), xticks=place, xticklabels=values)
        axes.set_xlabel(name)
    words(chart.panels[0], 0.1, 74, "clear faults found")
    words(chart.panels[0], 0.1, 14, "clean lifters blamed")
    chart.alt = f"Clear faults found and clean lifters blamed. {'; '.join(told)}."
    return chart
