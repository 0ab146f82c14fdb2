"""A reader opens the course and everything on every page works."""

from __future__ import annotations

import re
import shutil
from collections import Counter
from dataclasses import replace
from typing import Any, NamedTuple

import nbformat
import pytest

from squatlab import Bar, Lifter, Stance, balance, tables
from squatlab.lessons.standing import FOLDER
from tests.browser import everybody, keyboard, lab, stored

NOTEBOOKS = sorted(
    path.relative_to(tables.folder("notebooks")).as_posix()
    for path in tables.folder("notebooks").rglob("*.ipynb")
    if ".ipynb_checkpoints" not in path.parts
)


class RunNotebook(NamedTuple):
    """A notebook that was run, its page, and what each cell with code showed then."""

    name: str
    page: Any
    shown: list


@pytest.fixture(scope="module", params=NOTEBOOKS)
def notebook(showing, folder, request):
    """A notebook of the course, run by somebody who has answered nothing yet."""
    shutil.rmtree(folder / FOLDER, ignore_errors=True)
    page = showing(request.param)
    lab.press_run(page)
    return RunNotebook(request.param, page, page.evaluate(stored.SHOWN))


@pytest.fixture(scope="module")
def page(notebook):
    """A notebook of the course, run."""
    return notebook.page


def test_every_cell_runs_and_nothing_complains(page):
    assert lab.errors(page) == []
    assert lab.pop_ups(page) == []
    assert page.complaints == []


def test_every_cell_shows_what_is_kept(notebook, request):
    """So nbval need not run it once more: tests/conftest.py leaves it out."""
    path = tables.folder("notebooks") / notebook.name
    assert stored.differences(request.session, path, notebook.shown) == ""


def test_an_output_that_is_another_would_be_seen(request):
    path = tables.folder("notebooks") / NOTEBOOKS[0]
    kept = nbformat.read(path, as_version=4).cells
    shown = [[*cell.outputs] for cell in kept if cell.cell_type == "code"]
    assert stored.differences(request.session, path, shown) == ""
    number = next(n for n, outputs in enumerate(shown) if outputs)
    shown[number] = shown[number][1:]
    assert f"cell {number}:" in stored.differences(request.session, path, shown)


@pytest.fixture(scope="module")
def driven():
    """How often what has the same controls was driven, in whatever notebook."""
    return {what: Counter() for what in ("tabbed", "explored", "watched")}


def test_everything_shown_is_whole_and_works_by_keyboard(page, driven):
    shown = keyboard.widgets(page)
    for kind, boxes in shown.items():
        for box in boxes:
            assert box.evaluate(keyboard.CUT) == [], f"cut off in {kind}"
            keyboard.named(page, box)
        for box in keyboard.two_of_a_make(boxes, driven["tabbed"]):
            keyboard.tab_through(page, box)
    for explorer in shown["explorers"][:1]:  # a second one is of the same make
        controls = ", ".join(explorer.evaluate(keyboard.NAMES))
        driven["explored"][controls] += 1
        if driven["explored"][controls] == 1:  # lever arms are in two notebooks
            keyboard.explore(page, explorer)
    for clip in shown["clips"]:
        keyboard.glance(clip)
    for clip in keyboard.two_of_a_make(shown["clips"], driven["watched"]):
        keyboard.watch(page, clip)
    assert page.complaints == []
    assert lab.pop_ups(page) == []


def test_everything_shown_is_for_everybody(page):
    page.evaluate(lab.WHOLE_WINDOW)
    page.wait_for_function(lab.DRAWN)
    everybody.serves(page)
    for exam in keyboard.widgets(page)["exams"]:
        everybody.may_sit(page, exam)


def test_an_error_in_a_cell_would_be_seen(opened, folder):
    """The first test can fail."""
    source = (folder / "00_start_here.ipynb").read_text(encoding="utf-8")
    broken = source.replace("Lifter.from_stature(1.75", "Lifter.from_stature(17.5", 1)
    assert broken != source
    (folder / "broken.ipynb").write_text(broken, encoding="utf-8")
    assert re.search("RangeError.*stature", "".join(lab.errors(opened("broken.ipynb"))))


def test_a_control_that_moves_nothing_would_be_seen(opened, folder, monkeypatch):
    """So can the second."""
    monkeypatch.setattr(keyboard, "PATIENCE_MS", 1000)
    still = (
        "import numpy as np\nbuild = shown.subject.build\n"
        "shown.subject.build = lambda v: build(v | {'load': 100 + 0 * np.asarray(v['load'])})"
    )
    cells = "from squatlab.show.explorers import lever_arms", "shown = lever_arms()", still, "shown"
    lab.write_notebook(folder / "still.ipynb", cells)
    page = opened("still.ipynb")
    (explorer,) = keyboard.widgets(page)["explorers"]
    with pytest.raises(AssertionError, match="Load, (End|Home): the sentence is as before: Lean"):
        keyboard.explore(page, explorer)


def test_lever_arms_follow_the_keyboard(opened, folder):
    """The sentence says what the package computes for where the sliders are."""
    cells = (
        "from squatlab import Lifter\nfrom squatlab.show.explorers import lever_arms",
        "lever_arms(Lifter.from_stature(1.75, 75))",
    )
    lab.write_notebook(folder / "levers.ipynb", cells)
    page = opened("levers.ipynb")
    explorer = lab.explorer_with(page, "Bar position")
    for name, key, times in (("Bar position", "ArrowRight", 6), ("Load", "ArrowLeft", 4)):
        explorer.get_by_role("slider", name=name, exact=True).focus()
        for _ in range(times):
            page.keyboard.press(key)
    drop_cm, load_kg = (spoken_value(explorer, name) for name in ("Bar position", "Load"))
    assert (drop_cm, load_kg) == (6.0, 80.0)  # six steps of 0.5 cm down, four of 5 kg less

    lifter = Lifter.from_stature(1.75, 75)  # the notebook's
    bar = replace(Bar.high(load_kg), drop_m=drop_cm / 100)
    computed = balance(lifter, bar, Stance(), thigh_deg=0, shank_deg=30).trunk_deg
    before = balance(lifter, Bar.high(100), Stance(), thigh_deg=0, shank_deg=30).trunk_deg
    assert f"{computed:.1f}" != f"{before:.1f}"
    words = f"Lean {computed:.1f}°"
    explorer.get_by_role("status").filter(has_text=words).wait_for(timeout=20_000)
    assert page.complaints == []


def spoken_value(explorer, slider: str) -> float:
    """Return the number that a screen reader says for a slider."""
    handle = explorer.get_by_role("slider", name=slider, exact=True)
    words = handle.get_attribute("aria-valuetext") or ""
    number = re.search(r"\d+(\.\d+)?", words)
    assert number, f'the slider "{slider}" says "{words}"'
    return float(number[0])
