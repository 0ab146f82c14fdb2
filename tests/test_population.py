"""Drawn lifters are like the survey they stand for."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from squatlab import Bar, Lifter, Population, Stance, balance, tables
from squatlab.population import BEYOND
from squatlab.segments import lengths_of, table_names

N = 20_000
FIVE_SIGMA = 5.0  # a sampling error this large happens once in two million
MILLIMETRE = 1e-3
WHO = ["women", "men"]
HEIGHTS = {  # what the survey measured from the floor, as the lengths that make it up
    "epicondyle height": ("ankle_height", "shank"),
    "trochanterion height": ("ankle_height", "shank", "thigh"),
    "cervicale height": ("ankle_height", "shank", "thigh", "hip_to_c7"),
    "acromial height": ("ankle_height", "shank", "thigh", "trunk"),
}

with (Path(__file__).parent / "authorities" / "ansur2_summary.csv").open(encoding="utf-8") as file:
    SUMMARY = {
        (row["population"], row["quantity"], row["statistic"]): float(row["published"])
        * (1e-3 if row["unit"] == "mm" else 1)
        for row in csv.DictReader(file)
    }


@pytest.fixture(scope="module", params=WHO)
def drawn(request) -> tuple[Population, Lifter]:
    population = Population.ansur2(request.param)
    return population, population.draw(N, np.random.default_rng(20))


def samples(population: Population, lifters: Lifter) -> dict[str, np.ndarray]:
    given = {"stature": lifters.stature_m, "log_mass": np.log(lifters.mass_kg)}
    return given | {
        name: getattr(lifters, f"{name}_m") for name in population.quantities if name not in given
    }


def stored(who: str, quantity: str, statistic: str) -> float:
    return tables.value("population", population=who, quantity=quantity, statistic=statistic)


@pytest.mark.parametrize("key", [k for k in SUMMARY if k[1] not in HEIGHTS], ids=" ".join)
def test_the_statistics_are_the_surveys(key):
    # Gordon et al. (2014); rounded there to 0.1 mm and 0.01 kg.
    rounding = 0.006 if key[1] == "mass" else 0.00016
    assert stored(*key) == pytest.approx(SUMMARY[key], abs=rounding)


@pytest.mark.parametrize("height", HEIGHTS)
@pytest.mark.parametrize("who", WHO)
def test_stacked_lengths_have_the_surveys_heights_and_spreads(who, height):
    # Gordon et al. (2014) give the spread of each height; the spread of a stack of lengths
    # agrees only if their correlations are right.
    population = Population.ansur2(who)
    parts = [population.quantities.index(name) for name in HEIGHTS[height]]
    covariances = population.correlations * np.outer(population.sd, population.sd)
    assert sum(stored(who, name, "mean") for name in HEIGHTS[height]) == pytest.approx(
        SUMMARY[who, height, "mean"], abs=0.1 * MILLIMETRE
    )
    assert np.sqrt(covariances[np.ix_(parts, parts)].sum()) == pytest.approx(
        SUMMARY[who, height, "sd"], abs=0.1 * MILLIMETRE
    )


def test_draws_reproduce_means_and_spreads(drawn):
    population, lifters = drawn
    for name, sample in samples(population, lifters).items():
        i = population.quantities.index(name)
        mean, sd = population.mean[i], population.sd[i]
        assert sample.mean() == pytest.approx(mean, abs=FIVE_SIGMA * sd / np.sqrt(N)), name
        assert sample.std() == pytest.approx(sd, abs=FIVE_SIGMA * sd / np.sqrt(2 * N)), name


def test_draws_reproduce_the_correlations(drawn):
    population, lifters = drawn
    found = np.corrcoef(list(samples(population, lifters).values()))
    error = (1 - population.correlations**2) / np.sqrt(N)
    assert np.all(np.abs(found - population.correlations) <= FIVE_SIGMA * error + 1e-12)


def test_mass_in_kilograms_comes_back_though_its_logarithm_is_drawn(drawn):
    population, lifters = drawn
    who = population.name
    # Of the survey's mass the skewness is .5, of its logarithm nought: hence log-normal.
    assert stored(who, "mass", "skewness") > 0.4
    assert abs(stored(who, "log_mass", "skewness")) < 0.05
    sd = SUMMARY[who, "mass", "sd"]
    assert lifters.mass_kg.mean() == pytest.approx(SUMMARY[who, "mass", "mean"], abs=0.05 * sd)
    assert lifters.mass_kg.std() == pytest.approx(sd, rel=0.04)
    skewness = np.mean((lifters.mass_kg - lifters.mass_kg.mean()) ** 3) / lifters.mass_kg.std() ** 3
    assert skewness == pytest.approx(stored(who, "mass", "skewness"), abs=0.1)


def test_thigh_and_trunk_hardly_correlate(drawn):
    population, _ = drawn
    assert abs(population.correlation("thigh", "trunk")) < 0.1
    assert abs(population.correlation("thigh", "hip_to_c7")) < 0.15
    assert population.correlation("thigh", "stature") > 0.6


def test_given_stature_what_is_leg_is_not_trunk(drawn):
    """Second route to the partial correlation: what a straight line leaves over."""
    population, lifters = drawn
    sample = samples(population, lifters)

    def left_over(name: str) -> np.ndarray:
        slope, start = np.polyfit(sample["stature"], sample[name], 1)
        return sample[name] - slope * sample["stature"] - start

    found = np.corrcoef(left_over("thigh"), left_over("trunk"))[0, 1]
    told = population.correlation("thigh", "trunk", given="stature")
    assert told == pytest.approx(found, abs=0.02)
    assert found < -0.5


def test_the_correlations_can_be_those_of_people(drawn):
    matrix = drawn[0].correlations
    assert np.array_equal(matrix, matrix.T)
    assert np.all(np.diag(matrix) == 1)
    assert np.linalg.eigvalsh(matrix).min() > 1e-3


def test_hips_stand_at_the_height_of_the_table_on_average(drawn):
    population, lifters = drawn
    usual = lengths_of("winter2009")
    leg = ("ankle_height", "shank", "thigh")
    hip = sum(population.mean[population.quantities.index(name)] for name in leg)
    # Drillis & Contini (1966): the hip at .530 of stature.
    assert hip / population.mean[0] == pytest.approx(0.530)
    raised = hip - SUMMARY[population.name, "trochanterion height", "mean"]
    assert 0.015 < raised < 0.032
    # Women's C7 is lower (.857 of stature against .864), so their trunk is shorter.
    for name in ("thigh", "shank", "trunk", "hip_to_c7", "foot"):
        share = np.mean(getattr(lifters, f"{name}_m") / lifters.stature_m)
        assert share == pytest.approx(usual[name], rel=0.035), name


def test_the_parts_add_up_to_the_lifters_stature(drawn):
    _, lifters = drawn
    c7 = lifters.ankle_height_m + lifters.shank_m + lifters.thigh_m + lifters.hip_to_c7_m
    assert np.max(np.abs(c7 + 2 * lifters.head_m - lifters.stature_m)) < 1e-12
    assert np.all((c7 / lifters.stature_m > 0.8) & (c7 / lifters.stature_m < 0.92))
    assert np.all(lifters.hip_to_c7_m > lifters.trunk_m)


def test_absurd_draws_are_replaced(drawn):
    population, lifters = drawn
    for name, sample in samples(population, lifters).items():
        i = population.quantities.index(name)
        furthest = np.abs(sample - population.mean[i]).max() / population.sd[i]
        assert 3 < furthest <= BEYOND + 1e-9, name


def test_replacing_is_rare_and_leaves_the_count():
    class Wild(np.random.Generator):
        """Draw one absurd person in the first call."""

        calls = 0

        def standard_normal(self, size):
            self.calls += 1
            numbers = super().standard_normal(size)
            if self.calls == 1:
                numbers[0] = 50.0
            return numbers

    rng = Wild(np.random.PCG64(3))
    lifters = Population.ansur2("men").draw(10, rng)
    assert lifters.shape == (10,)
    assert rng.calls >= 2
    assert lifters.stature_m.max() < 2.1


@pytest.mark.parametrize("table", table_names())
@pytest.mark.parametrize("bar", [Bar.high(60), Bar.low(60), Bar.high(120)], ids=repr)
@pytest.mark.parametrize("who", WHO)
def test_nearly_everybody_drawn_can_balance_a_squat(who, bar, table):
    lifters = Population.ansur2(who).draw(2000, np.random.default_rng(7), table)
    posture = balance(lifters, bar, Stance(), thigh_deg=0.0, shank_deg=30.0)
    assert np.mean(posture.feasible) > 0.97


def test_proportions_change_the_lean_more_than_stature_does():
    people = Population.ansur2("women").draw(2000, np.random.default_rng(5))
    alike = Lifter.from_stature(people.stature_m, people.mass_kg)
    spread = [np.std(balance(x, Bar.high(60), Stance()).trunk_deg) for x in (people, alike)]
    assert spread[0] > 3 * spread[1]


def test_the_same_seed_draws_the_same_lifters():
    first, again = (Population.ansur2("men").draw(5, np.random.default_rng(1)) for _ in range(2))
    assert np.array_equal(first.thigh_m, again.thigh_m)
    other = Population.ansur2("men").draw(5, np.random.default_rng(2))
    assert not np.array_equal(first.thigh_m, other.thigh_m)


def test_a_population_and_its_lifters_print_their_source():
    population = Population.ansur2("women")
    assert repr(population) == (
        "Population of women: stature 162.8 ± 6.4 cm, thigh 39.7 ± 2.4 cm, "
        "shank 40.3 ± 2.6 cm, trunk 47.2 ± 2.9 cm (ansur2)"
    )
    lifters = population.draw(3, np.random.default_rng(0), "deleva1996_women")
    assert repr(lifters).startswith("3 lifters")
    assert repr(lifters).endswith("(lengths ansur2 women, masses deleva1996_women)")


def test_describe_gives_a_row_for_each_quantity():
    rows = Population.ansur2("men").describe()
    assert [row["quantity"] for row in rows] == list(Population.ansur2("men").quantities)
    thigh = next(row for row in rows if row["quantity"] == "thigh")
    assert thigh["r_thigh"] == 1
    assert abs(thigh["r_trunk"]) < 0.1
    assert thigh["source"] in tables.sources()


def test_a_population_cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        Population.ansur2("men").mean[0] = 2


RNG = np.random.default_rng(0)


@pytest.mark.parametrize(
    ("error", "make", "words"),
    [
        (
            ValueError,
            lambda: Population.ansur2("woman"),
            "no population 'woman'; did you mean \"women\"\\? The populations: men, women",
        ),
        (ValueError, lambda: Population.ansur2("men").draw(0, RNG), "n is 0; it must lie between"),
        (ValueError, lambda: Population.ansur2("men").draw(2.5, RNG), "n is 2.5;"),
        (
            TypeError,
            lambda: Population.ansur2("men").draw(3, 42),
            r"rng is 42; give numpy.random.default_rng\(seed\)",
        ),
        (
            ValueError,
            lambda: Population.ansur2("men").correlation("thigh", "tunk"),
            "no quantity 'tunk'; did you mean \"trunk\"",
        ),
        (
            ValueError,
            lambda: Population.ansur2("men").correlation("thigh", "trunk", "trunk"),
            'give a third quantity; "trunk" is one of the two',
        ),
    ],
)
def test_what_cannot_be_drawn_is_refused_in_words(error, make, words):
    with pytest.raises(error, match=words):
        make()
