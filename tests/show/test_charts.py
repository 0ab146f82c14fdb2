"""Charts draw what the mechanics give, say it in words, and mark one lifter or load."""

from __future__ import annotations

import re
import subprocess
import sys
from base64 import b64decode
from html import unescape
from itertools import combinations

import numpy as np
import pytest

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.moments import joint_moments
from squatlab.mechanics.trunk import Bar
from squatlab.population import Population
from squatlab.show import charts, marked_charts, palette
from squatlab.show.feasible_map import FeasibleMap
from squatlab.show.motion_charts import RepetitionChart
from squatlab.show.phone_charts import SHORT, ErrorChart
from squatlab.show.plot import BESIDE, PAGE, PAIR, Plot, axis, box_of, depth_axis, shank_on_the_way
from squatlab.show.primitives import Disc, Shape, Text, Tiles
from tests.show.chart_values import curves, values_of
from tests.show.test_motion_explorers import REP

LIFTER = Lifter.from_stature(1.68, 70).scaled(thigh=1.05)
STIFF = Lifter.from_lengths(1.75, 80, dorsiflexion_deg=22.0)
LEVEL = 1e-6
"""Rounding allowed where a chart must draw a computed number, in its unit."""

EVERY = {name: getattr(charts, name) for name in charts.__all__}
OFF = dict.fromkeys(SHORT, 1.5) | {"knees_first": -288.0, "head_up": np.nan}
SMALL = {
    "build": lambda: marked_charts.LeanByBuild(size=BESIDE).marked(LIFTER),
    "load": lambda: marked_charts.LeanByLoad(BESIDE).marked(
        60.0, LIFTER, Bar.high(60), Stance(), 0.0
    ),
    "map": lambda: FeasibleMap(size=BESIDE).marked(
        balance(STIFF, Bar.high(60), Stance()), 28.0, 0.0
    ),
    "errors": lambda: ErrorChart(BESIDE).of(OFF),
    "errors alone": lambda: ErrorChart().of(OFF),
    "repetition": lambda: RepetitionChart(BESIDE).of(REP, 1.0),
    "repetition alone": lambda: RepetitionChart().of(REP, 1.0),
}


def same(drawn, computed, feasible=True):
    expected = np.where(feasible, computed, np.nan)
    np.testing.assert_allclose(drawn, expected[np.isfinite(expected)], atol=LEVEL)
    assert len(drawn)


@pytest.mark.parametrize("name", EVERY)
def test_a_chart_needs_no_argument_and_is_a_stable_picture_with_words(name):
    chart = EVERY[name]()
    data = chart._repr_mimebundle_()
    assert data == EVERY[name]()._repr_mimebundle_()
    held = re.search(r'src="data:image/svg\+xml;base64,([^"]*)" alt="([^"]*)"', data["text/html"])
    assert b64decode(held[1]).startswith(b"<svg")
    assert data["text/plain"] == repr(chart) == chart.alt == unescape(held[2])
    assert re.search(r"\d", chart.alt) and "nan" not in chart.alt and chart.alt.endswith(".")
    assert chart.scene().bounds == (0.0, 0.0, *(PAIR if chart.plots > 1 else PAGE))
    assert data["text/html"].count("<img") == chart.plots


@pytest.mark.parametrize("name", [*EVERY, *SMALL])
def test_no_words_are_small_cut_off_or_on_others(name):
    scene = (EVERY | SMALL)[name]().scene()
    boxes = []
    for text in scene.texts():
        assert text.size >= 13 and palette.contrast(text.fill) >= 4.5, text
        box = text.box()
        assert box[0] >= 0 and box[1] >= 0, f"cut off: {text.words}"
        assert box[2] <= scene.bounds[2] + 2 and box[3] <= scene.bounds[3], f"cut off: {text.words}"
        boxes.append((text.words, box))
    for (one, a), (other, b) in combinations(boxes, 2):
        apart = a[2] <= b[0] + 2 or b[2] <= a[0] + 2 or a[3] <= b[1] + 2 or b[3] <= a[1] + 2
        assert apart, f"{one!r} lies on {other!r}"


