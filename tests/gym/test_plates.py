"""Plates: every answer is compared with trying all combinations."""

from __future__ import annotations

from itertools import product

import pytest

from squatlab.gym.plates import PlateSet, strap_held, warm_up

ODD_GYM = PlateSet("kg", ((25, 1), (20, 2), (10, 1), (2.5, 1), (1.25, 1)), bar=20, collar=2.5)


def every_side(plates: PlateSet) -> dict[float, tuple[int, tuple[float, ...]]]:
    """Try all combinations of pairs: total → (plates a side, heaviest first)."""
    best: dict[float, tuple] = {}
    masses = [mass for mass, _ in plates.pairs]
    for counts in product(*(range(pairs + 1) for _, pairs in plates.pairs)):
        side = tuple(mass for mass, n in zip(masses, counts, strict=True) for _ in range(n))
        total = plates.empty + 2 * sum(side)
        found = (len(side), tuple(-mass for mass in side))
        if total not in best or found < best[total]:
            best[total] = found
    return best


@pytest.mark.parametrize("plates", [ODD_GYM, PlateSet.of("lb"), PlateSet.of("kg")], ids=str)
def test_loads_and_plates_are_the_best_of_all_combinations(plates: PlateSet) -> None:
    best = every_side(plates)
    assert plates.loads == tuple(sorted(best))
    for total, (count, negative) in best.items():
        loading = plates.load(total)
        assert len(loading.side) == count
        assert loading.side == tuple(-mass for mass in negative)
        assert plates.empty + 2 * sum(loading.side) == pytest.approx(total)


def test_the_heaviest_plate_first_would_be_wrong_here() -> None:
    # 40 kg a side: after the 25 nothing makes 15; 20 + 20 does.
    assert ODD_GYM.load(20 + 2 * 2.5 + 80).side == (20, 20)


def test_weights_of_sport_add_up() -> None:
    # IWF technical rules (TCRR 2020): men's bar 20 kg, women's 15 kg, discs of 25, 20, 15, 10 and
    # fewer kg, collars of 2.5 kg each.
    men = PlateSet.of("kg", collar=2.5)
    assert men.empty == 25
    assert men.load(75).side == (25,)
    assert PlateSet.of("kg", "women's bar").load(65).side == (25,)
    # 135 lb is the bar and one 45 a side, 185 lb adds a 25.
    assert PlateSet.of("lb").load(135).side == (45,)
    assert PlateSet.of("lb").load(185).side == (45, 25)
    assert PlateSet.of("lb").load(185).total_kg == pytest.approx(185 * 0.45359237)
    assert str(PlateSet.of("lb").load(185)) == "185 lb: 45 + 25 on each side"
    assert str(men.load(25)) == "25 kg: no plates"


def test_nearest_loads() -> None:
    kg = PlateSet.of("kg")
    assert kg.neighbours(101) == (100, 102.5)
    assert kg.nearest(101).total == 100
    assert kg.nearest(101.25).total == 100, "the lighter of two equally near"
    assert kg.nearest(101.3).total == 102.5
    assert kg.at_most(102.4).total == 100
    assert kg.at_most(5000).total == kg.loads[-1]


@pytest.mark.parametrize(
    ("total", "words"),
    [
        (101, "101 kg cannot be loaded with these plates; the nearest loads are 100 and 102.5 kg"),
        (15, "15 kg is less than bar and collars, 20 kg; take a lighter bar"),
        (-5, "-5 kg is less than bar and collars"),
        (float("nan"), "the load is nan; it must lie between"),
        (999, "999 kg is more than this set can load, 327.5 kg; add plates"),
    ],
)
def test_a_load_that_cannot_be_is_refused_with_the_nearest(total: float, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        PlateSet.of("kg").load(total)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("stone", ((10, 1),), 20), "the unit of the plates is 'stone'; choose kg or lb"),
        (("kg", ((10, 1), (10, 2)), 20), "a plate is listed twice"),
        (("kg", ((-10, 1),), 20), "a plate's mass is -10; it must lie between 0.1 and 110 kg"),
        (("kg", ((10, -1),), 20), "the number of pairs of 10 kg is -1"),
        (("kg", ((10, 1.5),), 20), "the number of pairs of 10 kg is 1.5; give a whole number"),
        (("kg", ((10, 1),), 0), "the bar's mass is 0"),
    ],
)
def test_an_impossible_set_is_refused(arguments: tuple, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        PlateSet(*arguments)
    assert words in str(caught.value)


def test_unknown_names_list_the_known_ones() -> None:
    with pytest.raises(ValueError, match="choose kg or lb"):
        PlateSet.of("stone")
    with pytest.raises(ValueError, match="choose one of bar, women's bar"):
        PlateSet.of("kg", "axle")


@pytest.mark.parametrize("plates", [PlateSet.of("kg"), PlateSet.of("lb"), ODD_GYM], ids=str)
def test_a_warm_up_climbs_to_the_work_load(plates: PlateSet) -> None:
    for work in plates.loads:
        ramp = warm_up(plates, work)
        totals = [loading.total for loading, _ in ramp]
        assert totals == sorted(set(totals))
        assert all(total < work and total in plates.loads for total in totals)
        assert (totals[0] == plates.empty) if ramp else work == plates.empty
        repetitions = [count for _, count in ramp]
        assert repetitions == sorted(repetitions, reverse=True)


def test_a_warm_up_in_full() -> None:
    assert [(step.total, n) for step, n in warm_up(PlateSet.of("kg"), 100)] == [
        (20, 8), (40, 5), (55, 4), (70, 3), (85, 2),
    ]  # fmt: skip
    # 70 % of these work loads can be loaded exactly, though 0.7 × 175 is 122.49999999999999.
    assert warm_up(PlateSet.of("kg"), 175)[3].loading.total == 122.5
    assert warm_up(PlateSet.of("lb"), 350)[3].loading.total == 245
    with pytest.raises(ValueError, match="the nearest loads are 100 and 102.5 kg"):
        warm_up(PlateSet.of("kg"), 101)


def test_strap_held_work_takes_four_fifths_rounded_down() -> None:
    # Common practice in coaching: about 80 % of the usual load.
    kg = PlateSet.of("kg")
    assert strap_held(kg, 100).total == 80
    assert strap_held(kg, 97.5).total == 77.5, "never more than 80 %"
    with pytest.raises(ValueError, match="18 kg is less than bar and collars"):
        strap_held(kg, 22.5)
