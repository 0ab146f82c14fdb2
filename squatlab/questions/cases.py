"""Cases: a lift with faults put in, kept only if it reads as it was meant.

A cell of the blueprint and a seed decide what shall be there. Then a lifter,
a set-up and a manner are drawn until one squat shows just that: read from the
exact points, with room to spare, and again as phones record it.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from squatlab import faults
from squatlab.mechanics.trunk import Bar
from squatlab.motion import Camera, Injection, Rep, draw_person, film
from squatlab.norms import norm_sentence
from squatlab.questions.blueprint import Cell
from squatlab.questions.kinds import NOTHING
from squatlab.review import ErrorModel, Finding, Findings, Ranking, measure, prioritise
from squatlab.review.priority import NAMED_ALONE
from squatlab.units import MASS, STATURE_IN_WORDS

VERSION = 2
"""Of how cases are made; another one makes other cases from the same seeds."""

FROM, SPREAD = 0.2, 0.6
"""A size is put in this far above where it begins, and up to so much more,
in severity [teaching-value]."""

ROOM, LEAST_MARGIN = 0.15, 0.25
"""Every reading is this far from another size, and from its neighbour's in a
tier; the first place is so sure; all in severity [teaching-value]."""

LIFTERS, PLANS = 8, 40
"""So many lifters are tried before other faults and sizes are drawn, and so
many of those."""

BRINGS = {"heel_lift": ("bar_forward",), "knees_far_forward": ("heel_lift", "bar_forward")}
"""What a fault may bring with it: raised heels bear no weight, and knees ahead
of what the ankles allow raise the heels."""

WITH_IT = 5.0
"""The severity that what is brought may reach."""

KEPT = 200
"""So many cases are kept once made: a form is packed after it was drawn, and a
lesson comes back to its cases. A case has a few kB, one that was shown .5 MB."""

PHONES = {"side": Camera.side, "front": Camera.front}


class Squat(NamedTuple):
    """Hold a squat that was tried, and the phones that film it."""

    rep: Rep
    cameras: dict[str, Camera]
    rng: np.random.Generator

    def exact(self) -> Findings:
        """Return what the exact points in space read."""
        return measure(self.rep.tracks(), errors=ErrorModel.exact(), **self._declared())

    def filmed(self) -> Findings:
        """Return what the phones' records read."""
        films = [film(self.rep.points, self.rep.time, c, self.rng) for c in self.cameras.values()]
        jitter = ErrorModel.jitter_only()
        return measure(*films, camera=self.cameras, errors=jitter, **self._declared())

    def _declared(self) -> dict[str, object]:
        """Return what is declared of the squat, as `measure` takes it."""
        return {"lifter": self.rep.lifter, "bar_kg": float(self.rep.bar.mass_kg)}


