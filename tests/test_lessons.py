"""The notebooks' checks: keys are computed, words teach, seeds repeat."""

from __future__ import annotations

import re

import numpy as np
import pytest

from squatlab import lessons
from squatlab.lessons.question import Question

SEEDS = range(1, 41)


@pytest.mark.parametrize("name", lessons.names())
def test_a_seed_makes_the_same_question_and_its_key_is_right(name):
    for seed in SEEDS:
        asked = lessons.question(name, seed)
        assert asked == lessons.question(name, seed)
        feedback = lessons.check(name, seed, asked.key)
        assert feedback.right is True
        assert asked.why in repr(feedback).replace("\n", " ")


@pytest.mark.parametrize("name", lessons.names())
def test_other_answers_are_wrong_and_told_the_key(name):
    for seed in SEEDS:
        asked = lessons.question(name, seed)
        others = [x for x in asked.letters if x != asked.key] if asked.options else [
            asked.key + 1.5 * asked.tolerance, asked.key - 1.5 * asked.tolerance,
        ]  # fmt: skip
        for other in others:
            feedback = lessons.check(name, seed, other)
            assert feedback.right is False and asked.why in feedback.text


@pytest.mark.parametrize("name", lessons.names())
def test_seeds_make_different_questions(name):
    assert len({lessons.question(name, seed).text for seed in SEEDS}) >= 4


@pytest.mark.parametrize("name", ["notation", "bar_place", "who_leans_more", "ankle_needed"])
def test_no_letter_is_always_right(name):
    assert len({lessons.question(name, seed).key for seed in SEEDS}) > 1


def test_printing_a_question_shows_no_key():
    for name in lessons.names():
        asked = lessons.question(name, 2)
        assert asked.why not in repr(asked)
        if not asked.options:
            assert f"{asked.key:.4g}" not in repr(asked).split("Answer")[0].split()


def test_no_answer_and_no_sense_are_explained_and_not_marked():
    assert "in place of None" in repr(lessons.check("hip_arm", 1))
    assert lessons.check("hip_arm", 1, "far").text == (
        "'far' is not a number; answer in cm, as in 12.5."
    )
    for none in ("nan", float("nan"), "inf"):
        assert lessons.check("hip_arm", 1, none).text.startswith(f"{none!r} is not a number;")
    assert 'answer with "a", "b", "c", "d"' in lessons.check("bar_place", 1, "z").text
    with pytest.raises(ValueError, match='did you mean "hip_arm"'):
        lessons.question("hip_arms")


def test_a_comma_and_a_unit_are_read():
    key = lessons.question("com_shift", 4).key
    assert lessons.check("com_shift", 4, f"{key:.2f} cm".replace(".", ",")).right


def test_the_hip_arm_is_plain_trigonometry():
    """Second route: from the rounded numbers the question prints."""
    for seed in SEEDS:
        asked = lessons.question("hip_arm", seed)
        along, behind, lean = (float(n) for n in re.findall(r"(\d+)(?: cm|°)", asked.text))
        arm = along * np.sin(np.radians(lean)) - behind * np.cos(np.radians(lean))
        assert lessons.check("hip_arm", seed, arm).right


def test_the_widest_stance_follows_from_the_lengths_in_the_question():
    """Second route: how far aside the knee is, from the printed lengths."""
    for seed in SEEDS:
        asked = lessons.question("stance_reach", seed)
        told = re.findall(r"(\d+(?:\.\d)?)(?: cm|°)", asked.text)
        toes, lean, thigh, shank, hips, ankle = map(float, told)
        foot = (ankle + shank * np.sin(np.radians(lean))) * np.sin(np.radians(toes))
        aside = {width: width / 2 + foot - hips / 2 for width in (50, 65, 80, 95)}
        widest = max(width for width, knee in aside.items() if knee <= thigh)
        assert lessons.check("stance_reach", seed, asked.key).right
        assert asked.options[asked.letters.index(asked.key)] == f"{widest} cm"
        for width, knee in aside.items():
            said = float(re.search(rf"([\d.]+) at {width}\b", asked.why)[1])
            assert said == pytest.approx(knee, abs=0.11)


@pytest.mark.parametrize(
    ("key", "tolerance", "unit", "words"),
    [
        (3.037, 0.6, "°", "3.0° (± 0.6)"),
        (2.398, 0.2, "cm", "2.4 cm (± 0.2)"),
        (36.94, 1.0, "cm", "37 cm (± 1)"),
        (0.2, 0.02, "s", "0.20 s (± 0.02)"),
        (1234.5, 10.0, "N", "1234 N (± 10)"),
        (20.0, 0.25, "holes", "hole 20"),
    ],
)
def test_the_key_has_the_digits_that_its_tolerance_makes_sense_of(key, tolerance, unit, words):
    asked = Question("How much?", key, "", unit=unit, tolerance=tolerance)
    assert asked.answer == words
    assert "hole" in unit or repr(asked).endswith(f"a number in {unit} (± {tolerance:g}).")


def test_a_hole_is_asked_for_by_its_number():
    said = repr(lessons.question("rack_hole"))
    assert said.endswith("Answer with the number of the hole.") and "±" not in said


@pytest.mark.parametrize(
    ("name", "seed", "right", "wrong"),
    [
        ("lean_explained", 2, "Right: 3°. ", "0 is 3° less than it should be: 3°. "),
        ("hip_arm", 1, "Right: 36.9 cm. ", "0 is 36.9 cm less than it should be: 36.9 cm. "),
        ("rack_hole", 1, "Right: hole 20. ", "0 is 20 holes less than it should be: hole 20. "),
        ("frames_needed", 1, "Right: 188 frames per second. ", "0 is 188 frames per second less"),
    ],
)
def test_a_number_is_told_as_finely_as_it_is_marked(name, seed, right, wrong):
    key = lessons.question(name, seed).key
    assert lessons.check(name, seed, key).text.startswith(right)
    assert lessons.check(name, seed, 0).text.startswith(wrong)
