"""Which plates make a load, which loads can be made, and how to warm up to one."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from squatlab import tables
from squatlab.questions.typed_numbers import MASSES
from squatlab.ranges import number_within, shown, whole_within

STRAP_HELD = 0.80
"""Load with a strap-held or padded bar, of the usual one [common-practice]."""

EMPTY_BAR_REPETITIONS = 8
"""Repetitions of the first warm-up set, with the empty bar [teaching-value]."""

WARM_UP = ((0.40, 5), (0.55, 4), (0.70, 3), (0.85, 2))
"""Share of the work load and repetitions of each warm-up set after the
empty bar [teaching-value]."""


@dataclass(frozen=True)
class Loading:
    """Say what goes on the bar: the total and the plates of one side.

    ``total`` and ``side`` are in ``unit``; plates from the inside out.
    """

    total: float
    side: tuple[float, ...]
    unit: str

    @property
    def total_kg(self) -> float:
        """Return the total in kilograms, for ``Bar``."""
        return self.total * MASSES[self.unit]

    def __str__(self) -> str:
        if not self.side:
            return f"{self.total:g} {self.unit}: no plates"
        plates = " + ".join(f"{plate:g}" for plate in self.side)
        return f"{self.total:g} {self.unit}: {plates} on each side"


@dataclass(frozen=True)
class PlateSet:
    """Hold the plates of a gym: pairs of each, the bar and one collar.

    ``pairs`` is ((mass, number of pairs), …); every mass in ``unit``,
    "kg" or "lb". Loads are the same on both sides. Raises ValueError for
    an unknown unit, a mass that is not positive, or a plate twice.
    """

    unit: str
    pairs: tuple[tuple[float, int], ...]
    bar: float
    collar: float = 0.0

    def __post_init__(self) -> None:
        if self.unit not in MASSES:
            raise ValueError(f"the unit of the plates is {self.unit!r}; choose kg or lb")
        number_within("the bar's mass", self.bar, 1, 100, self.unit)
        number_within("one collar's mass", self.collar, 0, 10, self.unit)
        for mass, pairs in self.pairs:
            number_within("a plate's mass", mass, 0.1, 110, self.unit)
            whole_within(f"the number of pairs of {mass:g} {self.unit}", pairs, 0, 20, "pairs")
        masses = [mass for mass, _ in self.pairs]
        if len(set(masses)) < len(masses):
            raise ValueError("a plate is listed twice; list it once with its number of pairs")
        heaviest_first = tuple(sorted(self.pairs, reverse=True))
        object.__setattr__(self, "pairs", heaviest_first)

    @classmethod
    def of(cls, unit: str = "kg", bar: str = "bar", collar: float | None = None) -> PlateSet:
        """Return a usual gym's set in "kg" or "lb" from data/plates.csv.

        ``bar`` is "bar" or "women's bar"; ``collar`` the mass of one
        collar in the same unit, if it is to be counted.
        """
        rows = [
            row for row in tables.read("plates") if isinstance(unit, str) and row["set"] == unit
        ]
        if not rows:
            raise ValueError(f"there is no set of plates in {shown(unit)}; choose kg or lb")
        single = {row["item"]: float(row["mass"]) for row in rows if row["item"] != "plate"}
        if bar not in single or bar == "collar":
            bars = ", ".join(name for name in single if name != "collar")
            raise ValueError(f"there is no bar called {bar!r}; choose one of {bars}")
        plates = (row for row in rows if row["item"] == "plate")
        pairs = tuple((float(row["mass"]), int(row["pairs"])) for row in plates)
        return cls(unit, pairs, single[bar], single["collar"] if collar is None else collar)

    @property
    def empty(self) -> float:
        """Return the mass of bar and both collars, in the set's unit."""
        return float(_exact(self.bar) + 2 * _exact(self.collar))

    @cached_property
    def _sides(self) -> dict[Fraction, tuple[float, ...]]:
        """Return every mass of one side with the fewest plates that make it.

        Of two ways with as many plates the one with the heavier inner
        plates wins. Taking the heaviest plate that fits is not enough: a
        gym with one pair of 25, none of 5 and two of 20 makes 40 only as
        20 + 20.
        """
        best: dict[Fraction, tuple[float, ...]] = {Fraction(0): ()}
        # Plate by plate, the heaviest first: every side so far with none, one, two … of it.
        for mass, pairs in self.pairs:
            with_mass = dict(best)
            for lighter, side in best.items():
                for count in range(1, int(pairs) + 1):
                    longer = (*side, *(mass,) * count)
                    total = lighter + count * _exact(mass)
                    if total not in with_mass or _order(longer) < _order(with_mass[total]):
                        with_mass[total] = longer
            best = with_mass
        return best

    @cached_property
    def loads(self) -> tuple[float, ...]:
        """Return every total that can be loaded, lightest first."""
        empty = _exact(self.bar) + 2 * _exact(self.collar)
        return tuple(sorted(float(empty + 2 * side) for side in self._sides))

    def load(self, total: float) -> Loading:
        """Return the plates that make a total exactly, with the fewest.

        ``total`` is in the set's unit and includes bar and collars.
        Raises ValueError that names the nearest loads if it cannot be.
        """
        self._within_reach(total)
        side = (_exact(total) - _exact(self.bar)) / 2 - _exact(self.collar)
        if side not in self._sides:
            below, above = self.neighbours(total)
            raise ValueError(
                f"{total:g} {self.unit} cannot be loaded with these plates; "
                f"the nearest loads are {below:g} and {above:g} {self.unit}"
            )
        return Loading(float(total), self._sides[side], self.unit)

    def neighbours(self, total: float) -> tuple[float, float]:
        """Return the nearest loads not above and not below a total."""
        self._within_reach(total)
        below = max(load for load in self.loads if load <= total)
        above = min(load for load in self.loads if load >= total)
        return below, above

    def nearest(self, total: float) -> Loading:
        """Return the loading nearest to a total; the lighter of two."""
        below, above = self.neighbours(total)
        return self.load(below if total - below <= above - total else above)

    def at_most(self, total: float) -> Loading:
        """Return the heaviest loading that is not above a total."""
        return self.load(self.neighbours(min(total, self.loads[-1]))[0])

    def _within_reach(self, total: float) -> None:
        """Raise ValueError for a total below the empty bar or above all plates."""
        number_within("the load", total, -1e6, 1e6, self.unit)
        if not total >= self.loads[0]:
            raise ValueError(
                f"{total:g} {self.unit} is less than bar and collars, "
                f"{self.empty:g} {self.unit}; take a lighter bar, or work with a goblet squat"
            )
        if not total <= self.loads[-1]:
            raise ValueError(
                f"{total:g} {self.unit} is more than this set can load, "
                f"{self.loads[-1]:g} {self.unit}; add plates or choose a lighter load"
            )


