"""What stands where in the picture of a filmed lift: by similar triangles, in metres."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance
from squatlab.exam.screens.filmed_lift import (
    COLLAR,
    FAR_PLATE,
    FAR_SHOE,
    FLOOR,
    MARGIN_M,
    PLATFORM,
    PLATFORM_HALF_M,
    SHADOW,
    SHOE,
    UNITS_PER_M,
    WALL,
    WALL_BEHIND_M,
    FilmedLift,
)
from squatlab.motion import Camera, Tempo, synthesise
from squatlab.show.primitives import Disc, Line, Shape

HIGH, FAR = 1.1, 4.2
"""Height and distance of the cameras, m."""


@pytest.fixture(scope="module")
def rep():
    lifter, tempo = Lifter.from_stature(1.8, 85), Tempo(1.0, 0.1, 1.0, standing_s=0.5)
    return synthesise(lifter, Bar.low(100), Stance(0.36, 20), tempo, rate=60)


@pytest.fixture(scope="module", params=["side", "front"])
def lift(request, rep):
    return FilmedLift(rep, Camera(request.param, distance_m=FAR, height_m=HIGH))


def seen(lift, point):
    """Return where a point (x, y, z) is in the picture, in its units, by similar triangles."""
    forward, up, right = point
    across, nearer = (forward, right) if lift.camera.view == "side" else (-right, forward)
    larger = FAR / (FAR - nearer)
    # The picture's y points down, and the floor below the lifter's middle is at 0.
    return UNITS_PER_M * complex(across * larger, -(HIGH + (up - HIGH) * larger))


def corners(points):
    return {complex(round(p.real, 6), round(p.imag, 6)) for p in points}


def test_floor_wall_and_platform_are_where_a_room_has_them(lift):
    window = lift.whole()
    wall, floor, platform = lift.scene(0, window).primitives[:3]
    assert (wall.fill, floor.fill, platform.fill) == (WALL, FLOOR, PLATFORM)
    left, top, right, bottom = window.bounds(0)
    assert corners(wall.points) == corners(
        [complex(x, y) for x in (left, right) for y in (top, bottom)]
    )
    behind = -WALL_BEHIND_M * np.array([0, 0, 1] if lift.camera.view == "side" else [1, 0, 0])
    edge = seen(lift, behind).imag
    assert edge < 0, "the wall's foot looks higher than the floor where the lifter stands"
    assert corners(floor.points) == corners(
        [complex(x, y) for x in (left, right) for y in (edge, max(bottom, edge))]
    )
    half = PLATFORM_HALF_M
    assert corners(platform.points) == corners(
        [seen(lift, (a * half, 0, b * half)) for a in (-1, 1) for b in (-1, 1)]
    )
    # In order around, so that it is a square seen aslant and no bow tie.
    turns = [
        ((b - a).conjugate() * (c - b)).imag
        for a, b, c in zip(
            platform.points,
            platform.points[1:] + platform.points[:1],
            platform.points[2:] + platform.points[:2],
            strict=True,
        )
    ]
    assert all(turn > 0 for turn in turns) or all(turn < 0 for turn in turns)
    # A camera looks down on it: wall and floor meet above all of the platform.
    assert edge < min(point.imag for point in platform.points)


def test_plates_are_discs_of_45_cm_at_their_distances(rep):
    lift = FilmedLift(rep, Camera.side(distance_m=FAR, height_m=HIGH))
    discs = [part for part in lift.moving if isinstance(part, Disc)]
    far = discs[0]
    near = next(disc for disc in discs if disc.fill == "none" and disc.radius > 30)
    sleeve = discs[-1]
    outside = rep.points["plate_top"][0, 2]
    for disc, z in ((far, -outside), (near, outside)):
        assert disc.radius == pytest.approx(UNITS_PER_M * 0.225 * FAR / (FAR - z), rel=1e-6)
        for frame in (0, rep.bottom):
            bar = rep.points["bar"][frame]
            assert disc.centre[frame] == pytest.approx(seen(lift, (bar[0], bar[1], z)), abs=1e-6)
    assert far.fill == FAR_PLATE and lift.moving[0] is far
    assert lift.moving[-2] is near and lift.moving[-1] is sleeve
    assert sleeve.centre == pytest.approx(near.centre) and sleeve.radius < 0.2 * near.radius
    rod = lift.moving[1]
    assert isinstance(rod, Line)
    for end, name in zip(rod.points, ("bar_end_l", "bar_end_r"), strict=True):
        place = rep.points[name][0]
        assert end[0] == pytest.approx(seen(lift, place), abs=1e-6)


def test_a_bar_without_plates_shows_its_sleeve_alone(rep):
    empty = synthesise(rep.lifter, Bar.high(20), Stance(), Tempo(1.0, 0, 1.0), rate=60)
    lift = FilmedLift(empty, Camera.side())
    assert not any(
        isinstance(p, Disc) and (p.fill == FAR_PLATE or p.radius > 30) for p in lift.moving
    )
    assert isinstance(lift.moving[-1], Disc)


def spread(points):
    every = np.concatenate([np.ravel(point) for point in points])
    return every.real.min(), every.imag.min(), every.real.max(), every.imag.max()


def test_windows_leave_the_same_room_on_every_side(lift):
    shoes = [p for p in lift.moving if isinstance(p, Shape) and p.fill in (SHOE, FAR_SHOE)]
    assert len(shoes) == 2
    for window, reach in (
        (lift.whole(), lift.reach),
        (lift.feet(), spread([s for shoe in shoes for s in shoe.points])),
    ):
        room = np.abs(np.array(window[1:5]) - reach)
        assert room == pytest.approx(MARGIN_M * UNITS_PER_M)
        assert window.left < reach[0] and window.bottom > reach[3]
    # All that moves is within reach, discs with their rims.
    left, top, right, bottom = lift.reach
    for part in lift.moving:
        points = [part.centre] if isinstance(part, Disc) else part.points
        rim = part.radius if isinstance(part, Disc) else 0.0
        x0, y0, x1, y1 = spread(points)
        assert left <= x0 - rim and x1 + rim <= right and top <= y0 - rim and y1 + rim <= bottom


def test_the_window_on_the_back_goes_with_half_a_second_s_mean_of_the_low_back(lift):
    window, half = lift.back(), 0.33 * UNITS_PER_M
    low_back = lift.frame.at(lift.places["l5"])
    for frame in (20, 60, 90, low_back.size - 20):
        mean = low_back[frame - 15 : frame + 16].mean()
        assert window.follow[frame] == pytest.approx(mean)
        left, top, right, bottom = window.bounds(frame)
        assert (right - left, bottom - top) == pytest.approx((2 * half, 2 * half))
        # The back is ahead of the low back and above it: there is more room on these sides.
        assert left < mean.real - 0.5 * half and mean.real + 1.1 * half < right
        assert top < mean.imag - 1.1 * half and mean.imag + 0.5 * half < bottom
    assert window.follow[0] == pytest.approx(low_back[0], abs=0.5)
    assert window.follow.size == low_back.size


def test_shoes_enclose_the_feet_and_stand_on_their_shadows(lift, rep):
    parts = lift.moving
    for n, part in enumerate(parts):
        if isinstance(part, Shape) and part.fill in (SHOE, FAR_SHOE):
            shadow = parts[n - 1]
            assert shadow.fill == SHADOW
            # Standing, the sole is on the floor: the shadow is not larger than the shoe.
            x0, _, x1, y1 = spread([np.atleast_1d(p)[:1] for p in part.points])
            s0, _, s1, t1 = spread([np.atleast_1d(p)[:1] for p in shadow.points])
            assert x0 - 1e-6 <= s0 and s1 <= x1 + 1e-6 and t1 == pytest.approx(y1, abs=0.5)
    size = rep.lifter.stature_m
    for side in "rl":
        heel, ball, toe, ankle = (
            rep.points[f"{name}_{side}"][0] for name in ("heel", "ball", "toe", "ankle")
        )
        along = (toe - heel) / np.linalg.norm(toe - heel)
        across = np.array([-along[2], 0.0, along[0]])
        sole, shoe = lift._sole(side)[:, 0], lift._shoe(side)[:, 0]
        assert shoe[: len(sole)] == pytest.approx(sole)
        reach, out = (sole - heel) @ along, (sole - heel) @ across
        length = np.linalg.norm(toe - heel)
        # Heel, instep, ball and toe: pairs alike on both sides, broadest at the ball.
        assert reach[::2] == pytest.approx(reach[1::2]) and out[::2] == pytest.approx(-out[1::2])
        broad = np.abs(out[::2])
        assert np.argmax(broad) == 2 and broad[0] < broad[1]
        assert reach[4] == pytest.approx((ball - heel) @ along)
        assert -0.03 * size < reach[0] < 0 < reach[2] < reach[4] < length < reach[6]
        assert reach[6] < length + 0.02 * size
        upper = shoe[len(sole) :]
        for half in (upper[:4], upper[4:]):
            cap, instep, front, back = half
            assert cap[1] < instep[1] < front[1] == pytest.approx(back[1])
            assert front[1] == pytest.approx(ankle[1] + COLLAR[2] * size)
            assert (cap - heel) @ along < length and (cap - ball) @ along > 0
            assert (instep - ball) @ along == pytest.approx(0, abs=1e-9)
            assert (front - ankle) @ along == pytest.approx(COLLAR[0] * size)
            assert (ankle - back) @ along == pytest.approx(COLLAR[1] * size)
        mirrored = upper[:4] - 2 * np.outer((upper[:4] - heel) @ across, across)
        assert upper[4:] == pytest.approx(mirrored)
        narrower = np.abs((upper - heel) @ across)
        assert narrower.max() < broad.max()


def test_far_is_drawn_before_near(lift):
    shoes = [p for p in lift.moving if isinstance(p, Shape) and p.fill in (SHOE, FAR_SHOE)]
    first, second = (spread(shoe.points) for shoe in shoes)
    if lift.camera.view == "side":
        # What is further away stands higher in the picture.
        assert first[3] < second[3]
    else:
        assert {shoe.fill for shoe in shoes} == {SHOE}
        assert (first[0] + first[2]) * (second[0] + second[2]) < 0
