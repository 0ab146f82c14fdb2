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
from tests.review.squats import BAR_KG, LIFTER, SIDE, filmed, hiding, squat

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
