"""The questions of notebook 10: how sure an answer is, and what clean lifts are for."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.random import Generator

from squatlab import faults
from squatlab.lessons.fault_cases import suppose
from squatlab.questions.question import Check, number
from squatlab.review import prioritise

CLEAR, JUST_SLIGHT = 2.0, 1.99
"""From the first on a fault is clear; the second is the last that is not."""


def practice_margin(rng: Generator) -> Check:
    """Ask by how much a second finding must grow to come first."""
    known = list(faults.catalogue().values())
    grown = np.nan
    # Some never come first, however large: what a cause brings waits for the cause.
    while np.isnan(grown):
        main, other = (known[place] for place in rng.permutation(len(known))[:2])
        if known.index(other) > known.index(main):
            main, other = other, main
        leads, follows = float(rng.integers(21, 30)) / 10, float(rng.integers(11, 20)) / 10
        grown = _turn(main.id, other.id, leads, follows)
    tiers = [faults.TIERS[one.tier] for one in (other, main)]
    rule = f"{tiers[0]} before {tiers[1]}, but nothing slight before what is clear"
    if tiers[0] == tiers[1]:
        rule = f"both are of the tier {tiers[0]}, but nothing slight comes before what is clear"
    return number(
        f"You find “{main.name}” with a severity of {leads:.1f}, and “{other.name}” with "
        f"{follows:.1f}. The first of them is to be fixed first. By how much must the severity of "
        "the second grow until it comes first?",
        float(grown - follows),
        unit="severity",
        tolerance=0.06,
        why=f"{rule.capitalize()}. The turn comes at {grown:.1f}.",
        hint="Are the two of one tier? If not, which of them goes first as soon as it is clear?",
        slips={
            float(grown): "That is where the second one gets to. By how much does it grow?",
            leads - follows: "Then both are equally large. But size alone does not decide: what is "
            "clear is enough for the one that goes first.",
            3.0 - follows: "It need not become gross.",
            2.0 - follows: "Clear begins at 2.0. Is that enough, or does the other one still lead?",
        },
    )


def _turn(main: str, other: str, leads: float, follows: float) -> float:
    """Return the severity at which a slight ``other`` comes before ``main``.

    nan if it leads while slight already, or does not when it is clear.
    """

    def comes_first(severity: float) -> bool:
        return prioritise(suppose(**{main: leads, other: severity})).first.fault == other

    leads_late = comes_first(CLEAR) and not comes_first(follows) and not comes_first(JUST_SLIGHT)
    return CLEAR if leads_late else np.nan


def clean_lifts(rng: Generator) -> Check:
    """Ask how a coach scores who always names a fault."""
    lifts, clean = 10 * int(rng.integers(3, 6)), int(rng.integers(4, 11))
    seen = 5 * int(rng.integers(14, 20))
    key = (lifts - clean) * seen / lifts
    return number(
        f"Of {lifts} lifts {clean} are clean. A coach names a fault every time, and names the "
        f"right one in {seen} % of the lifts that have one. In what share of all the lifts is the "
        "coach right?",
        key,
        unit="%",
        tolerance=1.0,
        why=f"{lifts - clean} of {lifts} have a fault, and {seen} % of these are right; a clean "
        "lift never is.",
        hint="How many lifts can this coach get right at all?",
        slips={
            seen: "That is the share among lifts with a fault. The clean ones are all wrong.",
            100 * (lifts - clean) / lifts: "That is how many have a fault; not all of these are "
            "named rightly.",
            100 * ((lifts - clean) * seen / 100 + clean) / lifts: "The clean lifts count as right "
            "there. The coach names a fault on each of them.",
            (lifts - clean) * seen / 100: "That is the number of lifts. Which share of all is it?",
        },
    )


MAKERS: dict[str, Callable[[Generator], Check]] = {
    maker.__name__: maker for maker in (practice_margin, clean_lifts)
}
