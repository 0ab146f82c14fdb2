"""A check to click: two tries, the hint between, the answer after, the mark kept."""

from __future__ import annotations

import json

import pytest

from squatlab import lessons
from squatlab.questions.check_marks import CheckMark, CheckMarks
from squatlab.show.check_form import RUN_TO_ANSWER, check, still

OPTIONS, NUMBER = "bar_place", "hip_arm"


def click(form, kind, **more):
    """Send what the browser sends."""
    form._received(form, {"kind": kind, **more}, [])


def places(form):
    """Return the place of the right option, and one of a wrong one."""
    question, key = form.asking.question, form.asking.key
    right = question.options.index(key.answer)
    return right, (right + 1) % len(question.options)


@pytest.mark.parametrize("name", lessons.names())
def test_what_is_sent_before_the_answer_holds_nothing_of_it(name, tmp_path):
    form = check(name, 3, tmp_path)
    key = form.asking.key
    sent = json.dumps([form.spec, form.said], ensure_ascii=False)
    assert key.why not in sent
    assert all(reply.words not in sent for reply in key.replies)
    assert form.said["right"] == [] and not form.said["done"]
    shown = form._repr_mimebundle_()[0]
    assert key.why not in shown["text/html"] + shown["text/plain"]
    assert all(option in shown["text/plain"] for option in form.asking.question.options)


def test_a_wrong_option_gets_its_reply_and_a_hint_then_the_right_one_is_marked(tmp_path):
    form = check(OPTIONS, 1, tmp_path)
    right, wrong = places(form)
    key = form.asking.key
    click(form, "answer", given=wrong)
    assert (form.said["kind"], form.said["done"], form.said["right"]) == ("wrong", False, [])
    assert key.reply(form.asking.question.options[wrong]) in form.said["words"]
    assert key.hint in form.said["words"] and key.why not in form.said["words"]
    click(form, "answer", given=right)
    assert (form.said["kind"], form.said["done"], form.said["right"]) == ("right", True, [right])
    assert form.marks.all() == (CheckMark(OPTIONS, 1, True, 2),)
    click(form, "answer", given=wrong)  # what is done stays done
    assert len(form.marks.all()) == 1 and form.said["kind"] == "right"


def test_the_key_comes_after_two_wrong_answers_or_when_asked_for(tmp_path):
    form = check(OPTIONS, 1, tmp_path)
    right, wrong = places(form)
    for _ in range(2):
        click(form, "answer", given=wrong)
    assert form.asking.key.why in form.said["words"] and form.said["right"] == [right]
    other = check(NUMBER, 1, tmp_path)
    click(other, "give up")
    assert other.asking.key.why in other.said["words"] and other.said["kind"] == ""
    assert CheckMarks(form.marks.path).all() == (
        CheckMark(OPTIONS, 1, False, 2),
        CheckMark(NUMBER, 1, False, 0),
    )


def test_a_number_is_read_with_its_unit_and_what_cannot_be_read_costs_no_try(tmp_path):
    form = check(NUMBER, 1, tmp_path)
    for given in ("far", "12 lb", ""):
        click(form, "answer", given=given)
        assert form.said["kind"] == "" and form.asking.given == [] and form.said["words"]
    click(form, "answer", given=f"{form.asking.key.answer / 2.54:.2f} in")
    assert form.said["kind"] == "right"


def test_another_question_has_other_words_and_its_own_tries(tmp_path):
    for name in lessons.names():
        form = check(name, 1, tmp_path)
        before = form.spec["text"]
        click(form, "give up")
        click(form, "another")
        assert form.spec["text"] != before and form.said["words"] == "" and not form.said["done"]


def test_an_answer_counts_where_nothing_can_be_kept(tmp_path):
    (tmp_path / "checks.jsonl").write_text("my own notes\n")
    form = check(OPTIONS, 1, tmp_path)
    click(form, "answer", given=places(form)[0])
    assert form.said["kind"] == "right" and "checks.jsonl" in form.said["kept"]
    click(form, "answer")  # not even what the browser never sends is silent
    assert form.said["words"]


def test_showing_a_check_writes_nothing(tmp_path):
    form = check(NUMBER, 1, tmp_path / "practice")
    assert RUN_TO_ANSWER in still(form.asking.question)
    assert not (tmp_path / "practice").exists()
    with pytest.raises(ValueError, match='did you mean "hip_arm"'):
        check("hip_arms")
