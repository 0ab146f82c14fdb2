"""What a kind of item takes for an answer, and what is right for one item."""

from __future__ import annotations

import math
from dataclasses import dataclass

KINDS = ("first", "spot", "cue", "number", "rank", "choice")
"""What an item asks: first fault to fix, the faults there, a cue, a number, an order, a choice."""

NOTHING = "nothing"
"""The option "nothing to fix", in every item of the kind ``first``."""

Answer = str | float | tuple[str, ...]


@dataclass(frozen=True)
class KeyEntry:
    """Hold what is right for one item.

    ``answer``: one option (``first``, ``choice``), all that are accepted
    (``cue``), all that are there, maybe none (``spot``), the order
    (``rank``, with the gain of each place in ``gains``), or a number, right
    within ``tolerance``. ``cell`` is its place in the blueprint. Raises
    ValueError if they do not fit together.
    """

    kind: str
    answer: Answer
    points: float = 1.0
    cell: str = ""
    options: tuple[str, ...] = ()
    tolerance: float = 0.0
    gains: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for name in ("answer", "options", "gains"):
            if isinstance(value := getattr(self, name), list):  # as JSON has it
                object.__setattr__(self, name, tuple(value))
        if problem := self._number() if self.kind == "number" else self._options():
            raise ValueError(f"{problem} (kind {self.kind!r}, answer {self.answer!r})")
        if not 0 < self.points < math.inf:
            raise ValueError(f"points are {self.points}; give more than 0")

    def _number(self) -> str:
        good = isinstance(self.answer, int | float) and math.isfinite(self.answer)
        return "" if good and self.tolerance >= 0 else "give a number and a tolerance, 0 or more"

    def _options(self) -> str:
        if self.kind not in KINDS:
            return f"the kind is one of {', '.join(KINDS)}"
        if len(set(self.options)) < max(2, len(self.options)):
            return "two options at least, and none twice"
        one = self.kind in ("first", "choice")
        if isinstance(self.answer, str) is not one:
            return "one option is right" if one else "give the options that are right as a tuple"
        named = (self.answer,) if one else self.answer
        if len(set(named)) != len(named) or not set(named) <= set(self.options):
            return f"what is right is among the options, each once: {', '.join(self.options)}"
        if self.kind == "first" and NOTHING not in self.options:
            return f'the option "{NOTHING}" is missing: clean lifts are part of every form'
        if self.kind in ("cue", "rank") and not named:
            return "one option at least is right"
        falling = sorted((*self.gains, 0.0), reverse=True) == [*self.gains, 0.0]
        if self.kind == "rank" and (len(self.gains) != len(named) or not falling):
            return "one gain for each place, none below 0, none above the one before"
        return ""
