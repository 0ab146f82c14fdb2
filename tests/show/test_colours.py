"""Nothing is told by colour alone, and all of it is strong enough to see.

Colour-blind eyes are simulated by Machado, Oliveira & Fernandes (2009), IEEE Trans Vis Comput
Graph 15:1291-1298, at full severity, and distances measured in CAM02-UCS, where 1 is about what is
just noticed (Luo, Cui & Li 2006, Color Res Appl 31:320-330); both as in the package colorspacious.
Contrast is that of WCAG 2.2: 4.5 for words, 3 for lines, marks and edges.
"""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgba

from squatlab import Bar, Lifter, Stance, balance, faults, show
from squatlab.lessons.fault_cases import squat, suppose
from squatlab.mechanics.posture import OBSTACLES
from squatlab.motion import Injection, Tempo, synthesise
from squatlab.review import prioritise
from squatlab.show import charts, palette, patterns, ranking_picture
from squatlab.show.film import film
from squatlab.show.footage import footage
from squatlab.show.motion_charts import repetition_chart, still_and_moving
from squatlab.show.phone_charts import SHORT, ErrorChart
from squatlab.show.plot import PAIR
from squatlab.show.primitives import Disc, Line, Shape, Text
from squatlab.show.scene import lifter_picture
from squatlab.show.views import SHOWABLE

colorspacious = pytest.importorskip("colorspacious", reason="colorspacious is not installed")

EYES = ("protanomaly", "deuteranomaly", "tritanomaly", "grey")
APART = 15.0
"""Fifteen just noticeable differences: seen at a glance, and in thin lines."""

TEXT, GRAPHIC = 4.5, 3.0
LINES = ("BLUE", "RED", "PLUM", "VIOLET", "INK")
LIFTER, BAR = Lifter.from_stature(1.75, 80), Bar.high(100)
POSTURE = balance(LIFTER, BAR, Stance())
BEFORE = balance(LIFTER, BAR, Stance(), thigh_deg=35, shank_deg=20)


def seen(colour: str, eye: str) -> np.ndarray:
    """Return where an eye sees "#rrggbb" in CAM02-UCS."""
    rgb = np.array(to_rgba(colour)[:3])
    if eye == "grey":  # a black-and-white copier keeps the lightness
        lightness = colorspacious.cspace_convert(rgb, "sRGB1", "CAM02-UCS")[0]
        return np.array([lightness, 0.0, 0.0])
    blind = {"name": "sRGB1+CVD", "cvd_type": eye, "severity": 100}
    changed = np.clip(colorspacious.cspace_convert(rgb, blind, "sRGB1"), 0, 1)
    return colorspacious.cspace_convert(changed, "sRGB1", "CAM02-UCS")


def apart(one: str, other: str, eyes: tuple[str, ...] = EYES) -> float:
    """Return how far apart the eye that sees it worst sees two colours."""
    return min(float(np.linalg.norm(seen(one, eye) - seen(other, eye))) for eye in eyes)


def alike(looks: set[tuple]) -> list[tuple]:
    """Return pairs of (colour, other signs) that some eye could not tell apart."""
    return [
        (one, other)
        for one, other in combinations(sorted(looks), 2)
        if one[1:] == other[1:] and apart(one[0], other[0]) < APART
    ]


def test_the_simulation_is_that_of_the_literature():
    # Machado et al. (2009), table of matrices: severity 1.0, protanomaly, first row.
    blind = {"name": "sRGB1-linear+CVD", "cvd_type": "protanomaly", "severity": 100}
    red = colorspacious.cspace_convert(np.array([1.0, 0, 0]), blind, "sRGB1-linear")
    assert red == pytest.approx([0.152286, 0.114503, -0.003882], abs=1e-6)


def test_line_colours_stay_apart_for_colour_blind_eyes_and_are_strong():
    for one, other in combinations(LINES, 2):
        pair = getattr(palette, one), getattr(palette, other)
        assert apart(*pair, EYES[:3]) >= APART, (one, other)
    for name in (*LINES, "SOFT", "GHOST", "EDGE", "STEEL", "SHOE"):
        assert palette.contrast(getattr(palette, name)) >= GRAPHIC, name
    # In grey some of them are alike, which is why each has a second sign: see below.
    assert apart(palette.BLUE, palette.RED) < APART