@pytest.mark.parametrize("load", [0, 120, 130, 250])
def test_the_words_of_a_mark_stay_on_the_page(load):
    someone = LIFTER.scaled(0.8 + load / 600)
    for chart in (
        marked_charts.LeanByLoad(BESIDE).marked(load, someone, Bar.high(load), Stance()),
        marked_charts.LeanByBuild(size=BESIDE).marked(someone),
        FeasibleMap(size=BESIDE).marked(
            balance(LIFTER, Bar.high(60), Stance()), 5 + load * 0.16, 30 - load * 0.36
        ),
    ):
        for text in chart.marks.scene(0).texts():
            box = text.box()
            assert box[0] >= 0 and box[2] <= BESIDE[0] and 0 <= box[1] and box[3] <= BESIDE[1]


def test_a_value_stands_where_it_should():
    plot = Plot(axis("across", 0, 10), axis("up", -1, 1), (100.0, 50.0, 300.0, 150.0))
    assert plot.at(0, -1) == 100 + 150j and plot.at(10, 1) == 300 + 50j
    assert plot.at(5, [0, 1]).tolist() == [200 + 100j, 200 + 50j]
    assert plot.x.ticks == (0, 2, 4, 6, 8, 10) and plot.y.ticks[2] == -0.2 or 0.0 in plot.y.ticks
    deep = depth_axis(30, -60)
    assert deep.words(15) == "15° below" and deep.words(-30) == "30° above"
    assert (
        deep.words(0) == "level" and Plot(deep, deep, box_of(PAGE)).at(0, 30).imag == PAGE[1] - 58
    )
    (broken,) = plot.curve([0, 1, 2, 3], [0, 0.5, 5, 0.5], "#111111")
    assert [np.isfinite(p) for p in broken.points] == [True, True, False, True]


def test_moments_by_depth_are_those_of_the_balanced_descent():
    chart = charts.moments_by_depth(LIFTER, 80, shank_deg=26)
    parts = chart.scene().primitives
    thigh = np.linspace(60, -20, 81)
    shank = shank_on_the_way(thigh, 26)
    assert shank[thigh == 0] == pytest.approx(26)
    high, low = (balance(LIFTER, b(80), Stance(), thigh, shank) for b in (Bar.high, Bar.low))
    moments = joint_moments(high)
    top = 1.22 * max(
        np.nanmax(np.where(high.feasible, getattr(moments, joint), np.nan))
        for joint in ("hip", "knee")
    )
    plot = Plot(depth_axis(-60, 20), axis("", 0, top), box_of(PAIR, right=92, part=0, parts=2))
    for joint, colour in (("hip", palette.HIP), ("knee", palette.KNEE)):
        (curve,) = curves(parts, colour)
        x, y = values_of(plot, curve.points)
        same(x, -thigh, high.feasible)
        same(y, getattr(moments, joint), high.feasible)
    level = balance(LIFTER, Bar.high(80), Stance(), 0, 26)
    at = joint_moments(level)
    lower = low.trunk_deg[thigh == 0][0]
    assert f"hip {at.hip:.0f} and knee {at.knee:.0f}" in chart.alt
    assert f"{level.trunk_deg:.1f}° with the high bar and {lower:.1f}° with the low" in chart.alt


def test_a_squat_that_cannot_be_held_says_so():
    stiff = Lifter.from_lengths(1.68, 70, dorsiflexion_deg=2.0)
    assert "cannot be held: the ankles" in charts.moments_by_depth(stiff).alt
    assert "none can be held" in charts.lean_by_stance(stiff).alt
    assert "which cannot be held" in charts.bar_path(lifter=stiff).alt
    with pytest.raises(ValueError, match="cannot hold the high bar: the ankles"):
        charts.com_shift_by_bar(stiff)


