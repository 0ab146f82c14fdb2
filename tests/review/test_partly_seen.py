"""What is told of films that begin late, or in which hips, knees or ankles are hidden."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab.review import ErrorModel, measure
from squatlab.review.quantities import Quantities
from squatlab.review.view import CannotTell, view_of
from squatlab.tracks import TracksError, receive
from tests.review.squats import DECLARED, SIDE, filmed, hiding, squat, without

EXACT = {"errors": ErrorModel.exact()}


def side(*faults):
    """Return the film from the side of a squat, and when its hips are lowest, s."""
    (film,) = filmed(squat(*faults), SIDE)
    return film, float(film.times[np.argmin(film["hip_r"][:, 1])])


def with_hidden_bottom(film, bottom_s, seconds=0.5):
    """Return a film in which a plate hides the hips around the bottom."""
    return hiding(film, "hip_r", bottom_s - seconds / 2, bottom_s + seconds / 2)


def cut_on_the_way_down(film, share):
    """Return a film that begins when the hips have gone a share of their way down."""
    hips = film["hip_r"][:, 1]
    first = int(np.argmax(hips < hips[0] - share * (hips[0] - hips.min())))
    return replace(film, times=film.times[first:], positions=film.positions[first:])


def test_hips_hidden_at_the_bottom_are_deep_enough_if_they_were_when_last_seen():
    film, bottom_s = side()
    whole = measure(film, **DECLARED)["short_depth"]
    found = measure(with_hidden_bottom(film, bottom_s), **DECLARED)["short_depth"]
    assert (found.present, found.bound, whole.bound) == ("no", "at most", "")
    assert whole.value < found.value < 5.0
    assert found.amount.startswith("at most ")


def test_what_is_seen_on_the_way_never_says_that_a_fault_is_there():
    film, bottom_s = side(("short_depth", 20.0))
    hidden = measure(with_hidden_bottom(film, bottom_s, 0.6), **DECLARED)["short_depth"]
    assert (hidden.present, hidden.bound) == ("cannot tell", "")
    film, _ = side(("fast_descent", 0.75))
    late = measure(cut_on_the_way_down(film, 0.3), **DECLARED)["fast_descent"]
    assert (late.present, late.bound) == ("cannot tell", "")


def test_a_descent_of_which_enough_is_seen_is_slow_enough():
    film, bottom_s = side(("fast_descent", 1.9))
    whole = measure(film, **DECLARED)["fast_descent"]
    for part in (cut_on_the_way_down(film, 0.15), with_hidden_bottom(film, bottom_s)):
        found = measure(part, **DECLARED)["fast_descent"]
        assert (found.present, found.bound) == ("no", "at least")
        assert 1.0 < found.value < whole.value


def test_the_first_frames_in_which_hips_are_seen_stand_in_for_standing():
    film, _ = side()
    first, last = np.searchsorted(film.times, (1.0, film.times[-1] - 1.0))
    trimmed = replace(film, times=film.times[first:last], positions=film.positions[first:last])
    late = hiding(trimmed, "hip_r", trimmed.times[0], trimmed.times[2])
    for name in ("short_depth", "fast_descent"):
        found, before = (measure(one, **DECLARED)[name] for one in (late, trimmed))
        assert found.present == before.present == "no"
        assert found.value == pytest.approx(before.value, abs=0.1)


def test_which_joint_bends_first_needs_film_before_it():
    film, _ = side()
    begins_s = min(map(float, Quantities(view_of(film)).bend_onsets))
    for before_s, present in ((0.4, "no"), (0.05, "cannot tell")):
        first = int(np.searchsorted(film.times, begins_s - before_s))
        part = replace(film, times=film.times[first:], positions=film.positions[first:])
        found = measure(part, **DECLARED)["knees_first"]
        assert found.present == present, found


def no_ankles(film):
    return without(film, "ankle_r", "heel_r", "toe_r")


def test_a_side_film_without_feet_tells_depth_and_tempo():
    film, _ = side()
    part = no_ankles(film)
    read = receive(part.times, part.positions, part.names, view="side", units="px")
    found, whole = measure(read, **DECLARED | EXACT), measure(film, **DECLARED | EXACT)
    for name, tolerance in (("short_depth", 1.5), ("fast_descent", 0.02), ("hips_rise_first", 0.5)):
        assert found[name].value == pytest.approx(whole[name].value, abs=tolerance)
    for name in ("knees_first", "knees_far_forward", "heel_lift", "bar_forward"):
        assert found[name].present == "cannot tell"


@pytest.mark.parametrize("label", ["r_malleolus", "akle_r"], ids=["by its word", "by spelling"])
def test_an_ankle_under_another_label_is_asked_for(label):
    part = no_ankles(side()[0])
    names = [*part.names, label]
    positions = np.concatenate([part.positions, part.positions[:, -1:]], axis=1)
    with pytest.raises(TracksError, match="ankle_r"):
        receive(part.times, positions, names, view="side", units="px")


@pytest.mark.parametrize(("name", "factor"), [("knee_r", 1.9), ("c7", 0.1)])
def test_without_ankles_too_what_no_body_does_is_refused(name, factor):
    """A thigh of twice its length beside the trunk; a trunk of a tenth."""
    part = no_ankles(side()[0])
    positions = part.positions.copy()
    hip, column = part.names.index("hip_r"), part.names.index(name)
    positions[:, column] = positions[:, hip] + factor * (positions[:, column] - positions[:, hip])
    with pytest.raises(TracksError, match="hip_r"):
        receive(part.times, positions, part.names, view="side", units="px")


def test_four_frames_of_five_are_enough_for_a_mean_and_fewer_are_not():
    """Of ten frames, 0 to 9: without 0 and 9 their mean is 4.5, without one more there is none."""
    film, _ = side()
    view, values = view_of(film), np.arange(len(film.times), dtype=float)
    ten = slice(0, 10)
    values[[0, 9]] = np.nan
    assert view.mean_of(values, ten, ("hip_r",), "standing") == pytest.approx(4.5)
    values[1] = np.nan
    with pytest.raises(CannotTell, match="hip_r: not seen standing"):
        view.mean_of(values, ten, ("hip_r",), "standing")
    with pytest.raises(CannotTell, match="not seen never"):
        view.mean_of(values, slice(0, 0), ("hip_r",), "never")
