"""What was found in a lift: for every fault whether it is there, how large, when, why not."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from squatlab import faults, units

WIDTH = 100

MANY = 20
"""Of more repetitions than this only how their values lie is told in words."""


@dataclass(frozen=True)
class Seen:
    """Hold one repetition of a view: frames and, in s, when they were.

    ``knee_flexion_deg`` is how far the near knee bent at most, at
    ``deepest_s``; nan where not seen.
    """

    view: str
    start: int
    bottom: int
    end: int
    start_s: float
    bottom_s: float
    end_s: float
    knee_flexion_deg: float = math.nan
    deepest_s: float = math.nan


@dataclass(frozen=True)
class Finding:
    """Hold what was found of one fault.

    ``value`` is in the fault's `unit`, nan if it cannot be told, and of
    the ``repetition`` (from 1) that is the median of ``each``. ``present``
    is "yes", "no" or "cannot tell". ``first``, ``worst`` and ``last`` number
    frames of the view at even times; ``onset_s`` is how long after the
    start of the repetition it shows. ``reason`` says what was measured,
    or why it cannot be told. The value is right to ``plus_minus`` in 95 of
    100; ``chances`` are those that the fault is slight, clear, gross, or
    more, the value weighed with how real lifters read where that is known
    (`squatlab.review.chances`), () where it counts as exact. ``severity``
    is that of the value, but within the size that is sure. Where only a
    limit of the value is seen, ``bound`` is "at least" or "at most", and
    the fault no worse. A value that is the largest of several readings is
    told less ``excess``, what chance makes that too large
    (`squatlab.review.largest`): with it, it is what lines on a clip show.
    """

    fault: str
    value: float = math.nan
    present: str = "cannot tell"
    size: str = ""
    severity: float = math.nan
    view: str = ""
    repetition: int | None = None
    first: int | None = None
    worst: int | None = None
    last: int | None = None
    onset_s: float | None = None
    reason: str = ""
    each: tuple[float, ...] = ()
    plus_minus: float = 0.0
    chances: tuple[float, ...] = ()
    bound: str = ""
    excess: float = 0.0

    @property
    def name(self) -> str:
        """Return the fault in a coach's words."""
        return faults.fault(self.fault).name

    @property
    def unit(self) -> str:
        """Return the unit of the value."""
        return faults.fault(self.fault).unit

    @property
    def answer(self) -> str:
        """Return size, or "no", or "cannot tell"."""
        return self.size if self.present == "yes" else self.present

    @property
    def amount(self) -> str:
        """Return the value with its unit in words, or ''."""
        if math.isnan(self.value):
            return ""
        return f"{self.bound} {units.of_table(self.value, self.unit)}".lstrip()

    @property
    def each_in_words(self) -> str:
        """Return the values of all repetitions in words, or '' for one or none.

        Of more than `MANY` their range and middle half.
        """
        if len(self.each) < 2 or all(map(math.isnan, self.each)):
            return ""
        if len(self.each) > MANY:
            known = [value for value in self.each if not math.isnan(value)]
            least, lower, upper, most = (
                units.of_table(float(value), self.unit)
                for value in np.quantile(known, (0, 0.25, 0.75, 1))
            )
            return (
                f"{len(known)} repetitions: from {least} to {most}, half between {lower} and "
                f"{upper}"
            )
        values = ("–" if math.isnan(v) else units.of_table(v, self.unit) for v in self.each)
        return f"repetitions: {', '.join(values)}"

    @property
    def interval(self) -> str:
        """Return how far the value may be off in words, or ''."""
        known = self.plus_minus > 0 and not math.isnan(self.value)
        return f"± {units.of_table(self.plus_minus, self.unit)}" if known else ""


@dataclass(frozen=True, eq=False)
class Place:
    """Hold one place of a ranking, counted from 1, with its reason.

    The first says why it comes before the second, every other why it
    comes after the one above it.
    """

    fault: str
    rank: int
    reason: str
    finding: Finding


@dataclass(frozen=True, eq=False, repr=False)
class Findings:
    """Hold a finding for every fault of the catalogue, in its order.

    Iterates over them; ``findings["knee_valgus"]`` is one. ``repetitions``
    are those seen, view by view; ``notes`` say what was assumed. ``samples``
    (sample, fault) are severities that the recording leaves open, or None
    where it counts as exact. Printing it shows a table.
    """

    all: tuple[Finding, ...]
    repetitions: tuple[Seen, ...]
    notes: tuple[str, ...] = ()
    samples: NDArray[np.float64] | None = None

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.all)

    def __len__(self) -> int:
        return len(self.all)

    def __getitem__(self, name: str) -> Finding:
        wanted = faults.fault(name).id
        return next(finding for finding in self.all if finding.fault == wanted)

    def present(self) -> tuple[Finding, ...]:
        """Return the findings that are there, slight ones too."""
        return tuple(finding for finding in self.all if finding.present == "yes")

    def as_dict(self) -> dict[str, Any]:
        """Return everything as lists, dicts, numbers and text, nan as None."""
        return {
            "repetitions": [_plain(asdict(seen)) for seen in self.repetitions],
            "findings": [
                _plain({"name": finding.name, "unit": finding.unit} | asdict(finding))
                for finding in self.all
            ],
            "notes": list(self.notes),
        }

    def rows(self) -> list[tuple[str, str, str, str, str]]:
        """Return a table of all of them in words, its first row what each column is."""
        rows = [("fault", "found", "value", "shows from", "measured, or why it cannot be told")]
        for f in self.all:
            value = f"{f.amount} {f.interval}".strip()
            measured = "; ".join(words for words in (f.reason, f.each_in_words) if words)
            rows.append((f.name, f.answer, value, self._shows_from(f), measured))
        return rows

    def __repr__(self) -> str:
        rows = self.rows()
        widths = [max(len(row[column]) for row in rows) for column in range(4)]
        lines = [self.heading(), ""]
        for row in rows:
            cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
            cells[2] = row[2].rjust(widths[2])
            head = "  ".join(cells) + "  "
            lines += textwrap.wrap(
                row[4] or " ",
                max(WIDTH, len(head) + 30),
                initial_indent=head,
                subsequent_indent=" " * len(head),
                drop_whitespace=bool(row[4]),
            )
        return "\n".join([*(line.rstrip() for line in lines), *self.notes])

    def _shows_from(self, finding: Finding) -> str:
        """Return from when on a fault shows, in its view's film, or ''."""
        starts = [seen.start_s for seen in self.repetitions if seen.view == finding.view]
        if finding.onset_s is None or finding.repetition is None or not starts:
            return ""
        return f"{starts[finding.repetition - 1] + finding.onset_s:.2f} s".replace("-", "−")

    def heading(self) -> str:
        """Return in a sentence what repetitions they are of."""
        counts = Counter(seen.view for seen in self.repetitions)
        views = ", ".join(f"{view} {count}" for view, count in counts.items())
        several = "; values are of the median repetition" * (max(counts.values(), default=0) > 1)
        return f"Repetitions seen: {views}{several}. Times are of the film."


def _plain(given: dict[str, Any]) -> dict[str, Any]:
    def value(item: Any) -> Any:
        if isinstance(item, float) and not math.isfinite(item):
            return None
        return [value(one) for one in item] if isinstance(item, tuple) else item

    return {name: value(item) for name, item in given.items()}
