"""A clip plays in the page, and every control works by keyboard."""

from __future__ import annotations

from base64 import b64decode
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Tempo, synthesise
from squatlab.show.clips import clip
from tests.browser import lab

NOTEBOOK = "clip.ipynb"
CELLS = (
    """from squatlab import Bar, Lifter, Stance
from squatlab.motion import Tempo, synthesise
from squatlab.show.clips import clip""",
    """rep = synthesise(Lifter.from_stature(1.75, 80), Bar.high(100), Stance(), Tempo(), rate=60)
clip(rep, marks={"hips move": 90})""",
)


@pytest.fixture(scope="module")
def film():
    """What the notebook shows, made here."""
    lifter = Lifter.from_stature(1.75, 80)
    return clip(synthesise(lifter, Bar.high(100), Stance(), Tempo(), rate=60)).film


@pytest.fixture(scope="module")
def shown(showing, folder):
    """A notebook with a clip, run, its clip in sight."""
    lab.write_notebook(folder / NOTEBOOK, CELLS)
    page = showing(NOTEBOOK)
    lab.run_all(page)
    assert lab.errors(page) == []
    player(page).wait_for()
    player(page).scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    assert frame(page) == 0, "it began by itself"
    return page


@pytest.fixture
def page(shown):
    """The same clip at its first frame, as it was at first."""
    for name in ("Start", "1×", "both"):
        player(shown).get_by_role("button", name=name, exact=True).press("Enter")
    if pressed(shown, "Measured lines"):
        player(shown).get_by_role("button", name="Measured lines").press("Enter")
    return shown


def player(page):
    return page.get_by_role("group", name="Clip", exact=True)


def frame(page) -> int:
    return int(player(page).get_by_role("slider", name="Frame").input_value())


def pressed(page, name: str) -> bool:
    button = player(page).get_by_role("button", name=name, exact=True)
    return button.get_attribute("aria-pressed") == "true"


def pixels(page) -> np.ndarray:
    address = player(page).locator("canvas").evaluate("canvas => canvas.toDataURL()")
    picture = Image.open(BytesIO(b64decode(address.split(",")[1])))
    return np.asarray(picture.convert("RGB"), dtype=int)


def same(one: np.ndarray, other: np.ndarray) -> bool:
    """Redrawn, an edge may differ by a shade."""
    return one.shape == other.shape and np.abs(one - other).max() <= 2


def until_frame(page, condition: str) -> None:
    slider = player(page).get_by_role("slider", name="Frame").element_handle()
    page.wait_for_function(f"e => Number(e.value) {condition}", arg=slider)


def test_it_waits_plays_and_stops_at_the_end(page, film):
    last = film.footage.time.size - 1
    play = player(page).get_by_role("button", name="Play", exact=True)
    still = pixels(page)
    play.click()
    until_frame(page, "> 60")
    assert player(page).get_by_role("status").get_attribute("aria-live") == "off"
    player(page).get_by_role("button", name="Pause", exact=True).click()
    paused = frame(page)
    assert 60 < paused < last and not same(pixels(page), still)
    page.wait_for_timeout(200)
    assert frame(page) == paused
    player(page).focus()
    page.keyboard.press("End")
    assert frame(page) == last
    page.keyboard.press("ArrowLeft")
    page.keyboard.press(" ")
    until_frame(page, f"== {last}")
    play.wait_for()
    assert player(page).get_by_role("status").get_attribute("aria-live") == "polite"
    page.keyboard.press(" ")
    until_frame(page, "< 60")
    assert page.complaints == []


