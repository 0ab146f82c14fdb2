"""People who squat: builds from a survey, habits as measured in filmed lifters.

Exam, practice, lessons and benchmarks draw from here, so that what a trainee
learns on varies as people do. How much each habit varies is a row of
``data/habits.csv``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cache
from typing import NamedTuple

import numpy as np

from squatlab import faults, tables
from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.motion.injection import Injection
from squatlab.motion.plan import Tempo
from squatlab.motion.rep import Rep, synthesise
from squatlab.population import Population

BARS = {"high": Bar.high, "low": Bar.low}

LIGHTEST_KG, STEP_KG = 20.0, 2.5
"""The bar alone, and the smallest step that a pair of plates makes."""

ROOM = 0.15
"""People without a fault stay this far below slight, in severity
[teaching-value]."""


class Habit(NamedTuple):
    """Hold how one habit varies: a normal distribution cut off at both ends.

    ``fault`` names the fault that the habit would become; it is cut off
    where that begins too.
    """

    mean: float
    sd: float
    least: float
    most: float
    fault: str

    def draw(self, rng: np.random.Generator) -> float:
        """Return one person's value, in the unit of the table."""
        most = self.most
        if self.fault:
            most = min(most, float(faults.fault(self.fault).value_at(1.0 - ROOM)))
        while True:
            value = self.mean + self.sd * float(rng.standard_normal())
            if self.least <= value <= most:
                return value


@cache
def habit(quantity: str, sex: str) -> Habit:
    """Return how a habit varies among "women" or "men".

    Raises ValueError for a quantity that the table does not have.
    """
    rows = [
        row
        for row in tables.read("habits")
        if row["quantity"] == quantity and row["who"] in (sex, "all")
    ]
    if not rows:
        known = sorted({row["quantity"] for row in tables.read("habits")})
        raise ValueError(f"there is no habit {quantity!r}{tables.closest(quantity, known)}")
    row = rows[0]
    numbers = (float(row[column]) for column in ("mean", "sd", "least", "most"))
    return Habit(*numbers, row["fault"])


@dataclass(frozen=True)
class Manner:
    """Hold what a person does alike in every squat, as `synthesise` takes it."""

    thigh_deg: float
    shank_deg: float
    lumbar_deg: float
    onset_s: float
    rise_deg: float
    straightness: float
    slows_from: float
    slowest_deg: float
    best_kg: float


@dataclass(frozen=True, eq=False)
class DrawnPerson:
    """Hold a lifter with a bar and a stance, and how this person squats."""

    sex: str
    lifter: Lifter
    bar: Bar
    stance: Stance
    tempo: Tempo
    manner: Manner

    def squat(
        self,
        injections: Injection | Sequence[Injection] = (),
        rng: np.random.Generator | None = None,
        rate: float = 120.0,
    ) -> Rep:
        """Return this person's set, with faults put in.

        ``rng`` makes one repetition differ from the next; ``rate`` is in
        frames per second.
        """
        manner = {field.name: getattr(self.manner, field.name) for field in fields(Manner)}
        return synthesise(
            self.lifter, self.bar, self.stance, self.tempo, injections, rng, rate=rate, **manner
        )


def draw_person(
    rng: np.random.Generator,
    sexes: Sequence[str] = ("women", "men"),
    bars: Sequence[str] = ("high", "low"),
    table: str = "winter2009",
) -> DrawnPerson:
    """Draw a person at random, with a load for training.

    ``sexes`` and ``bars`` say among which to choose; ``table`` gives the
    masses of the segments. Not every lifter can do the squat that is
    drawn: look at the repetition's ``clean``.
    """
    sex = str(rng.choice(sexes))
    lifter = Population.ansur2(sex).draw_one(rng, table)

    def drawn(quantity: str) -> float:
        return habit(quantity, sex).draw(rng)

    best_kg = drawn("best") * float(lifter.mass_kg)
    load_kg = max(LIGHTEST_KG, STEP_KG * round(drawn("load") * best_kg / STEP_KG))
    bar = BARS[str(rng.choice(bars))](load_kg)
    stance = Stance(drawn("heel_width"), drawn("turnout_deg"))
    tempo = Tempo(
        descent_s=drawn("descent_s"),
        pause_s=drawn("pause_s"),
        intent=drawn("intent"),
        braking=drawn("braking"),
    )
    manner = Manner(
        thigh_deg=drawn("depth_deg"),
        shank_deg=drawn("shank_deg"),
        lumbar_deg=drawn("lumbar_deg"),
        onset_s=drawn("onset_ms") / 1000.0,
        rise_deg=drawn("rise_deg"),
        straightness=drawn("straightness"),
        slows_from=drawn("slows_from"),
        slowest_deg=drawn("slowest_deg"),
        best_kg=best_kg,
    )
    return DrawnPerson(sex, lifter, bar, stance, tempo, manner)
