"""The lifter: sums, lengths and limits, against the published tables."""

from __future__ import annotations

import csv
from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import numpy as np
import pytest

from squatlab import Bar, Lifter, tables
from squatlab.lifter import LENGTHS, SEGMENTS
from squatlab.mechanics.trunk import drawn_spots
from squatlab.segments import lengths_of, segments_of, table_names

AUTHORITIES = Path(__file__).parent / "authorities"
ROUNDING = 5e-5  # the published fractions have four decimals
MILLIMETRE = 1e-3
LIFTER = Lifter.from_stature(1.75, 80)

with (AUTHORITIES / "body_segments.csv").open(encoding="utf-8", newline="") as file:
    PUBLISHED = list(csv.DictReader(file))


def published(kind: str) -> list:
    return [
        pytest.param(
            row["table"], row["name"], float(row["published"]), id=f"{row['table']} {row['name']}"
        )
        for row in PUBLISHED
        if row["kind"] == kind
    ]


@pytest.mark.parametrize(("table", "name", "total"), published("sum_of_masses"))
def test_masses_add_up_to_the_published_sum(table, name, total):
    body = segments_of(table)
    legs = 2 * sum(body[part].mass for part in ("foot", "shank", "thigh"))
    assert body["hat"].mass + legs == pytest.approx(total, abs=1e-9)


@pytest.mark.parametrize(("table", "name", "share"), published("leg_mass"))
def test_the_leg_has_its_published_mass(table, name, share):
    leg = sum(Lifter.from_stature(1.75, 100, table).mass(s) for s in ("foot", "shank", "thigh"))
    assert leg == pytest.approx(100 * share)


@pytest.mark.parametrize(("table", "name", "height"), published("height"))
def test_joint_heights_are_the_published_ones(table, name, height):
    parts = {"knee": ("ankle_height", "shank")}
    parts["hip"] = (*parts["knee"], "thigh")
    parts["shoulder"] = (*parts["hip"], "trunk")
    assert sum(lengths_of(table)[part] for part in parts[name]) == pytest.approx(height)


@pytest.mark.parametrize(("table", "name", "metres"), published("length"))
def test_de_levas_mean_person_has_the_published_lengths(table, name, metres):
    stature = next(total for t, _, total in (p.values for p in published("stature")) if t == table)
    lifter = Lifter.from_stature(stature, 70, table)
    assert getattr(lifter, f"{name}_m") == pytest.approx(metres, abs=ROUNDING * stature)


@pytest.mark.parametrize("sex", ["men", "women"])
def test_the_hat_of_de_leva_is_its_parts_as_pairs_of_points(sex):
    """Second route: each part as two equal points at its radius of gyration."""
    table = f"deleva1996_{sex}"
    rows = {r["segment"]: r for r in tables.read("segments") if r["table"] == table}
    length = lengths_of(table)
    shoulder, elbow = length["trunk"], length["trunk"] - length["upper_arm"] / 2
    ends = {  # where the first and the last landmark of each row lie, from the hip, of stature
        "trunk": (1, shoulder, 0.0, length["trunk"]),
        "head": (
            1,
            length["hip_to_c7"] + length["head_and_neck"],
            length["hip_to_c7"],
            length["head_and_neck"],
        ),
        "upper_arm": (2, shoulder, elbow, length["upper_arm"]),
        "forearm": (2, elbow, shoulder, length["forearm"]),
        "hand": (2, shoulder, shoulder, length["hand"]),
    }
    at, mass = [], []
    for name, (count, first, last, long) in ends.items():
        centre = first + float(rows[name]["centre"]) * (last - first)
        radius = float(rows[name]["gyration"]) * long
        at += [centre - radius, centre + radius]
        mass += [count * float(rows[name]["mass"]) / 2] * 2
    centre = np.average(at, weights=mass)
    spread = np.sqrt(np.average((np.array(at) - centre) ** 2, weights=mass))
    hat = segments_of(table)["hat"]
    assert hat.centre == pytest.approx(centre / length["trunk"], abs=2 * ROUNDING)
    assert hat.gyration == pytest.approx(spread / length["trunk"], abs=2 * ROUNDING)


def test_where_the_elbows_hang_hardly_matters():
    # What the comment on the assembled hat says: a quarter of an upper arm, 1 % of the trunk.
    length, part = lengths_of("deleva1996_men"), segments_of("deleva1996_men")
    lever = 2 * (
        part["upper_arm"].mass * part["upper_arm"].centre
        + part["forearm"].mass * (1 - part["forearm"].centre)
    )
    moved = lever * 0.25 * length["upper_arm"] / part["hat"].mass
    assert 0.005 < moved / length["trunk"] < 0.015