class LoadedSet(NamedTuple):
    """Hold a set: what is on the bar, and how often it is lifted."""

    loading: Loading
    repetitions: int


def warm_up(plates: PlateSet, work: float) -> tuple[LoadedSet, ...]:
    """Return the warm-up sets to a work load.

    The empty bar for 8, then 40, 55, 70 and 85 % of the work load
    [teaching-value], each rounded down to what can be loaded; a step no
    heavier than the one before is left out. ``work`` must be loadable.
    """
    plates.load(work)
    empty = plates.loads[0]
    if not empty < work:
        return ()
    steps = [LoadedSet(plates.load(empty), EMPTY_BAR_REPETITIONS)]
    for share, repetitions in WARM_UP:
        # A share of a light work load can be less than the empty bar.
        loading = plates.at_most(max(_share(share, work), empty))
        if steps[-1].loading.total < loading.total < work:
            steps.append(LoadedSet(loading, repetitions))
    return tuple(steps)


def strap_held(plates: PlateSet, usual: float) -> Loading:
    """Return the load for a strap-held or padded bar.

    About 80 % of the usual load [common-practice], rounded down to what
    can be loaded. ``usual`` is in the set's unit. Raises ValueError if
    that is less than the empty bar.
    """
    return plates.at_most(_share(STRAP_HELD, usual))


def _exact(mass: float) -> Fraction:
    """Return the mass as written in decimals: 1.1 + 2.2 is then 3.3."""
    return Fraction(str(mass))


def _share(share: float, mass: float) -> float:
    """Return a share of a load: 0.7 of 175 is 122.5, which `*` misses by a stray last bit."""
    return float(_exact(share) * _exact(mass))


def _order(side: tuple[float, ...]) -> tuple[int, tuple[float, ...]]:
    """Return what is least for the best way to load a side: few plates, heavy ones inside."""
    return len(side), tuple(-plate for plate in side)
