"""A map of what a lifter can hold, and of what stands in the way elsewhere.

The mechanics balances a grid of postures at once; each cell gets the kind
of its first obstacle, and each region its name where it fits best. The
explorer of 04 and `charts.feasible_map` show it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from math import ceil
from textwrap import wrap
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.posture import OBSTACLES, Posture, problems
from squatlab.mechanics.trunk import Bar
from squatlab.show import palette
from squatlab.show.moving import Moving, with_axes
from squatlab.show.plot import PAGE, TEXT, Axis, Chart, Plot, axis, box_of, chart, depth_axis
from squatlab.show.plot import depth_words as depth_in_words
from squatlab.show.primitives import CHARACTER, Text, Tiles
from squatlab.show.scene import positions_of
from squatlab.units import BODY_LENGTH, either

FINE, COARSE = 128, 48
"""Postures tried along each axis: of a still, and of a map that follows a slider."""

HELD = "can be held"

BREAKS = (14, 8)
"""Characters in a line of a region's name, in the order in which breaks are tried."""

LINES = 4
"""Most lines that a region's name takes."""

LEADING = 17.0
"""From one line of a name to the next, picture units."""

ENOUGH = 0.6
"""Share of a name's box that must lie in its region for the name to be written."""


@dataclass(frozen=True)
class MapQuantity:
    """Say what one axis of the map varies, how it is named and shown."""

    name: str
    axis: Axis
    low: float
    high: float


WIDTHS = (15, 100), (6, 40)
"""Between which stance widths is mapped, cm or in."""


def quantities() -> dict[str, MapQuantity]:
    """Return what a map can vary, in the units chosen."""
    widths = either(*WIDTHS)
    stances = axis(f"Stance width between heels, {BODY_LENGTH.unit}", *widths)
    return ANGLES | {"width": MapQuantity("stance width between heels", stances, *widths)}


DEPTH = depth_axis(30, -60)._replace(label="Depth of the thigh")
"""The ticks say above or below level; the map has its own words beside the label."""

ANGLES = {
    "shank": MapQuantity("shin lean", axis("Shin lean, ° from upright", 5, 45), 5, 45),
    # Deep is down, as in the gym.
    "depth": MapQuantity("depth of the thigh", DEPTH, -60, 30),
    "turnout": MapQuantity("turnout of the feet", axis("Turnout of the feet, °", 0, 45), 0, 45),
}


class RegionName(NamedTuple):
    """Hold where a name stands, its centre in cells, and its lines."""

    row: float
    column: float
    lines: list[str]


class Regions(NamedTuple):
    """Hold a map: the kind of every cell (row, column) and where its names stand.

    Rows run with the second quantity from its lowest value. ``names`` has
    one for each obstacle, None where it is not written.
    """

    kinds: NDArray[np.uint8]
    names: tuple[RegionName | None, ...]