def test_keys_move_it_and_never_reach_the_notebook(page, film):
    cells = page.locator(".jp-Notebook .jp-Cell").count
    before, bottom = cells(), film.footage.bottoms[0]
    player(page).focus()
    moves = [("ArrowRight", 1), ("ArrowRight", 2), ("ArrowLeft", 1), ("l", bottom), ("Home", 0)]
    for key, expected in moves:
        page.keyboard.press(key)
        assert frame(page) == expected, key
    for key in ("v", "m", "-", "-"):
        page.keyboard.press(key)
    assert pressed(page, "side") and pressed(page, "Measured lines") and pressed(page, "1/4")
    # In a notebook "b" inserts a cell, "d d" deletes one, "m" makes it text.
    for place in (
        player(page),
        player(page).get_by_role("slider", name="Frame"),
        player(page).get_by_role("button", name="Play", exact=True),
    ):
        place.focus()
        for key in "badd":
            page.keyboard.press(key)
    assert cells() == before
    assert page.locator(".jp-MarkdownCell").count() == 0
    # A click on the picture plays and takes the keys as well.
    player(page).locator("canvas").click()
    until_frame(page, "> 5")
    page.keyboard.press(" ")
    page.keyboard.press("Home")
    assert frame(page) == 0
    assert page.complaints == []


def test_a_step_changes_the_time_by_one_frame(page, film):
    player(page).get_by_role("button", name="One frame forward").click()
    words = f"{film.footage.time[1]:.2f} s, frame 2 of {film.footage.time.size}, standing"
    assert player(page).get_by_role("status").inner_text() == words
    slider = player(page).get_by_role("slider", name="Frame")
    assert slider.get_attribute("aria-valuetext") == words
    player(page).get_by_role("button", name="One frame back").click()
    assert frame(page) == 0
    player(page).get_by_role("button", name="1 hips move, 1.50 s").click()
    assert frame(page) == 90


def test_it_jumps_to_the_lowest_point(page, film):
    player(page).get_by_role("button", name="Lowest point").click()
    assert frame(page) == film.footage.bottoms[0]
    assert "lowest point" in player(page).get_by_role("status").inner_text()
    player(page).get_by_role("button", name="Start").click()
    assert frame(page) == 0


def test_views_and_measured_lines_change_the_picture(page):
    canvas = player(page).locator("canvas")
    both, width = pixels(page), canvas.bounding_box()["width"]
    player(page).get_by_role("button", name="Measured lines").click()
    lined = pixels(page)
    assert not same(lined, both)
    player(page).get_by_role("button", name="front", exact=True).click()
    assert pressed(page, "front") and not pressed(page, "both")
    assert canvas.bounding_box()["width"] < 0.7 * width
    front = pixels(page)
    player(page).get_by_role("button", name="side", exact=True).click()
    assert not same(pixels(page), front)
    words = page.locator(f"#{canvas.get_attribute('aria-labelledby')}")
    assert words.inner_text().startswith("Side view, ")
    player(page).get_by_role("button", name="both", exact=True).click()
    assert same(pixels(page), lined)
    player(page).get_by_role("button", name="Measured lines").click()
    assert same(pixels(page), both)


def test_everything_has_a_name_and_fits(page, film):
    canvas = player(page).locator("canvas")
    words = page.locator(f"#{canvas.get_attribute('aria-labelledby')}")
    assert words.inner_text() == film.sentence
    assert (
        player(page).evaluate(
            "root => [...root.querySelectorAll('button, p, span, canvas')].filter(e =>"
            " e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline'"
            " || e.getBoundingClientRect().right > root.getBoundingClientRect().right + 1)"
            ".map(e => e.outerHTML)"
        )
        == []
    )
    assert player(page).evaluate("e => getComputedStyle(e).backgroundColor") == "rgb(255, 255, 255)"
    corner = canvas.evaluate("c => [...c.getContext('2d').getImageData(2, 2, 1, 1).data]")
    assert corner == [255, 255, 255, 255]
    page.set_viewport_size({"width": 1024, "height": 768})
    page.wait_for_function(
        "c => c.getBoundingClientRect().right <= c.parentElement.getBoundingClientRect().right",
        arg=canvas.element_handle(),
    )
    player(page).focus()
    page.keyboard.press("Tab")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"