def test_the_pelvis_of_de_leva_is_the_lower_trunk():
    # de Leva (1996) table 4, men: .1117 of mass, centre .6115 from the navel of .0837 of stature.
    lifter = Lifter.from_stature(2.0, 100, "deleva1996_men")
    assert lifter.mass("pelvis") == pytest.approx(11.17)
    from_hip = lifter.centre("pelvis") * lifter.pelvis_m
    assert from_hip == pytest.approx((1 - 0.6115) * 0.0837 * 2.0, abs=0.1 * MILLIMETRE)
    assert lifter.gyration("pelvis") * lifter.pelvis_m == pytest.approx(0.551 * 0.0837 * 2.0)


def test_winter_by_heart():
    # Winter (2009) table 4.1 and figure 4.1.
    assert LIFTER.mass("thigh") == pytest.approx(8.0)
    assert LIFTER.mass("hat") == pytest.approx(54.24)
    assert LIFTER.centre("hat") == 0.626
    assert LIFTER.gyration("shank") == 0.302
    assert LIFTER.thigh_m == pytest.approx(0.245 * 1.75)
    assert LIFTER.hip_width_m == pytest.approx(0.175)
    assert LIFTER.ankle_from_heel == 0.25
    assert LIFTER.dorsiflexion_deg == 40


@pytest.mark.parametrize("table", table_names())
def test_every_table_is_complete_and_bodily(table):
    assert set(LENGTHS) <= set(lengths_of(table))
    lifter = Lifter.from_stature(1.7, 70, table)
    assert lifter.pelvis_m < lifter.trunk_m < lifter.hip_to_c7_m
    standing = lifter.ankle_height_m + lifter.shank_m + lifter.thigh_m + lifter.hip_to_c7_m
    assert 0.82 < standing / 1.7 < 0.89  # C7; .864 and .857 of stature in the survey [ansur2]
    for name in SEGMENTS:
        assert 0 < lifter.mass(name) < 70
        assert 0.3 < lifter.centre(name) < 0.9
    assert lifter.mass("pelvis") < lifter.mass("hat") / 3
    # Tables 4.1 and 4: between a fifth and a half of the length, as for any slender body.
    for name in ("foot", "shank", "thigh", "hat"):
        assert 0.2 < lifter.gyration(name) < 0.5


def test_lengths_name_their_landmarks():
    assert all(row["from_landmark"] and row["to_landmark"] for row in tables.read("lengths"))
    borrowed = {
        row["quantity"]
        for row in tables.read("lengths")
        if row["table"] == "deleva1996_men" and row["note"].startswith("as in winter2009")
    }
    assert borrowed == {"ankle_height", "hip_width", "pelvis", "shoulder_width"}


def test_a_lifter_prints_its_numbers_and_their_table():
    assert repr(LIFTER) == (
        "Lifter 1.75 m, 80 kg: thigh 42.9 cm, shank 43.0 cm, trunk 50.4 cm (winter2009)"
    )
    assert repr(Lifter.from_lengths(1.75, 80, thigh_m=0.45).scaled(trunk=0.9).scaled()) == (
        "Lifter 1.75 m, 80 kg: thigh 45.0 cm, shank 43.0 cm, trunk 45.4 cm "
        "(lengths measured, scaled, masses winter2009)"
    )
    assert repr(Lifter.from_stature([1.6, 1.8], 70)).startswith("2 lifters 1.60–1.80 m, 70 kg:")


def test_scaled_changes_what_it_says_and_nothing_else():
    scaled = LIFTER.scaled(thigh=1.08, trunk=0.95)
    assert scaled.thigh_m == pytest.approx(1.08 * LIFTER.thigh_m)
    for name in ("trunk_m", "hip_to_c7_m", "pelvis_m"):
        assert getattr(scaled, name) == pytest.approx(0.95 * getattr(LIFTER, name))
    for name in ("stature_m", "mass_kg", "shank_m", "foot_m", "head_m", "hip_width_m"):
        assert getattr(scaled, name) == getattr(LIFTER, name)
    assert LIFTER.thigh_m == pytest.approx(0.245 * 1.75)


@pytest.mark.parametrize("table", table_names())
@pytest.mark.parametrize("factor", [0.5, 1.5])
def test_scaled_reaches_both_limits(table, factor):
    lifter = Lifter.from_stature(1.83, 80, table).scaled(factor, factor, factor)
    assert lifter.shank_m == pytest.approx(factor * lengths_of(table)["shank"] * 1.83)


def test_measured_lengths_are_kept_and_the_rest_is_the_tables():
    lifter = Lifter.from_lengths(1.8, 90, thigh_m=0.47, trunk_m=0.54, dorsiflexion_deg=25)
    assert (lifter.thigh_m, lifter.trunk_m, lifter.dorsiflexion_deg) == (0.47, 0.54, 25)
    assert lifter.shank_m == pytest.approx(0.246 * 1.8)
    assert lifter.hip_to_c7_m == pytest.approx(0.54 * 0.334 / 0.288)
    assert Lifter.from_lengths(1.8, 90, trunk_m=0.54, hip_to_c7_m=0.6).hip_to_c7_m == 0.6


