"""Where one stands, where a class stands: counted by hand here, rates only of enough people."""

from __future__ import annotations

import re

import pytest

from squatlab.__main__ import main
from squatlab.lessons.class_standing import FEWEST, ClassStanding
from squatlab.lessons.course_pages import course_pages
from squatlab.lessons.standing import AFTER, BEFORE, CourseStanding
from squatlab.questions.check_marks import CheckMark, CheckMarks
from squatlab.questions.practice_progress import Answered, Progress
from squatlab.show.class_page import class_page, mean_gain
from squatlab.show.course_map import CourseMap, course_map
from squatlab.show.ten_questions import KINDS, ten_questions


def work(folder, *marks, valgus_seen=()):
    """Write one person's marks and cases with knees that fall in, seen or not."""
    kept = CheckMarks(folder / "practice" / "checks.jsonl")
    for mark in marks:
        kept.put(mark)
    progress = Progress(folder / "practice" / "me.jsonl")
    for seed, seen in enumerate(valgus_seen, 1):
        said = "knee_valgus" if seen else "lateral_shift"
        progress.put(Answered(seed, "knee_valgus", said, ("knee_valgus",), (said,), None, 1.0))
    return folder


@pytest.fixture
def people(tmp_path):
    """Five: three miss hip_arm at first, all miss bar_place; two do not see knees fall in."""
    return [
        work(
            tmp_path / f"p{number}",
            CheckMark("hip_arm", 1, True, 1 if number < 2 else 2),
            CheckMark("hip_arm", 2, True, 1),  # a later question does not undo the first
            CheckMark("bar_place", 1, False, 2),
            valgus_seen=(number < 3, number < 3),
        )
        for number in range(5)
    ]


def test_a_class_is_counted_person_by_person(people):
    standing = ClassStanding([CourseStanding(folder) for folder in people])
    found = {one.name: one for one in (*standing.checks, *standing.faults)}
    assert (found["hip_arm"].met, found["hip_arm"].missed, found["hip_arm"].share) == (5, 3, 0.6)
    assert (found["bar_place"].met, found["bar_place"].missed) == (5, 5)
    assert (found["knee_valgus"].met, found["knee_valgus"].missed) == (5, 2)
    assert (found["lateral_shift"].met, found["lateral_shift"].missed) == (2, 2)
    assert found["sticking"].met == 0 and not found["sticking"].again
    assert [one.name for one in standing.teach_again] == ["bar_place", "hip_arm", "knee_valgus"]


def test_no_rate_of_fewer_than_five(people):
    few = ClassStanding([CourseStanding(folder) for folder in people[: FEWEST - 1]])
    assert few.teach_again == () and all(one.share is None for one in few.checks)
    shown = re.sub(
        r"<style>.*?</style>|at least 40%|<small>.*?</small>", "", class_page(few), flags=re.S
    )
    assert "%" not in shown and "too few" in shown
    assert "60%" in class_page(ClassStanding([CourseStanding(folder) for folder in people]))


def test_the_command_writes_a_page_and_changes_nothing(people, tmp_path, capsys):
    before = {path: path.read_bytes() for folder in people for path in folder.rglob("*.jsonl")}
    page = tmp_path / "class.html"
    assert main(["progress", *map(str, people), "-o", str(page)]) == 0
    said, text = capsys.readouterr().out, page.read_text("utf-8")
    assert "bar place: missed by 5 of 5" in said and "missed by 5 of 5 (100%)" in text
    assert before == {path: path.read_bytes() for path in before}
    assert not any(folder.name in text for folder in people), "nobody is named"
    assert main(["progress", str(people[0]), "-o", str(page)]) != 0, "not written over"
    assert main(["progress", str(tmp_path / "nobody"), "-o", str(tmp_path / "n.html")]) != 0
    assert "no folder" in capsys.readouterr().err


def test_the_map_says_what_is_done_and_what_is_next(tmp_path):
    assert course_map(tmp_path).next_step == "Next: 00 Start here."
    first, second = course_pages()[:2]
    (name, seed), *_ = first.checks
    work(tmp_path, CheckMark(name, seed + 1, True, 2), CheckMark(second.checks[0][0], 1, True, 1))
    shown = course_map(tmp_path)
    assert [row.words for row in shown.standing.pages[:3]] == ["done", "started", "open"]
    assert shown.next_step == f"Next: 01 {second.title}."
    everything = [CheckMark(*check, True, 1) for page in course_pages() for check in page.checks]
    work(tmp_path, *everything, valgus_seen=(True,) * 20)
    done = CourseMap(CourseStanding(tmp_path))
    assert all(row.done for row in done.standing.pages) and "exam" in done.next_step
    assert all(f'href="{page.file}"' in done.html for page in course_pages())
    (tmp_path / "practice" / "checks.jsonl").write_text("spoilt\n")
    assert "checks.jsonl" in repr(course_map(tmp_path))


def right_place(asked):
    """Return the place of the right option of the question that is shown."""
    asking = asked._asking(asked._name())
    return asking.question.options.index(asking.key.answer)


def test_ten_questions_before_and_after_and_the_gain(tmp_path):
    before = ten_questions(BEFORE, tmp_path)
    for number in range(len(KINDS)):
        assert f"{number + 1} of 10" in before.spec["text"] and not before.said["done"]
        place, options = right_place(before), len(before.spec["options"])
        before.answer(place if number < 4 else (place + 1) % options)
        # Closed and opened again, it goes on where it was.
        before = ten_questions(BEFORE, tmp_path)
    assert before.said["done"] and "4 of 10 right" in before.said["words"]
    assert "02 Lever arms" not in before.said["words"] and "11 Exam" not in before.said["words"]
    after = ten_questions(AFTER, tmp_path)
    assert after.spec["text"] != before.spec["text"]
    while not after.said["done"]:
        after.answer(right_place(after))
    assert "10 of 10 right. Before the course: 4. Gain: +6. None missed." in after.said["words"]
    with pytest.raises(ValueError, match='"before" or "after"'):
        ten_questions("during", tmp_path)


def test_a_mean_gain_that_rounds_to_none_has_no_minus_sign():
    """The gains of 25 people add up to −1, so the mean is −0.04."""
    assert mean_gain((-1, *[0] * 24)) == "+0.0"
    assert mean_gain((-2, -1, 0, 0, 0)) == "−0.6"


def test_the_ten_are_checks_of_options_that_the_pages_teach():
    taught = {name for page in course_pages() for name, _ in page.checks}
    assert len(set(KINDS)) == 10 and set(KINDS) <= taught