@dataclass(frozen=True, eq=False)
class Case:
    """Hold a case: what was put in, and what the exact points read.

    ``injected`` maps faults to severities, ``place`` says which plan and
    which lifter it was, ``refused`` why those before it were not kept,
    ``bar`` what was lifted. The squat itself is made again when asked for,
    always the same.
    """

    cell: Cell
    seed: int
    injected: dict[str, float]
    place: tuple[int, int]
    refused: tuple[str, ...]
    findings: Findings
    ranking: Ranking
    bar: Bar

    @cached_property
    def rep(self) -> Rep:
        """Return the squat, with the truth about it."""
        return _squat(self.cell, self.seed, self.injected, self.place).rep

    @cached_property
    def filmed(self) -> Findings:
        """Return what its two phones read of the squat, with the error of each reading."""
        return _squat(self.cell, self.seed, self.injected, self.place).filmed()

    @property
    def reference(self) -> int:
        """Return what the case is asked for by."""
        return self.seed

    @property
    def title(self) -> str:
        """Return what it is called on the page."""
        return f"Case {self.seed}"

    @property
    def shots(self) -> tuple[Rep, ...]:
        """Return what a clip shows of it."""
        return (self.rep,)

    @property
    def declared(self) -> dict[str, object]:
        """Return what a clip must be told beside it: nothing, a squat knows its lifter."""
        return {}

    @property
    def there(self) -> tuple[str, ...]:
        """Return the faults that are there, in the catalogue's order."""
        return tuple(finding.fault for finding in self.findings.present())

    @property
    def first(self) -> str:
        """Return the fault to fix first, or `NOTHING`."""
        return _first(self.ranking)

    @property
    def margin(self) -> float:
        """Return the least change of a severity that alters the first place.

        The smaller, the harder the case is to judge.
        """
        return self.ranking.margin

    @property
    def telling(self) -> Finding | None:
        """Return the finding on which the first fault shows, if there is one."""
        return self.ranking.first and self.ranking.first.finding

    @property
    def readings(self) -> list[str]:
        """Return what was measured of each fault that is there, a line each.

        Its exact value and size, what the two phones read with the error
        that 95 of 100 such readings stay within, and the open norm.
        """
        lines = []
        for finding in self.findings.present():
            filmed = self.filmed[finding.fault]
            line = f"Measured, {finding.name}: {finding.amount}, {finding.size}"
            if filmed.interval:
                line += f" (two phones read {filmed.amount} {filmed.interval})"
            lines.append(f"{line}.{norm_sentence(finding.fault)}")
        return lines

    @property
    def lifter(self) -> str:
        """Return who lifts what, in words."""
        who, bar = self.rep.lifter, self.bar
        tall, body = STATURE_IN_WORDS.words(who.stature_m), MASS.words(round(who.mass_kg))
        return f"A lifter of {tall} and {body}, {bar.name} with {MASS.words(bar.mass_kg)}."

    @property
    def why(self) -> str:
        """Return the reasons of the ranking in words."""
        if not self.ranking.places:
            near = max(self.findings, key=lambda f: np.nan_to_num(f.severity, nan=-1.0))
            return f"Nothing reaches slight (1.0); nearest is “{near.name}” at {near.severity:.1f}."
        return " ".join(
            f"{p.rank}. {p.finding.name} ({p.finding.size}, {p.finding.amount}): {p.reason}."
            for p in self.ranking
        )


@lru_cache(KEPT)
def case(cell: Cell, seed: int) -> Case:
    """Return the case of a cell and a seed, always the same one.

    Raises ValueError if nobody can do what the cell asks for.
    """
    refused: list[str] = []
    for again in range(PLANS):
        plan = planned(cell, seed, again)
        for lifter in range(LIFTERS):
            place = again, lifter
            squat = _squat(cell, seed, plan, place)
            verified = _verified(squat, plan)
            if isinstance(verified, str):
                refused.append(verified)
                continue
            return Case(
                cell,
                seed,
                injected=plan,
                place=place,
                refused=tuple(refused),
                findings=verified,
                ranking=prioritise(verified),
                bar=squat.rep.bar,
            )
    raise ValueError(
        f"cell {cell.name}, seed {seed}: none of {len(refused)} squats reads as it was meant "
        f"({refused[-1]}); widen its draws, beside, sizes or lifters in blueprint.csv"
    )


def planned(cell: Cell, seed: int, again: int = 0) -> dict[str, float]:
    """Return what a seed puts in: fault ids with severities, none if clean.

    The first of them is the one to fix first. Costs little: nothing moves
    yet. ``again`` is for when no lifter could do what was drawn before.
    """
    rng = _rng(cell, seed, again)
    if rng.random() < cell.clean:
        return {}
    for _ in range(PLANS):
        main, count = str(rng.choice(cell.draws)), int(rng.integers(*cell.others, endpoint=True))
        plan = {main: _severity(rng, str(rng.choice(cell.sizes)))}
        for other in rng.permutation([name for name in cell.beside if name != main])[:count]:
            # The order of all is the order of pairs: each must only leave the first where it is.
            brought = dict.fromkeys(BRINGS.get(str(other), ()), WITH_IT)
            for size in rng.permutation(faults.SIZES):
                beside = {str(other): _severity(rng, str(size))}
                ranking = prioritise(supposed(brought | beside | {main: plan[main]}))
                if _first(ranking) == main and ranking.margin > LEAST_MARGIN:
                    plan |= beside
                    break
        if len(plan) > cell.others[0]:
            return plan
    raise ValueError(f"cell {cell.name}: too little may stand beside its draws; change one of them")


