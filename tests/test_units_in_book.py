"""The book in US units: what moves, what is asked, and its text."""

from __future__ import annotations

import re

import nbformat
import pytest

from squatlab import units
from squatlab.commands import book_command
from squatlab.commands.in_us_units import run_again
from squatlab.lessons.us_prose import METRIC, SIZES, with_us, with_us_in_html
from squatlab.offline import asked
from squatlab.units import US

METRIC_WORD = re.compile(r"(?<![\w/.])(cm|mm|kg|N·m|m)(?![\w/])")
"""A metric unit as a word; px/m, m/s and ms are no choice of a system."""


@pytest.fixture(autouse=True)
def us():
    with units.written_in(US):
        yield


@pytest.mark.parametrize(
    ("text", "both"),
    [
        (
            "from 30.8 to 35.4 cm; −8.4 cm",
            "from 30.8 to 35.4 cm (12.1 to 13.9 in); −8.4 cm (−3.3 in)",
        ),
        ("with 20 kg", "with 20 kg (44 lb)"),
        ("4 m or more, at 0.32 m/s", "4 m (13.1 ft) or more, at 0.32 m/s"),
        ("0.69 m nearer", "0.69 m (27.2 in) nearer"),
        ("8 % longer (3.4 cm)", "8 % longer (3.4 cm, 1.3 in)"),
        ("149 N·m", "149 N·m (110 lbf·ft)"),
        ("met to 0.01 N·m", "met to 0.01 N·m (0.01 lbf·ft)"),
        ("**3–6 in (8–15 cm) ahead**", "**3–6 in (8–15 cm) ahead**"),
        ('`Rack.of("50 mm")` and $5 kg$', '`Rack.of("50 mm")` and $5 kg$'),
    ],
)
def test_prose_has_us_units_behind_metric_ones(text, both):
    assert with_us(text) == both
    assert with_us_in_html(f"<p title='5 kg'>{text}</p>") == f"<p title='5 kg'>{both}</p>"


@pytest.mark.parametrize("unit", SIZES)
def test_every_unit_of_the_prose_is_found(unit):
    assert METRIC.fullmatch(f"5 {unit}")["unit"] == unit


def test_a_notebook_runs_again_in_us_units_in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / units.KEPT).write_text("metric\n")  # of no concern to the book's kernels
    cells = [
        nbformat.v4.new_markdown_cell("A bar of 60 kg."),
        nbformat.v4.new_code_cell(
            "from squatlab import units\nprint(units.MASS.words(60), 'is 60 kg')\nunits.chosen()"
        ),
    ]
    seen = []
    (made,) = run_again([nbformat.v4.new_notebook(cells=cells)], lambda *done: seen.append(done))
    assert made.cells[0].source == "A bar of 60 kg (132 lb)."
    printed, value = made.cells[1].outputs
    assert printed.text == "132 lb is 60 kg (132 lb)\n"
    assert value.data["text/plain"] == "'us'"
    assert seen == [(1, 1)] and not cells[1].outputs, "the stored notebook stays"


def test_what_moves_and_what_is_asked_has_no_metric_word():
    card = book_command.card()
    cases = asked.practice_case(1)
    sent = [repr(card.head), repr(cases.head)]
    sent += [repr(asked.asked_in_turn("hip_arm", 1)), repr(asked.asked_in_turn("bar_place", 1))]
    # What may be typed, in whatever unit, is for the reader of answers.
    words = re.sub(r"'units': \{[^}]*\}", "", " ".join(sent))
    assert "in below C7" in words
    assert not (found := METRIC_WORD.search(words)), words[found.start() - 60 : found.end() + 20]


def test_every_process_of_the_book_is_told_the_system(monkeypatch):
    given = {}

    class Pool:
        def __init__(self, count, context, initializer, arguments):
            given["system"] = arguments
            initializer(*arguments)

        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

    monkeypatch.setattr(book_command, "Workers", Pool)
    assert list(book_command._scripts([])) == []
    assert given["system"] == (US,)
