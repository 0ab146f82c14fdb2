"""A repetition and a phone: controls, pictures, charts and sentences agree."""

from __future__ import annotations

import re

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, dynamic_moments, faults
from squatlab.lessons.filming import cast, errors, exactly, filmed
from squatlab.motion import Camera, Tempo, synthesise
from squatlab.motion.ascent import ascent_of
from squatlab.motion.instant import posture_at
from squatlab.show import palette
from squatlab.show.controls import Slider
from squatlab.show.motion_charts import RepetitionChart, still_and_moving
from squatlab.show.motion_explorers import phone, repetition
from squatlab.show.phone_charts import REACH, SHORT, UNTOLD, ErrorChart, accuracy, amount, steps
from squatlab.show.phone_picture import phone_picture
from squatlab.show.primitives import Disc, Line, Shape
from tests.show.chart_values import values_of

LIFTER = Lifter.from_stature(1.75, 80)
REP = synthesise(LIFTER, Bar.high(60), Stance())


@pytest.fixture(params=[repetition, phone], ids=lambda make: make.__name__)
def explorer(request):
    return request.param()


def shown_by(explorer) -> tuple:
    """Return everything that an explorer shows, as a browser is sent it."""
    return explorer.picture["panes"], bytes(explorer.data), explorer.sentence


def test_every_control_changes_something_and_says_so(explorer):
    for name, control in explorer.controls.items():
        explorer.reset()
        panes, data, words = shown_by(explorer)
        value = "front"
        if isinstance(control, Slider):
            value = control.low + 0.7 * (control.high - control.low)
        setattr(explorer, name, value)
        assert explorer.error is None
        assert (panes, data) != shown_by(explorer)[:2], name
        assert explorer.sentence != words, name


def test_reset_and_presets(explorer):
    before = shown_by(explorer)
    seen = {before[2]}
    for name in explorer.presets:
        explorer.press(name)
        assert explorer.error is None, name
        assert explorer.sentence not in seen, name
        seen.add(explorer.sentence)
    explorer.reset()
    assert shown_by(explorer) == before


@pytest.mark.parametrize("part", [0.0, 0.25, 0.75, 1.0])
def test_no_corner_breaks_an_explorer(explorer, part):
    for name, control in explorer.controls.items():
        if isinstance(control, Slider):
            setattr(explorer, name, control.low + part * (control.high - control.low))
            assert explorer.error is None, explorer.sentence
            assert "nan" not in explorer.sentence


def test_the_picture_stands_at_the_instant():
    shown = repetition()
    shown.lead = -150
    shown.instant = 0.5
    rep = synthesise(LIFTER, Bar.high(102), Stance(), Tempo(1.8, ascent_s=1.8, hip_lead_s=-0.15))
    frame = int(np.searchsorted(rep.time, 0.5 + rep.events["start"]))
    assert f"Lean {posture_at(rep, frame).trunk_deg:.1f}° from" in shown.sentence
    late = 1000 * (rep.events["hip_onset"] - rep.events["knee_onset"])
    assert late > 50 and f"Knees first by {late:.0f} ms" in shown.sentence
    assert f"Knees first by {late:.0f} ms".lower() in shown._sweeps[1].alt[0]


def test_a_bar_that_would_leave_the_back_is_told_first():
    shown = repetition()
    shown.press("Dropped")
    assert shown.sentence.startswith("Cannot be done: the bar would leave the back")


def test_the_charts_tell_what_the_motion_gives():
    rep = synthesise(LIFTER, Bar.high(120), Stance(), Tempo(ascent_s=2.0))
    made, up = RepetitionChart(), ascent_of(rep)
    chart, since = made.of(rep), rep.time - rep.events["ascent"]
    marks = chart.marks.scene(0).primitives
    (curve,) = [p for p in marks if isinstance(p, Line) and p.stroke == palette.SYSTEM]
    x, y = values_of(made.speed, curve.points)
    assert y == pytest.approx(np.interp(x, since, up.speed), abs=1e-6)
    for frame in (up.first_peak, up.slowest, up.second_peak):
        assert f"{up.speed[frame]:.2f}" in chart.alt
    (region,) = [p for p in marks if isinstance(p, Shape) and p.fill == palette.NOTICE]
    edges = values_of(made.speed, region.points[:2])[0]
    assert edges == pytest.approx(since[[up.first_peak, up.slowest]])
    (hip,) = [p for p in marks if isinstance(p, Disc) and p.fill == palette.HIP]
    at, bent = values_of(made.start, hip.centre)
    assert at == pytest.approx(rep.events["hip_onset"] - rep.events["start"])
    assert bent == pytest.approx(5.0)
    light = made.of(synthesise(LIFTER, Bar.high(20), Stance()))
    assert "with one peak" in light.alt
    assert not [
        p for p in light.marks.scene(0).primitives if getattr(p, "fill", "") == palette.NOTICE
    ]