def supposed(plan: dict[str, float]) -> tuple[Finding, ...]:
    """Return a plan as if it had been read, to be put in order."""
    known = {faults.fault(name): severity for name, severity in plan.items()}
    values = {fault: float(fault.value_at(severity)) for fault, severity in known.items()}
    return tuple(
        Finding(fault.id, values[fault], "yes", str(fault.size(values[fault])), severity)
        for fault, severity in known.items()
    )


MOST_HIDDEN = 0.25
"""Of the faults that the filmed views show, the share that their films may leave open:
what is left open might be the first to fix [teaching-value]."""


def _verified(squat: Squat, plan: dict[str, float]) -> Findings | str:
    """Return what a squat exactly reads, or in words why it is not kept."""
    if not (squat.rep.feasible if plan else squat.rep.clean):
        return "cannot be done" if plan else "is not clean"
    exact = squat.exact()
    ranking, there = prioritise(exact), {finding.fault for finding in exact.present()}
    brought = {other for name in plan for other in BRINGS.get(name, ())}
    # All that was put in must be there, and nothing else but what that may bring.
    if not plan.keys() <= there <= plan.keys() | brought:
        return "shows more or less than was put in"
    if any(abs(finding.severity - limit) < ROOM for finding in exact for limit in (1, 2, 3)):
        return "is near a limit"
    main, first = next(iter(plan), NOTHING), _first(ranking)
    if first not in (main, *BRINGS.get(main, ())):
        return "has another first"
    if ranking.margin < LEAST_MARGIN or _alike(ranking):
        return "has two that are alike"
    filmed = squat.filmed()
    views = *squat.cameras, "any"
    showable = [finding for finding in filmed if faults.fault(finding.fault).view in views]
    hidden = sum(finding.present == "cannot tell" for finding in showable)
    if hidden > MOST_HIDDEN * len(showable):
        return "hides too much from the phones"
    filmed_ranking = prioritise(filmed)
    if filmed_ranking.sureness < NAMED_ALONE:
        return "is doubtful in the phones' films"
    if _first(filmed_ranking) != first or any(filmed[name].present != "yes" for name in there):
        return "is not seen so by the phones"
    if any(finding.size in ("clear", "gross") and finding.fault not in there for finding in filmed):
        return "shows the phones what is not there"
    return exact


def _first(ranking: Ranking) -> str:
    """Return the fault that is fixed first, or `NOTHING`."""
    return ranking.first.fault if ranking.first else NOTHING


def _alike(ranking: Ranking) -> bool:
    """Tell whether two neighbours of one tier are of nearly one severity."""
    return any(
        faults.fault(before.fault).tier == faults.fault(after.fault).tier
        and abs(before.finding.severity - after.finding.severity) < ROOM
        for before, after in pairwise(ranking)
    )


def _squat(cell: Cell, seed: int, plan: dict[str, float], place: tuple[int, int]) -> Squat:
    """Return what a plan and a place in the row of lifters give."""
    rng = _rng(cell, seed, *place)
    person = draw_person(rng, cell.lifters, cell.bar)
    put_in = [Injection(name, float(faults.fault(name).value_at(s))) for name, s in plan.items()]
    rep = person.squat(put_in, rng, rate=60.0)
    views = ("side", "front") if cell.view == "both" else (cell.view,)
    return Squat(rep, {v: PHONES[v](yaw_deg=rng.uniform(-1.5, 1.5)) for v in views}, rng)


def _severity(rng: np.random.Generator, size: str) -> float:
    """Draw a severity of a size: slight begins at 1, clear at 2, gross at 3."""
    return 1 + faults.SIZES.index(size) + FROM + SPREAD * float(rng.random())


def _rng(cell: Cell, seed: int, *place: int) -> np.random.Generator:
    """Return the generator of a cell, a seed and a place, the same on every machine."""
    return np.random.default_rng([VERSION, zlib.crc32(cell.name.encode()), seed, *place])
