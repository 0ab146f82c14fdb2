"""One list of primitives, two pictures: SVG and matplotlib."""

from __future__ import annotations

import re
import subprocess
import sys
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Circle, PathPatch, Polygon
from matplotlib.path import Path

from squatlab import Bar, Lifter, Stance, balance
from squatlab.show.axes_painter import draw
from squatlab.show.picture import Scene, arrow_head, img, svg
from squatlab.show.primitives import Disc, Line, Shape, Text
from squatlab.show.scene import lifter_picture, notice
from tests.show import on_axes

LIFTER = Lifter.from_stature(1.75, 80)
NOW = balance(LIFTER, Bar.high(100), Stance(), 0, 28)
BEFORE = balance(LIFTER, Bar.high(100), Stance(), 30, 20)
SCENE = lifter_picture(NOW, BEFORE)
NAMESPACE = "{http://www.w3.org/2000/svg}"


def parsed(scene: Scene) -> ElementTree.Element:
    return ElementTree.fromstring(svg(scene))


def drawn(scene: Scene):
    left, top, right, bottom = scene.bounds
    figure = Figure(figsize=((right - left) / 100, (bottom - top) / 100), dpi=100)
    canvas = FigureCanvasAgg(figure)
    ax = figure.add_axes((0, 0, 1, 1))
    draw(scene, ax)
    return ax, canvas


def test_the_svg_is_one_labelled_image_on_white():
    root = parsed(SCENE)
    assert root.tag == f"{NAMESPACE}svg" and root.get("role") == "img"
    assert root.get("aria-label") == SCENE.alt and "Lean" in SCENE.alt
    paper = root[0]
    assert paper.tag == f"{NAMESPACE}rect" and paper.get("fill") == "#ffffff"
    assert (paper.get("width"), paper.get("height")) == tuple(root.get("viewBox").split()[2:])


def test_the_svg_holds_every_primitive_in_order():
    kinds = {Line: "path", Shape: "path", Disc: "circle", Text: "text"}
    expected = []
    for primitive in SCENE.primitives:
        expected.append(kinds[type(primitive)])
        if isinstance(primitive, Line) and primitive.arrow:
            expected.append("path")
    assert [child.tag.removeprefix(NAMESPACE) for child in parsed(SCENE)][1:] == expected


def test_the_same_posture_gives_the_same_bytes():
    again = lifter_picture(
        balance(LIFTER, Bar.high(100), Stance(), 0, 28),
        balance(LIFTER, Bar.high(100), Stance(), 30, 20),
    )
    assert svg(again) == svg(SCENE)
    # The last digits of a float, which differ between machines, are not in it.
    nudged = lifter_picture(balance(LIFTER, Bar.high(100), Stance(), 1e-12, 28), BEFORE)
    assert svg(nudged) == svg(SCENE)
    coordinates = re.findall(r'\s(?:d|cx|cy|x|y)="([^"]*)"', svg(SCENE))
    assert not re.search(r"\.\d\d", " ".join(coordinates))


def test_width_scales_the_picture_without_changing_it():
    small, large = svg(SCENE, width_px=550), svg(SCENE, width_px=1650)
    height = SCENE.bounds[3] - SCENE.bounds[1]  # it is 1100 wide
    assert f'width="550" height="{height / 2:.0f}"' in small
    assert f'width="1650" height="{1.5 * height:.0f}"' in large
    assert small.split("<rect")[1] == large.split("<rect")[1]


def test_words_from_outside_cannot_break_the_svg():
    reason = 'a "thigh" < shank & <script>'
    root = parsed(Scene(tuple(notice(reason, 1100.0)), SCENE.bounds, reason))
    assert any(reason[1:] in (child.text or "") for child in root)
    assert reason[1:] in root.get("aria-label")


