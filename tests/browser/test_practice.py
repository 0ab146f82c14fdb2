"""A case is answered and marked in the browser, by keyboard alone."""

from __future__ import annotations

import re
import shutil

import pytest

from squatlab.questions.practice_progress import Progress
from tests.browser import everybody, lab
from tests.questions.invented_lifters import keep_invented_lifters

NOTEBOOK = "practising.ipynb"
CELLS = ("from squatlab.show.practice import practice", 'practice("somebody", seed=11)')
"""Case 11: low back rounds (clear) comes before knees fall in (slight)."""

CUE = "Brace before you go; stop at the depth where the low back still holds."


FILE_LIST = "() => window.jupyterapp.commands.execute('application:toggle-left-area')"


@pytest.fixture
def page(opened, folder):
    """A notebook with the practice page, run, the page in sight."""
    lab.write_notebook(folder / NOTEBOOK, CELLS)
    (folder / "practice" / "somebody.jsonl").unlink(missing_ok=True)
    page = opened(NOTEBOOK)
    assert lab.errors(page) == []
    page.get_by_role("button", name="Submit").wait_for()
    return page


def status(page, words: str) -> str:
    found = page.get_by_role("status").filter(has_text=words)
    found.wait_for(timeout=20_000)
    return found.inner_text()


def on(page) -> str:
    """Return the words of what has the focus."""
    return page.evaluate(
        "() => { const e = document.activeElement; return (e.closest('label') || e).innerText; }"
    ).strip()


def tab_to(page, words: str) -> None:
    """Press Tab until what has the focus says these words."""
    for _ in range(40):
        if on(page) == words:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not come to {words!r}; it is on {on(page)!r}")


def test_a_case_is_answered_and_marked_by_keyboard(page, folder):
    cells = "window.jupyterapp.shell.currentWidget.content.widgets.length"
    before = page.evaluate(cells)
    page.get_by_role("checkbox", name="low back rounds", exact=True).focus()
    page.keyboard.press("Space")
    for key in "badd":  # in a notebook "b" inserts a cell, "d d" deletes one
        page.keyboard.press(key)
    tab_to(page, "knees fall in")
    page.keyboard.press("Space")
    first = page.get_by_role("radiogroup", name="Fix first")
    first.get_by_role("radio").nth(1).wait_for()
    assert not first.get_by_role("radio", checked=True).count()
    tab_to(page, "low back rounds")
    page.keyboard.press("Space")
    say = page.get_by_role("radiogroup", name="Say")
    say.get_by_role("radio", name=CUE).wait_for()
    assert not say.get_by_role("radio", checked=True).count()
    tab_to(page, "Submit")
    page.keyboard.press("Enter")
    assert "choose the one to fix first, and what you say" in status(page, "Not marked yet")
    page.keyboard.press("Shift+Tab")
    while on(page) != CUE:
        page.keyboard.press("ArrowDown")
    page.keyboard.press("Space")
    tab_to(page, "Submit")
    page.keyboard.press("Enter")

    said = status(page, "Saved")
    assert said.startswith("Right: “low back rounds”.") and re.search(
        r"Saved \d\d:\d\d:\d\d\.", said
    )
    (kept,) = Progress(folder / "practice" / "somebody.jsonl").answered
    assert kept.first == kept.right == "lumbar_rounding" and kept.cue is True
    assert kept.ticked == ("lumbar_rounding", "knee_valgus")
    player = page.get_by_role("group", name="Clip", exact=True)
    player.get_by_role("button", name="Measured lines", pressed=True).wait_for()
    table = page.get_by_role("table")
    assert table.get_by_role("row").filter(has_text="knees fall in").count() == 1
    assert page.evaluate(cells) == before

    tab_to(page, "Next case")
    page.keyboard.press("Enter")
    status(page, "Watch, then tick what you see")
    page.wait_for_function(
        "() => !document.querySelectorAll('.squatlab-judged input[type=checkbox]:checked').length"
    )
    number = page.get_by_role("spinbutton", name="Case number")
    assert number.input_value() != "9"
    assert page.complaints == []


@pytest.fixture
def real_cases(folder):
    """An instructor's folder beside the notebook, with one case; nobody was filmed."""
    place = folder / "real_cases"
    keep_invented_lifters(place, "R-1")
    yield place
    shutil.rmtree(place)


def test_a_real_lifter_is_chosen_answered_and_marked_by_keyboard(real_cases, page, folder):
    box = page.get_by_role("group", name="Practice", exact=True)
    assert "Real lifter" not in box.locator(".head").inner_text()  # computed cases come first
    box.get_by_role("combobox", name="Real lifter").focus()
    tab_to(page, "Show this lifter")
    page.keyboard.press("Enter")
    box.locator(".head").filter(has_text="Real lifter, case R-1").wait_for()
    # One front film, in place of a case with both views: no view to choose, nothing measured yet.
    box.get_by_role("img", name="Front view").wait_for()
    for role, name in (("group", "View"), ("button", "Measured lines")):
        assert box.get_by_role(role, name=name, exact=True).count() == 0
    box.get_by_role("checkbox", name="knees fall in", exact=True).focus()
    page.keyboard.press("Space")
    box.get_by_role("radiogroup", name="Say").get_by_role("radio").first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")

    assert status(page, "Saved").startswith("Right: “knees fall in”.")
    assert on(page) == "Next case"  # what had the focus is hidden
    assert "2 of 2 coaches" in box.locator(".reasons").inner_text()
    box.get_by_role("button", name="Measured lines", pressed=True).wait_for()
    (kept,) = Progress(folder / "practice" / "somebody.jsonl").answered
    assert (kept.seed, kept.right, kept.first) == ("R-1", "knee_valgus", "knee_valgus")
    tab_to(page, "Next case")
    page.keyboard.press("Enter")
    box.locator(".head").filter(has_not_text="Real lifter").wait_for()
    views = box.get_by_role("group", name="View", exact=True)
    views.get_by_role("button", name="side", exact=True, pressed=True).wait_for()
    assert page.complaints == []


def test_everything_has_a_name_and_fits_one_screen(page):
    """With JupyterLab's file list beside it, too."""
    page.evaluate(lab.WHOLE_WINDOW)
    box = page.get_by_role("group", name="Practice", exact=True)
    assert box.get_by_role("checkbox").count() == 15
    for place in box.get_by_role("checkbox").all():
        assert place.evaluate("e => e.closest('label').innerText.trim()")
    assert box.get_by_role("spinbutton", name="Case number").count() == 1
    # What is asked of the most: a fault with its cues, beside the clip.
    box.get_by_role("checkbox", name="low back rounds", exact=True).check()
    box.get_by_role("checkbox", name="knees fall in", exact=True).check()
    box.get_by_role("radio", name="low back rounds", exact=True).check()
    for width, height, files in ((1280, 800, False), (1024, 768, False), (1024, 768, True)):
        page.set_viewport_size({"width": width, "height": height})
        if files:
            page.evaluate(FILE_LIST)
        page.evaluate(everybody.THREE_FRAMES)
        fits_one_screen(page, box)


def fits_one_screen(page, box) -> None:
    """Check that nothing is cut off, and that picture and Submit are seen at once."""
    cut = box.evaluate(
        "box => [...box.querySelectorAll('button, label, p, legend')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1 && e.clientWidth).map(e => e.innerText)"
    )
    assert cut == []
    seen = page.locator(".jp-WindowedPanel-outer").first.bounding_box()
    submit = box.get_by_role("button", name="Submit").bounding_box()
    picture = box.locator("canvas").bounding_box()
    assert submit["y"] + submit["height"] - picture["y"] <= seen["height"]
