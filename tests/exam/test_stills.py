"""The pictures of an exam: of the lift itself, in perspective, and nothing beside it."""

from __future__ import annotations

import re
from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from scipy.spatial import ConvexHull

from squatlab import Bar, Lifter, Stance
from squatlab.exam.screens.filmed_lift import SHOE, UNITS_PER_M, FilmedLift, _hull
from squatlab.exam.screens.stills import (
    COLOURS,
    PX_PER_CM,
    STILL_M,
    _different,
    cameras,
    picture,
    stills,
)
from squatlab.motion import Camera, synthesise
from squatlab.questions.items import item
from squatlab.show.primitives import Disc, Shape
from squatlab.show.raster import image

FORM = 5


@pytest.fixture(scope="module", params=["spot_both", "spot_side", "spot_front"])
def case(request):
    return item(request.param, 3).case


@pytest.fixture(scope="module")
def clip(case):
    return stills(case, FORM)


def test_the_lens_is_a_pinhole():
    """Second route: similar triangles by hand, a camera 4 m from the middle, 1 m up."""
    lift = FilmedLift(item("spot_side", 3).case.rep, Camera.side(distance_m=4.0, height_m=1.0))
    # 0.5 m nearer and 0.6 m below the lens: 0.6 × 4 / 3.5 below it.
    near = lift._seen([0.2, 0.4, 0.5])
    assert near == pytest.approx(0.2 * 4 / 3.5 + 1j * (1 - 0.6 * 4 / 3.5))
    far = lift._seen([0.2, 0.4, -0.5])
    assert far == pytest.approx(0.2 * 4 / 4.5 + 1j * (1 - 0.6 * 4 / 4.5))


