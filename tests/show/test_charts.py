"""Charts draw what the mechanics give, say it in words, and move their mark."""

from __future__ import annotations

import re
import subprocess
import sys
from base64 import b64decode
from html import unescape
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.trunk import Bar
from squatlab.population import Population
from squatlab.show import charts, palette
from squatlab.show.chart import DPI, shank_on_the_way
from squatlab.show.explorer import CHART
from squatlab.show.marked_charts import LeanByBuild

LIFTER = Lifter.from_stature(1.68, 70).scaled(thigh=1.05)
LEVEL = 1e-9
"""Rounding allowed where a chart must draw a computed number, in its unit."""

EVERY = {
    "moments_by_depth": charts.moments_by_depth,
    "moments_by_shank": charts.moments_by_shank,
    "lean_by_build": charts.lean_by_build,
    "lean_by_stature": charts.lean_by_stature,
    "lean_by_stance": charts.lean_by_stance,
    "feasible_map": charts.feasible_map,
    "lean_by_load": charts.lean_by_load,
    "bar_path": charts.bar_path,
    "com_shift_by_bar": charts.com_shift_by_bar,
}


def line(axes, colour, dash=None):
    """Return x and y of the first drawn line of a colour."""
    for drawn in axes.lines:
        if drawn.get_color() == colour and len(drawn.get_xdata()) > 10:
            if dash is None or drawn.get_linestyle() == dash:
                return np.asarray(drawn.get_xdata()), np.asarray(drawn.get_ydata())
    raise AssertionError(f"no line of colour {colour}")


def same(drawn, computed, feasible=True):
    expected = np.where(feasible, computed, np.nan)
    np.testing.assert_allclose(drawn, expected, atol=LEVEL)
    assert np.isfinite(drawn).any()


@pytest.mark.parametrize("name", EVERY)
def test_a_chart_needs_no_argument_and_is_a_stable_picture_with_words(name):
    chart = EVERY[name]()
    picture = chart.png()
    width, height = chart.figure.get_size_inches() * DPI
    image = Image.open(BytesIO(picture))
    assert image.format == "PNG" and image.size == (round(width), round(height))
    assert image.getpixel((2, 2)) == (255, 255, 255)
    assert len(image.getcolors(maxcolors=1 << 20)) > 20
    assert chart.png() == picture == EVERY[name]().png()
    data = chart._repr_mimebundle_()
    held = re.search(r'src="data:image/png;base64,([^"]*)" alt="([^"]*)"', data["text/html"])
    assert b64decode(held[1]).startswith(b"\x89PNG")
    assert data["text/plain"] == repr(chart) == chart.alt == unescape(held[2])
    assert re.search(r"\d", chart.alt) and "nan" not in chart.alt and chart.alt.endswith(".")


@pytest.mark.parametrize("name", EVERY)
def test_no_words_are_small_cut_off_or_on_others(name):
    chart = EVERY[name]()
    chart.png()
    page = chart.figure.bbox
    boxes = []
    for axes in chart.panels:
        texts = [t for t in axes.texts if t.get_visible() and t.get_text()]
        ticks = [
            t
            for axis, limits in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim()))
            for t, at in zip(axis.get_ticklabels(), axis.get_ticklocs(), strict=True)
            if t.get_text() and min(limits) <= at <= max(limits)
        ]
        for text in (*texts, *ticks, axes.xaxis.label):
            assert text.get_fontsize() >= 12, text
            assert palette.contrast(text.get_color()) >= 4.5, text
            box = text.get_window_extent()
            assert page.x0 <= box.x0 and box.x1 <= page.x1, f"cut off: {text.get_text()}"
            assert page.y0 <= box.y0 and box.y1 <= page.y1, f"cut off: {text.get_text()}"
            boxes.append((text.get_text(), box.padded(-1.5)))
    for i, (one, box) in enumerate(boxes):
        for other, its in boxes[i + 1 :]:
            assert not box.overlaps(its), f"{one!r} lies on {other!r}"


