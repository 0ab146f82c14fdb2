"""A map of what a lifter can hold, and of what stands in the way elsewhere."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.posture import OBSTACLES, Posture, problems
from squatlab.mechanics.trunk import Bar
from squatlab.show import palette
from squatlab.show.chart import LEFT, PAGE, Chart, depth_axis, depth_words, words

CELLS = 96
"""Postures tried along each axis."""

HELD = "can be held"

EDGE = np.array([*bytes.fromhex(palette.SOFT[1:]), 255], np.uint8).view(np.uint32)[0]
"""Colour of the line between two regions, four bytes as one number."""


@dataclass(frozen=True)
class Side:
    """Say what one axis of the map varies, and how far."""

    label: str
    low: float
    high: float


SIDES = {
    "shank": Side("Shank lean, ° from upright", 5, 45),
    "depth": Side("Depth of the thigh", -60, 30),
    "width": Side("Stance width between heels, cm", 15, 100),
    "turnout": Side("Turnout of the feet, °", 0, 45),
}


class FeasibleMap(Chart):
    """Map the postures that a lifter can hold over two of four quantities.

    ``across`` and ``up`` are "shank", "depth", "width" or "turnout".
    What stands in the way elsewhere is written in each region and told
    apart by its pattern. ``show`` draws a lifter's map, ``mark`` a
    posture. Raises ValueError for another name.
    """

    def __init__(
        self, across: str = "shank", up: str = "depth", size_px: tuple[int, int] = PAGE
    ) -> None:
        for name in (across, up):
            if name not in SIDES:
                raise ValueError(f"no axis {name!r}; choose from {', '.join(SIDES)}")
        x, y = SIDES[across], SIDES[up]
        super().__init__(x.label, y.label, size_px, left=112 if up == "depth" else LEFT)
        self.across, self.up = across, up
        self.axes.grid(visible=False)
        box = self.axes.get_window_extent()
        height = self.figure.bbox.height
        self._rows = slice(round(height - box.y1), round(height - box.y0))
        self._columns = slice(round(box.x0), round(box.x1))
        self.axes.set(xlim=(x.low, x.high), ylim=(y.low, y.high))
        for spine in ("left", "bottom"):
            self.moving(self.axes.spines[spine])
        words(self.axes, 1, 1.05, f"plain: {HELD}", ha="right", transform=self.axes.transAxes)
        for name, side, vertical in ((across, x, False), (up, y, True)):
            if name == "depth":
                depth_axis(self.axes, vertical)
                # Deep is down, as in the gym.
                if vertical:
                    self.axes.set_ylim(side.high, side.low)
        self._labels = [
            self.moving(words(self.axes, 0, 0, "", ha="center", visible=False)) for _ in OBSTACLES
        ]
        look = {"ms": 15, "mfc": palette.RED, "mec": "white", "mew": 2}
        self._dot = self.moving(self.axes.plot([], [], "D", **look)[0])
        self._name = self.moving(words(self.axes, 0, 0, "this squat", bold=True, visible=False))
        self._told, self._regions = "", np.zeros((CELLS, CELLS), int)

    def show(
        self,
        lifter: Lifter,
        bar: Bar,
        stance: Stance,
        thigh_deg: float = 0.0,
        shank_deg: float = 28.0,
    ) -> FeasibleMap:
        """Draw the map of a lifter, with what the axes do not vary given."""
        x, y = (
            np.linspace(side.low, side.high, CELLS) for side in (SIDES[self.across], SIDES[self.up])
        )
        grid = {self.across: x[None, :], self.up: y[:, None]}
        posture = _tried(lifter, bar, stance, thigh_deg, shank_deg, grid)
        self._regions = regions(posture, (CELLS, CELLS))
        found = self._name_regions(x, y)
        share = float(np.mean(self._regions == 0))
        self._told = (
            f"Map of {SIDES[self.across].label.lower()} against {SIDES[self.up].label.lower()}: "
            f"{100 * share:.0f} % of it {HELD}"
            + (f"; elsewhere: {', '.join(found)}." if found else ".")
        )
        self.alt = self._told
        return self

    def mark(self, across: float, up: float) -> FeasibleMap:
        """Mark one posture, in the axes' units, and return the chart."""
        self._dot.set_data([across], [up])
        low, high = self.axes.get_xlim()
        right = across < 0.4 * low + 0.6 * high
        step = 18 * (high - low) / self.axes.bbox.width * (1 if right else -1)
        self._name.set(position=(across + step, up), ha="left" if right else "right", visible=True)
        column, row = (
            round(float(np.interp(value, (side.low, side.high), (0, CELLS - 1))))
            for value, side in ((across, SIDES[self.across]), (up, SIDES[self.up]))
        )
        verdict = (HELD, *OBSTACLES)[self._regions[row, column]]
        x, y = (_spoken(n, v) for n, v in ((self.across, across), (self.up, up)))
        self.alt = f"{self._told} Marked: {x}, {y}: {verdict}."
        return self

    def mark_posture(self, shank_deg: float, thigh_deg: float) -> FeasibleMap:
        """Mark a posture by its angles as `balance` takes them.

        ``thigh_deg`` is positive above level; the map's own axis counts
        depth. Raises ValueError on a map of anything else.
        """
        at = {"shank": shank_deg, "depth": -thigh_deg}
        if {self.across, self.up} != set(at):
            raise ValueError(
                f"this map shows {self.across} and {self.up}; mark a place on it with .mark"
            )
        return self.mark(at[self.across], at[self.up])

    def paint(self, pixels: NDArray[np.uint8]) -> None:
        """Paint every region's pattern inside the axes."""
        ground = pixels[self._rows, self._columns]
        height, width = ground.shape[:2]
        numbers = self._regions[:: -1 if self.up != "depth" else 1]
        rows, columns = (np.arange(n) * CELLS // n for n in (height, width))
        every_row, every_column = np.ogrid[:height, :width]
        sheets = _patterns(height, width)
        numbers = numbers[np.ix_(rows, columns)]
        painted = ground.view(np.uint32)[..., 0]
        painted[:] = sheets[numbers, every_row, every_column]
        # Patterns are pale so that words stand on them: what tells regions apart is their edge.
        painted[1:][numbers[1:] != numbers[:-1]] = EDGE
        painted[:, 1:][numbers[:, 1:] != numbers[:, :-1]] = EDGE

    def _name_regions(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> list[str]:
        """Write each obstacle's name where it fits best; return those met."""
        from scipy.ndimage import uniform_filter

        cell = np.array([s.stop - s.start for s in (self._rows, self._columns)]) / CELLS
        met, taken = [], np.zeros((CELLS, CELLS), bool)
        named = list(enumerate(zip(OBSTACLES, self._labels, strict=True), 1))
        # The largest region is named first: where two names meet, it keeps its own.
        named.sort(key=lambda one: -np.count_nonzero(self._regions == one[0]))
        for number, (name, label) in named:
            inside = (self._regions == number).astype(float)
            if not inside.any():
                label.set_visible(False)
                continue
            met.append(name)
            inside[taken] = 0.0
            best, place = 0.0, (slice(0), slice(0))
            for text, turn in ((two_lines(name), 0), (name, 90)):
                lines = text.split("\n")
                box = np.array([24 * len(lines), 9.5 * max(map(len, lines))])
                size = np.maximum(1, np.round((box[::-1] if turn else box) / cell)).astype(int)
                # Which share of a box round here lies in the region, and of one twice as large.
                share = uniform_filter(inside, size, mode="constant")
                roomy = uniform_filter(inside, 2 * size, mode="constant")
                row, column = np.unravel_index(int(np.argmax(share + 0.3 * roomy)), share.shape)
                # Upright words are easier to read: turned ones must fit much better.
                if share[row, column] < (max(best + 0.3, 0.95) if turn else 0.0):
                    continue
                best = float(share[row, column])
                # Kept off the axes, where the words would cover the scale.
                row, column = (
                    min(max(at, n // 2), CELLS - 1 - n // 2)
                    for at, n in zip((row, column), size, strict=True)
                )
                label.set(position=(x[column], y[row]), text=text, rotation=turn)
                place = tuple(
                    slice(at - n // 2, at + n // 2 + 1)
                    for at, n in zip((row, column), size, strict=True)
                )
            shown = best > 0.6 and not taken[place].any()
            label.set_visible(shown)
            taken[place] |= shown
        return met


def _tried(
    lifter: Lifter,
    bar: Bar,
    stance: Stance,
    thigh_deg: float,
    shank_deg: float,
    grid: dict[str, NDArray[np.float64]],
) -> Posture:
    thigh = -grid["depth"] if "depth" in grid else thigh_deg
    feet = {}
    if "width" in grid:
        feet["heel_width_m"] = grid["width"] / 100
    if "turnout" in grid:
        feet["turnout_deg"] = grid["turnout"]
    return balance(lifter, bar, replace(stance, **feet), thigh, grid.get("shank", shank_deg))


def regions(posture: Posture, shape: tuple[int, ...]) -> NDArray[np.int64]:
    """Return 0 where a posture can be held, else which obstacle is first.

    Counted from 1 in ``OBSTACLES``.
    """
    number = np.zeros(shape, int)
    for place, problem in reversed(list(enumerate(problems(posture), start=1))):
        number[np.broadcast_to(problem.present, shape)] = place
    return number


def two_lines(name: str) -> str:
    """Return words broken in the middle."""
    parts = name.split(" ")
    half = (len(parts) + 1) // 2
    return "\n".join((" ".join(parts[:half]), " ".join(parts[half:])))


def _spoken(name: str, value: float) -> str:
    number = depth_words(value) if name == "depth" else f"{value:g}"
    return f"{SIDES[name].label.split(',')[0].lower()} {number}"


@cache
def _patterns(height: int, width: int) -> NDArray[np.uint32]:
    """Return one painted sheet for each region: (region, row, column).

    Painted here and not hatched by the chart, because a hatch costs a
    slider's whole allowance.
    """
    row, column = np.mgrid[:height, :width]
    strokes = (
        np.zeros((height, width), bool),
        (row % 12 < 2) | (column % 12 < 2),
        (row % 10 < 3) & (column % 10 < 3),
        (row + column) % 12 < 2,
        row % 10 < 2,
        column % 10 < 2,
        (row - column) % 12 < 2,
        ((row - column) % 24 < 2) | ((row + column) % 24 < 2),
    )
    grounds = ("ffffff", "eceef1", "eceef1", "fdecd0", "e9e4f6", "f6e3f1", "dfe9fe", "fbe3e5")
    inks = ("ffffff", "c3c9d1", "c3c9d1", "f6bf73", "c9b8ea", "dcb6d5", "aac6fd", "f2b1b7")
    ground, ink = (
        np.array([list(bytes.fromhex(f"{colour}ff")) for colour in colours], np.uint8)
        for colours in (grounds, inks)
    )
    sheets = np.where(np.array(strokes)[..., None], ink[:, None, None], ground[:, None, None])
    # Four bytes as one number: a quarter of the work when a slider moves.
    return sheets.view(np.uint32)[..., 0]
