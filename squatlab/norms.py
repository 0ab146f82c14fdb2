"""How real lifters move: quartiles of open recordings, and published values.

A norm says how people are, not how they should be. For what is in no row there
is no open norm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from squatlab import tables, units

NO_NORM = "no open norm"
"""What is said of a quantity that no row of ``data/norms.csv`` has."""

QUARTILES, SPREAD, MEAN, SHARE = "quartiles", "mean ± 0.67 SD", "mean", "share"
STATISTICS = (QUARTILES, SPREAD, MEAN, SHARE)
"""What ``lower``, ``middle`` and ``upper`` of a norm are. Published means with
an SD give the quartiles of a normal distribution, mean ± 0.67 SD."""


@dataclass(frozen=True)
class Norm:
    """Hold how one group of real lifters reads in one quantity.

    ``lower`` and ``upper`` enclose the middle half, nan where only the
    ``middle`` is known: a median, or a published mean. ``people`` counts
    people, not ``repetitions`` (0 where that is not published). ``unit``
    is the quantity's; a quantity may be a fault's id.
    """

    quantity: str
    group: str
    lower: float
    middle: float
    upper: float
    unit: str
    people: int
    repetitions: int
    statistic: str
    source: str
    note: str

    @property
    def has_spread(self) -> bool:
        """Return whether the middle half is known."""
        return not math.isnan(self.lower)

    def holds(self, value: float) -> bool:
        """Return whether a value lies within the middle half."""
        return self.lower <= value <= self.upper

    @property
    def brief(self) -> str:
        """Return it in so few words that they stand below a scale."""
        lower, middle, upper = self._limits
        if self.has_spread:
            return f"half of {self.people} {self.group}: {lower} to {upper}{self._unit}"
        return f"{self.people} {self.group}: {middle}{self._unit} on average"

    def __str__(self) -> str:
        lower, middle, upper = self._limits
        if self.has_spread:
            span = f"between {lower} and {upper}{self._unit}"
            return f"half of {self.people} {self.group} measured {span}"
        return f"{self.people} {self.group} measured {middle}{self._unit} on average"

    @property
    def _unit(self) -> str:
        unit = units.unit_of_table(self.unit)
        return unit if unit == "°" else f" {unit}"

    @property
    def _limits(self) -> tuple[str, str, str]:
        lower, middle, upper = (
            units.limit_of_table(value, self.unit)
            for value in (self.lower, self.middle, self.upper)
        )
        return lower, middle, upper


@cache
def norms() -> tuple[Norm, ...]:
    """Return every norm, in the order of the table.

    Raises ValueError for a row whose quartiles are out of order or whose
    statistic is unknown.
    """
    return tuple(_norm(row) for row in tables.read("norms"))


def norms_of(quantity: str) -> tuple[Norm, ...]:
    """Return the norms of a quantity or fault, those of most people first.

    Empty where there is no open norm.
    """
    norms_here = [norm for norm in norms() if norm.quantity == quantity]
    return tuple(sorted(norms_here, key=lambda norm: -norm.people))


def norm_in_words(quantity: str) -> str:
    """Return the norm of most people in words, or "no open norm"."""
    norms_here = norms_of(quantity)
    return str(norms_here[0]) if norms_here else NO_NORM


def norms_in_words(quantity: str) -> str:
    """Return every norm in words, that of most people first, or "no open norm"."""
    return "; ".join(map(str, norms_of(quantity))) or NO_NORM


def norm_sentence(quantity: str) -> str:
    """Return the norm of most people as a sentence to put behind others, or ""."""
    words = norm_in_words(quantity) if norms_of(quantity) else ""
    return f" {words[0].upper()}{words[1:]}." if words else ""


def _norm(row: dict[str, str]) -> Norm:
    """Return a row as a norm, its figures checked."""
    lower, middle, upper = (float(row[name] or "nan") for name in ("lower", "middle", "upper"))
    name = f'norms.csv, {row["quantity"]} of "{row["group"]}"'
    if (
        math.isnan(middle)
        or math.isnan(lower) != math.isnan(upper)
        or not (math.isnan(lower) or lower <= middle <= upper)
    ):
        raise ValueError(
            f"{name}: lower {row['lower']}, middle {row['middle']}, upper {row['upper']}; give the "
            "middle, and both quartiles around it or neither"
        )
    if row["statistic"] not in STATISTICS:
        raise ValueError(
            f"{name}: the statistic is {row['statistic']!r}; it must be one of "
            f"{', '.join(STATISTICS)}"
        )
    return Norm(
        row["quantity"],
        row["group"],
        lower,
        middle,
        upper,
        row["unit"],
        people=int(row["people"]),
        repetitions=int(row["repetitions"] or 0),
        statistic=row["statistic"],
        source=row["source"],
        note=row["note"],
    )