CHARTS = {name: getattr(charts, name) for name in charts.__all__} | {
    "repetition": lambda: repetition_chart(REP),
    "still and moving": lambda: still_and_moving(REP),
    "errors": lambda: ErrorChart().of(dict.fromkeys(SHORT, 1.5) | {"knees_first": -288.0}),
    "build": lambda: charts.lean_by_build(LIFTER),
}
REP = synthesise(LIFTER, BAR, Stance(), Tempo(), rate=60)
SIDE_BY_SIDE = ("moments_by_depth", "lean_by_stance", "still and moving")
SMALL = 30.0
"""Marks are not larger than this, picture units; axes and areas are."""


def extent(part) -> float:
    points = np.array(part.points)
    return max(np.ptp(points.real), np.ptp(points.imag))


def sign(part) -> tuple | None:
    """Return a mark's or a curve's colour, and everything else that tells it from others."""
    if isinstance(part, Line):
        return (part.stroke, "line", part.dash, part.width) if part.width >= 2.5 else None
    if isinstance(part, Shape) and extent(part) > SMALL:
        return None
    kind = "round" if isinstance(part, Disc) else np.round(part.points - np.mean(part.points), 1)
    filled = part.fill not in (palette.PAPER, "none")
    return (part.fill if filled else part.stroke), "mark", str(kind), filled


@pytest.mark.parametrize("name", CHARTS)
def test_no_chart_tells_by_colour_alone(name):
    parts = CHARTS[name]().scene().primitives
    drawn = [part for part in parts if isinstance(part, Line | Shape | Disc)]
    signs = {}
    for part in drawn:
        if name not in SIDE_BY_SIDE or isinstance(part, Shape):
            signs.setdefault(0, set()).add(sign(part))
        else:  # each plot has its own name and its own lines
            at = part.centre if isinstance(part, Disc) else part.points[0]
            signs.setdefault(at.real > 0.5 * PAIR[0], set()).add(sign(part))
    for plot in signs.values():
        assert alike(plot - {None}) == []
        for colour, *_ in plot - {None}:
            assert palette.contrast(colour) >= GRAPHIC, colour
    assert name == "feasible_map" or any(plot - {None} for plot in signs.values())
    for words in (part for part in parts if isinstance(part, Text)):
        assert palette.contrast(words.fill) >= TEXT and words.size >= 13, words
    for area in drawn:  # what is shaded pale has an edge
        if isinstance(area, Shape) and palette.contrast(area.fill) < GRAPHIC:
            assert palette.contrast(area.stroke) >= GRAPHIC, area


def test_regions_of_a_map_have_patterns_and_an_edge_that_can_be_seen():
    assert palette.contrast(patterns.EDGE) >= GRAPHIC
    inked = [pattern.inked.tobytes() for pattern in patterns.PATTERNS]
    assert len(set(inked)) == len(inked) == len(OBSTACLES) + 1
    for pattern in patterns.PATTERNS:  # words stand on ground and ink
        assert palette.contrast(palette.INK, pattern.ground) >= TEXT
        assert palette.contrast(palette.INK, pattern.ink) >= TEXT


def test_no_measured_line_of_a_clip_is_told_by_colour_alone():
    rep = synthesise(LIFTER, BAR, Stance(), injections=(Injection("knee_valgus", 12),))
    for wanted in ((), *(one.lines for one in faults.catalogue().values())):
        shown = film(footage(rep), wanted)
        for panel in shown.panels:
            looks = {(line.stroke, line.dash, line.name in OWN_PLACE) for line in panel.lines}
            assert alike(looks) == [], wanted
            for line in panel.lines:
                assert palette.contrast(line.stroke) >= GRAPHIC
                # On a limb's tone a line keeps its contrast by the edge of paper below it.
                for edge, bold in zip(line.drawn, line.drawn[1:], strict=False):
                    if isinstance(bold, Line) and bold.width >= 4 and bold.stroke == line.stroke:
                        assert edge.stroke == palette.PAPER and edge.width > bold.width


