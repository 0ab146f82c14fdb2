"""Charts of how well a phone sees: every reading's error, and what filming costs.

Notebook 07 shows both; `lessons.filming` films and reads what they plot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from squatlab import faults
from squatlab.lessons.filming import FilmedCase, score
from squatlab.motion import Camera
from squatlab.review import Finding
from squatlab.show import palette
from squatlab.show.moving import Moving, where, worded
from squatlab.show.plot import PAGE, PAIR, TEXT, Axis, Chart, Plot, axis, box_of, chart
from squatlab.show.primitives import Line, Text

SHORT = {name: fault.short for name, fault in faults.catalogue().items()}
"""What is read for each fault, in a word or two."""

UNTOLD = "cannot tell"

REACH = 2.0
"""Errors of more steps than this are marked at the edge."""

TRIED = (
    ("noise_px", (0, 3, 6, 12), "Noise of each point, px"),
    ("rate", (15, 30, 60, 240), "Frames per second"),
    ("yaw_deg", (0, 10, 15, 20), "Camera off square, °"),
)
"""What the curves try: a field of the camera, its values, its name."""


USUAL = Camera.side()
"""The camera of which the curves change one thing."""


def steps(fault: str, error: ArrayLike) -> ArrayLike:
    """Return an error (…) in steps from slight to clear; above 0 looks worse.

    An error of one step makes a slight fault look clear.
    """
    entry = faults.fault(fault)
    return error / (entry.clear - entry.slight)


class ErrorChart:
    """Plot each reading's error in steps from slight to clear of its fault.

    ``of`` takes errors by fault, in the fault's unit, nan where the
    reading cannot be told. Squares are wrong by a whole step or more.
    """

    def __init__(self, size: tuple[float, float] = PAGE) -> None:
        self.size = size
        rows = tuple(float(row) for row in range(len(SHORT)))
        names = tuple(SHORT.values())
        self.plot = Plot(
            axis("Steps from slight to clear", -REACH, REACH, 4),
            Axis("Measurement error", len(rows) - 0.5, -0.5, rows, lambda row: names[round(row)]),
            box_of(size, 116, 96),
        )
        self.stage = (
            *self.plot.strip(-0.5, 0.5, palette.GHOST_FILL),
            *self.plot.frame(),
            *self.plot.upright(0.0, palette.SOFT, "", 1.5),
        )

    def of(self, errors: Mapping[str, ArrayLike]) -> Chart:
        """Return the chart of these errors, each a number or (positions,)."""
        marks: list[Moving] = []
        amounts = {name: worded(partial(amount, name), errors[name]) for name in SHORT}
        for row, name in enumerate(SHORT):
            error = steps(name, errors[name])
            right = complex(self.plot.box[2] + 12, self.plot.at(0.0, row).imag + 4.5)
            marks.append(Text(right, worded(lambda words: words or UNTOLD, amounts[name]), TEXT))
            # Where an error cannot be told it has no place: nan is nowhere.
            at, is_read = np.clip(error, -REACH, REACH), np.isfinite(error)
            ends = (self.plot.at(0.0, row), self.plot.at(at, row))
            marks += where(is_read, [Line(ends, palette.BLUE, 4.0)])
            is_large = np.abs(error) >= 1
            marks += where(is_large, self.plot.mark(at, row, *LARGE, width=1.0))
            marks += where(~is_large & is_read, self.plot.mark(at, row, *SMALL, width=1.0))
        alt = worded(_in_words, *amounts.values())
        count = max(np.size(error) for error in errors.values())
        return chart(self.stage, self.size, alt, marks, count)


LARGE, SMALL = (palette.RED, "square", 5.5), (palette.BLUE, "round", 5.0)
"""Marks of an error of a whole step or more, and of less."""


def _in_words(*amounts: str) -> str:
    """Return in words by how much every reading is off; "" is one that cannot be told."""
    read, untold = [], []
    for name, error_words in zip(SHORT.values(), amounts, strict=True):
        if error_words:
            read.append(f"{name} {error_words}")
        else:
            untold.append(name)
    alt = f"Measurement error: {', '.join(read) or 'nothing is read'}."
    if untold:
        alt += f" Cannot tell: {', '.join(untold)}."
    return alt


def amount(fault: str, error: float) -> str:
    """Return an error with its sign and unit; nothing for nan."""
    words = Finding(fault, error).amount
    if not words or words.startswith("−"):
        return words
    return f"+{words}"


def accuracy(people: Sequence[FilmedCase]) -> Chart:
    """Plot how many clear faults are found and how many clean are blamed.

    Against noise, frames per second and how far the camera stands off
    square; the rest as usual (3 px, 60 per second, square). ``people`` come
    from `lessons.filming.cast`.
    """
    size = PAIR
    parts: list[Moving] = []
    sentences = []
    usual = score(people)  # stands on each of the three curves
    looks = {"found": (palette.BLUE, "round", ""), "blamed": (palette.RED, "square", "12 5")}
    for part, (field, values, name) in enumerate(TRIED):
        scores = []
        for value in values:
            is_usual = value == getattr(USUAL, field)
            scores.append(usual if is_usual else score(people, **{field: value}))
        # Values stand evenly apart, whatever the steps between them.
        places = tuple(float(place) for place in range(len(values)))
        words_at = dict(zip(places, map(str, values), strict=True))
        across = Axis(name, -0.2, len(values) - 0.8, places, words_at.get)
        box = box_of(size, part=part, parts=3)
        plot = Plot(across, axis("Share, %", 0, 104, 5), box)
        parts += plot.frame()
        shares = []
        for share, (colour, kind, dash) in looks.items():
            heights = [getattr(score_of_value, share) for score_of_value in scores]
            parts += plot.curve(places, heights, colour, dash)
            for x, height in zip(places, heights, strict=True):
                parts += plot.mark(x, height, colour, kind, 5.0, width=1.0)
            percents = ", ".join(f"{height:.0f}" for height in heights)
            shares.append(f"{share} {percents} %")
        sentences.append(f"{name} {', '.join(map(str, values))}: {'; '.join(shares)}")
        if part == 0:
            parts += plot.words(0.1, 74, "clear faults found")
            parts += plot.words(0.1, 14, "clean lifters blamed")
    alt = f"Clear faults found and clean lifters blamed. {'; '.join(sentences)}."
    return chart(parts, size, alt, plots=len(TRIED))
