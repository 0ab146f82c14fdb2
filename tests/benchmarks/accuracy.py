"""How far a review may be believed: random lifters, filmed with noise, against the truth.

Run: python -m tests.benchmarks.accuracy [--lifters 500] [--seed 1] [--yaw 0] [--noise 3] …
or, for films that are wrong in the ways real ones are (tests/benchmarks/filming.py):
python -m tests.benchmarks.accuracy --rows all --lifters 150

The truth of a repetition is what the exact points in space read. A pilot on other lifters gives,
before the run, the noise of each fault and what one fault brings with it (consequences).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from dataclasses import dataclass, field, fields
from typing import NamedTuple

import numpy as np

from squatlab import Bar, Lifter, faults
from squatlab.motion import (
    Camera,
    DrawnPerson,
    Injection,
    Rep,
    draw_person,
    film,
)
from squatlab.review import ErrorModel, Findings, measure, prioritise
from tests.benchmarks.filming import CONDITIONS, Condition, seen

NAMES = tuple(faults.catalogue())
RATES = (60.0, 30.0)
FOUND_FROM_SD = {60.0: 1.7, 30.0: 1.3}
"""An injection counts from clear plus so many SD of the noise on."""

DECIDED_SD = 2.0
"""First and second of one tier are decided from so many SD apart."""

FEW = 8
"""Fewer pairs of a true and a found value give no slope."""

NAMED = 0.05
"""A fault that is there in this share of noise-free repetitions with another is
named its consequence."""

PILOT = 0.15
"""Share of further lifters for the pilot."""


@dataclass(frozen=True)
class Person:
    """Hold somebody drawn, and the seed of how one repetition differs from the next."""

    drawn: DrawnPerson
    seed: int

    @property
    def lifter(self) -> Lifter:
        """Return who lifts."""
        return self.drawn.lifter

    @property
    def bar(self) -> Bar:
        """Return what is lifted."""
        return self.drawn.bar

    def squat(self, *injections: Injection) -> Rep:
        """Return this person's repetition, always the same but for the faults."""
        return self.drawn.squat(injections, np.random.default_rng(self.seed))

    @property
    def declared(self) -> Lifter:
        """Return what a user would say of the lifter: stature in cm, mass in kg."""
        return Lifter.from_stature(
            round(float(self.lifter.stature_m), 2), round(float(self.lifter.mass_kg))
        )

    def truth(self, rep: Rep) -> Findings:
        """Return what the exact points in space read."""
        return measure(
            rep.tracks(),
            lifter=self.lifter,
            bar_kg=float(self.bar.mass_kg),
            errors=ErrorModel.exact(),
        )

    def seen(self, rep: Rep, rate: float, setting: Setting, rng: np.random.Generator) -> Findings:
        """Return what both cameras' pictures read; that they only jitter is declared."""
        side, front = setting.cameras(rate)
        films = [film(rep.points, rep.time, camera, rng) for camera in (side, front)]
        return measure(
            *films,
            lifter=self.declared,
            bar_kg=float(self.bar.mass_kg),
            camera=side,
            errors=ErrorModel.jitter_only(),
        )


@dataclass(frozen=True)
class Setting:
    """Hold how the cameras stand and see."""

    distance_m: float = 4.0
    height_m: float = 1.0
    yaw_deg: float = 0.0
    noise_px: float = 3.0

    def cameras(self, rate: float) -> tuple[Camera, Camera]:
        """Return the side and the front camera."""
        both = {f.name: getattr(self, f.name) for f in fields(self)}
        return Camera.side(rate=rate, **both), Camera.front(rate=rate, **both)

    def __str__(self) -> str:
        return (
            f"cameras {self.distance_m:g} m away ({self.cameras(60)[0].px_per_m:.0f} px/m), "
            f"{self.height_m:g} m high, yaw {self.yaw_deg:g}°, noise {self.noise_px:g} px, both "
            "views; declared: stature, mass, load, where the cameras stand"
        )


