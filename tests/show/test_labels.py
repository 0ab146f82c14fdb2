"""Labels stay apart and can be read; colour never speaks alone."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, balance, pose
from squatlab.show import palette
from squatlab.show.primitives import Line, Text
from squatlab.show.scene import front_view, lifter_picture, notice, side_view
from squatlab.show.views import SHOWABLE
from tests.show.layout import words_stand_apart

LIFTER, BAR = Lifter.from_stature(1.75, 80), Bar.high(100)
BEFORE = balance(LIFTER, BAR, Stance(), thigh_deg=35, shank_deg=20)
NOW = pose(LIFTER, BAR, Stance(), trunk_deg=34, thigh_deg=0, shank_deg=28)


def postures(count: int):
    """Draw lifters, bars, stances and depths of every kind."""
    rng = np.random.default_rng(20)
    for index in range(count):
        lifter = Lifter.from_stature(rng.uniform(1.5, 2.05), rng.uniform(45, 130)).scaled(
            *rng.uniform((0.85, 0.88, 0.88), (1.18, 1.12, 1.12))
        )
        bar = (Bar.high, Bar.low)[index % 2](rng.uniform(0, 300))
        stance = Stance(
            rng.uniform(0.1, 0.7), rng.uniform(0, 45), rng.uniform(-5, 20), 15.0 * (index % 5 == 0)
        )
        thigh, shank, lumbar = rng.uniform(-35, 80), rng.uniform(0, 42), 25.0 * (index % 4 == 0)
        if index % 3:
            yield balance(lifter, bar, stance, thigh, shank, lumbar_deg=lumbar)
        else:
            yield pose(lifter, bar, stance, rng.uniform(0, 75), thigh, shank, lumbar)


def test_labels_never_meet_and_never_leave_the_picture():
    drawn = held = 0
    for posture in postures(300):
        for scene in (
            lifter_picture(posture, show=SHOWABLE),
            side_view(posture),
            front_view(posture),
        ):
            words_stand_apart(scene, scene.alt)
        drawn += not scene.alt.startswith("No posture")
        held += bool(posture.feasible)
    assert drawn > 150 and held > 100


def test_colour_is_never_the_only_sign_and_is_strong_enough():
    scene = lifter_picture(NOW, BEFORE, show=SHOWABLE)
    lines = [p for p in scene.primitives if isinstance(p, Line)]
    long_lines = [
        line
        for line in lines
        if line.dash and len(line.points) == 2 and line.points[0].real == line.points[1].real
    ]
    dashes = {}
    for line in long_lines:
        dashes.setdefault(line.stroke, set()).add(line.dash)
    assert len({d for kinds in dashes.values() for d in kinds}) == len(dashes) >= 4
    for text in scene.texts():
        assert text.size >= 13
        assert palette.contrast(text.fill) >= 4.5
        for tone in (palette.SKIN, palette.SHIRT):
            assert palette.contrast(text.fill, tone) >= 3
    for text in (part for part in notice("why", 400) if isinstance(part, Text)):
        assert palette.contrast(text.fill, palette.NOTICE) >= 4.5
    for colour in (
        palette.HIP,
        palette.KNEE,
        palette.ANKLE,
        palette.SYSTEM,
        palette.INK,
        palette.GHOST,
    ):
        assert palette.contrast(colour) >= 3


def test_contrast_agrees_with_its_definition():
    # Outside source: WCAG 2.2, relative luminance; black on white is 21:1.
    assert palette.contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert palette.contrast("#777777") == pytest.approx(4.48, abs=0.005)
