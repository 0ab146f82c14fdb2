"""What must hold of any lifter does hold where nothing is wrong, in millimetres."""

from __future__ import annotations

from functools import cache

import pytest

from squatlab.motion import film
from squatlab.review.laws import HEIGHTS, heights_of, laws_of, lengths_between, places_of
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
