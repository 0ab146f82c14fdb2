"""Who may sit again, and when: a rule that is data."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import NamedTuple

from squatlab import tables


class RetakeRule(NamedTuple):
    """Hold the days between attempts, and how many in how many days.

    A form that was seen is never given again, whatever the numbers.
    """

    waiting_days: float
    attempts: int
    window_days: float

    @classmethod
    def read(cls) -> RetakeRule:
        """Return the rule of ``data/exam_policy.csv``."""
        waiting, attempts, window = (tables.value("exam_policy", name=f) for f in cls._fields)
        return cls(waiting, int(attempts), window)

    def objection(self, when: str, past: Iterable[str]) -> str:
        """Return why not to sit at ``when`` after ``past`` attempts, or "".

        Times in UTC as text. The order of recording does not matter:
        attempts before and after count the same.
        """
        sat = datetime.fromisoformat(when)
        others = sorted(datetime.fromisoformat(one) for one in past)
        wait, window = timedelta(days=self.waiting_days), timedelta(days=self.window_days)
        for other in others:
            if abs(sat - other) < wait:
                return (
                    f"{self.waiting_days:g} days lie between two attempts, and one was on "
                    f"{other:%Y-%m-%d}; sit from {other + wait:%Y-%m-%d} on"
                )
        recent = [other for other in others if abs(sat - other) < window]
        if len(recent) >= self.attempts:
            return (
                f"{self.attempts} attempts in {self.window_days:g} days are allowed, and "
                f"{len(recent)} were made; sit from {recent[-self.attempts] + window:%Y-%m-%d} on"
            )
        return ""

    def __str__(self) -> str:
        return (
            f"{self.waiting_days:g} days apart, {self.attempts} in {self.window_days:g} days, "
            "no form twice"
        )