@pytest.mark.parametrize("load", [0, 120, 130, 250])
def test_the_words_of_a_mark_stay_on_the_page(load):
    for chart, words in (
        (charts.lean_by_load(load_kg=load), "_said"),
        (charts.com_shift_by_bar().mark(load / 25), "_name"),
        (charts.feasible_map().mark_posture(5 + load * 0.16, 60 - load * 0.36), "_name"),
        (LeanByBuild(size_px=CHART["page"]).mark(LIFTER.scaled(0.8 + load / 600)), "_name"),
    ):
        chart.png()
        box, page = getattr(chart, words).get_window_extent(), chart.figure.bbox
        assert page.x0 <= box.x0 and box.x1 <= page.x1
        assert page.y0 <= box.y0 and box.y1 <= page.y1


def test_moments_by_depth_are_those_of_the_balanced_descent():
    chart = charts.moments_by_depth(LIFTER, 80, shank_deg=26)
    left, right = chart.panels
    thigh = -line(left, palette.HIP)[0]
    assert thigh[0] == 60 and thigh[-1] == -20
    shank = shank_on_the_way(thigh, 26)
    assert shank[thigh == 0] == pytest.approx(26)
    high, low = (balance(LIFTER, b(80), Stance(), thigh, shank) for b in (Bar.high, Bar.low))
    for joint, colour in (("hip", palette.HIP), ("knee", palette.KNEE)):
        same(line(left, colour)[1], getattr(joint_moments(high), joint), high.feasible)
        marks = next(d for d in left.lines if d.get_markeredgecolor() == colour
                     and d.get_linestyle() == "None")  # fmt: skip
        of_low = dict(zip(-thigh, getattr(joint_moments(low), joint), strict=True))
        same(marks.get_ydata(), [of_low[x] for x in marks.get_xdata()])
    leans = [d.get_ydata() for d in right.lines]
    same(leans[0], high.trunk_deg, high.feasible)
    same(leans[1], low.trunk_deg, low.feasible)
    level = balance(LIFTER, Bar.high(80), Stance(), 0, 26)
    moments = joint_moments(level)
    for number in (f"hip {moments.hip:.0f}", f"knee {moments.knee:.0f}",
                   f"{level.trunk_deg:.1f}° with the high bar"):  # fmt: skip
        assert number in chart.alt


def test_hip_and_knee_together_do_not_change_with_the_feet_straight():
    chart = charts.moments_by_shank(LIFTER, Bar.low(90), stance=Stance(0.3, 0))
    shank, both = line(chart.axes, palette.INK)
    way = balance(LIFTER, Bar.low(90), Stance(0.3, 0), 0, shank)
    moments = joint_moments(way)
    same(both, moments.hip + moments.knee, way.feasible)
    same(line(chart.axes, palette.HIP)[1], moments.hip, way.feasible)
    same(line(chart.axes, palette.KNEE)[1], moments.knee, way.feasible)
    there = both[np.isfinite(both)]
    assert np.isnan(both).any(), "past the ankles' limit nothing is drawn"
    # In the side view hip + knee = weight above the knees × thigh, whatever the shank.
    assert np.ptp(there) < 1e-6
    assert f"together {there[0]:.0f} and {there[-1]:.0f}" in chart.alt


def test_a_squat_that_no_shank_can_hold_says_so():
    stiff = Lifter.from_lengths(1.68, 70, dorsiflexion_deg=2.0)
    chart = charts.moments_by_shank(stiff)
    assert "no shank lean can be held" in chart.alt
    assert chart.png().startswith(b"\x89PNG")
    assert "cannot be held: the ankles" in charts.moments_by_depth(stiff).alt
    with pytest.raises(ValueError, match="cannot hold the high bar: the ankles"):
        charts.com_shift_by_bar(stiff)


