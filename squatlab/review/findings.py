"""What was found: for every fault whether it is there, how large, when, why not."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from squatlab import faults

WIDTH = 100


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
    or why it cannot be told.
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
        digits, gap = {"ms": 0, "s": 2}.get(self.unit, 1), "" if self.unit == "°" else " "
        rounded = round(self.value, digits) + 0.0  # never −0.0
        return f"{rounded:.{digits}f}{gap}{self.unit}".replace("-", "−")


@dataclass(frozen=True, eq=False, repr=False)
class Findings:
    """Hold a finding for every fault of the catalogue, in its order.

    Iterates over them; ``findings["knee_valgus"]`` is one. ``repetitions``
    are those seen, view by view; ``notes`` say what was assumed. Printing
    it shows a table.
    """

    all: tuple[Finding, ...]
    repetitions: tuple[Seen, ...]
    notes: tuple[str, ...] = ()

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

    def __repr__(self) -> str:
        rows = [("fault", "found", "value", "shows from", "measured, or why it cannot be told")]
        for f in self.all:
            rows.append((f.name, f.answer, f.amount, self._shows_from(f), f.reason))
        widths = [max(len(row[column]) for row in rows) for column in range(4)]
        lines = [self._heading(), ""]
        for row in rows:
            cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
            cells[2] = row[2].rjust(widths[2])
            head = "  ".join(cells) + "  "
            lines += textwrap.wrap(
                row[4] or " ", max(WIDTH, len(head) + 30), initial_indent=head,
                subsequent_indent=" " * len(head), drop_whitespace=bool(row[4]),
            )  # fmt: skip
        return "\n".join([*(line.rstrip() for line in lines), *self.notes])

    def _shows_from(self, finding: Finding) -> str:
        """Return from when on a fault shows, in its view's film, or ''."""
        starts = [seen.start_s for seen in self.repetitions if seen.view == finding.view]
        if finding.onset_s is None or finding.repetition is None or not starts:
            return ""
        return f"{starts[finding.repetition - 1] + finding.onset_s:.2f} s".replace("-", "−")

    def _heading(self) -> str:
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
