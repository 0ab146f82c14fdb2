"""Norms: what the table holds, what it refuses, and that it is read as it stands."""

from __future__ import annotations

import math

import pytest

from squatlab import faults, norms, tables
from squatlab.norms import NO_NORM, norm_in_words, norms_of


def test_published_values_stand_as_published():
    """From the abstracts of the papers named in each row's source."""
    (men,) = (n for n in norms_of("lumbar_rounding") if n.group == "men")
    assert (men.middle, men.people, men.source) == (25.85, 18, "mckean2010a")
    best = norms_of("ascent_speed_at_best")[0]
    assert (best.people, best.source) == (80, "sanchezmedina2017")
    # 0.32 ± 0.03 m/s: half of a normal distribution lies within 0.674 SD.
    assert best.lower == pytest.approx(0.32 - 0.674 * 0.03, abs=0.005)
    assert best.upper == pytest.approx(0.32 + 0.674 * 0.03, abs=0.005)


def test_the_norm_of_most_people_comes_first():
    for quantity in {norm.quantity for norm in norms.norms()}:
        counts = [norm.people for norm in norms_of(quantity)]
        assert counts == sorted(counts, reverse=True) and min(counts) > 0


def test_a_norm_of_a_fault_is_in_the_faults_unit():
    for norm in norms.norms():
        if norm.quantity in faults.catalogue():
            assert norm.unit == faults.fault(norm.quantity).unit, norm.quantity


def test_what_nobody_measured_openly_has_no_norm():
    assert norms_of("uneven_bar") == ()
    assert norm_in_words("uneven_bar") == NO_NORM


def test_a_norm_reads_as_a_sentence_with_its_figures():
    norm = norms_of("knees_first")[0]
    words = norm_in_words("knees_first")
    assert words == str(norm)
    for figure in (norm.people, norm.upper):
        assert f"{figure:g}" in words
    assert "−25" in words and words.endswith(" ms")


def test_a_norm_is_written_no_finer_than_a_reading():
    (men,) = (n for n in norms_of("lumbar_rounding") if n.group == "men")
    assert "25.9°" in str(men) and "25.85" not in str(men)


def test_the_middle_half_holds_the_middle():
    for norm in norms.norms():
        if norm.has_spread:
            assert norm.holds(norm.middle) and not norm.holds(norm.upper + 1)
        else:
            assert math.isnan(norm.upper) and not norm.holds(norm.middle)


HEADING = "quantity,group,lower,middle,upper,unit,people,repetitions,statistic,source,note"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("q,g,3,2,4,°,5,5,quartiles,s,", "lower 3, middle 2, upper 4; give the middle, and both"),
        ("q,g,1,2,,°,5,5,quartiles,s,", "both quartiles around it or neither"),
        ("q,g,1,2,3,°,5,5,range,s,", "the statistic is 'range'; it must be one of quartiles"),
    ],
)
def test_a_row_that_cannot_be_is_refused_in_words(tmp_path, monkeypatch, row, words):
    (tmp_path / "norms.csv").write_text(f"{HEADING}\n{row}\n", encoding="utf-8")
    (tmp_path / "sources.csv").write_text(
        "key,citation,kind,note\ns,A Book (2001),publication,\n", encoding="utf-8"
    )
    monkeypatch.setattr(tables, "folder", lambda name: tmp_path)
    cached = (tables.read, tables.sources, norms.norms)
    for function in cached:
        function.cache_clear()
    try:
        with pytest.raises(ValueError, match=words):
            norms.norms()
    finally:
        for function in cached:
            function.cache_clear()
