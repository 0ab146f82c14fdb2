"""Clips: the figure is where the points are, the words say what is drawn, nothing is given away."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations, groupby
from types import SimpleNamespace

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, balance, faults
from squatlab.motion import Camera, Injection, Tempo, film, synthesise
from squatlab.review import measure
from squatlab.review.quantities import over_time
from squatlab.review.uncertainty import best_views
from squatlab.review.view import views_of
from squatlab.show import lines, views
from squatlab.show.clips import clip, phases
from squatlab.show.footage import footage
from squatlab.show.frame_row import frame_row
from squatlab.show.moving import Trail
from squatlab.show.picture import svg, wrapping
from squatlab.show.primitives import Disc, Line, Shape
from squatlab.show.scene import front_view, side_view
from squatlab.tracks import Tracks
from tests import stick_figure
from tests.show.browser_side import read
from tests.show.layout import words_stand_apart

LIFTER, BAR, STANCE = Lifter.from_stature(1.75, 80), Bar.high(100), Stance()
REP = synthesise(LIFTER, BAR, STANCE, Tempo(), rate=60)
SET = synthesise(LIFTER, BAR, STANCE, Tempo(repetitions=2), rate=60)
CLIP = clip(REP)
BAD = synthesise(
    LIFTER, BAR, STANCE, Tempo(), [Injection("knee_valgus", 14), Injection("heel_lift", 3)]
)
SIDE, FRONT = (film(BAD.points, BAD.time, camera) for camera in (Camera.side(), Camera.front()))
FOUND = measure(SIDE, FRONT, lifter=LIFTER, bar_kg=100, camera=Camera.side())


def words_at(shown, frame: int, view: str = "both") -> list[str]:
    return [text.words for text in shown.film.scene(frame, view, measured=True).texts()]


def lean_deg(frame: int) -> float:
    """Return how far the line from hip to C7 leans forward in the posture, °."""
    across, up, _ = (REP.points["c7"] - REP.points["hip_r"])[frame]
    return np.degrees(np.arctan2(across, up))


# The figure


@pytest.mark.parametrize("thigh_deg", [60, 20, -8])
def test_a_frame_is_the_figure_that_an_explorer_shows(thigh_deg):
    # Outside source: the picture of the one posture, which has tests of its own.
    posture = balance(LIFTER, BAR, STANCE, [thigh_deg] * 12, 28)
    shot = SimpleNamespace(points=posture.points, time=np.arange(12) / 60, lifter=LIFTER, bar=BAR)
    single = balance(LIFTER, BAR, STANCE, thigh_deg, 28)
    for view, scene in (("side", side_view(single)), ("front", front_view(single))):
        left = 0.0 if view == "side" else views.SIDE
        expected = [
            part
            for part in scene.primitives
            # An explorer's feet from above are no part of the figure.
            if isinstance(part, Shape)
            and part.smooth
            and (view == "side" or part.fill != views.SOLID.far_shoe)
        ]
        drawn = [
            part
            for part in clip(shot).film.scene(5, view).primitives
            if isinstance(part, Shape) and part.smooth
        ]
        assert len(drawn) == len(expected) >= 9
        for one, other in zip(drawn, expected, strict=True):
            assert one.fill == other.fill
            assert np.array(one.points) - left == pytest.approx(np.array(other.points), abs=1e-6)


def sent(shown) -> list[tuple]:
    """Return for every view its figure and its lines as a browser gets them."""
    start, panels = 0, []
    for panel in shown.shown["panels"]:
        layers = []
        for head in (panel["figure"], panel["lines"]):
            layers.append(read(head, shown.film_data[start : start + head["bytes"]]))
            start += head["bytes"]
        panels.append(tuple(layers))
    assert start == len(shown.film_data)
    return panels


def test_the_player_is_sent_what_the_scene_holds():
    panels = sent(CLIP)
    for frame in (0, REP.bottom, REP.time.size - 1):
        expected = CLIP.film.scene(frame, measured=True).primitives
        drawn = [part for layers in panels for layer in layers for part in layer(frame).primitives]
        assert len(drawn) == len(expected) > 60
        for one, other in zip(drawn, expected, strict=True):
            assert type(one) is type(other)
            for name, value in one._asdict().items():
                if name in ("points", "centre", "at", "radius"):
                    assert np.abs(np.subtract(value, getattr(other, name))).max() <= 0.05
                else:
                    assert value == getattr(other, name)


def test_the_scale_and_the_floor_never_move():
    floors = set()
    for frame in range(0, REP.time.size, 20):
        scene = CLIP.film.scene(frame)
        shoes = [p for p in scene.primitives if isinstance(p, Shape) and p.smooth]
        assert max(point.imag for shoe in shoes for point in shoe.points) < views.FLOOR + 2
        floors |= {
            p for p in scene.primitives if isinstance(p, Line) and p.width == 1.5 and not p.dash
        }
        assert scene.bounds == CLIP.film.scene(0).bounds
    assert len(floors) == 2


def test_what_is_not_seen_is_not_drawn_and_the_rest_is():
    hidden = slice(100, 120)
    points = {name: np.array(place) for name, place in REP.points.items()}
    points["knee_r"][hidden, 0] = np.nan
    shot = SimpleNamespace(points=points, time=REP.time, lifter=LIFTER, bar=BAR)
    with_gap = clip(shot).film
    counts = [
        sum(isinstance(p, Shape) and p.smooth for p in with_gap.scene(frame, "side").primitives)
        for frame in (99, 100, 119, 120)
    ]
    # Bare thigh and shank are one area; of the shorts the seat stays.
    assert counts[0] == counts[3] and counts[1] == counts[2] == counts[0] - 1
    assert not [w for w in words_at(clip(shot), 110, "side") if "level" in w]
    assert [w for w in words_at(clip(shot), 125, "side") if "level" in w]
    (figure, _), _ = sent(clip(shot))
    assert len(figure(90).primitives) == len(figure(120).primitives)
    assert len(figure(110).primitives) == len(figure(90).primitives) - 2  # and the knee's mark


def test_a_raised_heel_leaves_the_floor_where_it_is():
    places = footage(BAD).views[0].places
    heel = places["heel_r"].imag
    assert heel[0] == pytest.approx(0, abs=1e-3)
    assert heel.max() == pytest.approx(BAD.points["heel_r"][:, 1].max(), abs=1e-3)
    assert places["toe_r"].imag.min() == pytest.approx(0, abs=1e-3)


# Recorded footage


def test_twelve_points_in_pixels_are_drawn_in_the_same_look():
    shown = clip(stick_figure.picture("side"), stick_figure.picture("front"))
    side, front = (
        [p for p in shown.film.scene(100, view).primitives if isinstance(p, Shape) and p.smooth]
        for view in ("side", "front")
    )
    # Two legs with shoe and shorts, one shirt; no arms, no head. From the front the
    # shorts are one.
    assert len(side) == 7 and len(front) == 6
    # Outside source: the lengths the figure is made with, at its scale.
    shin = shown.film.footage.views[0].places
    length = np.abs(shin["knee_r"] - shin["ankle_r"])
    assert length == pytest.approx(stick_figure.SHANK, rel=0.02)


def test_centimetres_are_told_only_where_the_scale_is_known():
    known, unknown = (
        clip(stick_figure.picture("side", scale_px_per_m=scale)) for scale in (375.0, None)
    )
    ahead = [w for w in words_at(known, known.film.footage.bottoms[0]) if " cm" in w]
    knee, toe = (stick_figure.space()[name][:, 0] for name in ("knee_r", "toe_r"))
    expected = 100 * (knee - toe)[known.film.footage.bottoms[0]]
    assert len(ahead) == 1
    # The points give what is true; the clip tells what is left once their likely errors are taken
    # off, as the review does: here 0.9 cm, of a knee that counts as marked to 1.3 cm.
    shot = stick_figure.picture("side", scale_px_per_m=375.0)
    bottom = known.film.footage.bottoms[0]
    (as_seen,), (weighed,) = views_of(shot), best_views(shot)
    assert over_time(as_seen, "knee_ahead").series[bottom] == pytest.approx(expected, abs=0.25)
    told = float(ahead[0].split()[0]) * (1 if "ahead" in ahead[0] else -1)
    assert told == round(over_time(weighed, "knee_ahead").series[bottom], 1)
    assert not [w for w in words_at(unknown, 120) if " cm" in w]
    assert [w for w in words_at(unknown, 120) if "°" in w]
    assert "No scale" in unknown.film.sentence and "No scale" not in known.film.sentence


def test_without_feet_nobody_tells_where_mid_foot_is():
    whole = stick_figure.picture("side", scale_px_per_m=375.0)
    keep = [i for i, name in enumerate(whole.names) if name[:-2] not in ("heel", "toe")]
    names = [whole.names[i] for i in keep]
    told, fewer = (
        {text.words for text in clip(shot).film.scene(60, measured=True).texts()}
        for shot in (whole, replace(whole, positions=whole.positions[:, keep], names=names))
    )
    assert told - fewer >= {"mid-foot", "knee to toes"} and "thigh" in fewer


def test_the_only_leg_of_a_picture_is_drawn_near():
    whole = stick_figure.picture("side")
    keep = [i for i, name in enumerate(whole.names) if name.endswith("_l")]
    left = replace(whole, positions=whole.positions[:, keep], names=[whole.names[i] for i in keep])
    fills = {
        p.fill for p in clip(left).film.scene(60).primitives if isinstance(p, Shape) and p.smooth
    }
    assert views.SOLID.skin in fills and views.SOLID.far_skin not in fills


def test_dropped_frames_and_noise_do_not_flicker():
    shaky = film(REP.points, REP.time, Camera.side(dropped=0.05), np.random.default_rng(3))
    assert shaky.times.size < REP.time.size
    shown = clip(shaky)
    assert shown.film.footage.time.size == REP.time.size
    counts = {
        sum(isinstance(p, Shape) and p.smooth for p in shown.film.scene(frame).primitives)
        for frame in range(0, REP.time.size, 5)
    }
    assert len(counts) == 1
    # Standing there is nothing but noise: 3 px, at 375 px/m, in each of two frames.
    knee = shown.film.footage.views[0].places["knee_r"].real[10:40]
    assert np.diff(knee).std() < 0.15 * 2**0.5 * 3 / 375


def test_two_cameras_started_apart_are_brought_together():
    late = replace(FRONT, times=FRONT.times + 7.3)
    shown = footage(late, SIDE)
    assert [view.name for view in shown.views] == ["side", "front"]
    assert shown.views[1].frames == pytest.approx(np.arange(shown.time.size), abs=4)
    assert "The front view was moved by 7.3 s" in shown.note
    assert "moved" not in footage(SIDE, FRONT).note
    cut = Tracks(
        FRONT.times[60:] - FRONT.times[60], FRONT.positions[60:], FRONT.names, "front", "px"
    )
    frames = footage(SIDE, cut).views[1].frames
    assert frames[120] == pytest.approx(60, abs=4)
    assert np.isnan(footage(SIDE, cut).views[1].places["hip_r"][:50]).all()


# Numbers and words


def test_the_numbers_are_those_of_the_posture():
    bottom = CLIP.film.footage.bottoms[0]
    assert REP.posture.hip.y[bottom] == pytest.approx(REP.posture.hip.y[REP.bottom], abs=1e-3)
    told = words_at(CLIP, bottom, "side")
    assert f"{lean_deg(bottom):.0f}° forward" in told
    thigh = REP.posture.thigh_deg[bottom]
    assert thigh < 0 and f"{-thigh:.0f}° below level" in told
    bar_cm = 100 * REP.points["bar"][bottom, 0]
    assert f"{bar_cm:.1f} cm ahead" in told
    front = words_at(CLIP, bottom, "front")
    apart = 100 * (REP.points["knee_r"] - REP.points["knee_l"])[bottom, 2]
    assert f"knees apart {apart:.0f} cm" in front
    assert front.count("12° out") == 2


def test_each_measured_line_lies_on_its_points():
    frame, scale = 130, views.scale_of(1.75)
    p = {name: complex(*place[frame, :2]) for name, place in REP.points.items()}
    scene = CLIP.film.scene(frame, "side", measured=True)
    bold = [part for part in scene.primitives if isinstance(part, Line) and part.width == 4.0]
    ends = [("hip_r", "c7"), ("hip_r", "knee_r"), ("ankle_r", "knee_r")]
    origin = complex(views.MID_FOOT, views.FLOOR)
    for line, names in zip(bold, ends, strict=True):
        expected = [origin + scale * p[name].conjugate() for name in names]
        assert np.array(line.points) == pytest.approx(np.array(expected), abs=0.01)
    (trail,) = [m for m in CLIP.film.panels[0].measured if isinstance(m, Trail)]
    way = next(q for q in scene.primitives if isinstance(q, Line) and len(q.points) == frame + 1)
    assert (
        way.points[-1]
        == trail.at[frame]
        == pytest.approx(origin + scale * p["bar"].conjugate(), abs=0.01)
    )


def test_the_sentence_gives_duration_frames_and_the_lowest_point():
    bottom, posture = CLIP.film.footage.bottoms[0], REP.posture
    assert re.fullmatch(
        rf"Side and front view, {REP.time[-1]:.1f} s, {REP.time.size} frames: at the lowest point, "
        rf"{REP.time[bottom]:.2f} s, trunk {lean_deg(bottom):.0f}° forward "
        rf"\(standing {lean_deg(0):.0f}°\), "
        rf"thigh {-posture.thigh_deg[bottom]:.0f}° below level, shin \d+° forward\.",
        CLIP.film.sentence,
    )
    assert "2 repetitions" in clip(SET).film.sentence
    both, side, front = (CLIP.shown["sentences"][view] for view in ("both", "side", "front"))
    assert both.startswith("Side and front view, ") and side.startswith("Side view, ")
    assert front.startswith("Front view, ") and "trunk" in side and "trunk" not in front
    assert repr(CLIP) == f"Clip: {CLIP.film.sentence}"


def test_phases_follow_each_other():
    assert [name for name, _ in groupby(phases(CLIP.film.footage))] == [
        "standing",
        "down",
        "lowest point",
        "up",
        "standing",
    ]
    told = phases(footage(SET))
    for number, event in enumerate(SET.each, 1):
        frame = round(60 * (event["bottom"] + 0.05))
        assert told[frame] == f"rep {number} of 2 lowest point"
        assert told[round(60 * 0.5 * (event["start"] + event["bottom"]))].endswith("2 down")
    assert len(footage(SET).bottoms) == 2
    still = {name: np.repeat(place[:1], 60, axis=0) for name, place in REP.points.items()}
    shot = SimpleNamespace(points=still, time=np.arange(60) / 60, lifter=LIFTER, bar=BAR)
    assert set(phases(footage(shot))) == {""} and len(footage(shot).bottoms) == 1


def test_labels_never_meet_and_never_leave_the_picture():
    rng = np.random.default_rng(5)
    for number in range(12):
        lifter = Lifter.from_stature(rng.uniform(1.5, 2.05), rng.uniform(50, 120))
        stance = Stance(rng.uniform(0.2, 0.6), rng.uniform(0, 35))
        posture = balance(lifter, BAR, stance, np.linspace(70, -15, 30), np.linspace(5, 35, 30))
        shot = SimpleNamespace(
            points=posture.points, time=np.arange(30) / 30, lifter=lifter, bar=BAR
        )
        shown = clip(shot)
        for frame in (0, 15, 29):
            scene = shown.film.scene(frame, measured=True)
            words_stand_apart(scene, f"picture {number}, frame {frame}")


# Findings and blindness


def test_findings_bring_their_marks_and_their_lines():
    one = FOUND["knee_valgus"]
    assert one.present == "yes" and one.view == "front"
    alone = clip(SIDE, FRONT, findings=one)
    name = faults.fault("knee_valgus").name
    assert {mark["words"]: mark["frame"] for mark in alone.shown["marks"]} == {
        f"{name}: first": one.first,
        f"{name}: worst": one.worst,
        f"{name}: last": one.last,
    }
    assert [line.name for panel in alone.film.panels for line in panel.lines] == [
        "knees apart",
        "feet",
    ]
    several = clip(SIDE, FRONT, findings=FOUND, marks={"here": 7})
    marks = {mark["words"]: mark["frame"] for mark in several.shown["marks"]}
    assert len(marks) == 1 + len(FOUND.present()) and marks["here"] == 7
    assert marks["heels lift: worst"] == FOUND["heel_lift"].worst
    assert "heel" in [line.name for line in several.film.panels[0].lines]


def test_a_mark_of_the_other_camera_is_shown_at_its_own_moment():
    shift = 60
    cut = Tracks(FRONT.times[shift:], FRONT.positions[shift:], FRONT.names, "front", "px")
    moment = footage(SIDE, cut).frame_of("front", 100)
    assert moment == 100 + shift
    assert footage(SIDE, cut).frame_of("side", 100) == 100


def test_every_fault_has_a_line_on_which_it_is_seen():
    for name, fault in faults.catalogue().items():
        wanted = fault.lines
        shown = clip(
            BAD.tracks(),
            findings=[
                SimpleNamespace(
                    fault=name,
                    present="yes",
                    view="3d",
                    first=1,
                    worst=2,
                    last=3,
                )
            ],
        )
        found = {panel.name: len(panel.lines) for panel in shown.film.panels}
        assert sum(found.values()) == len(wanted), name
        if fault.view in found:
            assert found[fault.view] == len(wanted), name


def test_a_low_back_that_was_not_recorded_has_no_number():
    bend = lines.measured(footage(BAD), footage(BAD).views[0], views.Frame(0j, 1), ("low back",))
    assert any(bend[0].words)
    shown = footage(stick_figure.space())
    (line,) = lines.measured(shown, shown.views[0], views.Frame(0j, 1), ("low back",))
    assert not any(line.words)


def test_a_blind_clip_gives_nothing_away():
    shown = clip(SIDE, FRONT, blind=True, lines=True)
    frames = footage(SIDE).time.size
    seconds = footage(SIDE).time[-1]
    assert shown.film.sentence == (
        f"Side and front view, {seconds:.1f} s, {frames} frames, nothing measured."
    )
    assert not shown.lines and not shown.shown["measured"] and not shown.shown["marks"]
    assert not any(lines(0).primitives for _, lines in sent(shown))
    told = {text.words for figure, _ in sent(shown) for text in figure(0).texts()}
    assert told == {"Side view", "Front view", "mid-foot", "lifter's right", "lifter's left"}
    row = frame_row(SIDE, FRONT, blind=True, lines=True)
    told |= {f"{when}, {time}" for when, time in re.findall(r">([a-z ]+), (\d\.\d\d s)<", row.svg)}
    assert set(re.findall(r"<text[^>]*>([^<]*)<", row.svg)) <= told
    with pytest.raises(ValueError, match="a blind clip shows no findings; leave out findings or"):
        clip(SIDE, FRONT, blind=True, findings=FOUND)


# On paper, and what is refused


def test_without_a_kernel_there_is_a_row_of_frames_that_stays_the_same():
    bundle = CLIP._repr_mimebundle_()[0]
    assert bundle["text/plain"] == repr(CLIP)
    assert (
        bundle["text/html"] == frame_row(REP).html == clip(REP)._repr_mimebundle_()[0]["text/html"]
    )
    assert "application/vnd.jupyter.widget-view+json" in bundle
    assert not re.search(r'\s(?:d|cx|cy|x|y)="[^"]*\.\d\d', frame_row(REP).svg)
    row = frame_row(REP, lines=True)
    assert row._repr_mimebundle_() == {
        "text/plain": f"Frames: {CLIP.film.sentence}",
        "text/html": wrapping(row.scene, 5, "Frame", 1.3, still=True),
    }
    words = [text.words for text in row.scene.texts()]
    assert f"lowest point, {REP.time[CLIP.film.footage.bottoms[0]]:.2f} s" in words
    assert f"thigh {-REP.posture.thigh_deg[REP.bottom]:.0f}° below level" in words
    assert sum(" s" in w for w in words) == 5


def test_a_row_holds_its_frames_side_above_front():
    scene = frame_row(REP, lines=True).scene
    left, top, right, bottom = scene.bounds
    hair = views.SOLID.hair
    heads = [p for p in scene.primitives if isinstance(p, Shape) and p.fill == hair]
    assert len(heads) == 10
    middle = [np.mean(p.points) for p in heads]
    assert all(m.imag < n.imag for m, n in zip(middle[:5], middle[5:], strict=True))
    assert (np.diff([m.real for m in middle[:5]]) > 100).all()
    assert middle[2].imag == max(m.imag for m in middle[:5]), "the third is the lowest"
    boxes = [(text.box(), text.words) for text in scene.texts()]
    for (a, one), (b, two) in combinations(boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], f"{one} meets {two}"
    assert all(left <= b[0] and b[2] <= right and b[3] <= bottom for b, _ in boxes)


def test_frame_view_and_lines_can_be_set_from_python():
    shown = clip(REP, view="side", lines=True)
    shown.frame, shown.view = 30, "front"
    assert (shown.frame, shown.view, shown.lines) == (30, "front", True)
    with pytest.raises(
        ValueError, match="the view is 'above'; this clip shows side, front, or both"
    ):
        shown.view = "above"


@pytest.mark.parametrize(
    ("shots", "more", "message"),
    [
        ((), {}, r"given are 0 shots \(\); give one repetition, or tracks of the side"),
        ((SIDE, SIDE), {}, r"given are 2 shots \(side, side\)"),
        ((REP, SIDE), {}, r"given are 2 shots \(3d, side\)"),
        (("side.csv",), {}, r"given are 1 shots \(no shot\)"),
        ((REP,), {"size": "poster"}, 'size is \'poster\'; choose "page" or "projector"'),
        ((REP,), {"marks": {"late": 999}}, 'the mark "late" is at frame 999; there are 312'),
        ((REP,), {"findings": FOUND}, "findings count the frames of the tracks they were found in"),
    ],
)
def test_what_cannot_be_shown_is_refused_with_advice(shots, more, message):
    with pytest.raises(ValueError, match=message):
        clip(*shots, **more)


def test_tracks_without_a_leg_are_refused():
    whole = stick_figure.picture("side")
    keep = [i for i, name in enumerate(whole.names) if "knee" not in name]
    legless = replace(
        whole, positions=whole.positions[:, keep], names=[whole.names[i] for i in keep]
    )
    with pytest.raises(ValueError, match="no leg can be drawn: hip, knee and ankle of one side"):
        clip(legless)


def test_an_oblique_picture_is_shown_without_lines():
    shown = clip(film(REP.points, REP.time, Camera.oblique()))
    assert [panel.name for panel in shown.film.panels] == ["oblique"]
    assert not shown.shown["measured"]
    assert "°" not in shown.film.sentence


def test_joints_have_names_that_a_pointer_is_told_and_close_ups_follow():
    for view, expected in (
        ("side", {"hip", "knee", "ankle", "low back (L5/S1)", "bar"}),
        ("front", {f"{side} {n}" for side in ("right", "left") for n in ("hip", "knee", "ankle")}),
    ):
        discs = [p for p in CLIP.film.scene(0, view).primitives if isinstance(p, Disc) and p.name]
        assert {disc.name for disc in discs} == expected
    drawn = svg(CLIP.film.scene(0, "side"))
    assert len(re.findall("<circle[^>]*><title>knee</title></circle>", drawn)) == 1