OWN_PLACE = ("bar to mid-foot",)
"""A curve that begins at the bar, where every other line is straight."""


def test_every_limb_has_an_edge_that_can_be_seen():
    limbs = [p for p in lifter_picture(POSTURE).primitives if isinstance(p, Shape) and p.smooth]
    assert len(limbs) > 10
    for limb in limbs:
        assert max(map(palette.contrast, (limb.stroke, limb.fill))) >= GRAPHIC
    filled = [
        p
        for p in lifter_picture(POSTURE, BEFORE, show=SHOWABLE).primitives
        if isinstance(p, Shape) and p.fill in (palette.ORANGE, palette.GREY)
    ]
    assert filled and all(p.stroke == palette.INK for p in filled), "too pale without an edge"


def test_bars_of_tiers_have_different_edges_and_their_words():
    looks = {(fill, dash) for fill, dash in ranking_picture.TIERS.values()}
    assert alike(looks) == [] and len({dash for _, dash in looks}) == 4
    ranking = prioritise(suppose(knees_first=1.4, knee_valgus=2.6, heel_lift=2.2, fast_descent=3.0))
    words = [text.words for text in ranking_picture.ranking_scene(ranking).texts()]
    assert sum(told.startswith("tier ") for told in words) == 4


def test_words_in_pictures_can_be_read_on_all_they_stand_on():
    scenes = [
        lifter_picture(POSTURE, BEFORE, show=SHOWABLE),
        film(footage(squat(knee_valgus=12.0)), ()).scene(0, "both", True),
        ranking_picture.ranking_scene(prioritise(suppose(lumbar_rounding=3.0, knee_valgus=2.6))),
    ]
    for text in (text for scene in scenes for text in scene.texts()):
        if text.fill != palette.PAPER:  # that is on INK or RED, as below
            assert palette.contrast(text.fill) >= TEXT, text
    for dark in (palette.INK, palette.RED):
        assert palette.contrast(palette.PAPER, dark) >= TEXT
    for pale in (palette.NOTICE, *show_fills()):
        assert palette.contrast(palette.INK, pale) >= TEXT


def show_fills() -> tuple[str, ...]:
    """Return the fills that words stand on."""
    from squatlab.show import fault_scale, paper

    return (*fault_scale.FILLS, paper.SHADE)


WORDLESS = re.compile(r"\.bar( i)?$")
"""Which rules are of a bar that is drawn: no words stand on it."""

RULE = re.compile(r"([^{}]+)\{([^{}]*)\}")
SOURCES = {
    path.name: path.read_text(encoding="utf-8")
    for path in sorted(Path(show.__file__).parent.glob("*.css"))
}


@pytest.mark.parametrize("name", SOURCES)
def test_words_and_edges_of_the_page_are_strong_enough(name):
    rules = [
        (who.strip(), dict(re.findall(r"([\w-]+):\s*([^;]+);?", what)))
        for who, what in RULE.findall(SOURCES[name])
    ]
    # Words whose rule has a ground of its own stand on that; all others on any other ground.
    pairs = {
        (said["color"], said["background"].strip())
        for _, said in rules
        if "#" in said.get("color", "") and "#" in said.get("background", "")
    }
    own = {ground for _, ground in pairs}
    grounds = {palette.PAPER} | {
        said["background"].strip()
        for who, said in rules
        if "#" in said.get("background", "") and not WORDLESS.search(who)
    } - own
    words = {
        said["color"]
        for _, said in rules
        if "#" in said.get("color", "") and "#" not in said.get("background", "")
    }
    assert rules
    pairs |= {(colour, ground) for colour in words | {palette.INK} for ground in grounds}
    for colour, ground in pairs:
        assert palette.contrast(colour, ground) >= TEXT, (colour, ground)
    for who, said in rules:
        for colour in re.findall("#[0-9a-f]{6}", said.get("outline", "")):
            assert min(palette.contrast(colour, ground) for ground in grounds) >= GRAPHIC, who
        if "button" in who or "fieldset" in who:
            for colour in re.findall("#[0-9a-f]{6}", said.get("border", "")):
                assert palette.contrast(colour) >= GRAPHIC, who