@dataclass
class People:
    """Draw persons whose squat is clean, and count those refused."""

    rng: np.random.Generator
    refused: Counter = field(default_factory=Counter)

    def draw(self) -> tuple[Person, Rep, Findings]:
        """Return a person with a clean repetition and its truth."""
        while True:
            person = self._anybody()
            rep = person.squat()
            if not rep.clean:
                self.refused[_short(rep.flaw)] += 1
                continue
            truth = person.truth(rep)
            there = [finding.fault for finding in truth.present()]
            if not there:
                self.refused["clean"] += 1
                return person, rep, truth
            self.refused[f"truth has {there[0]}"] += 1

    def _anybody(self) -> Person:
        return Person(draw_person(self.rng), int(self.rng.integers(2**32)))


def _short(flaw: str) -> str:
    for words in ("further than at the bottom", "ankles", "knees would", "hips would", "no trunk"):
        if words in flaw:
            return words
    return flaw[:40]


def some_size(name: str, rng: np.random.Generator) -> float:
    """Return a size from slight to a little more than gross."""
    fault = faults.fault(name)
    return float(fault.value_at(rng.uniform(1.0, 3.4)))


@dataclass
class Case:
    """Hold a repetition's injections, truth, and what each rate found."""

    injected: tuple[str, ...]
    truth: Findings
    found: dict[float, Findings]


@dataclass
class Results:
    """Hold the cases of a run, and from the pilot the noise and consequences."""

    clean: list[Case] = field(default_factory=list)
    single: list[Case] = field(default_factory=list)
    several: list[Case] = field(default_factory=list)
    infeasible: Counter = field(default_factory=Counter)
    sd: dict[tuple[str, float], float] = field(default_factory=dict)
    consequences: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def pairs(self, name: str, rate: float) -> tuple[np.ndarray, np.ndarray]:
        """Return truth and found value of a fault over its injections."""
        rows = [
            (case.truth[name].value, case.found[rate][name].value)
            for case in self.single
            if case.injected == (name,)
        ]
        both = np.array(rows, dtype=float).reshape(-1, 2)
        return both[:, 0], both[:, 1]


USUAL = Setting()


def run(
    lifters: int, seed: int, setting: Setting = USUAL, rates: tuple[float, ...] = RATES
) -> tuple[Results, People]:
    """Return the results of a pilot and of a run over so many lifters."""
    rng = np.random.default_rng(seed)
    people = People(rng)
    pilot = _cases(people, max(10, int(PILOT * lifters)), setting, rates, "pilot", several=False)
    results = _cases(people, lifters, setting, rates, "lifter", several=True)
    for name in NAMES:
        for rate in rates:
            truth, found = pilot.pairs(name, rate)
            errors = (found - truth)[np.isfinite(found - truth)]
            results.sd[name, rate] = float(errors.std()) if errors.size else np.nan
        mine = [case.truth for case in pilot.single if case.injected == (name,)]
        results.consequences[name] = tuple(
            other
            for other in NAMES
            if other != name
            and np.mean([truth[other].present == "yes" for truth in mine] or [0]) >= NAMED
        )
    return results, people


def _cases(
    people: People,
    lifters: int,
    setting: Setting,
    rates: tuple[float, ...],
    what: str,
    several: bool,
) -> Results:
    results, rng = Results(), people.rng
    for number in range(lifters):
        if number % 25 == 0:
            print(f"\r{what} {number} of {lifters} ", end="", file=sys.stderr, flush=True)
        person, rep, truth = people.draw()
        results.clean.append(_case(person, rep, truth, (), setting, rates, rng))
        plans = [((name,), results.single) for name in NAMES]
        if several:
            chosen = tuple(rng.choice(NAMES, rng.integers(2, 4), replace=False))
            plans.append((chosen, results.several))
        for names, cases in plans:
            rep = person.squat(*(Injection(name, some_size(name, rng)) for name in names))
            if not rep.feasible:
                results.infeasible[names[0] if len(names) == 1 else "several"] += 1
                continue
            cases.append(_case(person, rep, person.truth(rep), names, setting, rates, rng))
    print("\r" + " " * 40 + "\r", end="", file=sys.stderr)
    return results


def _case(
    person: Person,
    rep: Rep,
    truth: Findings,
    names: tuple[str, ...],
    setting: Setting,
    rates: tuple[float, ...],
    rng: np.random.Generator,
) -> Case:
    return Case(names, truth, {rate: person.seen(rep, rate, setting, rng) for rate in rates})