def test_matplotlib_draws_the_same_list():
    ax, _ = drawn(SCENE)
    of = {
        kind: [p for p in SCENE.primitives if isinstance(p, kind)]
        for kind in (Line, Shape, Disc, Text)
    }
    assert [t.get_text() for t in ax.texts] == [t.words for t in of[Text]]
    assert [t.get_position() for t in ax.texts] == [(t.at.real, t.at.imag) for t in of[Text]]
    lines = [np.column_stack(line.get_data()) for line in ax.lines]
    for artist, line in zip(lines, of[Line], strict=True):
        assert artist == pytest.approx(np.array([(p.real, p.imag) for p in line.points]))
    circles = [c for c in ax.patches if isinstance(c, Circle)]
    assert [(*c.center, c.radius) for c in circles] == [
        (d.centre.real, d.centre.imag, d.radius) for d in of[Disc]
    ]
    smooth = [p for p in ax.patches if isinstance(p, PathPatch)]
    # Several outlines as one area: first the edge of each, then the fill of each.
    assert len(smooth) == sum((2 * len(s.pieces) or 1) for s in of[Shape] if s.smooth)
    straight = [p for p in ax.patches if isinstance(p, Polygon)]
    assert len(straight) == sum(not s.smooth for s in of[Shape]) + sum(
        line.arrow for line in of[Line]
    )
    orders = [a.get_zorder() for a in (*ax.lines, *ax.patches, *ax.texts)]
    assert set(orders) == set(range(len(SCENE.primitives)))


def test_both_renderers_bend_a_smooth_shape_alike():
    ax, _ = drawn(SCENE)
    shape = next(p for p in SCENE.primitives if isinstance(p, Shape) and p.smooth and not p.pieces)
    order = SCENE.primitives.index(shape)
    first = next(p for p in ax.patches if isinstance(p, PathPatch) and p.get_zorder() == order)
    path = parsed(SCENE)[1 + SCENE.primitives.index(shape)].get("d")
    numbers = np.array(re.findall(r"-?\d+\.\d", path), dtype=float).reshape(-1, 2)
    vertices, codes = first.get_path().vertices, first.get_path().codes
    assert numbers == pytest.approx(vertices, abs=0.051)
    assert set(codes[1:]) == {Path.CURVE3} and path.count("Q") == len(shape.points)
    # A B-spline is closed and touches its control polygon halfway.
    assert tuple(vertices[0]) == tuple(vertices[-1])
    middle = 0.5 * (shape.points[0] + shape.points[1])
    assert tuple(vertices[2]) == (middle.real, middle.imag)


def test_axes_show_exactly_the_bounds_and_nothing_else():
    ax, canvas = drawn(SCENE)
    left, top, right, bottom = SCENE.bounds
    assert ax.get_xlim() == (left, right) and ax.get_ylim() == (bottom, top)
    assert not ax.axison
    canvas.draw()
    for text in ax.texts:
        box = text.get_window_extent()
        assert box.x0 >= 0 and box.x1 <= right - left + 0.5, text.get_text()


def test_an_arrow_ends_at_its_tip_and_a_short_one_has_a_small_head():
    tip, one, two = arrow_head(Line((0j, 30 + 0j)))
    assert tip == 30 and one.conjugate() == two and one.real == 21
    short = arrow_head(Line((0j, 7 + 0j)))
    assert min(p.real for p in short) > 0


def test_axes_are_white_around_a_drawn_plate():
    pixels = on_axes.pixels(SCENE, width_px=1100)
    assert pixels.shape == (int(SCENE.bounds[3] - SCENE.bounds[1]), 1100, 3)
    assert (pixels[3, 3] == 255).all() and (pixels[-3, -3] == 255).all()
    plate = max((p for p in SCENE.primitives if isinstance(p, Disc)), key=lambda d: d.radius)
    rim = plate.centre - 1j * plate.radius
    assert pixels[round(rim.imag), round(rim.real)].max() < 200


def test_drawing_for_the_screen_loads_no_plotting_and_no_widgets():
    code = (
        "import sys, squatlab.show.scene, squatlab.show.picture;"
        "sys.exit(bool({'matplotlib', 'ipywidgets', 'scipy', 'pandas'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


def test_a_picture_shows_itself_with_its_words():
    scene = Scene((Line((0, 100), "#111111", 1.0),), (0.0, 0.0, 100.0, 50.0), 'A line of "1 m"')
    assert repr(scene) == 'Picture: A line of "1 m"'
    assert scene._repr_html_() == img(svg(scene), scene.alt, 100.0)
    assert 'alt="A line of &quot;1 m&quot;"' in scene._repr_html_()
