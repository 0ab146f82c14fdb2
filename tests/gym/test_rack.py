"""Rack heights against the surveys, holes against counting, unracking against the foot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.gym.set_up import lowest_bar_m, safety_hole, set_up
from squatlab.gym.unracking import unrack
from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance, foot
from squatlab.mechanics.trunk import Bar

MILLIMETRE = 0.001
PRESETS = ("50 mm", "2 in", "25 mm", "1 in")
AVERAGE = Lifter.from_stature(1.75, 78.0)


def crowd() -> Lifter:
    """Return 200 builds: statures, and thighs and trunks that vary apart."""
    rng = np.random.default_rng(20)
    lifter = Lifter.from_stature(rng.uniform(1.48, 2.02, 200), rng.uniform(45, 120, 200))
    return lifter.scaled(thigh=rng.normal(1, 0.04, 200), trunk=rng.normal(1, 0.04, 200))


@pytest.mark.parametrize(
    ("survey", "stature", "suprasternale", "sternum_share"),
    [
        # ANSUR II (Gordon et al. 2014, NATICK/TR-15/007): mean stature and suprasternale height, m;
        # de Leva 1996, J Biomech 29:1223-1230, table 4: SUPR-XYPH over the sample's stature.
        ("men", 1.7562, 1.4386, 0.1707 / 1.741),
        ("women", 1.6285, 1.3297, 0.1425 / 1.735),
    ],
)
def test_mid_sternum_is_half_a_breastbone_below_the_surveyed_notch(
    survey: str, stature: float, suprasternale: float, sternum_share: float
) -> None:
    expected = suprasternale - 0.5 * sternum_share * stature
    assert mid_sternum_m(stature, survey) == pytest.approx(expected, abs=1 * MILLIMETRE)


@pytest.mark.parametrize(
    ("survey", "stature", "vertex_cervicale", "cervicale_xiphion", "sternum", "tolerance"),
    [
        # de Leva 1996, table 4, a second sample: the xiphion counted down from the top of the head.
        ("men", 1.741, 0.2429, 0.2421, 0.1707, 1 * MILLIMETRE),
        ("women", 1.735, 0.2437, 0.2280, 0.1425, 12 * MILLIMETRE),
    ],
)
def test_a_second_sample_puts_the_mid_sternum_within_a_quarter_of_a_hole(
    survey: str,
    stature: float,
    vertex_cervicale: float,
    cervicale_xiphion: float,
    sternum: float,
    tolerance: float,
) -> None:
    expected = stature - vertex_cervicale - cervicale_xiphion + sternum / 2
    assert mid_sternum_m(stature, survey) == pytest.approx(expected, abs=tolerance)


def test_both_surveys_together_stay_within_5_mm_of_either() -> None:
    stature = np.linspace(1.45, 2.0, 12)
    both = mid_sternum_m(stature)
    for survey in ("men", "women"):
        assert np.all(np.abs(mid_sternum_m(stature, survey) - both) < 6 * MILLIMETRE)


@pytest.mark.parametrize("name", PRESETS)
def test_holes_agree_with_trying_every_hole(name: str) -> None:
    rack = Rack.of(name)
    heights = np.random.default_rng(3).uniform(rack.first_hole_m, rack.top_m, 300)
    holes = rack.height(np.arange(1, rack.holes + 1))
    nearest = [int(np.argmin(np.abs(holes - height))) + 1 for height in heights]
    below = [int(np.max(np.flatnonzero(holes <= height))) + 1 for height in heights]
    assert rack.nearest(heights).tolist() == nearest
    assert rack.at_most(heights).tolist() == below
    assert [rack.nearest(height) for height in heights] == nearest
    assert rack.nearest(holes).tolist() == rack.at_most(holes).tolist()


@pytest.mark.parametrize("name", ["2 in", '2"', "2 inches", "5.08 cm"])
def test_a_rack_is_found_by_any_spelling_and_told_in_its_own_unit(name: str) -> None:
    """2 in are 50.8 mm exactly."""
    rack = Rack.of(name)
    assert rack == Rack.of("2 in")
    assert (rack.step, rack.height_words(1.27)) == ("2 in", "127 cm (50 in)")
    assert (Rack.of("5 cm").step, Rack.of().height_words(1.27)) == ("50 mm", "127 cm")
    assert Rack.of("25mm").step == "25 mm", "not an inch"


@pytest.mark.parametrize(
    ("spacing", "holes", "step"), [("3 in", 18, "3 in"), ("60 mm", 22, "60 mm")]
)
def test_a_rack_may_have_any_spacing(spacing: str, holes: int, step: str) -> None:
    """Of 26 steps of 2 in, 52 in, are 17 of 3 in; of 1.3 m are 21 of 60 mm."""
    rack = Rack.of(spacing)
    usual = Rack.of("2 in" if "in" in spacing else "50 mm")
    assert (rack.first_hole_m, rack.holes, rack.step) == (usual.first_hole_m, holes, step)
    assert usual.top_m - rack.spacing_m < rack.top_m <= usual.top_m


def test_halfway_between_two_holes_takes_the_lower() -> None:
    assert Rack(0.5, 0.05, 20).nearest(1.025) == 11
    assert Rack(0.5, 0.05, 20).nearest(1.0251) == 12


@pytest.mark.parametrize("bar", [Bar.high(60.0), Bar.low(60.0)], ids=["high", "low"])
def test_the_dip_brings_the_bar_to_the_hooks_in_balance(bar: Bar) -> None:
    lifter = crowd()
    height = mid_sternum_m(lifter.stature_m)
    out = unrack(lifter, bar, height)
    under = height < out.standing_m
    assert under.mean() > 0.9
    assert np.abs(out.posture.bar_centre.y - height)[under].max() < 1e-9
    assert np.abs(out.posture.com_shift)[under].max() < 1e-9
    assert np.all(out.dip_m[under] == (out.standing_m - height)[under])


def test_the_bar_only_comes_down_on_the_way_to_level_thighs() -> None:
    """The search for the dip relies on it."""
    lifter = crowd()
    part = np.linspace(0, 1, 60)[:, None]
    for bar in (Bar.high(15.0), Bar.low(15.0), Bar.high(180.0), Bar.low(180.0)):
        feet = Stance(heel_width_m=lifter.hip_width_m, turnout_deg=0.0)
        way = balance(lifter, bar, feet, 88 * (1 - part), 2 + 28 * part)
        height = np.where(way.trunk_deg < 70, way.bar_centre.y, np.nan)
        assert np.nanmax(np.diff(height, axis=0)) < 0


def test_on_tiptoe_the_turned_foot_lifts_the_ankle_by_just_that_much() -> None:
    """The second route: the foot of mechanics, turned about its ball."""
    lifter = crowd()
    standing = unrack(lifter, Bar.low(60.0), mid_sternum_m(lifter.stature_m)).standing_m
    for extra in (0.005, 0.02, 0.05):
        out = unrack(lifter, Bar.low(60.0), standing - 0.03 + extra)
        assert np.abs(out.tiptoe_m - extra).max() < 1e-12
        raised = foot(lifter, Stance(heel_rise_deg=out.heel_rise_deg), "r")[3].y
        assert np.abs(raised - lifter.ankle_height_m - extra).max() < 1e-9
        assert np.abs(out.base_m / lifter.foot_m - 0.28).max() < 1e-12, "ball to toe only"


def test_one_hole_too_high_means_tiptoe_for_the_low_bar_and_not_for_the_high() -> None:
    high, low = (set_up(Rack.of(), AVERAGE, bar) for bar in (Bar.high(60.0), Bar.low(60.0)))
    assert high.hole == low.hole == 20
    assert high.above.tiptoe_m == 0 < low.above.tiptoe_m
    assert high.below.dip_m - high.at.dip_m == pytest.approx(0.05)
    assert high.below.knee_deg > high.at.knee_deg > high.above.knee_deg
    assert "One hole higher: on tiptoe: heels up" in str(low)
    assert "on tiptoe" not in str(high)
    assert "Hooks in hole 20 (1.35 m): dip" in str(high)


def test_in_a_batch_a_bar_too_low_is_nan_and_the_others_are_not() -> None:
    out = unrack(AVERAGE, Bar.high(60.0), np.array([0.6, 1.35]))
    assert np.isnan(out.knee_deg).tolist() == [True, False]


def test_a_bar_too_high_for_any_tiptoe_says_so() -> None:
    out = unrack(AVERAGE, Bar.high(60.0), 1.75)
    assert np.isnan(out.heel_rise_deg)
    assert str(out).startswith("out of reach: 30 cm too high")


@pytest.mark.parametrize("name", PRESETS)
@pytest.mark.parametrize("bar", [Bar.high(60.0), Bar.low(60.0)], ids=["high", "low"])
def test_a_set_up_is_flat_footed_and_its_safety_bars_are_just_below(name: str, bar: Bar) -> None:
    rack, lifter = Rack.of(name), crowd()
    done = set_up(rack, lifter, bar, Stance(), shank_deg=35.0)
    assert done.at.tiptoe_m.max() == 0
    wanted = mid_sternum_m(lifter.stature_m)
    lowered = rack.nearest(wanted) > done.hole
    assert np.all(done.above.tiptoe_m[lowered] > 0), "lowered no further than needed"
    assert done.gap_m.min() >= 0.03 - 1e-9
    assert done.gap_m.max() < 0.03 + rack.spacing_m + 1e-9, "one hole higher would be too near"


def test_many_lifters_at_once_are_each_as_alone() -> None:
    stature, mass = np.array([1.55, 1.75, 1.95]), np.array([55.0, 78.0, 95.0])
    together = set_up(Rack.of("2 in"), Lifter.from_stature(stature, mass), Bar.low(50.0))
    for i in range(3):
        lifter = Lifter.from_stature(stature[i], mass[i])
        alone = set_up(Rack.of("2 in"), lifter, Bar.low(50.0))
        assert (together.hole[i], together.safety[i]) == (alone.hole, alone.safety)
        assert together.at.knee_deg[i] == pytest.approx(alone.at.knee_deg, abs=1e-6)
    assert str(together) == "3 set-ups"


def test_safety_bars_follow_depth_bar_and_offset() -> None:
    rack, stance = Rack.of("25 mm"), Stance()
    heights = [lowest_bar_m(AVERAGE, Bar.high(60.0), stance, depth) for depth in (20, 0, -10)]
    assert heights == sorted(heights, reverse=True)
    assert lowest_bar_m(AVERAGE, Bar.low(60.0), stance) < heights[-1]
    assert heights[-1] == lowest_bar_m(AVERAGE, Bar.high(60.0), stance), "−10° is the default"
    shifted = Rack(rack.first_hole_m, rack.spacing_m, rack.holes, safety_offset_m=-0.05)
    assert safety_hole(shifted, 0.9) == safety_hole(rack, 0.9) + 2
    assert shifted.safety_height(safety_hole(shifted, 0.9)) <= 0.9 - 0.03


def test_no_squat_that_the_lifter_can_hold_takes_the_bar_lower() -> None:
    """Every depth by itself, with stiff ankles too: none is under the answer."""
    for ankle in (15.0, 40.0):
        lifter = replace(crowd(), dorsiflexion_deg=ankle)
        for bar in (Bar.high(60.0), Bar.low(60.0)):
            lowest = lowest_bar_m(lifter, bar, Stance())
            assert np.isfinite(lowest).all()
            for thigh in (40.0, 20.0, 5.0, 0.0, -5.0, -10.0):
                held = balance(lifter, bar, Stance(), thigh, min(30.0, ankle))
                above = held.bar_centre.y - lowest
                assert above[held.feasible].min(initial=0.0) > -0.003


def test_a_measured_breastbone_beats_the_estimate() -> None:
    estimated = set_up(Rack.of(), AVERAGE, Bar.high(60.0))
    assert set_up(Rack.of(), AVERAGE, Bar.high(60.0), mid_sternum=1.30).hole == estimated.hole - 1


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: mid_sternum_m(-1.7), "stature_m is -1.7; it must lie between 1.2 and 2.3 m"),
        (lambda: mid_sternum_m(178), "stature_m is 178; it must lie between 1.2 and 2.3 m"),
        (lambda: mid_sternum_m([1.7, 17]), "stature_m is 17 (value 1 of 2)"),
        (lambda: mid_sternum_m(1.7, "dwarves"), "choose one of men, women, both"),
        (lambda: Rack.of("three"), "“three” is not a length such as"),
        (lambda: Rack.of("2 mm"), "the spacing is 0.002; it must lie between 0.01 and 0.3 m"),
        (lambda: Rack(0.4, 0.0, 20), "spacing_m is 0; it must lie between 0.01 and 0.3 m"),
        (lambda: Rack(0.4, 0.05, 2.5), "holes is 2.5; give a whole number"),
        (lambda: Rack.of().height(28), "hole is 28; it must lie between 1 and 27"),
        (lambda: Rack.of().height(0), "hole is 0; it must lie between 1 and 27"),
        (lambda: Rack.of().height(3.5), "holes are whole numbers from 1 to 27"),
        (
            lambda: Rack.of().nearest(1.9),
            "1.90 m is out of this rack's reach: its holes hold the "
            "bar from 0.40 to 1.70 m; choose another rack, or stands",
        ),
        (lambda: Rack.of().nearest(float("nan")), "out of this rack's reach"),
        (
            lambda: safety_hole(Rack(0.9, 0.05, 20), 0.8),
            "the safety bars cannot be set 3 cm below "
            "the lowest bar (0.80 m): no hole is at or below 0.77 m",
        ),
        (
            lambda: safety_hole(Rack(0.9, 0.05, 20), 0.8),
            "use a rack that goes lower, or squat to "
            "a box that ends the descent higher, with a spotter at each end",
        ),
        (
            lambda: unrack(AVERAGE, Bar.high(20.0), 0.6),
            "a bar at 0.60 m lies too low for this lifter "
            "to get under it in balance above level thighs (standing, it is at 1.48 m); move",
        ),
        (
            lambda: set_up(Rack.of(), AVERAGE, Bar.high(60.0), mid_sternum=130),
            "mid_sternum is 130; it must lie between 0.8 and 1.9 m to the middle of the breastbone",
        ),
        (
            lambda: lowest_bar_m(AVERAGE, Bar.high(60.0), Stance(heel_width_m=1.4)),
            "this lifter cannot hold any such squat: the stance is out of reach",
        ),
    ],
)
def test_bad_input_is_refused_in_words(call: object, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        call()
    assert words in str(caught.value)
