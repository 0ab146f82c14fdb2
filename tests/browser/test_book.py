"""The book in a browser without a network: everything shows, nothing is missed, nothing is cut."""

from __future__ import annotations

import re
from html import unescape

import pypdfium2
import pytest

from squatlab import Lifter, lessons
from squatlab.commands.book_command import BOOK, jobs, pages
from squatlab.lessons.timetable import timetable
from squatlab.offline.projector import projector_pages
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import case
from squatlab.questions.practice_checks import cue_check, judgement, marked
from squatlab.show.explorers import lever_arms
from tests.browser import everybody, firefox

HIDDEN = """() => [...document.querySelectorAll('main img, main svg')]
  .filter(e => !e.parentElement.closest("svg") &&
    !e.closest(".moves > .still, details:not([open])"))
  .filter(e => {
    const box = e.getBoundingClientRect();
    return box.width < 100 || box.height < 40 || (e.tagName === 'IMG' && !e.naturalWidth)
      || !e.checkVisibility({visibilityProperty: true, opacityProperty: true});
  }).map(e => e.outerHTML.slice(0, 120))"""

CUT = """() => [...document.querySelectorAll('main *')]
  .filter(e => !e.parentElement.closest('svg') && e.getBoundingClientRect().right > innerWidth + 1
            || e.tagName === 'PRE' && e.scrollWidth > e.clientWidth + 1)
  .map(e => e.outerHTML.slice(0, 120))"""


MADE = ("card", "02_", "06_a_repetition-3", "09_", "practice", "case-1", "case-2")
"""What moves in the book of these tests: one explorer of each manner and two cases, so
that making it takes seconds. The rest is made by the same code."""


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A book with projector pages and the instructors', made in this process."""
    folder = tmp_path_factory.mktemp("book")
    files = pages(instructor=True)
    made = jobs()
    projected = {"levers": next(job.name for job in made if job.name.startswith("02_lever"))}
    files |= {f"present/{name}": text for name, text in projector_pages("09:00", projected)}
    files["present/present.js"] = (BOOK / "present.js").read_text("utf-8")
    for job in made:
        whole = job.name.startswith(MADE) and not re.match(r"case-[12]\d", job.name)
        files[f"kept/{job.name}.js"] = job.script() if whole else ""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    return folder


@pytest.fixture(scope="module")
def offline(browser):
    """A window of a small projector, without a network."""
    context = browser.new_context(offline=True, viewport={"width": 1024, "height": 768})
    page = context.new_page()
    page.complaints = []
    page.on("console", lambda said: page.complaints.append(said.text))
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on("requestfailed", lambda asked: page.complaints.append(asked.url))
    page.on(
        "request",
        lambda asked: asked.url.startswith("http") and page.complaints.append(asked.url),
    )
    yield page
    context.close()


def test_every_page_shows_all_its_figures_and_asks_for_nothing(written, offline):
    files = sorted(written.rglob("*.html"))
    assert len(files) > 12
    figures = 0
    for file in files:
        offline.goto(file.as_uri())
        offline.evaluate("() => Promise.all([...document.images].map(e => e.decode()))")
        assert offline.evaluate(HIDDEN) == [], file.name
        assert offline.evaluate(CUT) == [], file.name
        figures += offline.locator("main img, main svg[role=img]").count()
        assert offline.complaints == [], file.name
    assert figures > 60


READY = "() => [...document.querySelectorAll('[data-kept].moves')].every((e) => e.dataset.ready)"


def opened(offline, written, name):
    """Open a page and wait until what is kept of it moves."""
    offline.complaints.clear()
    offline.goto((written / f"{name}.html").as_uri())
    offline.wait_for_function(READY)


@pytest.mark.parametrize("width", [390, 1024, 1920])
def test_living_pages_fit_and_everybody_can_use_them(written, offline, width):
    offline.set_viewport_size({"width": width, "height": 844 if width < 500 else 768})
    for name in ("bar_thigh_stance", "02_lever_arms", "10_practice", "present/05_levers_see"):
        if width < 500 and name.startswith("present"):
            continue  # made for a projector
        opened(offline, written, name)
        if name == "10_practice":
            offline.locator("[data-practice][data-ready]").wait_for()
        if width < 500:  # wide stills scroll in their own box, the page does not
            assert offline.evaluate("() => document.documentElement.scrollWidth") == width, name
        else:
            assert offline.evaluate(CUT) == [], (name, width)
        if width < 500:
            small = offline.evaluate(
                "() => [...document.querySelectorAll('main button, main select, main input')]"
                ".filter((e) => e.checkVisibility()).map((e) => (e.closest('label') ?? e)"
                ".getBoundingClientRect().height).filter((height) => height < 43.5)"
            )
            assert small == [], name
        assert offline.complaints == [], (name, width)
        # Judged last: axe-core itself asks for style sheets, which a folder does not give. From
        # 1024 on only sizes change, none of which gets smaller.
        if width < 1920:
            assert everybody.grave(offline, "main") == [], (name, width)
    offline.complaints.clear()
    offline.set_viewport_size({"width": 1024, "height": 768})


