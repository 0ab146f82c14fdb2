"""Read every fault in every repetition of a view, block by block."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import faults
from squatlab.review.errors import CannotTell
from squatlab.review.findings import Seen
from squatlab.review.measurers import MEASURERS, Measurer
from squatlab.review.quantities import Quantities
from squatlab.review.uncertainty import Estimate, Stack
from squatlab.review.view import LEG, View


class ViewReader:
    """Read the repetitions of one view, block by block.

    Only what was read of the latest block is kept: memory stays bounded.
    """

    def __init__(self, view: View, number: int, estimate: Estimate | None) -> None:
        self.view, self.number, self.estimate = view, number, estimate
        self._ends = np.array([block.end for block in view.blocks])
        self._part: tuple[int, list[Quantities]] = (-1, [])
        self._stacked: tuple[int, Stack | None, list[Quantities]] = (-1, None, [])

    def frames(self, repetition: int) -> NDArray[np.intp]:
        """Return which frames of the view those of a repetition's block are."""
        return self.view.blocks[self._block(repetition)].frames

    def quantities(self, repetition: int) -> Quantities:
        """Return what reads a repetition (from 0), in the frames of its block."""
        index = self._block(repetition)
        block = self.view.blocks[index]
        if self._part[0] != index:
            part = self.view.cut(block)
            self._part = index, [Quantities(part, one) for one in part.repetitions]
        return self._part[1][repetition - block.first]

    def stacked(self, repetition: int) -> tuple[Stack, Quantities]:
        """Return all disturbed pictures of a repetition's block, and what reads it there."""
        index = self._block(repetition)
        block = self.view.blocks[index]
        if self._stacked[0] != index:
            self._stacked = (-1, None, [])  # the old one goes before the new one is made
            stack = self.estimate.stack(self.number, block)
            readings = [Quantities(stack.view, one) for one in stack.view.repetitions]
            self._stacked = index, stack, readings
        _, stack, readings = self._stacked
        return stack, readings[repetition - block.first]

    def _block(self, repetition: int) -> int:
        return int(np.searchsorted(self._ends, repetition, side="right"))


class RepetitionValue(NamedTuple):
    """Hold a fault's value in one repetition, or nan and why it is not told."""

    value: float
    reason: str = ""


def value_of(measurer: Measurer, quantities: Quantities) -> RepetitionValue:
    """Return what a measurer reads in the repetition of these quantities."""
    try:
        value = float(measurer(quantities, quantities.repetition).value)
    except CannotTell as reason:
        return RepetitionValue(math.nan, str(reason))
    if math.isnan(value):
        return RepetitionValue(math.nan, "a point it rests on is not seen when it counts")
    return RepetitionValue(value)


class ViewReadings(NamedTuple):
    """Hold what is read in all repetitions of a view, and when they were.

    ``faults`` has, by a fault's id, its value in each repetition.
    """

    faults: dict[str, list[RepetitionValue]]
    seen: list[Seen]


def read_view(reader: ViewReader) -> ViewReadings:
    """Read every fault that a view shows, in each of its repetitions."""
    view = reader.view
    shown = [
        fault.id
        for fault in faults.catalogue().values()
        if view.kind == "3d" or fault.view in ("any", view.kind)
    ]
    readings = ViewReadings({name: [] for name in shown}, [])
    # Repetition by repetition, so that only one block of them is in memory.
    for repetition in range(len(view.repetitions)):
        quantities = reader.quantities(repetition)
        readings.seen.append(_seen(quantities, reader.frames(repetition)))
        for name, values in readings.faults.items():
            values.append(value_of(MEASURERS[name], quantities))
    return readings


def _seen(quantities: Quantities, numbers: NDArray[np.intp]) -> Seen:
    """Return when a repetition was, and how far the knee bent in it.

    ``numbers`` are those of the block's frames in the whole view.
    """
    view, repetition = quantities.view, quantities.repetition
    times, frames = view.times, (repetition.start, repetition.bottom, repetition.end)
    flexion, deepest = math.nan, math.nan
    if view.kind in ("side", "3d") and all(joint in view for joint in LEG[:3]):
        bent = quantities.knee_flexion.series[view.frames_of(repetition)]
        if not np.isnan(bent).all():
            at = int(np.nanargmax(bent))
            flexion, deepest = float(bent[at]), float(times[repetition.start + at])
    return Seen(
        view.kind,
        *map(int, numbers[list(frames)]),
        *map(float, times[list(frames)]),
        flexion,
        deepest,
    )