def test_the_population_and_its_fitted_line():
    chart = charts.lean_by_build(seed=5, count=60)
    rng = np.random.default_rng(5)
    ratios, leans = [], []
    for who, dots in zip(("women", "men"), chart.axes.lines[::2], strict=False):
        people = Population.ansur2(who).draw(30, rng)
        way = balance(people, Bar.high(people.mass_kg), Stance(), 0, 30)
        same(dots.get_xdata(), people.thigh_m / people.trunk_m)
        same(dots.get_ydata(), way.trunk_deg, way.feasible)
        ratios.append(dots.get_xdata())
        leans.append(np.where(way.feasible, way.trunk_deg, np.nan))
    x, y = np.concatenate(ratios), np.concatenate(leans)
    x, y = x[np.isfinite(y)], y[np.isfinite(y)]
    from scipy.stats import linregress

    fit = linregress(x, y)
    assert chart.explained == pytest.approx(fit.rvalue**2)
    assert f"{len(x)} lifters" in chart.alt and f"R² = {fit.rvalue**2:.2f}" in chart.alt
    (drawn,) = (d for d in chart.axes.lines if d.get_color() == palette.INK)
    same(drawn.get_ydata(), fit.intercept + fit.slope * np.asarray(drawn.get_xdata()))
    markers = {d.get_marker() for d in chart.axes.lines[:3:2]}
    assert len(markers) == 2, "women and men differ by more than colour"


def test_build_explains_the_lean_and_stature_does_not():
    build, stature = charts.lean_by_build(), charts.lean_by_stature()
    assert build.explained > 0.7 and stature.explained < 0.1


def test_the_marked_lifter_moves_and_is_told():
    for make, told in ((charts.lean_by_build, "{0:.2f}"), (charts.lean_by_stature, "{1:.0f} cm")):
        chart = make(count=40)
        before = chart.png()
        assert chart.mark(LIFTER) is chart
        lean = balance(LIFTER, Bar.high(70), Stance(), 0, 30).trunk_deg
        number = told.format(LIFTER.thigh_m / LIFTER.trunk_m, 168)
        assert f"{number}, lean {lean:.1f}°" in chart.alt
        after = chart.png()
        spot = chart._dot.get_xdata()[0], chart._dot.get_ydata()[0]
        assert spot == pytest.approx((float(chart.quantity(LIFTER)), float(lean)))
        assert before != after != chart.mark(LIFTER.scaled(trunk=1.1)).png()
        assert make(LIFTER, count=40).png() == chart.mark(LIFTER).png() == after


def test_an_unusual_lifter_is_marked_at_the_edge_or_told_unable():
    chart = charts.lean_by_stature(count=40)
    chart.mark(Lifter.from_stature(2.2, 90))
    assert "stature 220 cm, lean" in chart.alt
    assert chart._dot.get_xdata()[0] == chart.axes.get_xlim()[1]
    chart.mark(Lifter.from_lengths(1.68, 70, dorsiflexion_deg=5.0))
    assert "stature 168 cm, cannot hold this posture" in chart.alt
    assert chart.png().startswith(b"\x89PNG")


def test_lean_by_stance():
    chart = charts.lean_by_stance(LIFTER, Bar.low(60))
    looks = zip((0, 15, 30), (palette.BLUE, palette.RED, palette.PLUM), strict=True)
    for turnout, colour in looks:
        width, lean = line(chart.panels[0], colour)
        way = balance(LIFTER, Bar.low(60), Stance(width / 100, turnout))
        same(lean, way.trunk_deg, way.feasible)
        side = 100 * (way.knee.x - way.hip.x)
        same(line(chart.panels[1], colour)[1], side, way.feasible)
        assert np.nanmax(side) <= 100 * LIFTER.thigh_m
        assert f"{way.trunk_deg[-1]:.1f}° at 70 cm (thigh {side[-1]:.1f} cm)" in chart.alt


def test_the_map_agrees_with_balance_and_its_mark_with_both():
    stiff = Lifter.from_lengths(1.75, 80, dorsiflexion_deg=22.0)
    chart = charts.feasible_map(stiff)
    before = chart.png()
    assert "ankles do not bend so far" in chart.alt
    for shank, thigh in ((15, 40), (30, 0), (7, -20)):
        held = balance(stiff, Bar.high(100), Stance(), thigh, shank).feasible
        assert ("can be held" in chart.mark_posture(shank, thigh).alt.split("Marked:")[1]) is held
    # Deep is down: the map counts depth below level.
    assert (chart._dot.get_xdata()[0], chart._dot.get_ydata()[0]) == (7, 20)
    assert chart.png() != before
    assert chart.mark_posture(15, -10).alt == chart.mark(15, 10).alt
    assert charts.feasible_map().alt != charts.feasible_map(stiff).alt
    with pytest.raises(ValueError, match="shows width and turnout"):
        charts.feasible_map(across="width", up="turnout").mark_posture(20, 0)


