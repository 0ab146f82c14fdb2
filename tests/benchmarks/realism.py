"""How like people clean repetitions are: quartiles of the generator beside norms.

Run: python -m tests.benchmarks.realism [--people 400] [--seed 7]

Read from exact points by the tests' own definitions. Norms are those of data/norms.csv, of most
people first; published values stand in `PUBLISHED` with their source. No limits: the test that
holds the quartiles is tests/motion/test_people.py, with another seed.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.motion import Rep, draw_person
from squatlab.motion.ascent import ascent_of
from squatlab.norms import norms_of
from tests.motion.definitions import Seen, line_angle
from tests.motion.test_schedule import fastest_share

TOGETHER_MS = 20.0
"""Hips and knees that begin within this of each other begin together, ms [teaching-value]."""

PUBLISHED = {
    "speed against load, all out, r²": "0.96 (sanchezmedina2017)",
    "low back rounds, women": "mean 12.8 (mckean2010a)",
    "low back rounds, men": "mean 25.9 (mckean2010a)",
    "sticking region, heaviest third": "10 of 15 at six to failure (vandentillaar2014)",
    "thigh where the bar is slowest": "32.5 ± 3.0 in competition (hales2009)",
}


class Squatted(NamedTuple):
    """Hold a clean repetition of somebody drawn; ``load`` is the share of the best."""

    rep: Rep
    sex: str
    load: float


class Row(NamedTuple):
    """Name a quantity: its norm in data/norms.csv if any, its unit, and how it is read."""

    words: str
    norm: str
    unit: str
    read: Callable[[Squatted], float]


def squatted(people: int, seed: int, all_out: bool = False) -> list[Squatted]:
    """Return the clean repetitions of so many people drawn.

    ``all_out``: each comes up as fast as that person can.
    """
    rng = np.random.default_rng(seed)
    drawn = [draw_person(rng) for _ in range(people)]
    if all_out:
        drawn = [replace(one, tempo=replace(one.tempo, intent=1.0)) for one in drawn]
    sets = [(one, one.squat(rng=rng)) for one in drawn]
    return [
        Squatted(rep, one.sex, one.bar.mass_kg / one.manner.best_kg)
        for one, rep in sets
        if rep.clean
    ]


def by_definition(name: str) -> Callable[[Squatted], float]:
    """Return what reads a fault's quantity by the tests' own definition."""
    return lambda one: float(getattr(Seen(one.rep.points, one.rep.time), name)())


def shank_lean(one: Squatted) -> float:
    """Return how far the right shin leans at the bottom, °."""
    points = one.rep.points
    lean = np.degrees(line_angle(points["ankle_r"], points["knee_r"]))
    return float(lean[Seen(points, one.rep.time).bottom])


def bar_wander(one: Squatted) -> float:
    """Return how far the bar goes forward and back, cm."""
    return float(100 * np.ptp(one.rep.points["bar"][:, 0]))


def ascent_time(one: Squatted) -> float:
    """Return how long the way up takes, s."""
    return float(one.rep.events["end"] - one.rep.events["ascent"])


def mean_speed(one: Squatted) -> float:
    """Return the mean speed of the bar on the way up, m/s."""
    return float(ascent_of(one.rep).mean)


ROWS = (
    Row("descent lasts", "fast_descent", "s", by_definition("fast_descent")),
    Row("descent is fastest at", "descent_fastest", "of its time", lambda x: fastest_share(x.rep)),
    Row("ascent lasts", "", "s", ascent_time),
    Row("mean speed up", "ascent_speed", "m/s", mean_speed),
    Row("knees before hips", "knees_first", "ms", by_definition("knees_first")),
    Row("lean up against down", "hips_rise_first", "°", by_definition("hips_rise_first")),
    Row("bar wanders", "bar_wander", "cm", bar_wander),
    Row("hip above the knee", "short_depth", "°", by_definition("short_depth")),
    Row("shin leans", "shank_lean", "°", shank_lean),
)


def middle_half(values: Sequence[float] | NDArray[np.float64]) -> str:
    """Return quartiles in words."""
    lower, middle, upper = np.quantile(values, [0.25, 0.5, 0.75])
    return f"{lower:.3g} / {middle:.3g} / {upper:.3g}"


def quartiles(squats: Sequence[Squatted]) -> dict[str, str]:
    """Return the middle half of each row's quantity, in words."""
    return {row.words: middle_half([row.read(one) for one in squats]) for row in ROWS}