class FeasibleMap:
    """Map the postures that a lifter can hold over two of four quantities.

    ``across`` and ``up`` are "shank", "depth", "width" or "turnout".
    What stands in the way elsewhere is written in each region and told
    apart by its pattern. Raises ValueError for another name.
    """

    def __init__(
        self,
        across: str = "shank",
        up: str = "depth",
        size: tuple[float, float] = PAGE,
        cells: int = FINE,
    ) -> None:
        known = quantities()
        for name in (across, up):
            if name not in known:
                raise ValueError(f"no axis {name!r}; choose from {', '.join(known)}")
        self.across, self.up, self.size, self.cells = across, up, size, cells
        self.quantities = x, y = known[across], known[up]
        box = box_of(size, left=112 if up == "depth" else 62)
        self.plot = Plot(x.axis, y.axis, box)
        key = Text(complex(box[2], box[1] - 18), f"plain: {HELD}", TEXT, "end")
        self.stage = (*self.plot.frame(grid=False), key)

    def of(
        self,
        lifter: Lifter,
        bar: Bar,
        stance: Stance,
        thigh_deg: float = 0.0,
        shank_deg: float = 28.0,
    ) -> Chart:
        """Return the map of one lifter, with what the axes do not vary given."""
        (regions,) = self._regions(lifter, bar, stance, thigh_deg, shank_deg)
        return chart(self.stage, self.size, self._summary(regions), self._drawn([regions]))

    def marked(
        self,
        posture: Posture,
        across: ArrayLike,
        up: ArrayLike,
    ) -> Chart:
        """Return the map of a posture's lifter, bar and feet with one place marked.

        Values are in the axes' units; anything may be an array (positions,).
        """
        maps = self._regions(posture.lifter, posture.bar, posture.stance)
        x, y = (np.atleast_1d(each) for each in np.broadcast_arrays(across, up))
        count = max(len(maps), x.size)
        x, y = np.broadcast_to(x, count), np.broadcast_to(y, count)
        summaries = [self._summary(regions) for regions in maps]
        alt = []
        for position in range(count):
            # One map for all positions, or one each.
            which = position % len(maps)
            marked = self._mark_words(maps[which], x[position], y[position])
            alt.append(f"{summaries[which]} {marked}")
        sideways = self.quantities[0]
        right = x < 0.4 * sideways.low + 0.6 * sideways.high
        marks = [
            *self._drawn(maps),
            *self.plot.mark(x, y, palette.RED),
            *self.plot.beside(x, y, "this squat", right),
        ]
        return chart(self.stage, self.size, alt, marks, count)

    def _regions(
        self,
        lifter: Lifter,
        bar: Bar,
        stance: Stance,
        thigh_deg: float = 0.0,
        shank_deg: float = 28.0,
    ) -> list[Regions]:
        """Return the map of every position: one, or as many as the nouns' arrays have."""
        # Positions, rows and columns are three axes of one computation.
        lifter, bar, stance = (with_axes(noun, 2) for noun in (lifter, bar, stance))
        x, y = (np.linspace(q.low, q.high, self.cells) for q in self.quantities)
        grid = {self.across: x[None, :], self.up: y[:, None]}
        if "width" in grid:
            stance = replace(stance, heel_width_m=BODY_LENGTH.si(grid["width"]))
        if "turnout" in grid:
            stance = replace(stance, turnout_deg=grid["turnout"])
        thigh = -grid["depth"] if "depth" in grid else thigh_deg
        posture = balance(lifter, bar, stance, thigh, grid.get("shank", shank_deg))
        count = max(positions_of(posture) // self.cells**2, 1)
        kinds = obstacles(posture, (count, self.cells, self.cells)).astype(np.uint8)
        return [Regions(kind, _names(kind, self.plot.box)) for kind in kinds]

    def _drawn(self, maps: list[Regions]) -> list[Moving]:
        """Return one map, or one for each position, with the names of its regions."""
        left, top, right, bottom = self.plot.box
        # Rows are painted from the top: where the axis runs upward they are turned round.
        vertical = self.quantities[1].axis
        upward = vertical.start < vertical.end
        cells = np.stack([regions.kinds[::-1] if upward else regions.kinds for regions in maps])
        corners = complex(left, top), complex(right, bottom)
        parts: list[Moving] = [Tiles(corners, cells if len(maps) > 1 else cells[0])]
        wide, high = (right - left) / self.cells, (bottom - top) / self.cells
        for number in range(len(OBSTACLES)):
            names = [regions.names[number] or NO_NAME for regions in maps]
            for line in range(LINES):
                words, places = [], []
                for name in names:
                    row = self.cells - name.row if upward else name.row
                    # Lines are centred on the name's place; 4.5 is half a letter's height.
                    down = LEADING * (line - 0.5 * (len(name.lines) - 1)) + 4.5
                    places.append(complex(left + name.column * wide, top + row * high + down))
                    words.append(name.lines[line] if line < len(name.lines) else "")
                if any(words):
                    at = np.array(places) if len(maps) > 1 else places[0]
                    parts.append(Text(at, words if len(maps) > 1 else words[0], TEXT, "middle"))
        return [*parts, *self.plot.edges()]

    def _summary(self, regions: Regions) -> str:
        """Return a map in words: how much of it can be held, and what is met elsewhere."""
        share = 100 * float(np.mean(regions.kinds == 0))
        met = [name for number, name in enumerate(OBSTACLES, 1) if (regions.kinds == number).any()]
        names = [quantity.name for quantity in self.quantities]
        elsewhere = f"; elsewhere: {', '.join(met)}." if met else "."
        return f"Map of {names[0]} against {names[1]}: {share:.0f} % of it {HELD}{elsewhere}"

    def _mark_words(self, regions: Regions, x: float, y: float) -> str:
        """Return where the mark is and what is so there, in words."""
        across, up = self.quantities
        verdict = (HELD, *OBSTACLES)[regions.kinds[self._cell(y, up), self._cell(x, across)]]
        values = f"{_in_words(self.across, across, x)}, {_in_words(self.up, up, y)}"
        return f"Marked: {values}: {verdict}."

    def _cell(self, value: float, quantity: MapQuantity) -> int:
        """Return in which row or column of cells a value is; the nearest beyond the ends."""
        ends = quantity.low, quantity.high
        return round(float(np.interp(value, ends, (0, self.cells - 1))))


NO_NAME = RegionName(0.0, 0.0, [])
"""Stands where a region's name is not written."""


def _in_words(name: str, quantity: MapQuantity, value: float) -> str:
    """Return a quantity with its value."""
    return f"{quantity.name} {depth_in_words(value) if name == 'depth' else f'{value:g}'}"


def obstacles(posture: Posture, shape: tuple[int, ...]) -> NDArray[np.int64]:
    """Return 0 where a posture can be held, else which obstacle is first.

    Counted from 1 in ``OBSTACLES``.
    """
    number = np.zeros(shape, int)
    # The last first, so that the first obstacle is what stays.
    for place, problem in reversed(list(enumerate(problems(posture), start=1))):
        number[np.broadcast_to(problem.present, shape)] = place
    return number


class _NameBox(NamedTuple):
    """Hold a name's middle cell, how many cells its box has, and its lines."""

    row: int
    column: int
    rows: int
    columns: int
    lines: list[str]

    def with_border(self) -> tuple[slice, slice]:
        """Return the rows and columns of the box and one more cell on every side."""
        half_rows, half_columns = self.rows // 2, self.columns // 2
        return (
            slice(max(0, self.row - half_rows - 1), self.row + half_rows + 2),
            slice(max(0, self.column - half_columns - 1), self.column + half_columns + 2),
        )


def _names(kinds: NDArray[np.uint8], box: tuple) -> tuple[RegionName | None, ...]:
    """Return where each obstacle's name fits best in its region.

    ``kinds`` is a map (row, column), ``box`` its edges in picture units.
    """
    left, top, right, bottom = box
    cells = kinds.shape[0]
    cell_height, cell_width = (bottom - top) / cells, (right - left) / cells
    names: list[RegionName | None] = [None] * len(OBSTACLES)
    occupied = np.zeros(kinds.shape, bool)
    counts = np.bincount(kinds.ravel(), minlength=len(OBSTACLES) + 1)[1:]
    # The largest region is named first: where two names meet, it keeps its own.
    for number in np.argsort(-counts, kind="stable").tolist():
        if not counts[number]:
            continue
        region = (kinds == number + 1) & ~occupied
        label = _best_box(OBSTACLES[number], region, cell_height, cell_width)
        if label is None or occupied[label.with_border()].any():
            continue
        occupied[label.with_border()] = True
        names[number] = RegionName(label.row + 0.5, label.column + 0.5, label.lines)
    return tuple(names)


def _best_box(
    name: str, region: NDArray[np.bool_], cell_height: float, cell_width: float
) -> _NameBox | None:
    """Return where a name fits best in a region (row, column), None if nowhere.

    Sizes of a cell in picture units.
    """
    inside = _Counted(region)
    best_share, best = ENOUGH, None
    for lines in _broken(name):
        # The name's box: as high as its lines, as wide as its longest, and a tenth more,
        # because the width of letters is an average.
        longest = 1.1 * CHARACTER * TEXT * max(map(len, lines))
        rows = max(1, ceil(LEADING * len(lines) / cell_height))
        columns = max(1, ceil(longest / cell_width))
        # Best is where most of the box is inside, and then where there is room around it.
        share, roomy = inside.share(rows, columns), inside.share(2 * rows, 2 * columns)
        row, column = np.unravel_index(int(np.argmax(share + 0.3 * roomy)), share.shape)
        # Few lines are easier to read: more of them must fit much better.
        needed = best_share if best is None else min(best_share + 0.3, 0.95)
        if share[row, column] < needed:
            continue
        best_share = float(share[row, column])
        # Kept off the axes, where the words would cover the scale.
        row = min(max(int(row), rows // 2), region.shape[0] - 1 - rows // 2)
        column = min(max(int(column), columns // 2), region.shape[1] - 1 - columns // 2)
        best = _NameBox(row, column, rows, columns, lines)
    return best


@cache
def _broken(name: str) -> list[list[str]]:
    """Return a region's name in lines, in the order in which breaks are tried."""
    broken = [wrap(name, characters) for characters in BREAKS]
    return [lines for lines in broken if len(lines) <= LINES]


class _Counted:
    """Count the cells that lie in boxes of a mask (row, column).

    From the sums over all rows above and columns before, four numbers
    give the count of any box (a summed-area table).
    """

    def __init__(self, mask: NDArray[np.bool_]) -> None:
        self._sums = np.zeros(np.add(mask.shape, 1), np.int32)
        self._sums[1:, 1:] = mask.cumsum(axis=0).cumsum(axis=1)

    def share(self, rows: int, columns: int) -> NDArray[np.float64]:
        """Return which share of a box round each cell is in the mask (row, column).

        What of a box lies beyond the edge is not in it.
        """
        all_rows, all_columns = np.subtract(self._sums.shape, 1).tolist()
        top, bottom = _box_ends(rows, all_rows)
        left, right = _box_ends(columns, all_columns)
        in_rows = self._sums[bottom] - self._sums[top]
        return (in_rows[:, right] - in_rows[:, left]) / (rows * columns)


@cache
def _box_ends(length: int, cells: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return where a box round each cell of a row begins and ends, inside the row."""
    first = np.arange(cells) - length // 2
    return np.clip(first, 0, cells), np.clip(first + length, 0, cells)
