"""The whole book, page by page, at three sizes: every control, clip, check and practice case.

It takes some ten minutes and runs with --long-fuzz; tests/browser/test_book.py tries a page
of each kind in every run.
"""

from __future__ import annotations

import json

import pytest

from squatlab.__main__ import main
from tests.browser import everybody

SIZES = {"a phone": (390, 844), "a small projector": (1024, 768), "a large one": (1920, 1080)}

READY = """() => [...document.querySelectorAll('[data-kept]')].every((e) => e.dataset.ready)
  && [...document.querySelectorAll('[data-practice]')].every((e) => e.dataset.ready)"""

LOOK = """(root) => [...root.querySelectorAll('canvas')].map((c) => c.toDataURL()).join()
  + root.querySelector('p[role=status]').textContent"""
"""All that an explorer shows."""


@pytest.fixture(scope="module")
def whole_book(request, tmp_path_factory):
    if not request.config.getoption("--long-fuzz"):
        pytest.skip("the whole book takes some ten minutes: --long-fuzz")
    folder = tmp_path_factory.mktemp("whole") / "book"
    assert main(["book", "-o", str(folder), "--present", "--instructor"]) == 0
    return folder


@pytest.fixture(params=SIZES)
def page(request, whole_book, browser):
    width, height = SIZES[request.param]
    context = browser.new_context(
        offline=True, viewport={"width": width, "height": height}, has_touch=width < 500
    )
    page = context.new_page()
    page.complaints = []
    page.on("console", lambda said: page.complaints.append(said.text))
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on("requestfailed", lambda asked: page.complaints.append(asked.url))
    yield page
    context.close()


def test_every_control_moves_every_clip_plays_every_check_answers(whole_book, page):
    moved = {"sliders": 0, "clips": 0, "checks": 0, "cases": 0, "pages": 0}
    for file in sorted(whole_book.rglob("*.html")):
        page.goto(file.as_uri())
        page.wait_for_function(READY)
        where = f"{file.relative_to(whole_book)} at {page.viewport_size['width']}"
        moved["pages"] += 1
        for root in page.locator(".squatlab-explorer").all():
            moved["sliders"] += _every_control(page, root, where)
        for clip in page.locator(".squatlab-clip").all():
            moved["clips"] += _plays(page, clip, where)
        for place in page.locator("[data-check]").all():
            moved["checks"] += _answers(place, where)
        for place in page.locator("[data-practice]").all():
            moved["cases"] += _submits(page, place, where)
        scrolled = "() => document.documentElement.scrollWidth - innerWidth"
        assert page.evaluate(scrolled) <= 0, f"{where} is wider than its window"
        assert page.complaints == [], where
        # Judged last: axe-core itself asks for style sheets, which a folder does not give.
        assert everybody.grave(page, "main") == [], where
        page.complaints.clear()
    # The course had so many when this was written; fewer would mean that they were not found.
    assert moved["pages"] > 40 and moved["sliders"] > 60
    assert moved["clips"] >= 4 and moved["checks"] >= 19 and moved["cases"] == 30


def _every_control(page, root, where):
    """Move each slider to both ends, press each button and choose each option."""
    sliders = root.locator("input[type=range]:enabled:not([aria-label=Frame])").all()
    for slider in sliders:
        seen = set()
        for key in ("Home", "End", "ArrowLeft"):
            slider.press(key)
            page.wait_for_timeout(40)
            seen.add(root.evaluate(LOOK))
        assert len(seen) >= 2, (where, slider.get_attribute("id"))
        assert slider.get_attribute("aria-valuetext"), where
        page.wait_for_timeout(300)  # the slider rests
    for preset in root.locator("button.preset").all():
        preset.click()
        page.wait_for_timeout(40)
    for choice in root.locator(":scope > .choices .choice button").all():
        choice.click()
        assert choice.get_attribute("aria-pressed") == "true", where
    for listed in root.locator(":scope > .choices select").all():
        for option in listed.locator("option").all():
            listed.select_option(option.get_attribute("value"))
            page.wait_for_timeout(60)
    root.get_by_role("button", name="Reset").click()
    return len(sliders)


def _plays(page, clip, where):
    clip.get_by_role("button", name="Start", exact=True).click()
    before = clip.locator(".status").inner_text()
    clip.get_by_role("button", name="Play", exact=True).click()
    page.wait_for_timeout(400)
    assert clip.locator(".status").inner_text() != before, where
    if pause := clip.get_by_role("button", name="Pause").all():
        pause[0].click()
    clip.get_by_role("button", name="Lowest point").click()
    assert "lowest" in clip.locator(".status").inner_text(), where
    return 1


def _answers(place, where):
    """Answer wrong, then right; the next question right, then one given up."""
    questions = json.loads(place.locator("script").inner_text())
    for right_first, question in enumerate(questions):
        status = place.locator("[role=status]")
        for want in ("right",) if right_first else ("wrong", "right"):
            if options := question.get("options"):
                answers = [
                    i for i, each in enumerate(options) if each["right"] == (want == "right")
                ]
                place.locator("input[type=radio]").nth(answers[0]).check()
            else:
                number = question["number"]
                off = 0 if want == "right" else 1000 * number["tolerance"] + 1000
                place.locator("input").fill(f"{number['answer'] + off:.4f}")
            place.get_by_role("button", name="Answer", exact=True).click()
            assert status.get_attribute("data-kind") == want, (where, question["id"])
        place.get_by_role("button", name="New question").click()
    place.get_by_role("button", name="Show the answer").click()
    assert place.locator("[role=status]").inner_text(), where
    return 1


def _submits(page, place, where):
    """Judge every practice case, one right, the next wrong."""
    count = int(place.get_by_label("Case number").get_attribute("max"))
    for number in range(1, count + 1):
        place.get_by_label("Case number").fill(str(number))
        place.get_by_role("button", name="Show this case").click()
        place.locator(f":scope[data-ready=case-{number}]").wait_for()
        case = page.evaluate("(name) => squatlabBook.store(name)", f"case-{number}")
        named = [one["id"] for one in case["spot"]["options"] if one["called"]["right"]]
        first = next(one["id"] for one in case["first"]["options"] if one["right"])
        right = number % 2 == 1
        if not right:  # what is not to be fixed first
            other = [box.get_attribute("value") for box in place.locator("[type=checkbox]").all()]
            first = next(one for one in other if one not in (first, "nothing"))
            named = [first]
        for fault in named:
            place.locator(f"input[type=checkbox][value={fault}]").check()
        if first != "nothing":
            place.get_by_role("radiogroup", name="Fix first").locator(f"[value={first}]").check()
            place.get_by_role("radiogroup", name="Say").get_by_role("radio").first.check()
        place.get_by_role("button", name="Submit").click()
        place.locator(f".reply[data-kind={'right' if right else 'wrong'}]").wait_for()
        assert place.locator(".reasons > *").count() >= 2, (where, number)
    return count
