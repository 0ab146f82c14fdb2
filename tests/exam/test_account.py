"""A lift in words: each moment where the hips are that far up, each word by its band."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab.exam.account import (
    CANNOT_TELL,
    FROM_THE_FRONT,
    FROM_THE_SIDE,
    MOMENTS,
    _frames,
    account,
    bands,
    in_words,
)
from squatlab.questions.items import item
from squatlab.review.quantities import Quantities
from squatlab.review.view import view_of


def read(case):
    lift = case.rep
    return Quantities(view_of(lift.tracks(), lift.lifter, float(lift.bar.mass_kg)))


@pytest.fixture(scope="module", params=["spot_both", "spot_side", "spot_front"])
def case(request):
    return item(request.param, 5).case


def test_moments_are_where_the_hips_are_so_far_up(case):
    quantities = read(case)
    frames, height = _frames(quantities), quantities.hip_height.series
    start, bottom, end = quantities.repetition
    top = height[quantities.view.stand_before(quantities.repetition)].mean()
    assert frames == sorted(frames) and len(frames) == len(MOMENTS)
    for (name, share), frame in zip(MOMENTS.items(), frames, strict=True):
        up = np.interp(frame, np.arange(height.size), height)
        assert up == pytest.approx(height[bottom] + share * (top - height[bottom]), abs=0.005), name
        if name.endswith("down"):
            assert start <= frame < bottom, name
        elif "up" in name and name != "up":
            assert bottom < frame <= end, name
    assert frames[4] == bottom and frames[0] < start and frames[-1] == height.size - 1


def test_each_row_says_the_band_of_its_value_at_each_moment(case):
    told, quantities = account(case), read(case)
    view = case.cell.view
    names = (() if view == "front" else FROM_THE_SIDE) + (() if view == "side" else FROM_THE_FRONT)
    assert told.moments == tuple(MOMENTS) and len(told.rows) == len(names)
    frames = _frames(quantities)
    for name, (part, words) in zip(names, told.rows, strict=True):
        series = getattr(quantities, name).series
        values = np.interp(frames, np.arange(series.size), series)
        assert part == bands(name)[0].part and len(words) == len(MOMENTS)
        for value, word in zip(values, words, strict=True):
            assert word in (CANNOT_TELL, in_words(name, float(value))), name
            # Only a knee over an upright shin is not told, and so are few moments.
            assert word != CANNOT_TELL or name.startswith("knee_in")
        assert CANNOT_TELL not in words[2:7]


def test_words_change_at_the_edges_of_their_bands():
    for name in (*FROM_THE_SIDE, *FROM_THE_FRONT, "descent_s", "knee_lead_ms", "lean_up_deg"):
        found = bands(name)
        edges = [band.below for band in found]
        assert edges == sorted(edges) and edges[-1] == np.inf and len(found) > 1, name
        for lower, upper in zip(found, found[1:], strict=False):
            assert in_words(name, lower.below - 1e-9) == lower.words
            assert in_words(name, lower.below) == upper.words
        assert in_words(name, np.nan) == CANNOT_TELL