def explained_by_load(squats: Sequence[Squatted]) -> float:
    """Return the share of the speeds' variance that the load explains, by a parabola."""
    loads, speeds = np.array([(one.load, mean_speed(one)) for one in squats]).T
    fit = np.polyval(np.polyfit(loads, speeds, 2), loads)
    return float(1 - np.var(speeds - fit) / np.var(speeds))


def by_load(squats: Sequence[Squatted]) -> dict[str, str]:
    """Return what changes with the load, in words: lightest and heaviest third."""
    loads = np.array([one.load for one in squats])
    thirds = loads <= np.quantile(loads, 1 / 3), loads >= np.quantile(loads, 2 / 3)
    speeds, wanders = (np.array([read(one) for one in squats]) for read in (mean_speed, bar_wander))
    up = [ascent_of(one.rep) for one in squats]
    sticks = np.array([one.sticks for one in up])
    thigh = [
        one.rep.posture.thigh_deg[ascent.slowest]
        for one, ascent in zip(squats, up, strict=True)
        if ascent.sticks
    ]

    def light_and_heavy(values: NDArray[np.float64], digits: int) -> str:
        light, heavy = (np.median(values[third]) for third in thirds)
        return f"{light:.{digits}f} / {heavy:.{digits}f}"

    return {
        "speed, lightest / heaviest third": light_and_heavy(speeds, 2),
        "speed against load, r²": f"{explained_by_load(squats):.2f}",
        "bar wanders, lightest / heaviest third": light_and_heavy(wanders, 1),
        "sticking region, all": f"{sticks.mean():.0%}",
        "sticking region, heaviest third": f"{sticks[thirds[1]].mean():.0%}",
        "thigh where the bar is slowest": f"{np.mean(thigh):.1f} ± {np.std(thigh):.1f}"
        if thigh
        else "nobody slows",
    }


def by_person(squats: Sequence[Squatted]) -> dict[str, str]:
    """Return who begins with what, and how far low backs round, in words."""
    lead = np.array([by_definition("knees_first")(one) for one in squats])
    shares = lead < -TOGETHER_MS, abs(lead) <= TOGETHER_MS, lead > TOGETHER_MS
    told = {"hips first / together / knees first": " / ".join(f"{s.mean():.0%}" for s in shares)}
    for sex in ("women", "men"):
        rounding = [by_definition("lumbar_rounding")(one) for one in squats if one.sex == sex]
        told[f"low back rounds, {sex}"] = f"mean {np.mean(rounding):.1f}"
    return told


def table(squats: Sequence[Squatted]) -> list[tuple[str, str, str]]:
    """Return quantity, real lifters and the generator, row by row, in words."""
    read, found = quartiles(squats), []
    for row in ROWS:
        norm = norms_of(row.norm)[0] if row.norm else None
        real = "no open norm"
        if norm:
            real = f"{norm.lower:g} / {norm.middle:g} / {norm.upper:g} ({norm.people})"
        found.append((f"{row.words}, {row.unit}", real, read[row.words]))
    others = by_load(squats) | by_person(squats)
    return [*found, *((words, PUBLISHED.get(words, ""), told) for words, told in others.items())]


def main() -> None:
    """Run what the command line asks for and print the table."""
    parser = argparse.ArgumentParser(description="How like people clean repetitions are.")
    parser.add_argument("--people", type=int, default=400)
    parser.add_argument("--seed", type=int, default=7)
    given = parser.parse_args()
    squats = squatted(given.people, given.seed)
    print(f"{len(squats)} of {given.people} drawn are clean. Lower quartile / middle / upper.")
    print("| quantity | real lifters (people) | generator |\n|---|---|---|")
    all_out = explained_by_load(squatted(given.people, given.seed, all_out=True))
    words = "speed against load, all out, r²"
    for cells in [*table(squats), (words, PUBLISHED[words], f"{all_out:.2f}")]:
        print(f"| {' | '.join(cells)} |")


if __name__ == "__main__":
    main()
