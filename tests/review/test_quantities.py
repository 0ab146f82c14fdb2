"""Quantities of hundreds of pictures in one call are those of each by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab.review.errors import CannotTell
from squatlab.review.measurers import MEASURERS
from squatlab.review.perspective import Standpoint
from squatlab.review.quantities import Quantities, moving_mean, over_time, quantity
from squatlab.review.view import as_filmed, view_of, views_of
from tests import stick_figure
from tests.review.squats import BAR_KG, FRONT, LIFTER, SIDE, filmed, hiding, squat

NAMES = tuple(name for name, made in vars(Quantities).items() if isinstance(made, quantity))
REP = squat(("knee_valgus", 8), ("heel_lift", 3), ("lateral_shift", 2))
FILMS = {
    "3d": [REP.tracks()],
    "side": filmed(REP, SIDE, rng=np.random.default_rng(1)),
    "front": filmed(REP, rng=np.random.default_rng(1))[1:],
}


def stacked(kind):
    """Return a view with three slightly different pictures, cameras and loads, and each alone."""
    (view,) = views_of(*FILMS[kind], lifter=LIFTER, bar_kg=BAR_KG, camera=SIDE)
    rng = np.random.default_rng(2)
    moved = view.seen + rng.normal(0, 0.01, (3, 1, *view.seen.shape[1:]))
    kilograms, far, high = BAR_KG * np.array([1, 1.1, 0.9]), np.array([4, 5, 3.0]), np.ones(3)
    if kind == "3d":
        far = far * 0 + 1000.0
    many = replace(view, seen=moved, bar_kg=kilograms, standpoint=Standpoint(far, high, True))
    alone = [
        replace(view, seen=moved[k], bar_kg=kilograms[k], standpoint=Standpoint(far[k], 1.0, True))
        for k in range(3)
    ]
    return many, alone


@pytest.mark.parametrize("kind", FILMS)
def test_many_pictures_in_one_call_are_each_by_itself(kind):
    many, alone = stacked(kind)
    together, each = Quantities(many), [Quantities(view) for view in alone]
    compared = 0
    for name in NAMES:
        try:
            expected = np.stack([getattr(one, name).series for one in each])
        except Exception as reason:  # what one cannot tell, nor can many
            with pytest.raises(type(reason)):
                getattr(together, name)
            continue
        assert getattr(together, name).series == pytest.approx(expected, abs=1e-9, nan_ok=True)
        compared += 1
    assert compared >= {"3d": 21, "side": 11, "front": 12}[kind]


@pytest.mark.parametrize("kind", FILMS)
def test_many_readings_in_one_call_are_each_by_itself(kind):
    many, alone = stacked(kind)
    repetition, compared = many.repetitions[0], 0
    for measurer in MEASURERS.values():
        try:
            expected = [measurer(Quantities(view), repetition).value for view in alone]
        except Exception:  # a view that cannot tell
            continue
        together = measurer(Quantities(many), repetition).value
        assert together == pytest.approx(np.array(expected), abs=1e-9)
        compared += 1
    assert compared == {"3d": 14, "side": 10, "front": 8}[kind]


def test_a_moving_mean_leaves_out_what_is_not_seen():
    values = np.array([1.0, 2, 3, np.nan, 5, 6, 7, 8, 9, 10, np.nan, np.nan, np.nan])
    means = moving_mean(values, 2)
    assert means[:3] == pytest.approx([2, np.nan, 11 / 4], nan_ok=True)
    assert means[7] == pytest.approx(8) and np.isnan(means[10:]).all()
    assert moving_mean(np.ones((2, 9)), 3) == pytest.approx(np.ones((2, 9)))


def test_each_of_two_repetitions_counts_from_its_own_standing():
    """Heels that stand two centimetres higher the second time have not risen by that."""
    tracks = squat(repetitions=2).tracks()
    first, second = view_of(tracks).repetitions
    positions = tracks.positions.copy()
    heels = [number for number, name in enumerate(tracks.names) if name.startswith("heel")]
    positions[first.bottom :, heels, 1] += 0.02
    height = over_time(view_of(replace(tracks, positions=positions)), "heel_height").series
    assert height[first.start] == pytest.approx(height[second.start], abs=0.05)


def test_angles_of_a_jointed_figure_are_those_that_it_is_made_of():
    """Standing and at the lowest, where the filter of 6 Hz changes next to nothing."""
    view = view_of(stick_figure.picture("side"))
    shank, thigh, trunk = np.array([3.0, 32.0]), np.array([87.0, -5.0]), np.array([4.0, 40.0])
    made = {
        "shank_lean": shank,
        "thigh_line": thigh,
        "trunk_lean": trunk,
        "knee_flexion": shank + 90.0 - thigh,
        "knee_ahead": 100 * (0.43 * np.sin(np.radians(shank)) - 0.75 * stick_figure.FOOT),
    }
    frames = [0, view.repetitions[0].bottom]
    for name, expected in made.items():
        series = getattr(Quantities(view), name).series
        assert series[frames] == pytest.approx(expected, abs=0.5), name


def test_depth_is_not_told_of_a_thigh_that_is_not_seen_standing():
    film = filmed(squat(), SIDE)[0]
    begins = view_of(film).repetitions[0].start / film.rate
    hidden = hiding(film, "knee_r", 0.02, begins)  # all but a frame or two
    with pytest.raises(CannotTell, match="while standing"):
        Quantities(view_of(hidden)).thigh_level  # noqa: B018


def test_pictures_of_a_screen_are_read_each_by_itself():
    """A protractor held to the screen: atan2 of what lies across and up, picture by picture."""
    across, up = np.array([0.1, 0.2, -0.3]), np.array([0.4, 0.4, 0.5])
    view = as_filmed("side", {"ankle_r": 0j, "knee_r": across + 1j * up})
    assert view["knee_r"].shape[:2] == (3, 1)  # picture, frame
    lean = Quantities(view).shank_lean.series
    assert lean[:, 0] == pytest.approx(np.degrees(np.arctan2(across, up)))


UNEVEN = squat(
    ("knee_valgus", 6),
    ("lateral_shift", 3),
    ("uneven_bar", 4),
    ("bar_forward", 3),
    ("short_depth", 8),
    asymmetry_deg=8.0,
)
"""A squat in which right and left differ in everything."""


def by_vectors(place, standing):
    """Return quantities by vectors alone, of points at one moment and while standing.

    x forward, y up, z to the lifter's right.
    """

    def angle_deg(one, other):
        return np.degrees(np.arccos(one @ other / np.linalg.norm(one) / np.linalg.norm(other)))

    def level(vector):
        return vector * (1, 0, 1)

    ahead, up, right = np.eye(3)
    hips, hips_stood = (0.5 * (at["hip_r"] + at["hip_l"]) for at in (place, standing))
    bar = place["bar_end_r"] - place["bar_end_l"]
    made = {
        "trunk_lean": angle_deg((place["c7"] - place["hip_r"]) * (1, 1, 0), up),
        "shank_lean": angle_deg((place["knee_r"] - place["ankle_r"]) * (1, 1, 0), up),
        "knee_ahead": 100 * (place["knee_r"] - place["toe_r"]) @ ahead,
        "bar_ahead": 100 * place["bar"] @ ahead,  # x is 0 at mid-foot
        "hip_shift": 100 * (hips - hips_stood) @ right,
        "bar_slope": angle_deg(bar, up) - 90.0,
        "bar_tilt": angle_deg(bar, up) - 90.0,
        "hip_height": hips @ up,
        "knees_apart": 100 * (place["knee_r"] - place["knee_l"]) @ right,
    }
    made["knees_apart_in_heel_widths"] = made["knees_apart"] / (
        100 * (place["heel_r"] - place["heel_l"]) @ right
    )
    thigh = standing["hip_r"] - standing["knee_r"]
    drop = (place["hip_r"] - place["knee_r"]) @ up
    made["thigh_level"] = 90.0 - np.degrees(np.arccos(drop / np.linalg.norm(thigh)))
    for side, outward in (("r", right), ("l", -right)):
        foot = place[f"toe_{side}"] - place[f"heel_{side}"]
        shank = place[f"knee_{side}"] - place[f"ankle_{side}"]
        made[f"foot_out_{side}"] = 90.0 - angle_deg(level(foot), outward)
        made[f"knee_out_{side}"] = 90.0 - angle_deg(level(shank), outward)
        # Off the upright plane along the foot, toward the other foot.
        off_plane = np.cross(level(foot), up)
        inward = -np.sign(off_plane @ outward) * off_plane
        length = np.linalg.norm(standing[f"knee_{side}"] - standing[f"ankle_{side}"])
        sine = shank @ inward / np.linalg.norm(inward) / length
        made[f"knee_in_{side}"] = np.degrees(np.arcsin(sine))
    return made


def test_each_quantity_is_what_its_name_says_of_exact_points():
    """At the lowest, by vectors: within .3 of a degree or a centimetre, what 6 Hz take away."""
    (view,) = views_of(UNEVEN.tracks(), lifter=LIFTER, bar_kg=BAR_KG)
    lowest = view.repetitions[0].bottom
    place, standing = (
        {name: points[frame] for name, points in UNEVEN.points.items()} for frame in (lowest, 0)
    )
    expected = by_vectors(place, standing)
    for name, value in expected.items():
        series = getattr(Quantities(view), name).series
        assert series[lowest] == pytest.approx(value, abs=0.3), name
    for name in ("knee_in", "knee_out", "foot_out"):
        assert abs(expected[f"{name}_r"] - expected[f"{name}_l"]) > 0.1, "sides do not mirror"
    stood = {name: getattr(Quantities(view), name).series[0] for name in expected}
    assert stood["hip_shift"] == pytest.approx(0.0, abs=0.01) == stood["bar_tilt"]
    # The weight goes as far as the bar would have to go to take it there.
    way = np.ptp(UNEVEN.posture.com[[0, lowest], 0]) * (LIFTER.mass_kg + BAR_KG) / BAR_KG
    assert Quantities(view).weight_ahead.series[lowest] == pytest.approx(100 * way, abs=0.3)


def test_feet_that_look_longer_than_they_can_be_point_straight_out():
    """A sine above 1 is one of a right angle, not no angle: as with a foot declared too short."""
    (film,) = filmed(squat(turnout=45.0), FRONT)
    short = replace(LIFTER, foot_m=0.14)
    for side in "rl":
        series = getattr(Quantities(view_of(film, short)), f"foot_out_{side}").series
        assert np.isfinite(series).all() and series[0] == pytest.approx(90.0, abs=1.0)