# What the results say


def is_clear(findings: Findings, name: str) -> bool:
    """Tell whether a fault is found clear or gross."""
    return findings[name].size in ("clear", "gross")


def false_clear(
    results: Results, rate: float, sizes: tuple[str, ...] = ("clear", "gross")
) -> dict[str, float]:
    """Return how often a clean repetition gets each fault in these sizes; "any" too."""
    wrong = np.array([[c.found[rate][name].size in sizes for name in NAMES] for c in results.clean])
    shares = dict(zip(NAMES, wrong.mean(axis=0).tolist(), strict=True))
    return shares | {"any": float(wrong.any(axis=1).mean())}


def found_shares(results: Results, rate: float) -> dict[str, tuple[int, float]]:
    """Return for each fault how many injections count, and the share found clear."""
    shares = {}
    for name in NAMES:
        fault = faults.fault(name)
        sign = -1 if fault.smaller_is_worse else 1
        least = fault.clear + sign * FOUND_FROM_SD[rate] * results.sd[name, rate]
        hits = [
            is_clear(case.found[rate], name)
            for case in results.single
            if case.injected == (name,) and sign * (case.truth[name].value - least) >= 0
        ]
        shares[name] = (len(hits), float(np.mean(hits)) if hits else np.nan)
    return shares


def nothing_else(results: Results, rate: float) -> tuple[float, Counter]:
    """Return the share of injected repetitions with no other fault clear but the
    named consequences; and which others there were.
    """
    wrong, quiet = Counter(), []
    for case in results.single:
        name = case.injected[0]
        allowed = {name, *results.consequences[name]}
        others = [o for o in NAMES if o not in allowed and is_clear(case.found[rate], o)]
        wrong.update((name, other) for other in others)
        quiet.append(not others)
    return float(np.mean(quiet)), wrong


def first_to_fix(results: Results, rate: float) -> dict[str, tuple[int, float]]:
    """Return how many cases there are and how often the first agrees, by kind:
    "decided" (first and second differ in tier or by 2 SD), "near", "alone".
    """
    agreed: dict[str, list[bool]] = {"decided": [], "near": [], "alone": []}
    for case in [*results.single, *results.several]:
        ranking = prioritise(case.truth)
        if ranking.first is None:
            continue
        found = prioritise(case.found[rate]).first
        kind = _kind([place.finding for place in ranking][:2], results, rate)
        agreed[kind].append(found is not None and found.fault == ranking.first.fault)
    return {kind: (len(a), float(np.mean(a)) if a else np.nan) for kind, a in agreed.items()}


def _kind(leaders: list, results: Results, rate: float) -> str:
    if len(leaders) < 2:
        return "alone"
    one, other = leaders
    first, second = faults.fault(one.fault), faults.fault(other.fault)
    if first.tier != second.tier:
        return "decided"
    noise = np.hypot(
        *(
            results.sd[f.id, rate]
            / abs(f.clear - f.slight if seen.severity < 2 else f.gross - f.clear)
            for f, seen in ((first, one), (second, other))
        )
    )
    return "decided" if one.severity - other.severity > DECIDED_SD * noise else "near"


def slopes(results: Results, rate: float) -> dict[str, tuple[float, float, float]]:
    """Return slope and offset of found against true value, share not told."""
    lines = {}
    for name in NAMES:
        truth, found = results.pairs(name, rate)
        told = np.isfinite(truth) & np.isfinite(found)
        true, errors = truth[told], (found - truth)[told]
        slope = offset = np.nan
        # Sizes that differ by less than the noise (few can lean much further) give no slope.
        if told.sum() >= FEW and true.std() > errors.std():
            slope, offset = np.polyfit(true, found[told], 1)
        lines[name] = (float(slope), float(offset), float(1 - told.mean()) if told.size else np.nan)
    return lines