@pytest.mark.parametrize(
    ("name", "together"),
    [("bar_thigh_stance", True), ("02_lever_arms", False), ("09_which_one_first", False)],
)
def test_every_slider_preset_and_choice_moves(written, offline, name, together):
    opened(offline, written, name)
    root = offline.locator(".squatlab-explorer").first
    sentence = root.locator("p[role=status]")
    sliders = root.locator("input[type=range]:enabled")
    for i in range(sliders.count()):
        before, at = sentence.inner_text(), sliders.nth(i).input_value()
        sliders.nth(i).press("End")
        if sliders.nth(i).input_value() == at:
            sliders.nth(i).press("Home")
        assert sliders.nth(i).input_value() != at
        assert sentence.inner_text() != before, i
        offline.wait_for_timeout(150)  # the slider rests
    away = [sliders.nth(i).input_value() for i in range(sliders.count())]
    root.get_by_role("button", name="Reset").click()
    offline.wait_for_timeout(150)
    starts = [sliders.nth(i).input_value() for i in range(sliders.count())]
    moved = sum(now != start for now, start in zip(away, starts, strict=True))
    assert moved == (len(starts) if together else 1)
    for preset in root.locator("button.preset").all():
        preset.click()
    for choice in root.locator(".choice button").all():
        choice.click()
        assert choice.get_attribute("aria-pressed") == "true"
    assert offline.complaints == []


def test_every_position_has_the_words_of_the_kernel(written, offline):
    """From a preset one slider moves; another one goes on from the preset, the first is back."""
    opened(offline, written, "02_lever_arms")
    explorer = lever_arms(Lifter.from_stature(1.75, 75))  # the page's
    root = offline.locator(".squatlab-explorer").first
    sentence = root.locator("p[role=status]")
    assert sentence.inner_text() == explorer.sentence
    root.get_by_role("button", name="Low bar", exact=True).click()
    explorer.press("Low bar")
    assert sentence.inner_text() == explorer.sentence
    start = {}
    for name, label in (("depth", "Depth"), ("load", "Load")):
        slider = root.get_by_role("slider", name=label, exact=True)
        start[name] = slider.get_attribute("aria-valuetext")
        slider.press("ArrowRight")
        slider.press("ArrowRight")
        control, words = explorer.controls[name], slider.get_attribute("aria-valuetext")
        explorer.press("Low bar")
        values = explorer.values()
        (value,) = (at for at in control.positions.tolist() if control.words(at, values) == words)
        explorer.set(explorer.presets["Low bar"] | {name: value})
        assert sentence.inner_text() == explorer.sentence and words != start[name]
    depth = root.get_by_role("slider", name="Depth", exact=True)
    assert depth.get_attribute("aria-valuetext") == start["depth"]


def test_a_clip_plays(written, offline):
    opened(offline, written, "06_a_repetition")
    clip = offline.locator(".squatlab-clip").first
    before = clip.locator(".status").inner_text()
    clip.get_by_role("button", name="Play").click()
    offline.wait_for_timeout(500)
    assert clip.locator(".status").inner_text() != before
    assert offline.complaints == []


def test_checks_answer_wrong_then_right(written, offline):
    opened(offline, written, "02_lever_arms")
    number = offline.locator("[data-check=hip_arm] form")
    number.locator("input").fill("12 lb")
    number.get_by_role("button", name="Answer", exact=True).click()
    reply = number.locator("[role=status]")
    assert reply.get_attribute("data-kind") == "", "another unit is no try"
    number.locator("input").fill("3")
    number.get_by_role("button", name="Answer", exact=True).click()
    assert reply.get_attribute("data-kind") == "wrong"
    key = lessons.made("hip_arm", 1).key
    number.locator("input").fill(f"{key.answer:.1f} cm")
    number.get_by_role("button", name="Answer", exact=True).click()
    assert reply.get_attribute("data-kind") == "right"
    options = offline.locator("[data-check=bar_place] form")
    right = lessons.made("bar_place", 1)
    wrong = next(one for one in right.question.options if one != right.key.answer)
    for words, kind in ((wrong, "wrong"), (right.key.answer, "right")):
        options.locator("label.option", has_text=words).click()
        options.get_by_role("button", name="Answer", exact=True).click()
        assert options.locator("[role=status]").get_attribute("data-kind") == kind
    assert "2 answered, 2 right, 0" in offline.locator("[data-marks]").first.inner_text()
    assert offline.complaints == []


