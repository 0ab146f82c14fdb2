"""What each thing that may be wrong does to a picture: by geometry, not by the code's own words."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from squatlab import tables
from squatlab.motion import film
from squatlab.review import ErrorModel
from squatlab.review.disturbances import SKIN_M, TURNS, disturbances_of
from squatlab.review.uncertainty import estimate
from squatlab.review.view import views_of
from tests.review.squats import BAR_KG, FRONT, LIFTER, SIDE, squat

DECLARED = {"lifter": LIFTER, "bar_kg": BAR_KG, "camera": SIDE}
REP = squat()
NUMBER = {"front": 0, "side": 1}
"""The front is read first: the side view needs what it shows."""

LEG = {"hip", "knee", "ankle", "heel", "toe"}


def films(trimmed=False):
    """Return exact films from the side and the front, or such that begin in mid-movement."""
    whole = [film(REP.points, REP.time, camera) for camera in (SIDE, FRONT)]
    if not trimmed:
        return whole
    going = slice(60, len(whole[0].times) - 60)
    return [replace(one, times=one.times[going], positions=one.positions[going]) for one in whole]


@cache
def disturbed(kind, trimmed=False):
    """Return an estimate and, of a view, what a unit of each disturbance adds to its points."""
    found = estimate(views_of(*films(trimmed), **DECLARED), ErrorModel())
    number = NUMBER[kind]
    view = found.as_given[number]
    stack = found.stack(number, view.blocks[0])
    seen, effects = stack.view.seen, {}
    for row, index in enumerate(stack.columns, 1):
        one = found.disturbances[index]
        effects[one.kind, one.point, one.axis] = (seen[row] - seen[0]) / one.step
    return view, effects, found, stack


def column(view, name):
    return view.names.index(name)


def standing_and_bottom(view):
    """Return the frames of the first standing, and the lowest frame."""
    return view.stands[0], view.repetitions[0].bottom


@pytest.mark.parametrize("kind", ["side", "front"])
def test_a_mark_in_the_wrong_place_is_off_by_as_much_and_nothing_else_is(kind):
    view, effects, *_ = disturbed(kind)
    placed = [key for key in effects if key[0] == "placement"]
    assert {(name, axis) for _, name, axis in placed} == {
        (name, axis) for name in view.names for axis in (0, 1)
    }
    still, bottom = standing_and_bottom(view)
    for _, name, axis in placed:
        moved = effects["placement", name, axis].copy()
        mine = moved[:, column(view, name), axis].copy()
        moved[:, column(view, name), axis] = 0.0
        assert moved == pytest.approx(0.0, abs=1e-12)
        assert mine[still] == pytest.approx(1.0, abs=0.01)
        joint = name.removesuffix("_r").removesuffix("_l")
        # A mark of constant size that turns by an angle keeps its cosine.
        assert mine[bottom] == pytest.approx(np.cos(TURNS.get(joint, 0.0)), abs=1e-9)
        if joint in TURNS:
            other = effects["turned", name, axis][:, column(view, name), axis]
            assert np.hypot(mine, other) == pytest.approx(1.0)
            assert other[bottom] == pytest.approx(np.sin(TURNS[joint]), abs=1e-9)


def test_skin_moves_over_the_bone_at_the_bottom_and_not_while_standing():
    view, effects, *_ = disturbed("side")
    still, bottom = standing_and_bottom(view)
    skin = [key for key in effects if key[0] == "skin"]
    seen = {name.removesuffix("_r") for name in view.names}
    assert {name.removesuffix("_r") for _, name, _ in skin} == seen & set(SKIN_M)
    for key in skin:
        mine = effects[key][:, column(view, key[1]), key[2]]
        assert mine[still] == pytest.approx(0.0, abs=0.01)
        assert mine[bottom] == pytest.approx(1.0)


def test_a_clip_that_begins_in_mid_movement_may_be_wrong_about_standing_alone():
    view, effects, found, _ = disturbed("side", trimmed=True)
    assert view.is_trimmed
    still, bottom = standing_and_bottom(view)
    feet = {"ankle_r", "ankle_l", "heel_r", "heel_l", "toe_r", "toe_l"}
    of_standing = [key for key in effects if key[0] == "standing"]
    assert {name for _, name, _ in of_standing} == set(view.names) - feet
    for key in of_standing:
        mine = effects[key][:, column(view, key[1]), key[2]]
        assert mine[still] == pytest.approx(1.0)
        assert mine[bottom] == 0.0 and effects[key].sum() == pytest.approx(mine.sum())
    assert not any(key[0] == "standing" for key in disturbed("side")[1])


@pytest.mark.parametrize("kind", ["side", "front"])
def test_a_tilted_camera_turns_the_picture_about_the_feet_and_a_wrong_scale_stretches_it(kind):
    view, effects, *_ = disturbed(kind)
    feet = np.nanmean(
        [view.seen[view.stands[0], column(view, n)] for n in view.names if n[:-2] == "ankle"],
        axis=(0, 1),
    )
    away = view.seen - feet
    turned = effects["roll", "", 0]
    # A turn moves each point at right angles to where it is from the feet, and by as much.
    assert np.sum(turned * away, axis=-1) == pytest.approx(0.0, abs=0.005)
    about = away[..., 0] * turned[..., 1] - away[..., 1] * turned[..., 0]
    assert about == pytest.approx(np.sum(away**2, axis=-1), abs=0.005)
    assert effects["scale", "", 0] == pytest.approx(away, abs=0.005)


def test_hips_that_slide_go_toward_the_knees_by_a_unit_at_the_bottom():
    view, effects, *_ = disturbed("side")
    still, bottom = standing_and_bottom(view)
    slide = effects["slide", "", 0]
    hip, knee = (column(view, name) for name in ("hip_r", "knee_r"))
    assert slide[still] == pytest.approx(0.0, abs=0.02)
    toward = view.seen[bottom, knee] - view.seen[bottom, hip]
    # The thigh also points out of the picture: it looks a little shorter at the bottom.
    assert slide[bottom, hip] == pytest.approx(toward / np.linalg.norm(toward), abs=0.1)
    others = [n for n, name in enumerate(view.names) if not name.startswith("hip")]
    assert slide[:, others] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("kind", ["side", "front"])
def test_a_camera_off_square_sees_what_a_turned_lifter_would_show_it(kind):
    """By a pinhole camera of the test's own: the lifter is turned a little, and then projected.

    Within 7 cm per radian, 1 mm per degree: how far out a joint is in a side view, and that what
    is nearer looks larger, are known about.
    """
    view, effects, *_ = disturbed(kind)
    distance, height = float(view.standpoint.distance_m), float(view.standpoint.height_m)

    def seen(points, turn):
        x = points[:, 0] * np.cos(turn) + points[:, 2] * np.sin(turn)
        z = points[:, 2] * np.cos(turn) - points[:, 0] * np.sin(turn)
        across, toward = {"side": (x, z), "front": (-z, x)}[kind]
        nearer = distance / (distance - toward)
        return np.stack([across * nearer, (points[:, 1] - height) * nearer], axis=-1)

    turn, frames = 1e-5, np.searchsorted(REP.time, view.times - 1e-6)
    for name in view.names:
        if kind == "side" and name[:-2] not in LEG:
            continue  # the middle of the body stays where it is in the picture
        points = REP.points[name][frames]
        change = (seen(points, turn) - seen(points, -turn)) / (2 * turn)
        found = effects["yaw", "", 0][:, column(view, name)]
        assert found[:, 0] == pytest.approx(change[:, 0], abs=0.07)
        assert found[:, 1] == pytest.approx(change[:, 1], abs=0.005 if kind == "front" else 0.04)


def test_a_camera_that_stands_elsewhere_and_other_masses_change_one_number_each():
    view, _, found, stack = disturbed("side")
    numbers = {
        "nearness": 1 / np.asarray(stack.view.standpoint.distance_m).ravel(),
        "height": np.asarray(stack.view.standpoint.height_m).ravel(),
        "body": np.asarray(stack.view.body_kg).ravel() / LIFTER.mass_kg,
        "load": np.asarray(stack.view.bar_kg).ravel() / BAR_KG,
    }
    asked = set()
    for row, index in enumerate(stack.columns, 1):
        one = found.disturbances[index]
        for name, values in numbers.items():
            expected = one.step if one.kind == name else 0.0
            assert values[row] - values[0] == pytest.approx(expected, abs=1e-12), (one, name)
        asked.add(one.kind)
    assert set(numbers) < asked
    assert numbers["height"][0] == SIDE.height_m and numbers["body"][0] == 1.0


def test_a_camera_higher_than_declared_is_found_to_be_higher():
    heights = []
    for higher in (-0.2, 0.0, 0.2):
        camera = replace(SIDE, height_m=SIDE.height_m + higher)
        both = [film(REP.points, REP.time, one) for one in (camera, FRONT)]
        found = estimate(views_of(*both, **DECLARED), ErrorModel())
        heights.append(float(found.views[NUMBER["side"]].standpoint.height_m))
    assert heights[0] < SIDE.height_m - 0.01 and heights[2] > SIDE.height_m + 0.01
    assert heights[0] < heights[1] < heights[2]


MODEL = ErrorModel(
    placement=1.0, slide_m=0.031, slides_by_m=0.017, roll_deg=2.5, yaw_deg=3.5, scale=0.02,
    nearness=0.08, height_m=0.09, undeclared_nearness=0.11, undeclared_height_m=0.4, body=0.05,
    load=0.04, outward_m=0.03, undeclared_outward_m=0.06,
)  # fmt: skip


@pytest.mark.parametrize("declared", [True, False])
def test_each_disturbance_is_as_large_as_the_model_says(declared):
    side = film(REP.points, REP.time, SIDE)
    given = DECLARED if declared else {"lifter": LIFTER, "bar_kg": BAR_KG}
    views = views_of(replace(side, scale_px_per_m=SIDE.px_per_m), **given)
    found = disturbances_of(views, MODEL)
    of_kind = {one.kind: one for one in found}
    distance = float(views[0].standpoint.distance_m)
    sds = {
        "roll": np.radians(2.5),
        "yaw": np.radians(3.5),
        "scale": 0.02,
        "nearness": 0.08 / distance if declared else 0.11,
        "height": 0.09 if declared else 0.4,
        "body": 0.05,
        "load": 0.04,
        "slide": 0.031,
        "outward": 0.03 if declared else 0.06,
    }
    assert {kind: of_kind[kind].sd for kind in sds} == pytest.approx(sds)
    assert {one.kind: one.usual for one in found if one.usual} == {"slide": 0.017}
    # Marks: as the table of limits says, by joint; both axes of a picture, and no other point.
    rows = {
        (row["name"], row["quantity"]): float(row["value"])
        for row in tables.read("limits")
        if row["name"] in ("placement", "skin", "placement_turns")
    }
    names = set(views[0].names)
    for kind, row in (("placement", "placement"), ("turned", "placement"), ("skin", "skin")):
        marks = [one for one in found if one.kind == kind]
        for one in marks:
            joint = one.point[:-2] if one.point[-2:] in ("_r", "_l") else one.point
            usual = rows.get((row, joint), rows.get(("placement", "other")))
            assert one.sd == pytest.approx(usual), (kind, one.point)
        points = [one.point for one in marks]
        assert all(points.count(point) == 2 for point in points) and set(points) <= names
        if kind == "placement":
            assert set(points) == names
        else:
            of = "placement_turns" if kind == "turned" else "skin"
            assert {point.split("_")[0] for point in points} <= {q for n, q in rows if n == of}
    # A step is small against what is usual: differences are then derivatives.
    assert all(0.001 < abs(one.step) < 0.1 for one in found)
    assert "standing" not in of_kind


def test_half_the_placement_is_half_of_every_mark_and_of_nothing_else():
    views = views_of(*films(), **DECLARED)
    whole, half = (disturbances_of(views, replace(MODEL, placement=p)) for p in (1.0, 0.5))
    for one, other in zip(whole, half, strict=True):
        marks = one.kind in ("placement", "turned", "skin")
        assert other.sd == pytest.approx((0.5 if marks else 1.0) * one.sd), one
    none = disturbances_of(views, replace(MODEL, placement=0.0))
    assert not any(one.point for one in none)
    assert {one.kind for one in none} == {one.kind for one in whole if not one.point}


def test_a_trimmed_clip_may_stand_two_centimetres_off_but_for_its_feet():
    views = views_of(*films(trimmed=True), **DECLARED)
    standing = [one for one in disturbances_of(views, MODEL) if one.kind == "standing"]
    assert {one.sd for one in standing} == {0.02}
    joints = {one.point.removesuffix("_r").removesuffix("_l") for one in standing}
    assert {"hip", "knee", "c7"} <= joints and not joints & {"ankle", "heel", "toe"}
