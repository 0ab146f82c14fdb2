"""What must hold of any lifter does hold where nothing is wrong, in millimetres."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from squatlab.motion import film
from squatlab.review.laws import (
    HEIGHTS,
    MIDDLE_SD_M,
    heights_of,
    laws_of,
    lengths_between,
    places_of,
)
from squatlab.review.quantities import Quantities
from squatlab.review.view import views_of
from tests.review.squats import BAR_KG, FRONT, LIFTER, SIDE, squat

MILLIMETRE = 1e-3
REP = squat()
MOMENTS = ("standing", "halfway", "bottom")


@cache
def views():
    """Return the exact views of one squat by their kind: in space, and by two cameras."""
    both = [film(REP.points, REP.time, camera) for camera in (SIDE, FRONT)]
    declared = {"lifter": LIFTER, "bar_kg": BAR_KG}
    seen = (*views_of(REP.tracks(), **declared), *views_of(*both, camera=SIDE, **declared))
    return {view.kind: view for view in seen}


@pytest.mark.parametrize(
    ("one", "other", "length_m"),
    [
        ("hip_r", "knee_r", LIFTER.thigh_m),
        ("hip_l", "knee_l", LIFTER.thigh_m),
        ("knee_r", "ankle_r", LIFTER.shank_m),
        ("hip_r", "l5", LIFTER.pelvis_m),
        ("l5", "c7", LIFTER.hip_to_c7_m - LIFTER.pelvis_m),
        ("hip_r", "hip_l", LIFTER.hip_width_m),
    ],
)
def test_lengths_in_space_are_those_the_lifter_is_made_of(one, other, length_m):
    spans = lengths_between(views()["3d"], one, other)
    for moment, span in zip(MOMENTS, spans, strict=True):
        # Halfway some frames are averaged, and their mean lies a little inside the arc.
        assert span == pytest.approx(length_m, abs=2 * MILLIMETRE), moment


def test_a_side_view_knows_how_far_out_the_knee_goes():
    """Thigh and shank of the near leg keep their lengths though the picture shows them shorter."""
    for one, other, length_m in (
        ("hip_r", "knee_r", LIFTER.thigh_m),
        ("knee_r", "ankle_r", LIFTER.shank_m),
    ):
        for span in lengths_between(views()["side"], one, other):
            assert span == pytest.approx(length_m, abs=12 * MILLIMETRE)
    assert lengths_between(views()["side"], "hip_r", "hip_l") is None


def test_the_three_moments_are_standing_halfway_and_lowest():
    view, hip = views()["3d"], REP.points["hip_r"][:, 1]
    places = places_of(view, "hip_r")
    top, low = hip[0], hip.min()
    assert places.standing[1] == pytest.approx(top, abs=2 * MILLIMETRE)
    assert places.bottom[1] == pytest.approx(low, abs=15 * MILLIMETRE)
    assert places.halfway[1] == pytest.approx(0.5 * (top + low), abs=15 * MILLIMETRE)
    assert places_of(view, "nose") is None


@pytest.mark.parametrize(("kind", "sds"), [("3d", 1.0), ("side", 1.5), ("front", 1.0)])
def test_every_law_holds_where_nothing_is_wrong(kind, sds):
    """Within the SD that lifters differ by; halves again where a thigh points out of a picture."""
    laws = laws_of(views()[kind])
    assert len(laws) >= 12
    for number, law in enumerate(laws):
        assert abs(float(law.value) - law.expected) < sds * law.sd, number


def test_both_views_see_the_heights_that_the_points_have():
    side, front = (heights_of(views()[kind]) for kind in ("side", "front"))
    frames = {"standing": 0, "bottom": REP.bottom}
    ankle = REP.points["ankle_r"][0, 1]
    assert set(side) == set(front) == set(HEIGHTS)
    for name in HEIGHTS:
        joint, moment = name.split()
        true = REP.points[f"{joint}_r"][frames[moment], 1] - ankle
        # At the bottom .3 s are averaged.
        assert side[name] == pytest.approx(true, abs=15 * MILLIMETRE), name
        assert front[name] == pytest.approx(side[name], abs=10 * MILLIMETRE), name


# Each law by hand, of points that break all of them.


@cache
def broken():
    """Return a view in space of a lifter with every point off by centimetres, and its points."""
    rng = np.random.default_rng(12)
    tracks = REP.tracks()
    off = rng.normal(0, 0.02, (1, *tracks.positions.shape[1:]))
    down = (REP.points["pelvis"][0, 1] - REP.points["pelvis"][:, 1])[:, np.newaxis, np.newaxis]
    grows = 1 + rng.normal(0, 0.5, (1, len(tracks.names), 1)) * down
    spoilt = replace(tracks, positions=tracks.positions + off * grows)
    (view,) = views_of(spoilt, lifter=LIFTER, bar_kg=BAR_KG)
    return view, view.placed.points


def at_moments(view, values):
    """Return means of values (time, …) while standing, halfway down and up, and at the lowest."""
    start, bottom, end = view.repetitions[0]
    hips, low = view.hips, slice(bottom - 18, bottom + 19)  # .3 s of 120 frames a second
    high = hips[view.stands[0]].mean()
    share = (hips - hips[bottom]) / (high - hips[bottom])
    half = [n for n in range(start, end + 1) if abs(share[n] - 0.5) < 0.12]
    return [values[frames].mean(axis=0) for frames in (view.stands[0], half, low)]


def test_laws_are_what_they_say_of_points_in_space():
    view, points = broken()
    place = {name: at_moments(view, point) for name, point in points.items()}
    expected = []

    def keeps(one, other, axes=3, declared=None):
        spans = [
            np.linalg.norm((a - b)[:axes]) for a, b in zip(place[one], place[other], strict=True)
        ]
        expected.extend([spans[1] - spans[0], spans[2] - spans[0]])
        if declared:
            expected.append(spans[0] - declared)

    for side in "rl":
        keeps(f"hip_{side}", f"knee_{side}", declared=LIFTER.thigh_m)
        keeps(f"knee_{side}", f"ankle_{side}", declared=LIFTER.shank_m)
        heel, toe, ankle = (place[f"{n}_{side}"][0][1] for n in ("heel", "toe", "ankle"))
        expected.extend([toe - heel, ankle - heel - LIFTER.ankle_height_m])
    # What is of the trunk is measured in the middle plane.
    keeps("hip_r", "l5", axes=2, declared=LIFTER.pelvis_m)
    keeps("l5", "c7", axes=2)
    keeps("c7", "bar", axes=2)
    ahead = Quantities(view).centre_ahead(np.array([80.0]), np.array([BAR_KG]))
    expected.append(ahead[view.stands[0]].mean())
    for joint in ("hip", "knee", "ankle", "heel", "toe", "bar_end"):
        right, left = place[f"{joint}_r"], place[f"{joint}_l"]
        expected.append((right[0] - left[0])[1])
        if joint == "hip":
            width, low = (right[0] - left[0])[2], (right[2] - left[2])[2]
            expected.extend([low - width, width - LIFTER.hip_width_m])
    middle = {
        n: 0.5 * (place[f"{n}_r"][0] + place[f"{n}_l"][0])[2] for n in ("ankle", *MIDDLE_SD_M)
    }
    expected.extend([middle[joint] - middle["ankle"] for joint in ("hip", "knee", "heel", "toe")])
    laws = laws_of(view)
    found = sorted(float(law.value) - law.expected for law in laws)
    assert found == pytest.approx(sorted(expected), abs=1e-9)
    assert max(map(abs, found)) > 0.03, "the laws are broken"
    # A law is the surer the nearer it is to bone and ground; none is good to less than 5 mm.
    assert all(0.005 <= law.sd <= 0.025 for law in laws)


def test_the_centre_of_mass_is_that_of_the_model_where_the_body_is_the_model_s():
    view = views()["3d"]
    ahead = Quantities(view).centre_ahead(np.array([LIFTER.mass_kg]), np.array([BAR_KG]))
    points = view.placed.points
    mid_foot = 0.5 * (points["heel_r"] + points["toe_r"])[:, 0]
    true = REP.posture.com[:, 0] - mid_foot
    still = view.stands[0]
    assert ahead[still] == pytest.approx(true[still], abs=MILLIMETRE)
    low = slice(REP.bottom - 5, REP.bottom + 6)
    assert ahead[low] == pytest.approx(true[low], abs=5 * MILLIMETRE)
    # As is the bar's: moved by 1 cm it takes the whole along by its share of the mass.
    heavier = Quantities(view).centre_ahead(np.array([LIFTER.mass_kg]), np.array([2 * BAR_KG]))
    bar = points["bar"][:, 0] - mid_foot
    total = LIFTER.mass_kg + BAR_KG
    by_hand = (total * ahead + BAR_KG * bar) / (total + BAR_KG)
    assert heavier[still] == pytest.approx(by_hand[still], abs=MILLIMETRE)