def test_every_frame_shows_the_lift_in_that_frame(case, clip):
    """What a screen puts together from sheets is what was drawn, in 30 frames a second."""
    count = len(case.rep.time[::2])
    assert len(clip.frames) == count and clip.rate == pytest.approx(30)
    view = clip.views[0]
    lift = FilmedLift(case.rep, cameras(FORM)[view.name])
    window = lift.whole()
    for frame in (0, count // 3, clip.lowest, count - 1):
        drawn = image(lift.scene(2 * frame, window), view.width)
        bounds = view.left, view.top, view.left + view.width, view.top + view.height
        whole = np.asarray(picture(clip, frame).crop(bounds), dtype=int)
        apart = np.abs(whole - np.asarray(drawn.crop((0, 0, view.width, view.height)), dtype=int))
        # 16 colours for all: flat parts may be a few shades off, edges more; nothing elsewhere.
        assert (apart.max(axis=2) > 60).mean() < 0.004


def test_what_stands_still_is_one_picture_and_what_moves_is_another(clip):
    frames = np.array(clip.frames)
    assert frames[0] == 0 and set(np.diff(frames)) <= {0, 1}
    held = 1 + sum(
        Image.open(BytesIO(sheet)).width // box.width
        for sheet, box in zip(clip.sheets[1:], clip.boxes[1:], strict=True)
    )
    assert held == len(set(clip.frames)) == frames[-1] + 1
    assert (frames[:15] == 0).all(), "half a second of standing"
    moving = frames[clip.lowest - 20 : clip.lowest - 5]
    assert len(set(moving)) == moving.size
    one, other = (np.asarray(picture(clip, clip.lowest - back)) for back in (20, 5))
    assert not np.array_equal(one, other)


def test_sheets_hold_what_moves_and_few_colours(clip):
    with Image.open(BytesIO(clip.sheets[0])) as first:
        assert first.size == (clip.width, clip.height)
        assert len(first.convert("RGB").getcolors(1000)) <= COLOURS
    areas = [box.width * box.height for box in clip.boxes[1:]]
    assert max(areas) < 0.95 * clip.width * clip.height


def test_only_the_views_of_the_cell_are_there_with_closer_looks(case, clip):
    names = {"both": ["side", "front"]}.get(case.cell.view, [case.cell.view])
    assert [panel.name for panel in clip.views] == names
    closer = [panel.name for panel in clip.panels if panel not in clip.views]
    assert closer == (["back", "feet"] if "side" in names else ["feet"])
    for one in clip.panels:
        assert one.left >= 0 and one.left + one.width <= clip.width
        assert one.top >= 0 and one.top + one.height <= clip.height
    seconds = case.rep.time[-1] - case.rep.time[0]
    words = " and ".join(names).capitalize()
    assert clip.alt == f"{words} view, {seconds:.1f} s, {len(clip.frames)} frames."


def test_feet_have_three_pixels_a_centimetre(case, clip):
    """The smallest is the far foot, which both views show."""
    for view in clip.views:
        lift = FilmedLift(case.rep, cameras(FORM)[view.name])
        scale = view.width / (lift.whole().right - lift.whole().left) * UNITS_PER_M
        for side in "rl":
            heel = case.rep.points[f"heel_{side}"][0]
            metre = lift._seen(heel + (0, 1, 0)) - lift._seen(heel)
            assert scale * abs(metre) / 100 > 0.935 * PX_PER_CM  # 2.99: 25 cm beyond the middle
    closer = next(panel for panel in clip.panels if panel.name == "feet")
    assert closer.width > 200


def test_no_joint_is_marked(case):
    """Discs are plates, the sleeve, an ear and eyes; shoes are drawn around the feet."""
    for view in ("side", "front"):
        lift = FilmedLift(case.rep, cameras(FORM)[view])
        discs = [part for part in lift.moving if isinstance(part, Disc)]
        assert len(discs) <= (5 if view == "side" else 2)
        marked = (
            "hip_r",
            "knee_r",
            "knee_l",
            "ankle_r",
            "ankle_l",
            "shoulder_r",
            "c7",
            "head",
            "l5",
        )
        joints = [lift.frame.at(lift.places[name]) for name in marked]
        for disc in discs:
            assert all(np.abs(disc.centre - joint).min() > 2 for joint in joints)
        shoes = [p for p in lift.moving if isinstance(p, Shape) and p.fill == SHOE]
        assert len(shoes) == (1 if view == "side" else 2)


def test_forms_see_a_lift_from_slightly_different_places(case):
    one, other = cameras(1), cameras(2)
    assert one == cameras(1) and one != other
    for seed in range(50):
        for camera in cameras(seed).values():
            assert 3.7 <= camera.distance_m <= 4.5 and abs(camera.yaw_deg) <= 2
            assert 0.85 <= camera.height_m <= 1.15
    again, small = stills(case, FORM, 1.0, 6), stills(case, FORM + 1, 1.0, 6)
    assert again.sheets[0] != small.sheets[0]


def test_a_prompt_has_no_body_and_no_load(case):
    prompt = item(case.cell, case.seed).prompt
    assert not re.search(r"\d", prompt) and re.match("(High|Low) bar. ", prompt)


def test_a_heel_that_rises_leaves_its_shadow():
    """The white of the shoe goes up from the dark of its shadow."""
    cases = (item("first_feet_among", seed).case for seed in range(60))
    rep = next(case for case in cases if "heel_lift" in case.there).rep
    lift = FilmedLift(rep, cameras(FORM)["side"])
    shadow, shoe = lift._sole("r") * (1, 0, 1), lift._sole("r")
    apart = (shoe - shadow)[:, :, 1]
    lowest = int(np.argmin(rep.points["pelvis"][:, 1]))
    assert apart[0, 0] == pytest.approx(0, abs=1e-3) and apart[0, lowest - 5] > 0.01


def test_a_small_clip_takes_as_long_as_the_lift_and_its_panels_lie_apart():
    """Every twentieth of 60 frames a second: three a second, however small they are drawn."""
    rep = (case := item("spot_both", 3).case).rep
    clip = stills(case, FORM, px_per_cm=0.5, every=20)
    seconds = rep.time[-1] - rep.time[0]
    assert clip.rate == pytest.approx(1 / (rep.time[20] - rep.time[0]))
    assert len(clip.frames) == 1 + int(seconds * clip.rate + 1e-9)
    shown = {f"{seconds:.1f} s", f"{len(clip.frames)} frames."}
    assert shown < {part.strip() for part in clip.alt.split(",")}
    hips = rep.points["pelvis"][::20, 1]
    assert hips[clip.lowest] == hips.min() and 0 < clip.lowest < len(clip.frames) - 1
    for n, one in enumerate(clip.panels):
        for other in clip.panels[n + 1 :]:
            beside = one.left + one.width <= other.left or other.left + other.width <= one.left
            below = one.top + one.height <= other.top or other.top + other.height <= one.top
            assert beside or below, (one.name, other.name)
    wholes = {panel.name: panel for panel in clip.views}
    assert wholes["side"].left == 0 and wholes["front"].left > wholes["side"].width


def test_a_picture_is_new_once_something_is_off_where_it_was_drawn():
    """By steps of .4 of what shows: every third is drawn anew; none, where nothing moves."""
    steps = np.arange(10)[:, np.newaxis] * (0.4 * STILL_M, 0.0, 0.0)
    points = {"still": np.zeros((10, 3)), "moving": steps}
    assert _different(points, np.arange(10)).tolist() == [0, 0, 0, 1, 1, 1, 2, 2, 2, 3]
    assert _different(points, np.arange(0, 10, 3)).tolist() == [0, 1, 2, 3]
    assert _different({"still": np.zeros((10, 3))}, np.arange(10)).tolist() == [0] * 10
    back = {"moving": np.array([0.0, 2.0, 0.0, 0.0])[:, np.newaxis] * (STILL_M, 0.0, 0.0)}
    assert _different(back, np.arange(4)).tolist() == [0, 1, 2, 2]


@pytest.mark.parametrize("stature_m", [1.5, 2.0])
def test_a_shoe_is_as_broad_and_as_long_as_feet_are(stature_m):
    """Drillis & Contini 1966, from memory: a foot is .055 of the stature broad."""
    lifter = Lifter.from_stature(stature_m, 80)
    rep = synthesise(lifter, Bar.high(60), Stance(0.34, 25.0))
    lift = FilmedLift(rep, cameras(FORM)["side"])
    heel, ball, toe, ankle = (
        rep.points[f"{name}_r"][0] for name in ("heel", "ball", "toe", "ankle")
    )
    foot_m = np.linalg.norm(toe - heel)
    ahead = (toe - heel) * (1, 0, 1) / np.linalg.norm((toe - heel) * (1, 0, 1))
    in_foot = np.stack([ahead, (0, 1, 0), np.cross(ahead, (0, 1, 0))], axis=1)
    sole, shoe = (part[:, 0] @ in_foot for part in (lift._sole("r"), lift._shoe("r")))
    for corners in (sole, shoe):
        length, height, breadth = np.ptp(corners, axis=0)
        assert breadth == pytest.approx(0.055 * stature_m, rel=0.05)
        assert 1.05 * foot_m < length < 1.2 * foot_m
    # The sole is flat and as far out on either side of the foot's line.
    beside = np.sort(sole[:, 2] - (ball @ in_foot)[2])
    assert beside == pytest.approx(-beside[::-1]) and np.ptp(sole[:, 1]) < 0.001
    assert ankle[1] - 0.02 < height < 0.08 * stature_m, "the collar is about the ankle"


@pytest.mark.parametrize("view", ["side", "front"])
def test_windows_hold_what_they_are_of_all_the_time(view):
    """In metres of the picture: the whole with room around it, the shoes, the low back."""
    rep = item("spot_both", 3).case.rep
    lift = FilmedLift(rep, cameras(FORM)[view])

    def inside(name, bounds, room_m=0.0):
        x, y = (part / UNITS_PER_M for part in (spots[name].real, spots[name].imag))
        left, top, right, bottom = (np.array(edge) / UNITS_PER_M for edge in bounds)
        nearest = np.min([x - left, right - x, y - top, bottom - y], axis=0)
        return nearest > room_m

    spots = {name: lift.frame.at(place) for name, place in lift.places.items()}
    whole = lift.whole()
    assert all(inside(name, whole[1:5], 0.05).all() for name in spots), "5 cm around every joint"
    feet = lift.feet()
    shown = ("heel_r", "toe_r", "ball_r") if view == "side" else ("toe_r", "toe_l", "ball_l")
    assert all(inside(name, feet[1:5], 0.05).all() for name in shown)
    assert not any(inside(name, feet[1:5]).any() for name in ("knee_r", "hip_r", "bar"))
    back = lift.back()
    for frame in range(0, rep.time.size, 20):
        bounds = back.bounds(frame)
        assert bounds[2] - bounds[0] == pytest.approx(0.66 * UNITS_PER_M)
        assert bounds[3] - bounds[1] == pytest.approx(0.66 * UNITS_PER_M)
        for name in ("l5", "pelvis"):
            assert inside(name, bounds, 0.1)[frame], (name, frame)


def test_an_outline_is_that_of_scipy():
    rng = np.random.default_rng(6)
    for count in (3, 5, 40):
        points = rng.normal(size=count) + 1j * rng.normal(size=count)
        corners = ConvexHull(np.column_stack([points.real, points.imag])).vertices
        found = _hull(points.tolist())
        assert sorted(found, key=abs) == sorted(points[corners].tolist(), key=abs)
    square = [0j, 1 + 0j, 1 + 1j, 1j, 0.5 + 0j, 0.5 + 0.5j]
    assert set(_hull(square)) == {0j, 1 + 0j, 1 + 1j, 1j}, "what lies on an edge is no corner"
