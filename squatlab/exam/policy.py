"""The numbers by which people are examined: the policy that a form is drawn by and carries.

Whatever is decided about a form, from its cut to how long a certificate lasts, follows the
policy that was sealed into it. A later one changes later forms alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from functools import cache
from pathlib import Path
from typing import Any

from squatlab import tables
from squatlab.questions import files
from squatlab.questions.cut import least_whole
from squatlab.ranges import number_within, whole_within
from squatlab.spreadsheet import read_rows

TABLE = "exam_policy"
"""The table that ships, in ``data``."""

MOST_DAYS = 36_500.0
"""A hundred years."""


def _between(low: float, high: float) -> Any:
    """Return a number of a policy that lies between two ends, themselves included.

    Whole ends are of whole numbers. The ends are what makes sense
    [teaching-value].
    """
    return field(metadata={"ends": (low, high)})


@dataclass(frozen=True)
class ExamPolicy:
    """Hold the numbers of an exam policy; ``data/exam_policy.csv`` says what each is.

    Raises ValueError for a number outside its range.
    """

    waiting_days: float = _between(0.0, MOST_DAYS)
    attempts: int = _between(1, 1000)
    window_days: float = _between(1.0, MOST_DAYS)
    cases_to_certify: int = _between(1, 1000)
    certificate_days: float = _between(1.0, MOST_DAYS)
    easiest: float = _between(0.0, 1.0)
    hardest: float = _between(0.0, 1.0)
    discrimination: float = _between(-1.0, 1.0)
    weight_spotting: float = _between(0.0, 1.0)
    weight_order: float = _between(0.0, 1.0)
    weight_cue: float = _between(0.0, 1.0)
    cut: float = _between(0.0, 1.0)
    minutes_an_item: float = _between(0.1, 60.0)
    review_coaches: int = _between(1, 100)
    review_agreement: float = _between(0.0, 1.0)
    clocks_agree: float = _between(0.0, 120.0)
    received_decides: int = _between(0, 1)
    least_reliability: float = _between(0.0, 1.0)
    names_to_certify: int = _between(1, 2)
    alike_errors: int = _between(1, 1000)
    retention_days: float = _between(0.0, MOST_DAYS)

    def __post_init__(self) -> None:
        for number in fields(self):
            low, high = number.metadata["ends"]
            check = whole_within if isinstance(low, int) else number_within
            value = check(number.name, getattr(self, number.name), low, high, "")
            object.__setattr__(self, number.name, value)  # 30 and 30.0 are not sealed alike

    @classmethod
    def read(cls, path: str | Path) -> ExamPolicy:
        """Return the policy of a table of one's own.

        Columns name and value, and unit, source and note if wanted. What it
        does not name is as in ``data/exam_policy.csv``. Raises ValueError
        that names the row.
        """
        path, numbers = Path(path), asdict(shipped_policy())
        given: dict[str, float] = {}
        for number, row in read_rows(path, ("name", "value"), ("unit", "source", "note")):
            where, name = f"{path.name}, row {number}", row["name"]
            if name not in numbers:
                near = tables.closest(name, numbers) or "."
                raise ValueError(
                    f"{where}: no policy has “{name}”{near} There may be {', '.join(numbers)}"
                )
            if name in given:
                raise ValueError(f"{where}: {name} stands above as well; keep one row")
            try:
                given[name] = float(row["value"])
            except ValueError:
                raise ValueError(f"{where}: {name} is “{row['value']}”; write a number") from None
        if not given:
            raise ValueError(f"{path.name} has no row; write one for each number that is yours")
        try:
            return cls(**numbers | given)
        except ValueError as error:
            raise ValueError(f"{path.name}: {error}") from None

    def lifts_to_pass(self, lifts: int) -> int:
        """Return how many of a form's lifts must be right to pass it."""
        return least_whole(self.cut * lifts)

    @classmethod
    def of(cls, stored: Mapping[str, float] | ExamPolicy) -> ExamPolicy:
        """Return a policy from what a file or the records hold of it.

        Raises ValueError for what is none.
        """
        if isinstance(stored, ExamPolicy):
            return stored
        if odd_names := set(stored) ^ {number.name for number in fields(cls)}:
            odd = ", ".join(sorted(odd_names))
            raise ValueError(f"its policy lacks a number or has one too many: {odd}")
        return cls(**stored)

    @property
    def fingerprint(self) -> str:
        """Return what tells two policies apart."""
        return files.fingerprint(asdict(self))


@cache
def shipped_policy() -> ExamPolicy:
    """Return the policy of ``data/exam_policy.csv``."""
    return ExamPolicy(
        **{number.name: tables.value(TABLE, name=number.name) for number in fields(ExamPolicy)}
    )