def test_the_population_and_its_fitted_line():
    people = marked_charts.LeanByBuild(seed=5, count=60)
    rng = np.random.default_rng(5)
    ratios, leans = [], []
    for who in ("women", "men"):
        drawn = Population.ansur2(who).draw(30, rng)
        way = balance(drawn, Bar.high(drawn.mass_kg), Stance(), 0, 30)
        ratios.append(drawn.thigh_m / drawn.trunk_m)
        leans.append(np.where(way.feasible, way.trunk_deg, np.nan))
    x, y = np.concatenate(ratios), np.concatenate(leans)
    from scipy.stats import linregress

    there = np.isfinite(y)
    fit = linregress(x[there], y[there])
    assert people.explained == pytest.approx(fit.rvalue**2)
    chart = people.alone()
    assert f"{there.sum()} lifters" in chart.alt and f"R² = {fit.rvalue**2:.2f}" in chart.alt
    women = [p for p in chart.scene().primitives if isinstance(p, Disc) and p.radius < 4]
    drawn = values_of(people.plot, [disc.centre for disc in women])
    same(drawn[0], ratios[0], np.isfinite(leans[0]))
    same(drawn[1], leans[0])
    (line,) = [p for p in chart.scene().primitives if getattr(p, "width", 0) == 2.5]
    ends = values_of(people.plot, line.points)
    same(ends[1], fit.intercept + fit.slope * ends[0])


def test_build_explains_the_lean():
    assert marked_charts.LeanByBuild().explained > 0.7


def test_the_marked_lifter_is_drawn_and_told_alone_and_with_others():
    people = marked_charts.LeanByBuild(count=40)
    several = Lifter.from_stature(np.array([1.6, 1.68, 1.9]), 70)
    together = people.marked(several)
    for position, stature in enumerate((1.6, 1.68, 1.9)):
        lifter = Lifter.from_stature(stature, 70)
        alone = people.marked(lifter)
        assert together.scene(position) == alone.scene()
        lean = float(balance(lifter, Bar.high(70), Stance(), 0, 30).trunk_deg)
        ratio = lifter.thigh_m / lifter.trunk_m
        assert f"{ratio:.2f}, lean {lean:.1f}°" in alone.alt
        (dot,) = [p for p in alone.marks.scene(0).primitives if isinstance(p, Shape)]
        at = values_of(people.plot, np.mean(dot.points))
        assert at == pytest.approx((ratio, lean))
    assert (
        "cannot hold this posture"
        in people.marked(Lifter.from_lengths(1.68, 70, dorsiflexion_deg=5.0)).alt
    )


def test_lean_by_stance():
    chart = charts.lean_by_stance(LIFTER, Bar.low(60))
    width = np.linspace(10, 70, 121)
    for turnout in (0, 15, 30):
        way = balance(LIFTER, Bar.low(60), Stance(width / 100, turnout))
        side = 100 * (way.knee.x - way.hip.x)
        assert f"{way.trunk_deg[-1]:.1f}° at 70 cm (thigh {side[-1]:.1f} cm)" in chart.alt
    for colour in (palette.BLUE, palette.RED, palette.PLUM):
        assert len(curves(chart.scene().primitives, colour)) == 2


def test_the_map_agrees_with_balance_and_its_mark_with_both():
    made = FeasibleMap()
    stiff = balance(STIFF, Bar.high(100), Stance())
    assert "ankles do not bend so far" in made.marked(stiff, 15, 0).alt
    for shank, thigh in ((15, 40), (30, 0), (7, -20)):
        held = bool(balance(STIFF, Bar.high(100), Stance(), thigh, shank).feasible)
        chart = made.marked(stiff, shank, -thigh)
        assert ("can be held" in chart.alt.split("Marked:")[1]) is held
        (mark,) = [
            p
            for p in chart.marks.scene(0).primitives
            if isinstance(p, Shape) and p.fill == palette.RED
        ]
        assert values_of(made.plot, np.mean(mark.points)) == pytest.approx((shank, -thigh))
        # The tile below the mark is the kind that is said.
        (tiles,) = [p for p in chart.marks.scene(0).primitives if isinstance(p, Tiles)]
        rows, columns = tiles.cells.shape
        at = np.mean(mark.points) - tiles.points[0]
        box = tiles.points[1] - tiles.points[0]
        kind = tiles.cells[int(at.imag / box.imag * rows), int(at.real / box.real * columns)]
        assert bool(kind == 0) is held
    # Deep is down: the map counts depth below level.
    assert made.plot.at(20, 20).imag > made.plot.at(20, -20).imag
    assert charts.feasible_map().alt != charts.feasible_map(STIFF).alt
    with pytest.raises(ValueError, match="no axis 'load'; choose from shank, depth, turnout"):
        FeasibleMap("load")