def test_an_instant_is_marked_where_it_is_and_all_instants_at_once():
    made = RepetitionChart()
    several = made.of(REP, np.array([0.5, 1.0, 2.5]))
    for position, instant in enumerate((0.5, 1.0, 2.5)):
        alone = made.of(REP, instant).marks.scene(0)
        assert several.marks.scene(position).primitives == alone.primitives
        uprights = [p for p in alone.primitives if isinstance(p, Line) and p.stroke == palette.INK]
        # The first plot counts from the first bend, the second from the start of the ascent.
        rise = REP.events["ascent"] - REP.events["start"]
        (upright,) = uprights
        early = instant < 1.9
        plot, at = (made.start, instant) if early else (made.speed, instant - rise)
        assert values_of(plot, upright.points)[0] == pytest.approx(at)


def test_moving_and_still_moments_are_told():
    chart = still_and_moving(REP)
    moving = dynamic_moments(REP.posture, REP.time)
    for joint in ("hip", "knee"):
        still, other = getattr(REP.moments, joint), getattr(moving, joint)
        assert f"{joint} at most {still.max():.0f} as if still" in chart.alt
        assert f"{joint} at most {other.max():.0f} moving" in chart.alt


def test_steps_and_amounts():
    depth, descent = faults.fault("short_depth"), faults.fault("fast_descent")
    assert steps("short_depth", depth.clear - depth.slight) == 1
    # A descent read too short looks worse: smaller is worse there.
    assert steps("fast_descent", descent.clear - descent.slight) == 1
    assert amount("short_depth", -3.21) == "−3.2°" and amount("knees_first", 36.4) == "+36 ms"
    assert amount("heel_lift", np.nan) == ""
    assert set(SHORT) == set(faults.catalogue())


def test_the_error_chart_draws_and_tells_every_error():
    exact, made = exactly(REP), ErrorChart()
    off = errors(filmed(REP, Camera.front(yaw_deg=20), np.random.default_rng(2)), exact)
    chart = made.of(off)
    told = [name for name in SHORT if np.isfinite(off[name])]
    marks = chart.marks.scene(0).primitives
    squares = [p for p in marks if isinstance(p, Shape) and p.fill == palette.RED]
    discs = [p for p in marks if isinstance(p, Disc)]
    assert len(squares) + len(discs) == len(told)
    bars = [p.points for p in marks if isinstance(p, Line)]
    for name, points in zip(told, bars, strict=True):
        x, row = values_of(made.plot, points)
        assert x == pytest.approx([0, np.clip(steps(name, off[name]), -REACH, REACH)])
        assert row == pytest.approx(list(SHORT).index(name))
    assert len(squares) == sum(abs(steps(name, off[name])) >= 1 for name in told)
    for name in SHORT:
        words = f"{SHORT[name]} {amount(name, off[name])}" if name in told else SHORT[name]
        assert words in chart.alt
    assert "bends first" in chart.alt.split("Cannot tell: ")[1]
    nothing = made.of(errors(None, exact))
    assert "nothing is read" in nothing.alt
    assert [t.words for t in nothing.marks.scene(0).texts()] == [UNTOLD] * len(SHORT)


def test_a_picture_too_near_loses_the_feet_in_grey():
    near, far = (phone_picture(REP, Camera.side(distance_m=d)) for d in (2.0, 4.0))
    grey = [len([p for p in s.primitives if getattr(p, "opacity", 1) == 0.55]) for s in (near, far)]
    assert grey == [2, 0]
    assert re.search(r"Lean on the screen [\d.]+°, truly [\d.]+°", far.alt)


def test_the_two_cameras_tell_different_faults():
    shown = phone()
    from_the_front = {"knees in", "hips aside", "turnout", "bar tilt"}
    assert set(shown.sentence.split("Cannot tell: ")[1].rstrip(".").split(", ")) == from_the_front
    shown.camera = "front"
    measured, unknown = shown.sentence.split("Cannot tell: ")
    assert "bends first" in unknown and "knees in " in measured
    before = shown.sentence
    shown.yaw = 15
    assert shown.sentence != before and "Hips 6." in shown.sentence


def test_the_accuracy_chart_tells_its_shares():
    people = cast(each=1, clean=3, seed=5)
    alt = accuracy(people).alt
    assert alt.count("found") == 4 and alt.count("blamed") == 4
    shares = [
        float(v)
        for part in re.findall(r"(?:found|blamed) ([\d, ]+) %", alt)
        for v in part.split(",")
    ]
    assert len(shares) == 24 and all(0 <= share <= 100 for share in shares) and shares[0] > 90
