"""The numbers by which people are examined: the policy that a form is drawn by and carries.

Whatever is decided about a form, from its cut to how long a certificate lasts, follows the
policy that was sealed into it. A later one changes later forms alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from functools import cache
from pathlib import Path

from squatlab import tables
from squatlab.questions import files
from squatlab.spreadsheet import read_rows

TABLE = "exam_policy"
"""The table that ships, in ``data``."""

SHARE = (0.0, 1.0)
DAYS = (0.0, 36_500.0)

RANGES = {
    "waiting_days": DAYS,
    "attempts": (1, 1000),
    "window_days": (1.0, DAYS[1]),
    "cases_to_certify": (1, 1000),
    "certificate_days": (1.0, DAYS[1]),
    "easiest": SHARE,
    "hardest": SHARE,
    "discrimination": (-1.0, 1.0),
    "weight_spotting": SHARE,
    "weight_order": SHARE,
    "weight_cue": SHARE,
    "cut": SHARE,
    "minutes_an_item": (0.1, 60.0),
    "review_coaches": (1, 100),
    "review_agreement": SHARE,
    "clocks_agree": (0.0, 120.0),
    "received_decides": (0, 1),
    "least_reliability": SHARE,
    "names_to_certify": (1, 2),
    "alike_errors": (1, 1000),
    "retention_days": DAYS,
}
"""Between these each number lies, ends included [teaching-value]; whole ends: whole numbers."""


@dataclass(frozen=True)
class ExamPolicy:
    """Hold the numbers of an exam policy; ``data/exam_policy.csv`` says what each is.

    Raises ValueError for a number outside its range.
    """

    waiting_days: float
    attempts: int
    window_days: float
    cases_to_certify: int
    certificate_days: float
    easiest: float
    hardest: float
    discrimination: float
    weight_spotting: float
    weight_order: float
    weight_cue: float
    cut: float
    minutes_an_item: float
    review_coaches: int
    review_agreement: float
    clocks_agree: float
    received_decides: int
    least_reliability: float
    names_to_certify: int
    alike_errors: int
    retention_days: float

    def __post_init__(self) -> None:
        for field in fields(self):
            value, (low, high) = getattr(self, field.name), RANGES[field.name]
            is_whole = isinstance(low, int)
            if not low <= value <= high or (is_whole and value != int(value)):
                kind = "a whole number" if is_whole else "a number"
                raise ValueError(
                    f"{field.name} is {value:g}; it must be {kind} from {low:g} to {high:g}"
                )
            # 30 and 30.0 are not sealed alike.
            object.__setattr__(self, field.name, (int if is_whole else float)(value))

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

    @classmethod
    def of(cls, stored: Mapping[str, float] | ExamPolicy) -> ExamPolicy:
        """Return a policy from what a file or the records hold of it.

        Raises ValueError for what is none.
        """
        if isinstance(stored, ExamPolicy):
            return stored
        if set(stored) != set(RANGES):
            odd = ", ".join(sorted(set(stored) ^ set(RANGES)))
            raise ValueError(f"its policy lacks a number or has one too many: {odd}")
        return cls(**stored)

    @property
    def fingerprint(self) -> str:
        """Return what tells two policies apart."""
        return files.fingerprint(asdict(self))


@cache
def shipped_policy() -> ExamPolicy:
    """Return the policy of ``data/exam_policy.csv``."""
    return ExamPolicy(**{name: tables.value(TABLE, name=name) for name in RANGES})