def test_a_map_over_stance_is_painted_the_right_way_up():
    made = FeasibleMap("width", "turnout")
    (tiles,) = [
        p
        for p in made.of(LIFTER, Bar.high(60), Stance()).marks.scene(0).primitives
        if isinstance(p, Tiles)
    ]
    corner = balance(LIFTER, Bar.high(60), Stance(1.0, 45.0), 0.0, 28.0)
    assert bool(tiles.cells[0, -1] == 0) is bool(corner.feasible)
    near = balance(LIFTER, Bar.high(60), Stance(1.0, 0.0), 0.0, 28.0)
    assert bool(tiles.cells[-1, -1] == 0) is bool(near.feasible)


def test_both_rules_against_load():
    rules = marked_charts.LeanByLoad()
    chart = rules.marked(100.0, LIFTER, Bar.low(100), Stance(), -5.0, 30.0)
    marks = chart.marks.scene(0).primitives
    gaps = {}
    for over, colour in (("system", palette.BLUE), ("bar", palette.RED)):
        loads = rules.loads
        way = balance(LIFTER, Bar.low(loads), Stance(), -5, 30, over=over)
        lean = np.broadcast_to(np.where(way.feasible, way.trunk_deg, np.nan), loads.shape)
        shown = lean <= 70
        (curve,) = curves(marks, colour)
        same(values_of(rules.plot, curve.points)[1], lean, shown)
        gaps[over] = lean
    gap = np.abs(gaps["system"] - gaps["bar"])
    assert gap[-1] < 0.5 * gap[8], "the rules come together"
    assert f"At the marked 100 kg they are {gap[40]:.1f}° apart" in chart.alt
    assert f"{gaps['system'][-1]:.1f}° at 250 kg" in chart.alt
    several = rules.marked(np.array([20.0, 100.0]), LIFTER, Bar.low(100), Stance(), -5.0, 30.0)
    assert several.scene(1) == chart.scene()
    assert f"20 kg they are {gap[8]:.1f}° apart" in several.marks.alt[0]
    assert "At the marked 100 kg" in charts.lean_by_load().alt


def test_the_path_of_the_bar():
    chart = charts.bar_path((20, 140), LIFTER)
    thigh = np.linspace(60, -15, 76)
    for load in (20, 140):
        way = balance(LIFTER, Bar.high(load), Stance(), thigh, shank_on_the_way(thigh, 28))
        x = 100 * np.where(way.feasible, way.bar_centre.x, np.nan)
        assert f"{np.nanmax(x):.1f} cm with {load} kg" in chart.alt
    assert len(curves(chart.scene().primitives, palette.BLUE)) == 1
    with pytest.raises(ValueError, match="5 loads given; choose 1 to 4"):
        charts.bar_path((10, 20, 30, 40, 50))


def test_a_lower_bar_takes_the_centre_of_mass_back():
    chart = charts.com_shift_by_bar(LIFTER, 90)
    (curve,) = curves(chart.scene().primitives, palette.SYSTEM)
    lean = balance(LIFTER, Bar.high(90), Stance()).trunk_deg
    # The bar goes back by down × sin lean, the common centre by the bar's share of that.
    steepest = -10 * np.sin(np.radians(lean)) * 90 / (90 + 70)
    drop = values_of(
        Plot(axis("", 0, 10), axis("", 1.2 * steepest, -0.3 * steepest), box_of(PAGE)), curve.points
    )[1]
    same(drop, np.linspace(0, 10, 101) / 10 * steepest)
    low = 100 * pose(LIFTER, Bar.low(90), Stance(), lean).com_shift
    assert f"{-low:.1f} cm behind mid-foot" in chart.alt


def test_charts_need_no_plotting_library():
    code = (
        "import sys\n"
        "from squatlab.show import charts\n"
        "charts.bar_path()._repr_mimebundle_(), charts.feasible_map()._repr_mimebundle_()\n"
        "sys.exit(any(name.startswith('matplotlib') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_words_of_a_chart_have_a_halo_where_they_may_lie_on_a_line():
    assert all(p.halo for p in charts.bar_path().scene().primitives if isinstance(p, Text))
