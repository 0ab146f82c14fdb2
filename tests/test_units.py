"""Metric and US: conversions against published values, and that metric words stay."""

import math
import re
from pathlib import Path

import pytest

from squatlab import lessons, units
from squatlab.faults import catalogue
from squatlab.questions import items, typed_numbers
from squatlab.review.findings import Finding
from squatlab.units import METRIC, US

NIST = {
    # NIST Special Publication 811 (2008), appendix B.8: factors that are exact.
    "in": (typed_numbers.UNITS["in"].size, 0.0254),
    "ft": (typed_numbers.UNITS["ft"].size, 0.3048),
    "lb": (typed_numbers.UNITS["lb"].size, 0.45359237),
    # The same table to seven figures.
    "lbf": (typed_numbers.UNITS["lbf"].size, 4.448222),
    "lbf·ft": (typed_numbers.UNITS["lbf·ft"].size, 1.355818),
}


@pytest.mark.parametrize("unit", NIST)
def test_a_unit_has_its_published_size(unit):
    size, published = NIST[unit]
    assert size == pytest.approx(published, rel=1.2e-7)
    if unit in ("in", "ft", "lb"):
        assert size == published


@pytest.mark.parametrize("kind", [units.READING, units.STATURE, units.MASS, units.MOMENT])
def test_what_is_written_is_read_back_by_the_one_reader(kind):
    for system in units.SYSTEMS:
        with units.written_in(system):
            words = kind.words(1.7526)
            si = kind.metric.unit
            back = typed_numbers.in_unit(words, si) * kind.metric.size
            coarsest = (kind.written.nearest or 10.0**-kind.written.digits) * kind.written.size
            assert back == pytest.approx(1.7526, abs=coarsest / 2 + 1e-9)


@pytest.mark.parametrize(
    ("kind", "si", "metric", "us"),
    [
        (units.STATURE, 1.7526, "175 cm", "5 ft 9 in"),
        (units.STATURE, 1.8288 - 0.001, "183 cm", "6 ft 0 in"),
        (units.STATURE, 1.69, "169 cm", "5 ft 6.5 in"),
        (units.MASS, 100, "100 kg", "220 lb"),
        (units.MASS, 20.4, "20.4 kg", "45 lb"),
        (units.READING, -0.015, "−1.5 cm", "−0.6 in"),
        (units.READING, 0.0254, "2.5 cm", "1.0 in"),
        (units.BAR_PLACE, 0.095, "9.5 cm", "3.75 in"),
        (units.FLOOR_HEIGHT, 1.42, "1.42 m", "56 in"),
        (units.BODY_LENGTH, 0.30, "30 cm", "12 in"),
        (units.MOMENT, 135.5818, "136 N·m", "100 lbf·ft"),
        (units.DISTANCE, 4.0, "4 m", "13.1 ft"),
    ],
)
def test_each_kind_is_written_as_the_trade_does(kind, si, metric, us):
    with units.written_in(METRIC):
        assert kind.words(si) == metric
    with units.written_in(US):
        assert kind.words(si) == us


def test_not_known_is_a_dash():
    for kind in (units.STATURE, units.MASS):
        for system in units.SYSTEMS:
            with units.written_in(system):
                assert kind.words(math.nan).startswith("–")


def test_a_finding_follows_the_choice_and_its_value_does_not():
    finding = Finding("heel_lift", 2.54, "yes", "clear", plus_minus=0.6)
    assert (finding.amount, finding.interval) == ("2.5 cm", "± 0.6 cm")
    with units.written_in(US):
        assert (finding.amount, finding.interval) == ("1.0 in", "± 0.2 in")
        assert finding.value == 2.54
    angle = Finding("short_depth", 7.04, "yes", "slight")
    with units.written_in(US):
        assert angle.amount == "7.0°"


def test_limits_of_faults_are_those_of_the_table_or_converted():
    for fault in catalogue().values():
        for limit in fault.thresholds:
            assert float(units.limit_of_table(limit, fault.unit)) == limit
            with units.written_in(US):
                size = {"cm": 2.54}.get(fault.unit, 1)
                shown = float(units.limit_of_table(limit, fault.unit))
                assert shown == pytest.approx(limit / size, abs=0.05 if size != 1 else 0)


def test_the_choice_is_kept_with_the_work(tmp_path, monkeypatch):
    monkeypatch.setattr(units._Choice, "system", None)
    monkeypatch.chdir(tmp_path)
    assert units.chosen() == METRIC
    units.keep(US, tmp_path)
    inner = tmp_path / "instructor"
    inner.mkdir()
    for folder in (tmp_path, inner):
        monkeypatch.setattr(units._Choice, "system", None)
        monkeypatch.chdir(folder)
        assert units.chosen() == US


def test_the_work_s_choice_comes_before_the_environment_s(tmp_path, monkeypatch):
    monkeypatch.setenv(units.VARIABLE, "us")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(units._Choice, "system", None)
    assert units.chosen() == US
    (tmp_path / units.KEPT).write_text("metric\n")
    monkeypatch.setattr(units._Choice, "system", None)
    assert units.chosen() == METRIC


def test_an_unknown_system_is_refused():
    with pytest.raises(ValueError, match="imperial.*metric or us"):
        units.choose("imperial")


def test_an_exam_is_written_in_both_systems():
    with units.written_in(units.BOTH):
        assert units.MASS.words(100) == "100 kg (220 lb)"
        assert units.of_table(2.54, "cm") == "2.5 cm (1.0 in)"
        assert units.of_table(12.0, "°") == "12.0°"
    with pytest.raises(ValueError, match="metric or us"):
        units.keep(units.BOTH, Path())


@pytest.mark.parametrize("seed", range(4))
def test_an_exam_s_number_is_the_same_whoever_makes_the_form(seed):
    made = items.item("number", seed)
    assert " cm (" in made.prompt or " kg (" in made.prompt
    with units.written_in(US):
        assert items.item("number", seed).prompt == made.prompt


@pytest.mark.parametrize("name", lessons.names())
def test_a_check_in_us_units_has_no_metric_word_and_the_same_answer(name):
    metric = lessons.made(name, 3)
    with units.written_in(US):
        question, key = lessons.made(name, 3)
    texts = [
        question.text,
        *question.options,
        key.why,
        key.hint,
        *(one.words for one in key.replies),
    ]
    assert not re.search(r"(?<![\w/.(])(cm|mm|kg|N·m|kilograms|m)(?![\w/])", " ".join(texts))
    if question.unit in ("in", "lbf·ft"):
        back = typed_numbers.in_unit(f"{key.answer} {question.unit}", metric.question.unit)
        assert back == pytest.approx(metric.key.answer, rel=1e-9)
        assert question.tolerance < 0.5 * key.answer