@pytest.mark.skipif(firefox.PATH is None, reason="no Firefox here")
def test_firefox_moves_and_answers_too(written):
    sentence = "() => document.querySelector('.squatlab-explorer p[role=status]').textContent"
    form = "document.querySelector('[data-check=hip_arm] form')"
    with firefox.Firefox() as page:
        for name in ("index", "bar_thigh_stance", "02_lever_arms"):
            page.goto((written / f"{name}.html").as_uri())
            page.wait_for(READY)
        before = page.run(sentence)
        page.run("() => document.querySelector('.squatlab-explorer input').focus()")
        page.press(ARROW_RIGHT)
        page.wait_for(f"() => ({sentence})() !== {before!r}")
        for answer, kind in (("3", "wrong"), (f"{lessons.made('hip_arm', 1).key.answer}", "right")):
            page.run(
                f"() => {{ {form}.querySelector('input').value = '{answer}';"
                f" {form}.querySelector('button').click(); }}"
            )
            assert page.run(f"() => {form}.querySelector('[role=status]').dataset.kind") == kind
        assert page.complaints == []


ARROW_RIGHT = "\ue014"
"""Of WebDriver: https://www.w3.org/TR/webdriver2/#keyboard-actions."""


def test_a_case_is_judged(written, offline):
    opened(offline, written, "10_practice")
    offline.locator("[data-practice][data-ready=case-1]").wait_for()
    place = offline.locator("[data-practice]")
    place.get_by_role("button", name="Submit").click()
    assert "Not marked yet" in place.locator(".reply").inner_text()
    one = case(cell("practice"), 1)
    ticked = [*one.there[1:], "uneven_bar"]
    for fault in ticked:
        place.locator(f"input[type=checkbox][value={fault}]").check()
    place.get_by_role("radiogroup", name="Fix first").locator("[value=uneven_bar]").check()
    place.get_by_role("radiogroup", name="Say").get_by_role("radio").first.check()
    place.get_by_role("button", name="Submit").click()
    place.locator(".reply[data-kind=wrong]").wait_for()  # the clip with its lines is read first
    # Word for word what a notebook says: marks are the kinds', wherever one is asked.
    cue = cue_check("uneven_bar").question.options[0]
    said = marked(one, judgement(ticked, "uneven_bar", cue))
    assert place.locator(".reply").inner_text() == said.first.text
    lines = place.locator(".reasons p").all_inner_texts()
    assert said.spot.text in lines and f"Your cue. {said.cue.text}" in lines
    place.get_by_role("button", name="Next case").click()
    offline.locator("[data-practice][data-ready=case-2]").wait_for()
    assert offline.complaints == []


def test_hands_are_kept_beside_what_is_seen_and_answers_are_the_instructors(written, offline):
    opened(offline, written, "present/05_levers")
    offline.locator("[data-answer=A]").fill("yes")
    offline.locator("[data-count=A]").fill("7")
    offline.keyboard.press("PageDown")
    offline.wait_for_url("**/05_levers_see.html")
    assert offline.locator("[data-votes]").inner_text() == "Hands: yes 7"
    right = timetable()["levers"].right
    for file in (written / "present").glob("*.html"):
        assert (right in unescape(file.read_text("utf-8"))) == (file.name == "instructor.html")
    assert offline.complaints == []


def test_one_walks_from_the_index_through_the_course_and_back(written, browser):
    """By links alone, so without scripts too."""
    page = browser.new_page(java_script_enabled=False, offline=True)
    page.goto((written / "index.html").as_uri())
    titles = page.locator("dt").all_inner_texts()
    for last in ("Summary to print", "Guide to the commands"):  # in the book they stand last
        titles.append(titles.pop(titles.index(last)))
    for title in titles:
        page.locator("nav").first.get_by_role("link", name="Next").click()
        assert page.locator("h1").inner_text() == title
    page.locator("nav").last.get_by_role("link", name="Index").click()
    assert page.url == (written / "index.html").as_uri()
    page.get_by_role("link", name=titles[-1], exact=True).click()
    assert page.locator("h1").inner_text() == titles[-1]
    page.close()


def test_it_prints(written, offline, tmp_path):
    for name, words in (("index", "Stop on pain"), ("10_practice", "weight, against standing")):
        offline.goto((written / f"{name}.html").as_uri())
        offline.emulate_media(media="print")
        offline.pdf(path=tmp_path / f"{name}.pdf", prefer_css_page_size=True, format="A4")
        printed = pypdfium2.PdfDocument(tmp_path / f"{name}.pdf")
        text = "\n".join(page.get_textpage().get_text_range() for page in printed)
        text = " ".join(text.split())
        assert words in text and "squatlab open" not in text
        if name == "10_practice":  # the widest table of the course keeps its last column
            assert "a quarter down halfway down three quarters down" in text
            assert "three quarters up up" in text
        for page in printed:
            found = page.get_textpage()
            right = max(found.get_rect(i)[2] for i in range(found.count_rects()))
            assert right < page.get_width() - 28  # points: inside the margin, so nothing is cut
