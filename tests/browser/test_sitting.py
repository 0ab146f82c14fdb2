"""A candidate answers in the page; page and kernel are killed in the middle; nothing is lost."""

from __future__ import annotations

from base64 import b64decode
from functools import partial
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from squatlab.exam.answers import Sheet
from squatlab.exam.forms import FormKey
from squatlab.exam.package import Package
from squatlab.exam.screens import trial
from squatlab.exam.screens.stills import stills
from tests.browser import everybody, lab

NOTEBOOK = "sitting.ipynb"
CELLS = (
    "from squatlab.exam.screens.sitting import sit",
    'screen = sit("trial.zip", "C07", "answers")\nscreen',
    "from squatlab.exam.screens.trial import trial_marks\ntrial_marks(screen)",
)
KILL = "() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.shutdown()"


@pytest.fixture(scope="module")
def package(folder):
    """The form in the course's folder, and a notebook that opens it.

    Its clips are smaller than those of notebook 11, whose screen test_course looks at: half the
    work.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(trial, "stills", partial(stills, px_per_cm=2.0))
        trial.trial_form(folder)
    lab.write_notebook(folder / NOTEBOOK, CELLS)
    return folder


@pytest.fixture
def first(opened, package):
    """The screen of a candidate who has not begun."""
    for path in (package / "answers").glob("*"):
        path.unlink()
    page = opened(NOTEBOOK)
    assert lab.errors(page) == []
    exam(page).wait_for()
    exam(page).scroll_into_view_if_needed()
    return page


@pytest.fixture
def page(first):
    """The screen of a candidate who has begun and answered nothing yet."""
    lab.begin_exam(first)
    return first


def exam(page):
    return page.get_by_role("group", name="Exam", exact=True)


def said(page, words: str) -> None:
    """Wait until the screen says something that begins so."""
    exam(page).locator(".said", has_text=words).wait_for()


def ask(page, number: int) -> str:
    """Go to a question; return what it is answered with."""
    numbers = exam(page).get_by_role("group", name="Questions").get_by_role("button")
    numbers.nth(number - 1).press("Enter")
    exam(page).get_by_role("heading", name=f"Question {number} of 7").wait_for()
    return exam(page).locator("fieldset").get_attribute("class")


def kept(page) -> str:
    return exam(page).locator(".kept").inner_text()


def answer_by_keys(page, kind: str) -> str:
    """Answer the open question, by keyboard where that is not a matter of course."""
    form = exam(page).locator("fieldset")
    if kind == "one":
        form.get_by_role("radio").first.focus()
        page.keyboard.press(" ")
        said(page, "Saved ")
        page.keyboard.press("ArrowDown")
        words = form.locator("label").nth(1).inner_text().strip()
    elif kind == "several":
        form.get_by_role("checkbox").nth(0).check()
        form.get_by_role("checkbox").nth(2).check()
        words = ", ".join(form.locator("label").nth(n).inner_text().strip() for n in (0, 2))
    elif kind == "number":
        box, unit = form.get_by_role("textbox"), form.locator("label").inner_text().split()[-1]
        box.fill("12,5 kg")
        page.keyboard.press("Enter")
        said(page, f"NOT SAVED: “12,5 kg” is in “kg” and this question asks for {unit}: write")
        assert kept(page) == "No answer is saved yet"
        box.fill(f"12,5 {unit}")
        page.keyboard.press("Enter")
        words = f"12.5 {unit}"
    else:
        names = [one.inner_text().split("\n")[-1].strip() for one in form.locator("li").all()]
        names = [name.replace("↑", "").replace("↓", "").strip() for name in names]
        form.get_by_role("button", name=f"{names[1]}: up").press("Enter")
        words = ", then ".join([names[1], names[0], *names[2:]])
    page.wait_for_function(
        "words => document.querySelector('.squatlab-sitting .kept').textContent.includes(words)",
        arg=words,
    )
    return f"Saved answer: {words}"


@pytest.fixture(scope="module")
def begun(showing, package):
    """The screen of a candidate who has begun, for tests that answer nothing."""
    page = showing(NOTEBOOK)
    lab.run_all(page)
    lab.begin_exam(page)
    return page


def test_the_clip_plays_steps_and_turns(begun):
    page = begun
    ask(page, 1)
    clip = exam(page).get_by_role("group", name="Clip", exact=True)
    clip.wait_for()
    canvas = clip.locator("canvas")

    def drawn(frame: int) -> np.ndarray:
        page.wait_for_function(
            "([c, n]) => c.dataset.frame === String(n)", arg=[canvas.element_handle(), frame]
        )
        return picture(page, canvas)

    still = drawn(0)
    clip.focus()
    page.keyboard.press("l")
    lowest = int(clip.get_by_role("slider", name="Frame").input_value())
    low = drawn(lowest)
    assert lowest > 60 and np.abs(low - still).max() > 50
    steps = [("ArrowRight", lowest + 1), ("ArrowLeft", lowest), ("Home", 0), ("End", None)]
    for key, frame in steps:
        page.keyboard.press(key)
        if frame is not None:
            drawn(frame)
    page.keyboard.press("l")
    page.keyboard.press("v")
    page.wait_for_function("c => c.width < 500", arg=canvas.element_handle())
    assert np.array_equal(drawn(lowest), low[:, : picture(page, canvas).shape[1]]), "the side view"
    page.keyboard.press("Home")
    clip.get_by_role("button", name="1/8").click()
    clip.get_by_role("button", name="Play", exact=True).click()
    page.wait_for_function("c => Number(c.dataset.frame) > 6", arg=canvas.element_handle())
    clip.get_by_role("button", name="Pause", exact=True).click()
    assert 6 < int(clip.get_by_role("slider", name="Frame").input_value()) < 60
    for key in "badd":  # "b" inserts a cell in a notebook, "d d" deletes one
        page.keyboard.press(key)
    assert page.locator(".jp-Notebook .jp-CodeCell").count() == 3
    words = exam(page).get_by_text("This lift in words")
    words.click()
    assert exam(page).get_by_role("rowheader", name="trunk", exact=True).is_visible()
    assert page.complaints == []


def picture(page, canvas) -> np.ndarray:
    address = canvas.evaluate("canvas => canvas.toDataURL()")
    return np.asarray(Image.open(BytesIO(b64decode(address.split(",")[1]))).convert("RGB"), int)


def test_everything_fits_and_has_a_name(begun):
    page = begun
    ask(page, 1)
    exam(page).get_by_role("group", name="Clip", exact=True).wait_for()
    for width in (1280, 1024, 800):
        page.set_viewport_size({"width": width, "height": 800})
        page.evaluate(everybody.THREE_FRAMES)
        assert (
            exam(page).evaluate(
                "root => [...root.querySelectorAll('button,input,canvas,label,p')].filter(e =>"
                " e.getBoundingClientRect().right > root.getBoundingClientRect().right + 1)"
                ".map(e => e.outerHTML.slice(0, 90))"
            )
            == []
        )
    nameless = exam(page).evaluate(
        "root => [...root.querySelectorAll('button,input,canvas')].filter(e =>"
        " !e.textContent && !e.labels?.length && !e.getAttribute('aria-label')"
        " && !e.getAttribute('aria-labelledby')).map(e => e.outerHTML)"
    )
    assert nameless == []


def test_the_clock_starts_at_begin_and_goes_on_without_it(first, opened, package):
    page, journal = first, package / "answers" / "trial-C07.journal"
    begin = exam(page).get_by_role("button", name="Begin", exact=True)
    assert exam(page).get_by_role("button").count() == 1 and begin.is_visible()
    assert exam(page).get_by_role("heading").inner_text() == "Before you begin"
    assert exam(page).get_by_role("status").inner_text().startswith("Not started: the clock starts")
    prompts = [one.text for one in Package.read(package / "trial.zip").questions.values()]
    assert not any(prompt in page.content() for prompt in prompts)
    lab.leave(page)  # the kernel with it
    assert '"begun"' not in journal.read_text(encoding="utf-8")

    page = opened(NOTEBOOK)
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    exam(page).get_by_role("heading", name="Before you begin").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Begin"
    page.keyboard.press(" ")
    said(page, "Nothing is answered yet. The clock has run since ")
    assert page.evaluate("document.activeElement.textContent") == "Question 1 of 7"
    times = exam(page).locator("p").first.inner_text().split(".")[1]
    assert "Started " in times and '"begun"' in journal.read_text(encoding="utf-8")
    for key in "badd":  # "b" inserts a cell in a notebook, "d d" deletes one
        page.keyboard.press(key)
    assert page.locator(".jp-Notebook .jp-Cell").count() == cells
    lab.run_all(page)
    exam(page).get_by_role("heading", name="Question 1 of 7").wait_for()
    assert exam(page).get_by_role("button", name="Begin", exact=True).count() == 0
    assert exam(page).locator("p").first.inner_text().split(".")[1] == times
    assert page.complaints == []


def test_every_kind_is_answered_by_keyboard_and_handed_in(page, package):
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    assert exam(page).locator("input:checked").count() == 0, "something was chosen beforehand"
    given = {}
    for number in range(1, 8):
        kind = ask(page, number)
        assert kept(page) == "No answer is saved yet"
        given[number] = answer_by_keys(page, kind)
    for number, words in given.items():
        ask(page, number)
        assert kept(page).startswith(words)
    assert page.locator(".jp-Notebook .jp-Cell").count() == cells
    sheet = handed_in(page, package, "Every question is answered")
    assert len(sheet.answers) == 7
    marks = page.get_by_role("group", name="Marks of the trial")
    asked = marks.get_by_role("group", name="Questions").get_by_role("button")
    key = FormKey.read(package / "trial.key.json").entries
    right = [entry.answer if entry.kind == "first" else "nothing" for entry in key.values()]
    lift, fault = next((n, fault) for n, fault in enumerate(right) if fault != "nothing")
    asked.nth(lift).press("Enter")
    marks.get_by_text(f"Right: {fault}.").wait_for()
    assert asked.count() == 7 and marks.get_by_text(f"Measured, {fault}: ").count() == 1
    asked.nth(lift).press("Enter")  # the one that is open: it stays
    assert marks.get_by_text(f"Right: {fault}.").is_visible()
    lines = marks.get_by_role("button", name="Measured lines", pressed=True)
    lines.wait_for()
    asked.nth(6).press("Enter")
    marks.get_by_role("heading", name="Question 7").wait_for()
    marks.locator("canvas").wait_for(state="hidden")  # it shows no lift
    assert page.complaints == []


def handed_in(page, package, words: str) -> Sheet:
    """Hand in by keyboard, told these words before; return what is on the disk."""
    exam(page).get_by_role("button", name="Hand in …").press("Enter")
    assert words in exam(page).inner_text()
    assert page.evaluate("document.activeElement.textContent") == "Go on answering"
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    said(page, "Handed in ")
    assert page.evaluate("document.activeElement.textContent") == "Handed in"
    assert exam(page).locator("fieldset").count() == exam(page).get_by_role("button").count() == 0
    sheet = Sheet.read(package / "answers" / "trial-C07.json")
    assert sheet.receipt in exam(page).inner_text()
    return sheet


def test_a_page_killed_in_the_middle_comes_back_with_what_was_saved(page, opened, package):
    first = answer_by_keys(page, ask(page, 1))
    third = answer_by_keys(page, ask(page, 3))
    page.evaluate(KILL)
    # The kernel is gone. What is chosen now is not on the disk, and the screen must say so.
    exam(page).locator("fieldset input").last.click()
    said(page, "NOT SAVED: the notebook is not responding")
    assert kept(page) == third
    page.close()
    again = opened(NOTEBOOK)
    assert lab.errors(again) == []
    exam(again).scroll_into_view_if_needed()
    said(again, "2 answers were brought back.")
    assert exam(again).get_by_role("heading", name="Question 2 of 7").is_visible()
    for number, words in ((1, first), (3, third)):
        ask(again, number)
        assert kept(again) == words
        chosen = exam(again).locator("fieldset label:has(input:checked)").all_inner_texts()
        assert "Saved answer: " + ", ".join(one.strip() for one in chosen) == words
    assert "Question 1, answered" in exam(again).locator(".numbers").evaluate(
        "e => [...e.children].map(b => b.getAttribute('aria-label'))"
    )
    sheet = handed_in(again, package, "Not answered: 2, 4, 5, 6, 7.")
    assert sum(one is not None for one in sheet.answers.values()) == 2
    assert again.complaints == []


def test_the_time_left_is_shown_and_when_it_is_up(page):
    told = exam(page).locator("p").first
    assert "min left." in told.inner_text()
    page.evaluate("Date.now = () => 4e12")
    answer_by_keys(page, ask(page, 1))
    assert "Time was up at" in told.inner_text()
    ask(page, 2)
    assert exam(page).locator(".said").inner_text() == "", "it was said of another question"
    lab.close(page)  # no other test is to have its clock: the last of the file
