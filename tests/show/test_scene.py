"""The picture says what the posture says: checked against its points."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, balance, joint_moments, pose
from squatlab.show import palette
from squatlab.show.moment_bars import EACH_LEG
from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Line, Shape
from squatlab.show.scene import describe, front_view, lifter_picture, side_view
from squatlab.show.views import SHOWABLE, scale_of

LIFTER, BAR, STANCE = Lifter.from_stature(1.75, 80), Bar.high(100), Stance()
PARALLEL = balance(LIFTER, BAR, STANCE, thigh_deg=0, shank_deg=28)
HALF = balance(LIFTER, BAR, STANCE, thigh_deg=35, shank_deg=20)
BACKWARD = pose(LIFTER, BAR, STANCE, trunk_deg=float(PARALLEL.trunk_deg) - 7, shank_deg=28)
STIFF = balance(LIFTER, BAR, STANCE, thigh_deg=0, shank_deg=48)
NOWHERE = balance(LIFTER, BAR, STANCE, thigh_deg=-5, shank_deg=-12)


def test_the_samples_are_what_they_are_named_for():
    assert PARALLEL.feasible and HALF.feasible and BACKWARD.feasible
    assert not STIFF.feasible and np.isfinite(STIFF.trunk_deg)
    assert np.isnan(NOWHERE.trunk_deg)


def words(scene: Scene) -> list[str]:
    return [text.words for text in scene.texts()]


def of(scene: Scene, kind: type, **wanted):
    return [
        p
        for p in scene.primitives
        if isinstance(p, kind) and all(getattr(p, name) == value for name, value in wanted.items())
    ]


@pytest.mark.parametrize("posture", [PARALLEL, HALF, BACKWARD])
@pytest.mark.parametrize("joint", ["hip", "knee"])
def test_an_arm_is_labelled_and_drawn_as_long_as_it_is(posture, joint):
    # Outside source: the level distance between two named points.
    arm_m = float(posture.points["bar"][0] - posture.points[f"{joint}_r"][0])
    scene = side_view(posture)
    name = next(t for t in scene.texts() if t.words == f"{joint} to bar")
    value = min(
        (
            t
            for t in scene.texts()
            if t.at.real == name.at.real and t.bold and t.at.imag > name.at.imag
        ),
        key=lambda t: t.at.imag,
    )
    assert value.words == f"{abs(100 * arm_m):.1f} cm"
    colour = {"hip": palette.HIP, "knee": palette.KNEE}[joint]
    (bold,) = of(scene, Line, stroke=colour, width=4.0)
    drawn = abs(bold.points[1] - bold.points[0])
    assert drawn == pytest.approx(abs(arm_m) * scale_of(1.75), abs=1e-9)


def test_arms_to_the_systems_line_are_shown_on_request():
    arms = PARALLEL.moment_arms()
    shown = words(side_view(PARALLEL, show=SHOWABLE))
    assert f"to centre {100 * arms.hip_system:.1f} cm" in shown
    assert f"to centre {-100 * arms.knee_system:.1f} cm" in shown
    assert not [w for w in words(side_view(PARALLEL)) if w.startswith("to centre")]


def test_what_is_not_asked_for_is_not_drawn():
    bare = side_view(PARALLEL, show=())
    assert words(bare) == ["Side view", "base of support", "mid-foot"]


def test_the_arc_turns_from_the_vertical_to_the_trunk():
    p = PARALLEL.points
    trunk = complex(*(p["c7"] - p["l5"])[:2])
    scene = side_view(PARALLEL)
    (arc,) = [line for line in of(scene, Line) if len(line.points) == 13]
    (guide,) = [line for line in of(scene, Line) if len(line.points) == 3]
    start, end = arc.points[0] - guide.points[1], arc.points[-1] - guide.points[1]
    assert start.real == pytest.approx(0, abs=1e-9) and start.imag < 0
    assert end.conjugate() / abs(end) == pytest.approx(trunk / abs(trunk), abs=1e-9)
    assert f"{np.degrees(np.arctan2(trunk.real, trunk.imag)):.1f}°" in words(scene)


def test_the_plate_has_its_true_size_and_an_empty_bar_has_none():
    # Standard plates have a diameter of 450 mm [iwf].
    radii = [disc.radius / scale_of(1.75) for disc in of(side_view(PARALLEL), Disc)]
    assert max(radii) == pytest.approx(0.225)
    empty = balance(LIFTER, Bar.high(20), STANCE, shank_deg=28)
    assert max(disc.radius for disc in of(side_view(empty), Disc)) < 0.05 * scale_of(1.75)
    plates = [s for s in of(front_view(PARALLEL), Shape, fill=palette.SHOE) if not s.smooth]
    assert len(plates) == 4  # 40 kg a side beyond the empty bar
    heights = {round((s.points[2].imag - s.points[0].imag) / scale_of(1.75), 6) for s in plates}
    assert heights == {0.45}


def test_the_shift_of_the_centre_of_mass_is_an_arrow_with_its_length():
    shift = float(BACKWARD.com[0])
    assert shift < -0.005
    scene = side_view(BACKWARD)
    (arrow,) = of(scene, Line, arrow=True)
    assert (arrow.points[1] - arrow.points[0]) == pytest.approx(shift * scale_of(1.75), abs=1e-9)
    assert f"centre of mass {-100 * shift:.1f} cm behind mid-foot" in words(scene)
    assert not of(side_view(PARALLEL), Line, arrow=True)
    assert "centre of mass over mid-foot" in words(side_view(PARALLEL))


def test_raised_heels_leave_the_ball_of_the_foot_to_stand_on():
    raised = balance(LIFTER, BAR, Stance(heel_rise_deg=15), shank_deg=30)
    scene = side_view(raised)
    (band,) = of(scene, Shape, fill=palette.SUPPORT, stroke=palette.INK)
    length = (band.points[1] - band.points[0]).real / scale_of(1.75)
    p = raised.points
    assert length == pytest.approx(p["toe_r"][0] - p["ball_r"][0], abs=1e-9)
    assert "centre of mass over the ball of the foot" in words(scene)


def test_a_wedge_fills_the_gap_and_the_whole_foot_bears():
    raised = balance(LIFTER, BAR, Stance(wedge_m=0.03), shank_deg=30)
    scene = side_view(raised)
    (band,) = of(scene, Shape, fill=palette.SUPPORT, stroke=palette.INK)
    length = (band.points[1] - band.points[0]).real / scale_of(1.75)
    assert length == pytest.approx(raised.base.length, abs=1e-9)
    (wedge,) = of(scene, Shape, fill=palette.RULE, stroke=palette.INK)
    heights = [(wedge.points[0] - corner).imag / scale_of(1.75) for corner in wedge.points]
    # It rises evenly from the ball to a little behind the heel, where it is highest.
    assert max(heights) == pytest.approx(1.06 * 0.03, abs=1e-9)
    assert "centre of mass over mid-foot" in words(scene)


def test_the_front_view_is_its_own_mirror_image():
    scene = front_view(PARALLEL)
    middle = 0.5 * (scene.bounds[0] + scene.bounds[2])

    def outlines(mirror: bool):
        turn = (lambda p: complex(2 * middle - p.real, p.imag)) if mirror else (lambda p: p)
        shapes = [s.points for s in of(scene, Shape)] + [(d.centre,) for d in of(scene, Disc)]
        return sorted(
            sorted((round(turn(p).real, 6), round(turn(p).imag, 6)) for p in points)
            for points in shapes
        )

    assert outlines(mirror=False) == outlines(mirror=True)


def test_the_lifters_right_is_on_the_pictures_left():
    leaning_out = replace(PARALLEL, left=replace(PARALLEL.left, knee=PARALLEL.left.knee * 1.05))
    scene = front_view(leaning_out)
    middle = 0.5 * (scene.bounds[0] + scene.bounds[2])
    drop_lines = [
        line.points[0].real - middle for line in of(scene, Line, stroke=palette.KNEE, dash="4 4")
    ]
    expected = [-leaning_out.points[f"knee_{side}"][2] * scale_of(1.75) for side in "rl"]
    assert drop_lines == pytest.approx(expected, abs=1e-9)
    assert drop_lines[0] < 0 < drop_lines[1]
    names = {t.words: t.at.real for t in scene.texts()}
    assert names["lifter's right"] < middle < names["lifter's left"]


def test_the_stance_is_told_in_numbers():
    p = PARALLEL.points
    heels = 100 * (p["heel_r"][2] - p["heel_l"][2])
    knees = 100 * (p["knee_r"][2] - p["knee_l"][2])
    told = f"heels {heels:.0f} cm · knees {knees:.0f} cm apart · toes 12° out"
    assert told in words(front_view(PARALLEL))


def bar_lengths(scene: Scene, fill: str) -> float:
    (bar,) = [
        s
        for s in of(scene, Shape, fill=fill, stroke=palette.INK)
        if len(s.points) == 4 and s.points[0].real > 900
    ]
    return (bar.points[1] - bar.points[0]).real


def test_moment_bars_are_as_long_as_the_moments_and_keep_their_scale():
    now, other = joint_moments(PARALLEL), joint_moments(HALF)
    for field, fill in (("hip", palette.HIP), ("knee", palette.KNEE), ("l5s1", palette.LOW_BACK)):
        one, two = (bar_lengths(lifter_picture(p), fill) for p in (PARALLEL, HALF))
        assert one / two == pytest.approx(getattr(now, field) / getattr(other, field))
        assert f"{getattr(now, field):.0f} N·m" in words(lifter_picture(PARALLEL))


def test_a_moment_beyond_the_scale_ends_in_an_arrow_with_the_true_number():
    heavy = balance(LIFTER, Bar.high(260), STANCE, shank_deg=28)
    metric, _ = EACH_LEG
    assert joint_moments(heavy).hip > metric
    scene = lifter_picture(heavy)
    hips = of(scene, Shape, fill=palette.HIP)
    assert sorted(len(s.points) for s in hips) == [3, 4]
    assert max(p.real for s in hips for p in s.points) < scene.bounds[2]
    assert f"{joint_moments(heavy).hip:.0f} N·m" in words(scene)


def test_an_earlier_posture_stays_as_a_dashed_contour_behind():
    with_ghost, without = lifter_picture(PARALLEL, HALF), lifter_picture(PARALLEL)
    contour = of(with_ghost, Shape, stroke=palette.GHOST, smooth=True)
    assert contour and all(shape.dash for shape in contour)
    assert not of(without, Shape, stroke=palette.GHOST)
    hidden = lifter_picture(PARALLEL, NOWHERE)
    assert hidden.primitives == without.primitives
    alone = of(lifter_picture(NOWHERE, HALF), Shape, stroke=palette.GHOST, smooth=True)
    assert [s.points for s in alone] == [s.points for s in contour]


def test_nothing_jumps_the_frame_depends_on_stature_alone():
    long_thighs = balance(LIFTER.scaled(thigh=1.15), Bar.low(160), STANCE, 20, 25)
    scenes = [lifter_picture(p) for p in (PARALLEL, HALF, STIFF, NOWHERE, long_thighs)]
    # What is empty above is left out; the floor stays where it is above the lower edge.
    without_top = {(scene.bounds[0], *scene.bounds[2:]) for scene in scenes}
    assert len(without_top) == 1
    floors = {
        of(s, Line, stroke=palette.INK, width=1.5)[0] for s in scenes if not s.alt.startswith("No")
    }
    assert len(floors) == 1


def test_short_and_tall_lifters_fit_below_the_titles():
    for stature in (1.5, 2.05):
        lifter = Lifter.from_stature(stature, 80)
        upright = pose(lifter, Bar.high(60), Stance(0.2, 0.0), 0.0, thigh_deg=80, shank_deg=5)
        scene = lifter_picture(upright)
        points = [p for s in of(scene, Shape, smooth=True) for p in s.points]
        assert min(p.imag for p in points) > 40
        assert 0 < min(p.real for p in points) and max(p.real for p in points) < 910
        assert max(p.imag for p in points) < 480


def test_a_posture_that_cannot_be_placed_gives_its_reason_in_words():
    scene = lifter_picture(NOWHERE)
    told = " ".join(words(scene)).lower()
    assert NOWHERE.reason.lower() in told and "reset" in told
    assert NOWHERE.reason[1:] in scene.alt


def test_a_posture_beyond_a_limit_is_drawn_faintly_with_its_reason():
    scene = lifter_picture(STIFF)
    assert STIFF.reason in " ".join(words(scene))
    assert of(scene, Shape, fill=palette.FAINT_SHIRT) and not of(scene, Shape, fill=palette.SHIRT)
    bars = [s for s in of(scene, Shape, fill=palette.FAINT_BAR, stroke=palette.INK) if not s.smooth]
    assert len(bars) == 4
    assert describe(STIFF) == f"Cannot be held: {STIFF.reason}."


def test_the_sentence_gives_every_number():
    p, m = PARALLEL.points, joint_moments(PARALLEL)
    hip, knee = (100 * float(p["bar"][0] - p[f"{joint}_r"][0]) for joint in ("hip", "knee"))
    assert hip > 0 > knee
    assert describe(PARALLEL) == (
        f"Lean {PARALLEL.trunk_deg:.1f}° from the vertical; bar {hip:.1f} cm ahead of the hip, "
        f"{-knee:.1f} cm behind the knee; per leg hip {m.hip:.0f}, knee {m.knee:.0f}, "
        f"ankle {m.ankle:.0f} N·m; low back {m.l5s1:.0f} N·m; centre of mass over mid-foot."
    )
    assert re.search(r"centre of mass \d+\.\d cm behind mid-foot\.$", describe(BACKWARD))
    for scene in (side_view(PARALLEL), front_view(PARALLEL), lifter_picture(PARALLEL)):
        assert describe(PARALLEL) in scene.alt and "view" in scene.alt
        assert "1.75 m tall, high bar, 100 kg" in scene.alt


def test_what_cannot_be_drawn_is_refused_with_advice():
    with pytest.raises(
        ValueError, match="shows one posture and this holds 3; make one with single numbers"
    ):
        side_view(balance(LIFTER, BAR, STANCE, thigh_deg=[0, 10, 20]))
    with pytest.raises(
        ValueError, match="show names elbow; choose from bar, hip, knee, lean, com, system"
    ):
        side_view(PARALLEL, show=("hip", "elbow"))


@pytest.mark.parametrize(("lean_deg", "words"), [(-0.04, "0.0°"), (-3.0, "−3.0°"), (41.2, "41.2°")])
def test_a_lean_has_the_sign_of_all_other_numbers_and_is_never_minus_nought(lean_deg, words):
    posture = pose(LIFTER, BAR, STANCE, lean_deg)
    assert words in [text.words for text in side_view(posture, show=("lean",)).texts()]
