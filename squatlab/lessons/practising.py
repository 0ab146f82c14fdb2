"""The questions of notebook 10: how sure an answer is, and what clean lifts are for."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.random import Generator

from squatlab import faults
from squatlab.lessons.fault_cases import suppose
from squatlab.questions.question import Check, number
from squatlab.review import prioritise

STEPS = np.round(np.arange(1.0, 3.6, 0.01), 2)
"""Severities at which it is looked whether the other one leads."""


def practice_margin(rng: Generator) -> Check:
    """Ask by how much a second finding must grow to come first."""
    known = list(faults.catalogue().values())
    main, other = (known[place] for place in rng.permutation(len(known))[:2])
    if other.tier > main.tier:
        main, other = other, main
    leads, follows = float(rng.integers(21, 30)) / 10, float(rng.integers(11, 20)) / 10
    first = (
        prioritise(suppose(**{main.id: leads, other.id: severity})).first.fault
        for severity in STEPS
    )
    grown = next(severity for severity, name in zip(STEPS, first, strict=True) if name == other.id)
    tiers = [faults.TIERS[one.tier] for one in (other, main)]
    rule = f"{tiers[0]} before {tiers[1]}, but nothing slight before what is clear"
    if tiers[0] == tiers[1]:
        rule = f"both are of the tier {tiers[0]}, where the larger comes first"
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
            leads - follows: "Then both are equally large. But they are of different tiers, and "
            "size alone does not decide.",
            3.0 - follows: "It need not become gross.",
            2.0 - follows: "Clear begins at 2.0. Is that enough, or does the other one still lead?",
        },
    )


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