def report(results: Results, people: People, setting: Setting, rates: tuple[float, ...]) -> str:
    """Return everything in words and tables."""
    drawn = sum(people.refused.values())
    kept = people.refused["clean"]
    lines = [
        str(setting),
        f"persons drawn {drawn}, clean {kept}, refused {1 - kept / drawn:.0%}: "
        + ", ".join(f"{why} {n}" for why, n in people.refused.most_common(9) if why != "clean"),
        "injections not feasible: "
        + (", ".join(f"{name} {n}" for name, n in results.infeasible.most_common()) or "none"),
        "",
        "Consequences, from noise-free repetitions before the run:",
        *(f"  {name}: {', '.join(c)}" for name, c in results.consequences.items() if c),
    ]
    for rate in rates:
        clear, found, line = (f(results, rate) for f in (false_clear, found_shares, slopes))
        slight = false_clear(results, rate, ("slight",))
        lines += [
            "",
            f"{rate:g} frames per second, {len(results.clean)} clean repetitions, "
            f"{len(results.single)} with one fault, {len(results.several)} with two or three",
            f"{'fault':21}{'noise SD':>10}{'false slight':>14}{'clear':>8}{'counted':>9}"
            f"{'found':>8}{'slope':>8}{'offset':>8}{'not told':>9}",
        ]
        for name in NAMES:
            (count, share), (slope, offset, untold) = found[name], line[name]
            lines.append(
                f"{name:21}{results.sd[name, rate]:10.2f}{slight[name]:14.1%}{clear[name]:8.1%}"
                f"{count:9d}{share:8.1%}{slope:8.3f}{offset:8.2f}{untold:9.1%}"
            )
        quiet, wrong = nothing_else(results, rate)
        lines += [
            f"any fault clear in a clean repetition: {clear['any']:.1%} (at most 2 %); slight: "
            f"{slight['any']:.1%}",
            f"nothing else clear: {quiet:.1%} (at least 95 %); else: "
            + (", ".join(f"{a} → {b} {n}" for (a, b), n in wrong.most_common(6)) or "none"),
            "first to fix agrees: "
            + ", ".join(
                f"{kind} {share:.1%} of {n}"
                for kind, (n, share) in first_to_fix(results, rate).items()
            )
            + " (decided: at least 93 %)",
        ]
    return "\n".join(lines)


# Films that are wrong in the ways real ones are


class Lift(NamedTuple):
    """Hold a lift with what was put into it ("near": below slight) and its truth."""

    person: Person
    rep: Rep
    truth: Findings
    kind: str
    injected: tuple[str, ...]


def drawn_lifts(lifters: int, seed: int) -> list[Lift]:
    """Return of each lifter a clean lift, one near clean, one with a fault, one with several."""
    rng = np.random.default_rng(seed)
    people, lifts = People(rng), []
    for number in range(lifters):
        if number % 25 == 0:
            print(f"\rlifter {number} of {lifters} ", end="", file=sys.stderr, flush=True)
        person, rep, truth = people.draw()
        lifts.append(Lift(person, rep, truth, "clean", ()))
        for kind in ("near", "single", "several"):
            for _ in range(8):
                count = int(rng.integers(2, 4)) if kind == "several" else 1
                names = tuple(str(name) for name in rng.choice(NAMES, count, replace=False))
                sizes = [some_size(name, rng) for name in names]
                if kind == "near":
                    severity = rng.uniform(0.2, 0.95)
                    sizes = [float(faults.fault(names[0]).value_at(severity))]
                try:
                    injections = [Injection(n, s) for n, s in zip(names, sizes, strict=True)]
                    rep = person.squat(*injections)
                except ValueError:  # a size that this fault does not take
                    continue
                truth = person.truth(rep) if rep.feasible else None
                if truth is None or kind == "near" and truth.present():
                    continue
                lifts.append(Lift(person, rep, truth, kind, names))
                break
    print("\r" + " " * 30 + "\r", end="", file=sys.stderr)
    return lifts


