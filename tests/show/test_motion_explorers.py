"""A repetition and a phone: controls, pictures, charts and sentences agree."""

from __future__ import annotations

import re
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from squatlab import Bar, Lifter, Stance, dynamic_moments, faults
from squatlab.lessons.filming import cast, errors, exactly, filmed
from squatlab.motion import Camera, Tempo, synthesise
from squatlab.motion.ascent import ascent_of
from squatlab.motion.instant import posture_at
from squatlab.show.explorer import CHART
from squatlab.show.motion_charts import RepetitionChart, repetition_chart, still_and_moving
from squatlab.show.motion_explorers import phone, repetition
from squatlab.show.phone_charts import REACH, SHORT, UNTOLD, ErrorChart, accuracy, amount, steps
from squatlab.show.phone_picture import phone_picture

LIFTER = Lifter.from_stature(1.75, 80)
REP = synthesise(LIFTER, Bar.high(60), Stance())


@pytest.fixture(params=[repetition, phone], ids=lambda make: make.__name__)
def explorer(request):
    return request.param()


def test_every_control_changes_something_and_says_so(explorer):
    for name, control in explorer.controls.items():
        explorer.reset()
        before = explorer.display.picture, explorer.display.chart
        words = explorer.sentence
        control.value = (
            "front" if name == "camera" else control.min + 0.7 * (control.max - control.min)
        )
        assert explorer.error is None
        assert (explorer.display.picture, explorer.display.chart) != before, name
        assert explorer.sentence != words, name


def test_reset_and_presets(explorer):
    before = explorer.display.picture, explorer.display.chart, explorer.sentence
    seen = {before[2]}
    for name, button in explorer.presets.items():
        if name != "Reset":
            button.click()
            assert explorer.error is None, name
            assert explorer.sentence not in seen, name
            seen.add(explorer.sentence)
    explorer.presets["Reset"].click()
    assert (explorer.display.picture, explorer.display.chart, explorer.sentence) == before


@pytest.mark.parametrize("part", [0.0, 0.25, 0.75, 1.0])
def test_no_corner_breaks_an_explorer(explorer, part):
    for control in explorer.controls.values():
        if hasattr(control, "max"):
            control.value = control.min + part * (control.max - control.min)
            assert explorer.error is None, explorer.sentence
            assert "nan" not in explorer.sentence


def test_the_picture_stands_at_the_instant():
    shown = repetition()
    shown.controls["lead"].value = -150
    shown.controls["instant"].value = 0.5
    rep = synthesise(LIFTER, Bar.high(102), Stance(), Tempo(1.8, ascent_s=1.8, hip_lead_s=-0.15))
    frame = int(np.searchsorted(rep.time, 0.5 + rep.events["start"]))
    assert f"Lean {posture_at(rep, frame).trunk_deg:.1f}° from" in shown.sentence
    late = 1000 * (rep.events["hip_onset"] - rep.events["knee_onset"])
    assert late > 50 and f"Knees first by {late:.0f} ms" in shown.sentence
    assert f"Knees first by {late:.0f} ms".lower() in shown.display.alt


def test_a_bar_that_would_leave_the_back_is_told_first():
    shown = repetition()
    shown.presets["Dropped"].click()
    assert shown.sentence.startswith("Cannot be done: the bar would leave the back")


def test_the_charts_tell_what_the_motion_gives():
    rep = synthesise(LIFTER, Bar.high(120), Stance(), Tempo(ascent_s=2.0))
    chart, up = repetition_chart(rep), ascent_of(rep)
    drawn = chart._speed.get_xdata(), chart._speed.get_ydata()
    assert drawn[0] == pytest.approx(rep.time - rep.events["start"])
    assert drawn[1] == pytest.approx(up.speed)
    for frame in (up.first_peak, up.slowest, up.second_peak):
        assert f"{up.speed[frame]:.2f}" in chart.alt
    edges = chart._region.get_x(), chart._region.get_x() + chart._region.get_width()
    assert edges == pytest.approx(rep.time[[up.first_peak, up.slowest]] - rep.events["start"])
    for joint, mark in chart._onsets.items():
        assert mark.get_xdata()[0] == pytest.approx(
            rep.events[f"{joint}_onset"] - rep.events["start"]
        )
        share = np.interp(mark.get_xdata()[0], *chart._bends[joint].get_data())
        assert share == pytest.approx(5.0, abs=0.3)
    light = synthesise(LIFTER, Bar.high(20), Stance())
    assert "with one peak" in chart.show(light).alt and not chart._region.get_visible()


