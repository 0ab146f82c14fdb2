"""Pages of faults and of rankings: what they say is what was read."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest

from squatlab import faults, tables
from squatlab.lessons import fault_cases
from squatlab.lessons.fault_cases import read, squat, suppose
from squatlab.norms import NO_NORM, norms_in_words, norms_of
from squatlab.review import prioritise
from squatlab.show import fault_pages, fault_scale
from squatlab.show.fault_pages import case_row, fault_page
from squatlab.show.primitives import Disc, Line, Shape, Text
from squatlab.show.ranking_picture import BAR_LEFT, STEP, ranking_page, ranking_scene, sentence

ALL = tuple(faults.catalogue())


WORDS = re.compile(r'<text x="([\d.]+)" y="([\d.]+)" font-size="([\d.]+)"[^>]*>([^<]*)')

LETTER = 0.52
"""How wide a letter is on average, in sizes of its font; in Chromium 0.47 to 0.52."""


def texts(svg: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


@pytest.fixture(scope="module")
def pages():
    return {name: fault_page(name) for name in ALL}


@pytest.mark.parametrize("name", ALL)
def test_below_a_page_its_example_plays_with_a_clean_squat_in_step(pages, name):
    fault, page = faults.fault(name), pages[name]
    view = "front" if fault.view == "front" else "side"
    panel = next(one for one in page.clip.film.panels if one.name == view)
    assert panel.lines and page.clip.lines, "the fault's own line is drawn"
    # The clean squat: one dashed outline, which stands, goes down and comes up with the other.
    (clean,) = [part for part in panel.figure if isinstance(part, Shape) and part.dash]
    shown = page.clip.film.footage
    top = np.nanmin([np.imag(point) for point in clean.points], axis=0)
    (start, low, end) = shown.repetitions[0][:3]
    assert abs(int(np.argmax(top)) - low) <= 0.12 * (end - start)
    assert page.clip.frame <= shown.time.size - 1
    assert page.children[-1] is page.clip and repr(page) == f"Fault page: {page.sheet.words}"
    assert page._repr_mimebundle_()["text/html"] == page.sheet.html


def test_the_eighth_notebook_has_a_section_for_every_fault():
    path = tables.folder("notebooks") / "08_faults.ipynb"
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    code = "\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "code")
    prose = "\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "markdown")
    assert tuple(re.findall(r'fault_page\("(\w+)"\)', code)) == ALL
    headings = re.findall(r"^### (.+)$", prose, re.MULTILINE)
    assert headings == [fault.name.capitalize() for fault in faults.catalogue().values()]


NOISY = {("knees_first", "gross"), ("fast_descent", "gross")}


@pytest.mark.parametrize("name", ALL)
def test_a_page_says_the_catalogues_words_and_what_was_read(pages, name):
    fault, page = faults.fault(name), pages[name]
    for words in (fault.seen, fault.look_for, fault.measured_as, faults.TIERS[fault.tier]):
        assert words in repr(page)
    sizes = [float(fault.value_at(severity)) for severity in fault_pages.EXAMPLES]
    assert all(squat(**{name: size}).feasible for size in sizes)
    for size, answer in zip(sizes, faults.SIZES, strict=True):
        found = read(squat(**{name: size}))[name]
        # The film jitters: a lead is right to 20 ms, a drop to 0.02 s (SD), so these two, set just
        # beyond gross, may read clear. Over 40 draws of the jitter neither is biased.
        near = {"clear", "gross"} if (name, answer) in NOISY else {answer}
        assert found.answer in near
        assert fault_scale.set_and_measured(size, found).capitalize() in repr(page)
        # The line of sizes shows it, and its own words say it to those who do not see it.
        scale = page.sheet.pictures[-1]
        assert found.amount in texts(scale.svg)
        assert found.amount in unescape(re.search(r'aria-label="([^"]*)"', scale.svg)[1])
    assert fault.look_for in unescape(page.sheet.html)


@pytest.mark.parametrize("name", ALL)
def test_a_page_shows_four_moments_and_no_word_leaves_its_picture(pages, name):
    sheet = pages[name].sheet
    *moments, scale = sheet.pictures
    assert len(moments) == 4 and scale.svg.count("<svg ") == 1
    for moment in moments:
        assert moment.svg.count("<svg ") == 2 and moment.svg.endswith("</svg>")
        captions = texts(moment.svg.partition("</text><svg")[0] + "</text>")
        assert re.fullmatch(r".+, \d\.\d\d s", captions[0])
        assert captions[0] in moment.alt
    for picture in sheet.pictures:
        width, low = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', picture.svg).groups())
        outside = picture.svg.partition("</text><svg")[0]  # moments are cut to their cells
        for x, y, size, words in WORDS.findall(outside):
            assert float(y) < low, words
            assert float(x) + LETTER * float(size) * len(words) <= width, words


@pytest.mark.parametrize("name", ALL)
def test_no_word_of_a_page_is_under_12_px_on_a_phone(pages, name):
    """Each picture says how narrow it may be."""
    least = re.findall(r"min-width:([\d.]+)px!important", pages[name].sheet.html)
    assert len(least) == 5
    for picture, narrow in zip(pages[name].sheet.pictures, least, strict=True):
        width = float(re.search(r'viewBox="0 0 ([\d.]+)', picture.svg)[1])
        sizes = [
            float(size) for _, _, size, _ in WORDS.findall(picture.svg.partition("</text><svg")[0])
        ]
        assert min(sizes) * float(narrow) / width >= 11.95


def test_what_the_drawn_line_reads_is_the_fault_and_the_clean_squat_has_none(pages):
    """The sizes that were put in; lines are filtered and steadied, which rounds off a little."""
    for name, faulty, clean, within in (
        ("heel_lift", r"(3\.\d) cm up", r"clean (0\.\d) cm up", 0.2),
        ("lumbar_rounding", r"(\d+)° rounder", r"clean (\d+)° rounder", 1),
        ("short_depth", r"(\d+)° above level", r"clean (\d+)° below level", 1),
        ("lateral_shift", r"(\d\.\d) cm to the right", r"clean (0\.\d) cm to the \w+", 0.2),
        ("uneven_bar", r"(\d\.\d)° lower on the right", r"clean (level)", 0.4),
    ):
        words = [one for picture in pages[name].sheet.pictures for one in texts(picture.svg)]
        sizes = {"heel_lift": (3.2, 0), "lumbar_rounding": (50, 26), "short_depth": (17.5, 6),
                 "lateral_shift": (5, 0), "uneven_bar": (5.5, 0)}[name]  # fmt: skip
        for pattern, size in zip((faulty, clean), sizes, strict=True):
            found = [re.fullmatch(pattern, one) for one in words]
            numbers = [float(one[1].replace("level", "0")) for one in found if one]
            assert min(abs(number - size) for number in numbers) <= within, (name, words)


@pytest.mark.parametrize("name", ALL)
def test_no_word_in_a_moment_is_cut_off(pages, name):
    for moment in pages[name].sheet.pictures[:4]:
        inner = moment.svg.partition("</text><svg")[2]
        left, _, width, _ = map(float, re.search(r'viewBox="([^"]*)"', inner)[1].split())
        for x, size, anchor, words in re.findall(
            r'<text x="([\d.]+)" y="[^"]*" font-size="([\d.]+)"'
            r'(?: font-weight="600")?(?: text-anchor="(\w+)")?[^>]*>([^<]*)<',
            inner,
        ):
            long = 0.55 * float(size) * len(words)
            start = float(x) - long * {"": 0.0, "middle": 0.5, "end": 1.0}[anchor]
            assert left <= start and start + long <= left + width, words


def test_an_unknown_fault_is_explained():
    with pytest.raises(ValueError, match='did you mean "knee_valgus"'):
        fault_page("knee_valgu")


@pytest.mark.parametrize("name", ALL)
def test_a_scale_puts_values_where_their_size_is(name):
    fault = faults.fault(name)
    for severity, band in ((0.5, 0), (1.5, 1), (2.5, 2), (3.2, 3)):
        (found,) = suppose(**{name: severity})
        parts = fault_scale.line_of_sizes([found.value], [found])
        boxes = [p for p in parts if isinstance(p, Shape) and len(p.points) == 4]
        left, right = boxes[band].points[0].real, boxes[band].points[1].real
        tips = [p.points[0].real for p in parts if isinstance(p, Shape) and len(p.points) == 3]
        assert len(tips) == 2 and all(left < tip < right for tip in tips)
    assert float(fault.severity(found.value)) == pytest.approx(3.2)


@pytest.mark.parametrize("name", ALL)
def test_a_scale_shows_how_real_lifters_read(pages, name):
    """Lines over their middle half where that is known, a dot in the middle; else words."""
    fault, norms = faults.fault(name), norms_of(name)
    (found,) = suppose(**{name: 1.5})
    parts = fault_scale.line_of_sizes([found.value], [found])
    discs = [p.centre for p in parts if isinstance(p, Disc)]
    # Those before the words say what the others are.
    dots = [at.real for at in discs if at.imag < fault_scale.NORM_WORDS - 10]
    lines = [p for p in parts if isinstance(p, Line) and p.width == fault_scale.NORM_WIDTH]
    assert len(dots) == len(norms) and len(lines) == sum(norm.has_spread for norm in norms)
    ends = [fault_scale.LEFT, fault_scale.RIGHT]
    for norm, dot in zip(norms, dots, strict=True):
        assert dot == pytest.approx(np.interp(fault.severity(norm.middle), [0, 4], ends))
    sheet = pages[name].sheet
    words = [norm.brief for norm in norms] or [f"Real lifters: {NO_NORM}"]
    assert set(words) <= set(texts(sheet.pictures[-1].svg))
    assert norms_in_words(name) in sheet.words
    assert (NO_NORM in sheet.words) == (not norms)


def test_what_cannot_be_told_is_said_on_the_scale():
    found = read(squat(knee_valgus=12), "side")["knee_valgus"]
    words = [p.words for p in fault_scale.line_of_sizes([12.0], [found]) if isinstance(p, Text)]
    assert "measured: cannot tell" in words


def test_the_frames_of_a_case_name_nothing():
    for seed in range(1, 6):
        picture = case_row(seed)
        assert not any(fault.name in picture.svg for fault in faults.catalogue().values())
        assert not re.search(r"\d°| cm", picture.svg)


def test_a_ranking_page_has_bars_in_order_with_every_reason():
    found = suppose(knees_first=1.4, knee_valgus=2.6, heel_lift=2.2, fast_descent=3.0, head_up=0.5)
    ranking = prioritise(found)
    scene = ranking_scene(ranking)
    bars = [p for p in scene.primitives if isinstance(p, Shape) and p.points[0].real == BAR_LEFT]
    lengths = [(bar.points[1].real - BAR_LEFT) / STEP for bar in bars]
    assert lengths == pytest.approx([2.6, 2.2, 3.0, 1.4, 0.5])
    words = " ".join(text.words for text in scene.texts())
    for place in ranking:
        assert place.reason in words and place.finding.name in words
    assert "Fix first: knees fall in" in words and "below slight" in words
    assert all(advice in words for advice in ranking.advice)
    assert repr(ranking_page(ranking)) == repr(ranking)
    assert f"changed by {ranking.margin:.1f}" in scene.alt


def test_a_stop_is_a_word_and_a_shape_not_a_colour_alone():
    ranking = prioritise(suppose(lumbar_rounding=3.0, knee_valgus=3.4))
    scene = ranking_scene(ranking)
    words = [text.words for text in scene.texts()]
    assert "STOP" in words and "Stop the set and unload, before any coaching." in words
    assert any(isinstance(p, Shape) and len(p.points) == 8 for p in scene.primitives)
    assert sentence(ranking).startswith("Stop the set and unload")
    free = ranking_scene(prioritise(suppose(lumbar_rounding=3.0), loaded=False))
    assert "STOP" not in [text.words for text in free.texts()]


def test_causes_and_nothing_to_fix_are_said():
    scene = ranking_scene(prioritise(suppose(heel_lift=2.2, bar_forward=2.4)))
    assert any(t.words.startswith("May share a cause: heels lift, bar") for t in scene.texts())
    scene = ranking_scene(prioritise(suppose(heel_lift=0.2)))
    assert scene.texts()[0].words.startswith("Nothing to fix")


def test_a_whole_review_names_what_is_no_fault_and_what_cannot_be_told():
    ranking = prioritise(read(squat(heel_lift=3), "side"))
    scene = ranking_scene(ranking)
    words = " ".join(text.words for text in scene.texts())
    absent, unseen = words[words.index("No fault:") :].split("Cannot be told here:")
    assert "knees first" in absent and "hips rise first" in absent
    assert "knees fall in" in unseen and "hips slide to one side" in unseen
    bars = [p for p in scene.primitives if isinstance(p, Shape) and p.points[0].real == BAR_LEFT]
    assert len(bars) == len(ranking)
    assert "nan" not in ranking_page(ranking).svg


def test_a_ranking_of_one_view_says_what_it_cannot_tell_and_how_sure_it_is():
    clean = prioritise(read(squat(), "front"))  # the low back would come first, and was not seen
    assert clean.first is None and clean.contenders
    words = " ".join(text.words for text in ranking_scene(clean).texts())
    assert words.startswith("Not enough seen") and "Would come first if large: low back" in words
    unsure = replace(prioritise(read(squat(knee_valgus=12))), sureness=0.5)
    words = " ".join(text.words for text in ranking_scene(unsure).texts())
    assert "Sure 50 of 100" in words


def test_words_of_a_ranking_keep_to_their_columns():
    for severe in ({name: 1.4 for name in ALL}, {name: 2.2 for name in ALL}):
        scene = ranking_scene(prioritise(suppose(**severe)))
        for text in scene.texts():
            assert text.box()[2] <= scene.bounds[2] and text.box()[3] <= scene.bounds[3], text


def test_supposed_findings_have_the_catalogues_sizes():
    slight, clear, no = suppose(knees_first=1.0, fast_descent=2.5, heel_lift=0.9)
    assert (slight.size, slight.value, slight.present) == ("slight", 60.0, "yes")
    assert (clear.size, clear.value) == ("clear", pytest.approx(0.75))
    assert (no.size, no.present) == ("", "no")
    with pytest.raises(ValueError, match="there is no fault"):
        suppose(knee=2)


def test_the_projection_angle_tells_depth_and_not_the_knee():
    """Of a straight leg it is 180°; frontal angle as in Herrington 2014."""
    clean, gross = squat(), squat(knee_valgus=15)
    angle = fault_cases.projection_angle(clean)
    assert angle[0] > 175 and angle[clean.bottom] < 90
    # Going down alone swings it by more than the knee that falls in adds.
    moved = abs(angle[clean.bottom] - fault_cases.projection_angle(gross)[gross.bottom])
    assert moved < 0.5 * (angle[0] - angle[clean.bottom])
    assert read(gross)["knee_valgus"].value > 13
