"""One road from positions to numbers: what two places show of a quantity is the same."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from types import SimpleNamespace

import numpy as np
import pytest

from squatlab import Bar, Stance, faults
from squatlab.exam.account import MOMENTS, account, bands, in_words
from squatlab.motion import Camera, Injection, Tempo, film, synthesise
from squatlab.population import Population
from squatlab.review import ErrorModel, measure, prioritise
from squatlab.show.clips import clip
from squatlab.show.review_sheet import ReviewSheet

SEEDS = range(4)
CAMERAS = ((2.6, 0.5), (4.0, 1.0), (5.5, 1.5), (9.0, 0.3))
"""Distance and height, m."""

AT_THE_BOTTOM = {"short_depth": "thigh", "lumbar_rounding": "low back", "lateral_shift": "hips"}
AT_MOST = {"knees_far_forward": "knee to toes", "uneven_bar": "bar", "head_up": "head"}
"""Faults read at one moment, or at most, and the name of the line that shows them."""

NEGATIVE = ("below", "behind", "back", "more arched", "left", "down", " in")
"""Words after a number that turn its sign."""

ACCOUNTED = {
    "trunk_lean": ("trunk", 0.5),
    "low_back": ("low back", 0.5),
    "thigh_level": ("thigh", 0.5),
    "knee_ahead": ("knee to toes", 0.05),
    "heel_height": ("heel", 0.05),
    "head_back": ("head", 0.5),
    "hip_shift": ("hips", 0.05),
    "bar_tilt": ("bar", 0.5),
}
"""Quantities of an account with the line of a clip that shows the same, and how
far its last digit may be rounded."""


def lift(seed):
    """Return a random lifter's squat with two faults put in, where it can be done."""
    rng = np.random.default_rng(seed)
    while True:
        drawn = Population.ansur2(str(rng.choice(["women", "men"]))).draw(1, rng)
        numbers = {field.name: getattr(drawn, field.name) for field in fields(drawn)}
        lifter = replace(drawn, **{n: float(v[0]) for n, v in numbers.items() if np.ndim(v)})
        names = rng.choice(["short_depth", "lateral_shift", "uneven_bar", "head_up"], 2, False)
        sizes = {"short_depth": 14.0, "lateral_shift": 5.0, "uneven_bar": 5.0, "head_up": 30.0}
        bar = Bar.high(round(float(lifter.mass_kg) * rng.uniform(0.4, 0.9)))
        stance = Stance(rng.uniform(0.28, 0.42), rng.uniform(9, 16))
        injections = [Injection(str(name), sizes[str(name)]) for name in names]
        rep = synthesise(lifter, bar, stance, Tempo(), injections, rng)
        if rep.feasible:
            return rep


def number(words):
    """Return the number that the words of a line tell, with its sign."""
    if words.startswith("level"):
        return 0.0
    value = float(re.match(r"\d+(\.\d+)?", words)[0])
    return -value if any(word in words for word in NEGATIVE) else value


def lines_of(shown):
    """Return the words of every line of a clip, name: (time,)."""
    return {line.name: line.words for panel in shown.film.panels for line in panel.lines}


def all_lines(view):
    """Return findings of every fault, which make a clip show every line there is."""
    nowhere = {"first": None, "worst": None, "last": None}
    return [
        SimpleNamespace(fault=name, present="yes", view=view, **nowhere)
        for name in faults.catalogue()
    ]


def agrees(found, line, bottom, frames):
    """Assert that the words of a line are what a finding was read as, to their last digit."""
    # "level" has no digits: how fine a line is printed shows where it is not level.
    decimals = 1 if any("." in words for words in line[frames]) else 0
    if found.fault in AT_THE_BOTTOM:
        told = abs(number(line[bottom])) if found.fault == "lateral_shift" else number(line[bottom])
    else:
        numbers = [number(words) for words in line[frames]]
        told = max(np.abs(numbers)) if found.fault == "uneven_bar" else max(numbers)
    read = found.value + found.excess
    assert told == pytest.approx(round(read, decimals), abs=1e-9), (found.fault, told)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("distance_m", "height_m"), CAMERAS)
def test_clip_sheet_and_review_of_films_agree(seed, distance_m, height_m):
    """Noise and perspective included: the same numbers to the printed digit."""
    rep, rng = lift(seed), np.random.default_rng([seed, 1])
    where = {"distance_m": distance_m, "height_m": height_m, "focal_px": 1000}
    cameras = Camera.side(**where), Camera.front(**where)
    films = [film(rep.points, rep.time, camera, rng) for camera in cameras]
    declared = {"lifter": rep.lifter, "bar_kg": float(rep.bar.mass_kg), "camera": cameras[0]}
    findings = measure(*films, **declared)
    lines = lines_of(clip(*films, findings=all_lines("side"), **declared))
    seen = {one.view: one for one in findings.repetitions}
    for name, line in (AT_THE_BOTTOM | AT_MOST).items():
        if np.isnan(findings[name].value):
            continue  # too unsure to be told
        one = seen[findings[name].view]
        agrees(findings[name], lines[line], one.bottom, slice(one.start, one.end + 1))
    sheet = ReviewSheet(films, findings, prioritise(findings))
    printed = [text.get_text() for axes in sheet.figure.axes for text in axes.texts]
    for finding in findings:
        assert not finding.amount or any(finding.amount in words for words in printed)
    sentence = clip(*films, **declared).film.sentence
    assert f"thigh {lines['thigh'][seen['side'].bottom]}" in sentence
    assert f"numbers corrected for a camera {distance_m:g} m away" in sentence


@pytest.mark.parametrize("seed", SEEDS)
def test_clip_account_and_review_of_exact_points_agree(seed):
    """What an exam tells somebody who cannot watch is what the clip and the review read."""
    rep = lift(seed)
    declared = {"lifter": rep.lifter, "bar_kg": float(rep.bar.mass_kg)}
    findings = measure(rep.tracks(), errors=ErrorModel.exact(), **declared)
    case = SimpleNamespace(rep=rep, findings=findings, lifter="", cell=SimpleNamespace(view="both"))
    told, seen = account(case), findings.repetitions[0]
    rows, lowest = dict(told.rows), list(MOMENTS).index("lowest")
    lines = lines_of(clip(rep, findings=all_lines("3d")))
    for quantity, (name, rounding) in ACCOUNTED.items():
        shown = number(lines[name][seen.bottom])
        words = rows[bands(quantity)[0].part][lowest]
        assert words in {in_words(quantity, shown + by) for by in (-rounding, 0, rounding)}, name
    for name, quantity in (("short_depth", "thigh_level"), ("lumbar_rounding", "low_back")):
        words = rows[bands(quantity)[0].part][lowest]
        assert words == in_words(quantity, findings[name].value)
    for name, quantity in (("knees_first", "knee_lead_ms"), ("fast_descent", "descent_s")):
        assert in_words(quantity, findings[name].value) in told.heading