def row(lifts: list[Lift], condition: Condition, seed: int) -> str:
    """Return what one condition does to a review, in words and shares."""
    rng = np.random.default_rng([seed, 9])
    refused, clean, hits, sure_hits = 0, defaultdict(list), [], []
    firsts: dict[str, list[bool]] = defaultdict(list)
    covered, errors, accused = defaultdict(list), defaultdict(list), Counter()
    for lift in lifts:
        kg = float(lift.person.bar.mass_kg)
        findings = seen(lift.rep, lift.person.declared, kg, condition, rng)
        if findings is None:
            refused += 1
            continue
        for finding in findings:
            truth = lift.truth[finding.fault].value
            if finding.plus_minus > 0 and np.isfinite(truth) and np.isfinite(finding.value):
                error = finding.value - truth
                covered[finding.fault].append(abs(error) <= finding.plus_minus)
                errors[finding.fault].append((error, finding.plus_minus / 1.96))
        if lift.kind in ("clean", "near"):
            large = [one.fault for one in findings if one.size in ("clear", "gross")]
            told = [one.fault for one in findings.present()]
            clean[lift.kind].append((bool(large), bool(told)))
            accused.update(told if lift.kind == "clean" else ())
            continue
        if lift.kind == "single":
            name = lift.injected[0]
            fault, truth, finding = faults.fault(name), lift.truth[name], findings[name]
            if truth.severity >= 2:
                hits.append(finding.size in ("clear", "gross"))
                sd = finding.plus_minus / 1.96
                margin = abs(truth.value - fault.clear)
                if margin >= 1.7 * sd:
                    sure_hits.append(hits[-1])
        _compare_first(findings, lift, firsts)
    percent = {kind: 100 * np.mean(pairs, axis=0) for kind, pairs in clean.items()}
    lines = [
        f"{condition.name}: refused {refused}; "
        + "; ".join(
            f"{kind} {len(clean[kind])}: clear {share[0]:.1f} %, told {share[1]:.1f} %"
            for kind, share in percent.items()
        )
        + f" {dict(accused.most_common(4))}",
        f"  found clear {_percent(hits)} of {len(hits)}, from clear + 1.7 SD {_percent(sure_hits)} "
        f"of {len(sure_hits)}; first, of {len(firsts['right'])}: "
        + ", ".join(f"{kind} {_percent(shares)}" for kind, shares in firsts.items()),
        "  in the 95 % interval: "
        + ", ".join(f"{name} {_percent(covered[name])}" for name in NAMES if covered[name]),
        "  error mean, SD (said): "
        + ", ".join(
            f"{name} {np.mean([e for e, _ in errors[name]]):.1f}, "
            f"{np.std([e for e, _ in errors[name]]):.1f} "
            f"({np.median([sd for _, sd in errors[name]]):.1f})"
            for name in NAMES
            if errors[name]
        ),
    ]
    return "\n".join(lines)


def _compare_first(findings: Findings, lift: Lift, firsts: dict[str, list[bool]]) -> None:
    """Add how the first to fix compares with the true one."""
    true = prioritise(lift.truth)
    if true.first is None:
        return
    ranking = prioritise(findings)
    first = ranking.first.fault if ranking.first else ""
    right, alone = first == true.first.fault, len(ranking.named) == 1
    untold = findings[true.first.fault].present == "cannot tell"
    firsts["right"].append(right)
    firsts["named alone"].append(alone)
    firsts["alone and wrong"].append(alone and not right)
    firsts["alone and wrong, the truth not untold"].append(alone and not right and not untold)
    firsts["wrong, the truth not untold"].append(bool(first) and not right and not untold)
    firsts["none named, the truth not untold"].append(not first and not untold)
    firsts["true one among the named"].append(true.first.fault in ranking.named)


def _percent(flags: list[bool]) -> str:
    return f"{100 * np.mean(flags):.0f} %" if flags else "–"


def main() -> None:
    """Run what the command line asks for and print the report."""
    parser = argparse.ArgumentParser(description="How far a review may be believed.")
    parser.add_argument("--lifters", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    for name, value in (
        ("distance-m", 4.0),
        ("height-m", 1.0),
        ("yaw-deg", 0.0),
        ("noise-px", 3.0),
    ):
        parser.add_argument(f"--{name}", type=float, default=value)
    parser.add_argument("--rows", help="conditions, with commas between, or all")
    given = vars(parser.parse_args())
    lifters, seed, rows = (given.pop(name) for name in ("lifters", "seed", "rows"))
    if rows:
        lifts = drawn_lifts(lifters, seed)
        for name in CONDITIONS if rows == "all" else rows.split(","):
            print(row(lifts, CONDITIONS[name], seed), flush=True)
        return
    setting = Setting(**given)
    results, people = run(lifters, seed, setting)
    print(report(results, people, setting, RATES))


if __name__ == "__main__":
    main()