def test_many_lifters_by_one_call():
    lifters = Lifter.from_stature(np.linspace(1.5, 2.0, 5)[:, None], [50, 100], "deleva1996_women")
    assert lifters.shape == (5, 2)
    assert lifters.thigh_m.shape == (5, 1)
    assert lifters.mass("hat").shape == (2,)
    assert lifters.scaled(thigh=np.ones((5, 2))).thigh_m.shape == (5, 2)
    alone = Lifter.from_stature(2.0, 100, "deleva1996_women")
    assert lifters.thigh_m[-1, 0] == alone.thigh_m
    assert lifters.mass("hat")[1] == alone.mass("hat")


def test_one_number_stays_one_number():
    # So that a lifter broadcast against a million postures costs nothing.
    assert all(isinstance(getattr(LIFTER, f"{name}_m"), float) for name in LENGTHS)
    assert isinstance(LIFTER.mass("hat"), float)


def test_a_lifter_cannot_be_changed():
    with pytest.raises(FrozenInstanceError):
        LIFTER.mass_kg = 90
    given = np.array([70.0, 80.0])
    lifters = Lifter.from_stature(1.75, given)
    given[0] = 7
    assert lifters.mass_kg[0] == 70
    for array in (lifters.mass_kg, replace(lifters, thigh_m=[0.4, 0.45]).thigh_m):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda: Lifter.from_stature(175, 80),
            r"stature_m is 175; it must lie between 1.2 and 2.3 m \(divide centimetres by 100\)",
        ),
        (lambda: Lifter.from_stature(1.1, 80), "stature_m is 1.1;"),
        (lambda: Lifter.from_stature(np.nan, 80), "stature_m is nan;"),
        (lambda: Lifter.from_stature("tall", 80), "stature_m is 'tall'; give a number"),
        (lambda: Lifter.from_stature(1.75, -80), "mass_kg is -80; it must lie between 25 and 250"),
        (lambda: Lifter.from_stature(1.75, 280), "multiply pounds by 0.4536"),
        (
            lambda: Lifter.from_stature([1.7, 1.8, 17, 0], 80),
            r"stature_m is 17 \(value 2 of 4, 2 are outside\)",
        ),
        (
            lambda: Lifter.from_stature(1.75, 80, "winter"),
            "no body table 'winter'; did you mean \"winter2009\"\\? The tables: winter2009, del",
        ),
        (lambda: Lifter.from_stature(1.75, 80, "deleva1996_man"), 'you mean "deleva1996_men"'),
        (lambda: Lifter.from_stature(1.75, 80, "xyz"), "no body table 'xyz'. The tables"),
        (lambda: Lifter.from_lengths(1.75, 80, thigh_m=43), r"thigh_m is 43; .*\(divide cent"),
        (lambda: Lifter.from_lengths(1.75, 80, trunk_m=-0.5), "trunk_m is -0.5;"),
        (lambda: Lifter.from_lengths(1.75, 80, shank_m=np.nan), "shank_m is nan;"),
        (
            lambda: Lifter.from_lengths(1.75, 80, thigh_m=0.1),
            r"thigh_m divided by stature_m is 0.0571.*\(half to one and a half of winter2009",
        ),
        (lambda: Lifter.from_lengths(1.75, 80, foot_m=0), "foot_m divided by stature_m is 0;"),
        (lambda: LIFTER.scaled(thigh=1.6), "factor for thigh is 1.6; it must lie between 0.5 and"),
        (lambda: LIFTER.scaled(trunk=0.4), "factor for trunk is 0.4;"),
        (lambda: LIFTER.scaled(shank=1.3).scaled(shank=1.3), "shank_m divided by stature_m"),
        (
            lambda: Lifter.from_stature([1.7, 1.8], [70, 80, 90]),
            r"do not fit each other: stature_m \(2,\), mass_kg \(3,\); give single numbers",
        ),
        (lambda: replace(LIFTER, dorsiflexion_deg=90), "dorsiflexion_deg is 90;"),
        (lambda: LIFTER.mass("thihg"), "no segment 'thihg'; did you mean \"thigh\"\\? The seg"),
        (lambda: LIFTER.gyration("pelvis"), "winter2009 publishes no radius of gyration of the p"),
    ],
)
def test_what_no_body_has_is_refused_in_words(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def test_a_misspelt_length_is_refused_in_words():
    with pytest.raises(TypeError, match='no tigh_m; did you mean "thigh_m"'):
        Lifter.from_lengths(1.75, 80, tigh_m=0.4)


def test_the_head_is_ahead_of_the_trunks_line():
    spots = drawn_spots(Lifter.from_stature(1.75, 75), Bar.high(60), 0.0)
    assert spots["head"].behind < spots["c7"].behind
    assert spots["head"].along > spots["c7"].along
