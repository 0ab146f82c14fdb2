"""A question with a computed key."""

from __future__ import annotations

import math
from dataclasses import dataclass
from textwrap import fill

from numpy.random import Generator


@dataclass(frozen=True, repr=False)
class Question:
    """Hold a question, its computed key and why the key is right.

    A question with ``options`` is answered by a letter, another by a
    number in ``unit`` within ``tolerance``. Printing shows no key.
    """

    text: str
    key: str | float
    why: str
    options: tuple[str, ...] = ()
    unit: str = ""
    tolerance: float = 0.0

    @property
    def letters(self) -> str:
        """Return the letters of the options."""
        return "abcdef"[: len(self.options)]

    @property
    def answer(self) -> str:
        """Return the key in words: letter and option, or number and unit."""
        if self.options:
            return f"{self.key}) {self.options[self.letters.index(self.key)]}"
        if self.unit == "holes":  # which one, not how many
            return f"hole {self.key:.0f}"
        # As many decimals as the tolerance begins with.
        decimals = max(0, -math.floor(math.log10(self.tolerance)))
        unit = self.unit if self.unit == "°" else f" {self.unit}"
        return f"{self.key:.{decimals}f}{unit} (± {self.tolerance:g})"

    def __repr__(self) -> str:
        text = fill(self.text, 88)
        if self.unit == "holes":
            return f"{text}\nAnswer with the number of the hole."
        if not self.options:
            return f"{text}\nAnswer with a number in {self.unit} (± {self.tolerance:g})."
        lines = [f"  {letter}) {o}" for letter, o in zip(self.letters, self.options, strict=True)]
        return "\n".join([text, *lines, "Answer with a letter."])


def choice(rng: Generator, text: str, options: list[str], right: str, why: str) -> Question:
    """Return a question with its options shuffled by the generator."""
    order = [options[index] for index in rng.permutation(len(options))]
    return Question(text, "abcdef"[order.index(right)], why, tuple(order))
