"""The notebooks' checks: keys are computed, words teach, seeds repeat."""

from __future__ import annotations

import re

import numpy as np
import pytest

from squatlab import lessons
from squatlab.questions.question import Check, Key, Question

SEEDS = range(1, 41)


def answer(name, seed, given):
    """Return what is said to the first answer."""
    return lessons.asking(name, seed).answer(given)


@pytest.mark.parametrize("name", lessons.names())
def test_a_seed_makes_the_same_question_and_its_key_is_right(name):
    for seed in SEEDS:
        question, key = lessons.made(name, seed)
        assert (question, key) == lessons.made(name, seed)
        assert question.id == f"{name}-{seed}"
        feedback = answer(name, seed, key.answer)
        assert feedback.right is True
        assert key.why in repr(feedback).replace("\n", " ")


def others(question, key):
    """Return answers that are wrong: every other letter, or numbers just beside."""
    if question.options:
        return [
            letter
            for letter, option in zip(question.letters, question.options, strict=True)
            if option != key.answer
        ]
    return [key.answer + 1.5 * key.tolerance, key.answer - 1.5 * key.tolerance]


@pytest.mark.parametrize("name", lessons.names())
def test_other_answers_are_wrong_and_told_the_key(name):
    for seed in SEEDS:
        question, key = lessons.made(name, seed)
        for other in others(question, key):
            asked = lessons.asking(name, seed)
            asked.answer(other)
            feedback = asked.answer(other)
            assert feedback.right is False and key.why in feedback.text


@pytest.mark.parametrize("name", lessons.names())
def test_every_wrong_option_and_every_usual_slip_has_a_reply_and_every_check_a_hint(name):
    """Options: one reply each. Numbers: a slip for most seeds, and none that is right."""
    with_slips = 0
    for seed in SEEDS:
        question, key = lessons.made(name, seed)
        assert key.hint and question.asks_for
        replies = {reply.to: reply.words for reply in key.replies}
        if question.options:
            assert set(replies) == set(question.options) - {key.answer}
        else:
            assert all(abs(slip - key.answer) > 2 * key.tolerance for slip in replies)
            with_slips += bool(replies)
        for answer, words in replies.items():
            assert words and words.endswith((".", "?"))
            said = lessons.asking(name, seed).answer(answer)
            assert said.right is False and words in said.text and key.hint in said.text
            assert key.why not in said.text, "the key only after a second try"
    assert question.options or with_slips >= 0.9 * len(SEEDS)


def test_a_hint_first_then_the_key():
    for name in lessons.names():
        asked = lessons.asking(name, 3)
        question, key = asked.question, asked.key
        wrong = others(question, key)[0]
        assert asked.answer("no sense at all").right is None and not asked.given
        first = asked.answer(wrong)
        assert (first.right, asked.done) == (False, False) and key.hint in first.text
        again = asked.answer(wrong)
        assert (again.right, asked.done) == (False, True)
        assert key.why in again.text and key.how.stated(question, key) in again.text
        other = lessons.asking(name, 3)
        other.answer(wrong)
        assert other.answer(key.answer).right is True and other.done
        assert key.why in lessons.asking(name, 3).give_up().text


@pytest.mark.parametrize("name", lessons.names())
def test_seeds_make_different_questions(name):
    assert len({lessons.made(name, seed).question.text for seed in SEEDS}) >= 4


@pytest.mark.parametrize("name", ["notation", "bar_place", "who_leans_more", "ankle_needed"])
def test_no_letter_is_always_right(name):
    made = [lessons.made(name, seed) for seed in SEEDS]
    assert len({question.options.index(key.answer) for question, key in made}) > 1


def test_printing_a_question_shows_no_key():
    for name in lessons.names():
        question, key = lessons.made(name, 2)
        assert key.why not in repr(question) and key.hint not in repr(question)
        if not question.options:
            assert f"{key.answer:.4g}" not in repr(question).split("Answer")[0].split()


def test_no_answer_and_no_sense_are_explained_and_not_marked():
    for none in (None, ""):
        assert answer("hip_arm", 1, none).right is None
    for none in ("far", "nan", float("nan"), "inf", "3 kg"):
        feedback = answer("hip_arm", 1, none)
        assert feedback.right is None and "cm" in feedback.text and f"“{none}”" in feedback.text
    assert 'answer with "a", "b", "c", "d"' in answer("bar_place", 1, "z").text
    with pytest.raises(ValueError, match='did you mean "hip_arm"'):
        lessons.made("hip_arms")


def test_a_comma_and_a_unit_are_read():
    right = lessons.made("com_shift", 4).key.answer
    assert answer("com_shift", 4, f"{right:.2f} cm".replace(".", ",")).right
    assert answer("com_shift", 4, f"{right / 2.54:.3f} in").right
    assert answer("plates_per_side", 1, f"{35 / 0.45359237:.6f} lb").right


def test_the_hip_arm_is_plain_trigonometry():
    """Second route: from the rounded numbers the question prints."""
    for seed in SEEDS:
        asked = lessons.made("hip_arm", seed).question
        along, behind, lean = (float(n) for n in re.findall(r"(\d+)(?: cm|°)", asked.text))
        arm = along * np.sin(np.radians(lean)) - behind * np.cos(np.radians(lean))
        assert answer("hip_arm", seed, arm).right


def test_the_widest_stance_follows_from_the_lengths_in_the_question():
    """Second route: how far aside the knee is, from the printed lengths."""
    for seed in SEEDS:
        asked, key = lessons.made("stance_reach", seed)
        told = re.findall(r"(\d+(?:\.\d)?)(?: cm|°)", asked.text)
        toes, lean, thigh, shank, hips, ankle = map(float, told)
        foot = (ankle + shank * np.sin(np.radians(lean))) * np.sin(np.radians(toes))
        aside = {width: width / 2 + foot - hips / 2 for width in (50, 65, 80, 95)}
        widest = max(width for width, knee in aside.items() if knee <= thigh)
        assert key.answer == f"{widest} cm"
        for width, knee in aside.items():
            said = float(re.search(rf"([\d.]+) at {width}\b", key.why)[1])
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
    asked = Question("x", "number", "How much?", unit=unit, tolerance=tolerance)
    assert Check(asked, Key("number", key, tolerance=tolerance)).stated_exactly == words
    assert "hole" in unit or repr(asked).endswith(f"a number in {unit} (± {tolerance:g}).")


def test_a_hole_is_asked_for_by_its_number():
    said = repr(lessons.made("rack_hole").question)
    assert said.endswith("Answer with the number of the hole.") and "±" not in said


@pytest.mark.parametrize(
    ("name", "seed", "right"),
    [
        ("lean_explained", 2, "Right: 3°. "),
        ("hip_arm", 1, "Right: 36.9 cm. "),
        ("rack_hole", 1, "Right: hole 20. "),
        ("frames_needed", 1, "Right: 188 frames per second. "),
    ],
)
def test_a_number_is_told_as_finely_as_it_is_marked_and_a_wrong_one_gives_it_not_away(
    name, seed, right
):
    key = lessons.made(name, seed).key
    assert answer(name, seed, key.answer).text.startswith(right)
    refused = answer(name, seed, 0).text
    assert refused.startswith("0 is too small.")
    assert answer(name, seed, 2 * key.answer).text.startswith(f"{2 * key.answer:g} is too large.")
    assert right.removeprefix("Right: ").strip(" .") not in refused
