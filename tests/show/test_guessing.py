"""Guess before you see: nothing shows before the guess, everything is there without a kernel."""

from __future__ import annotations

import re

import pytest

from squatlab import Bar, Lifter, Stance, balance
from squatlab.show.charts import lean_by_stance
from squatlab.show.guessing import guess
from squatlab.show.scene import side_view

LIFTER = Lifter.from_stature(1.75, 80)


def test_picture_chart_and_lines_are_folded_and_complete():
    picture = side_view(balance(LIFTER, Bar.high(60), Stance()))
    chart = lean_by_stance(LIFTER, Bar.high(60))
    asked = guess("Which leans more?", ("high", "low"), "low", picture, chart, "low: 46° & more")
    shown = asked._repr_mimebundle_()[0]
    before, folded = shown["text/html"].split("<details>")
    assert "Which leans more?" in before and "<img" not in before and "46" not in before
    assert folded.count("<img") == 1 + chart.plots == 3 and "low: 46° &amp; more" in folded
    assert re.match("Guess: Which leans more", shown["text/plain"])
    assert asked.spec["right"] == 1 and asked.spec["html"] in shown["text/html"]


def test_a_right_answer_must_be_on_offer_and_what_is_shown_showable():
    with pytest.raises(ValueError, match="'none' is not among"):
        guess("?", ("high", "low"), "none", "words")
    with pytest.raises(TypeError, match="int is neither"):
        guess("?", ("high", "low"), "low", 3)