def test_both_rules_against_load():
    chart = charts.lean_by_load(LIFTER, "low", thigh_deg=-5)
    for over, colour in (("system", palette.BLUE), ("bar", palette.RED)):
        load, lean = line(chart.axes, colour)
        assert load[0] == 0 and load[-1] == 250
        way = balance(LIFTER, Bar.low(load), Stance(), -5, 30, over=over)
        same(lean, np.broadcast_to(way.trunk_deg, load.shape), way.feasible)
    system, bar = (line(chart.axes, c)[1] for c in (palette.BLUE, palette.RED))
    gap = np.abs(system - bar)
    assert gap[-1] < 0.5 * gap[8], "the rules come together"
    before = chart.png()
    assert "100 kg they are" in chart.alt and f"{system[-1]:.1f}° at 250 kg" in chart.alt
    assert chart.mark(20).png() != before
    spots = [(d.get_xdata()[0], d.get_ydata()[0]) for d in chart._dots]
    assert spots == [(20, pytest.approx(system[8])), (20, pytest.approx(bar[8]))]
    assert f"At the marked 20 kg they are {gap[8]:.1f}° apart" in chart.alt
    with pytest.raises(ValueError, match=r'place is "?.?middle.*choose "high" or "low"'):
        charts.lean_by_load(place="middle")


def test_the_path_of_the_bar():
    chart = charts.bar_path((20, 140), LIFTER)
    thigh = np.linspace(60, -15, 76)
    for load, colour in ((20, palette.BLUE), (140, palette.RED)):
        way = balance(LIFTER, Bar.high(load), Stance(), thigh, shank_on_the_way(thigh, 28))
        x, y = line(chart.axes, colour)
        same(x, 100 * way.bar_centre.x, way.feasible)
        same(y, 100 * way.bar_centre.y, way.feasible)
        assert f"{np.nanmax(x):.1f} cm with {load} kg" in chart.alt
    with pytest.raises(ValueError, match="5 loads given; choose 1 to 4"):
        charts.bar_path((10, 20, 30, 40, 50))


def test_a_lower_bar_takes_the_centre_of_mass_back():
    chart = charts.com_shift_by_bar(LIFTER, 90)
    down, shift = line(chart.axes, palette.SYSTEM)
    lean = balance(LIFTER, Bar.high(90), Stance()).trunk_deg
    # The bar goes back by down × sin lean, the common centre by the bar's share of that.
    same(shift, -down * np.sin(np.radians(lean)) * 90 / (90 + 70))
    low = 100 * pose(LIFTER, Bar.low(90), Stance(), lean).com_shift
    assert f"{-low:.1f} cm behind mid-foot" in chart.alt
    before = chart.png()
    assert chart.mark(4).png() != before
    assert (chart._dot.get_xdata()[0], chart._dot.get_ydata()[0]) == pytest.approx((4, shift[40]))
    assert f"4 cm down, {-shift[40]:.1f} cm behind" in chart.alt
    assert "0 cm down, 0.0 cm behind" in chart.mark(0).alt
    with pytest.raises(ValueError, match="drop_cm is 12; choose 0 to 10 cm"):
        chart.mark(12)


def test_no_global_plotting_machinery():
    code = (
        # Asking for the backend would itself load pyplot.
        "import sys, matplotlib as m\n"
        "rc = lambda: {name: m.rcParams[name] for name in m.rcParams if name != 'backend'}\n"
        "before = rc()\n"
        "from squatlab.show import charts\n"
        "charts.bar_path().png()\n"
        "charts.feasible_map().png()\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
        "assert before == rc()\n"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