def test_moving_and_still_moments_are_drawn_and_told():
    chart = still_and_moving(REP)
    moving = dynamic_moments(REP.posture, REP.time)
    for axes, joint in zip(chart.panels, ("hip", "knee"), strict=True):
        still, other = (line.get_ydata() for line in axes.lines)
        assert still == pytest.approx(getattr(REP.moments, joint))
        assert other == pytest.approx(getattr(moving, joint))
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
    exact = exactly(REP)
    chart = ErrorChart()
    off = errors(filmed(REP, Camera.front(yaw_deg=20), np.random.default_rng(2)), exact)
    chart.show(off)
    shown = np.concatenate([chart._small.get_xydata(), chart._large.get_xydata()])
    told = [name for name in SHORT if np.isfinite(off[name])]
    # nan among the small ones is what cannot be told.
    shown = shown[np.isfinite(shown[:, 0])]
    assert len(shown) == len(told)
    assert np.abs(shown[:, 0]).max() <= REACH
    assert all(abs(steps(list(SHORT)[int(row)], off[list(SHORT)[int(row)]])) >= 1
               for row in chart._large.get_ydata())  # fmt: skip
    for name in SHORT:
        words = f"{SHORT[name]} {amount(name, off[name])}" if name in told else SHORT[name]
        assert words in chart.alt
    assert "Cannot tell: bends first" in chart.alt
    assert chart.png() != chart.show(errors(None, exact)).png()
    assert "nothing is read" in chart.alt
    assert {text.get_text() for text in chart._told} == {UNTOLD}


@pytest.mark.parametrize("size", [(1000, 480), CHART["page"]])
@pytest.mark.parametrize("make", [ErrorChart, RepetitionChart])
def test_no_words_are_cut_off(make, size):
    chart = make(size)
    off = dict.fromkeys(SHORT, 1.5) | {"knees_first": -288.0, "head_up": np.nan}
    chart = chart.show(off if make is ErrorChart else REP)
    picture = Image.open(BytesIO(chart.png()))
    assert picture.size == size
    page = chart.figure.bbox
    for axes in chart.panels:
        ticks = [
            label
            for axis, limits in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim()))
            for label, at in zip(axis.get_ticklabels(), axis.get_ticklocs(), strict=True)
            if min(limits) <= at <= max(limits)
        ]
        for text in (*axes.texts, *ticks, axes.xaxis.label):
            if text.get_visible() and text.get_text():
                box = text.get_window_extent()
                assert page.x0 <= box.x0 and box.x1 <= page.x1, text.get_text()
                assert page.y0 <= box.y0 and box.y1 <= page.y1, text.get_text()


def test_a_picture_too_near_loses_the_feet_in_grey():
    near, far = (phone_picture(REP, Camera.side(distance_m=d)) for d in (2.0, 4.0))
    grey = [len([p for p in s.primitives if getattr(p, "opacity", 1) == 0.55]) for s in (near, far)]
    assert grey == [2, 0]
    assert re.search(r"Lean on the screen [\d.]+°, truly [\d.]+°", far.alt)


def test_the_two_cameras_tell_different_faults():
    shown = phone()
    assert "Cannot tell: knees in, hips aside, turnout, bar tilt." in shown.sentence
    shown.controls["camera"].value = "front"
    assert "Cannot tell: bends first" in shown.sentence and "knees in " in shown.sentence
    before = shown.sentence
    shown.controls["yaw"].value = 15
    assert shown.sentence != before and "Hips on the screen 6." in shown.sentence


def test_the_accuracy_chart_tells_its_shares():
    people = cast(each=1, clean=3, seed=5)
    chart = accuracy(people)
    assert chart.alt.count("found") == 4 and chart.alt.count("blamed") == 4
    for axes in chart.panels:
        for line in axes.lines:
            assert np.all(
                (np.asarray(line.get_ydata()) >= 0) & (np.asarray(line.get_ydata()) <= 100)
            )
    assert chart.panels[0].lines[0].get_ydata()[0] > 90
