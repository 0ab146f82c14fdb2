"""The catalogue of faults: what is seen, how large is large, what to say.

An instructor may change sizes and words in ``data/faults.csv`` and
``data/advice.csv`` without touching Python.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.ranges import numbers, shown

SIZES = ("slight", "clear", "gross")
"""The three sizes, of severity 1, 2 and 3; below slight is no fault."""

TRACE = 1e-9
"""A severity this near below a size is of that size, whatever its last bit."""

TIERS = {1: "hips and spine", 2: "knees and depth", 3: "feet and bar path", 4: "head and tempo"}
"""The tiers by what goes wrong there, first to last [common-practice]."""


class Look(NamedTuple):
    """Say how a fault is looked at: when, round which point, how much, m.

    ``when`` names a group of moments; without a ``point`` it is the middle
    of the lifter.
    """

    when: str
    point: str
    height_m: float


@dataclass(frozen=True)
class Fault:
    """Hold one row of the catalogue.

    ``slight``, ``clear`` and ``gross`` are in ``unit``; ``view`` is
    where a camera must stand to see it: "side", "front" or "any".
    ``stop`` is the size at which a set under load is stopped, or "".
    ``short`` is its name in a word or two, ``lines`` the measured lines on
    which it shows, ``mistaken_for`` the faults it is taken for, most often
    first.
    """

    id: str
    tier: int
    name: str
    seen: str
    look_for: str
    measured_as: str
    unit: str
    view: str
    slight: float
    clear: float
    gross: float
    smaller_is_worse: bool
    stop: str
    short: str
    lines: tuple[str, ...]
    look: Look
    mistaken_for: tuple[str, ...]
    source: str
    note: str

    @property
    def thresholds(self) -> tuple[float, float, float]:
        """Return where slight, clear and gross begin, in ``unit``."""
        return self.slight, self.clear, self.gross

    def severity(self, value: ArrayLike) -> ArrayLike:
        """Return how bad a value is: slight 1, clear 2, gross 3.

        Values (…) in ``unit``. Straight lines between the three sizes; the
        outer lines run on, and nothing is below 0. nan stays nan.
        """
        sign = -1.0 if self.smaller_is_worse else 1.0
        given = sign * numbers("the value", value)
        slight, clear, gross = (sign * size for size in self.thresholds)
        below = 1 + (given - slight) / (clear - slight)
        above = 2 + (given - clear) / (gross - clear)
        return np.maximum(np.where(given < clear, below, above), 0.0)[()]

    def value_at(self, severity: ArrayLike) -> ArrayLike:
        """Return the value, in ``unit``, that has a severity (…)."""
        given = numbers("severity", severity)
        below = self.slight + (given - 1) * (self.clear - self.slight)
        above = self.clear + (given - 2) * (self.gross - self.clear)
        return np.where(given < 2, below, above)[()]

    def size(self, value: ArrayLike) -> str | NDArray[np.str_]:
        """Return "slight", "clear" or "gross" for values (…), or ""."""
        severity = np.nan_to_num(self.severity(value))
        return np.array(["", *SIZES])[np.minimum(severity + TRACE, 3).astype(int)]

    def __str__(self) -> str:
        return self.name


class Advice(NamedTuple):
    """Hold what to say, what to do instead for now, and what to check."""

    cue: str
    regression: str
    check: str


def catalogue() -> dict[str, Fault]:
    """Return every fault by its id, in the order of the catalogue.

    Raises ValueError for a row whose sizes do not grow worse.
    """
    return dict(_catalogue())


@cache
def _catalogue() -> dict[str, Fault]:
    """Return the catalogue, read once: callers get copies."""
    catalogue = {}
    for row in tables.read("faults"):
        slight, clear, gross = (float(row[size]) for size in SIZES)
        smaller = row["direction"] == "smaller"
        if not (slight > clear > gross if smaller else slight < clear < gross):
            raise ValueError(
                f'faults.csv, fault "{row["fault"]}": slight {slight:g}, clear {clear:g} and gross '
                f"{gross:g} must grow worse in this order; {row['direction']} is worse"
            )
        catalogue[row["fault"]] = Fault(
            row["fault"],
            int(row["tier"]),
            row["name"],
            row["seen"],
            row["look_for"],
            row["measured_as"],
            row["unit"],
            row["view"],
            slight,
            clear,
            gross,
            smaller,
            row["stop"],
            row["short"],
            tuple(row["lines"].split(";")),
            Look(row["look_when"], row["look_at"], float(row["look_height_m"])),
            tuple(row["mistaken_for"].split()),
            row["source"],
            row["note"],
        )
    return catalogue


def fault(name: str) -> Fault:
    """Return the fault with this id.

    Raises ValueError for an unknown one, listing those there are.
    """
    known = _catalogue()
    if not isinstance(name, str) or name not in known:
        raise ValueError(
            f"there is no fault {shown(name)}{tables.closest(str(name), known) or '.'} "
            f"The faults: {', '.join(known)}"
        )
    return known[name]


@cache
def advice(name: str) -> Advice:
    """Return cue, regression and check for a fault [common-practice].

    Raises ValueError for an unknown fault or one without advice.
    """
    rows = [row for row in tables.read("advice") if row["fault"] == fault(name).id]
    if len(rows) != 1:
        raise ValueError(f"advice.csv has {len(rows)} rows for {name!r}; it must have one")
    return Advice(*(rows[0][column] for column in Advice._fields))
