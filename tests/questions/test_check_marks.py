"""Marks of checks: kept line by line, read anew, nothing of another's touched."""

from __future__ import annotations

import pytest

from squatlab.questions.check_marks import CheckMark, CheckMarks

RIGHT, WRONG = CheckMark("hip_arm", 1, True, 1), CheckMark("bar_place", 2, False, 2)


def test_nothing_is_written_before_the_first_mark_and_nothing_lost_after(tmp_path):
    path = tmp_path / "practice" / "checks.jsonl"
    marks = CheckMarks(path)
    assert marks.all() == () and not path.parent.exists()
    marks.put(RIGHT)
    # Another notebook that is open adds to the same file.
    CheckMarks(path).put(WRONG)
    assert marks.all() == CheckMarks(path).all() == (RIGHT, WRONG)
    assert RIGHT.at_once and not WRONG.at_once


def test_a_changed_line_is_left_out_and_the_others_stay(tmp_path):
    path = tmp_path / "checks.jsonl"
    marks = CheckMarks(path)
    for mark in (RIGHT, WRONG):
        marks.put(mark)
    path.write_text(path.read_text().replace('"right":false', '"right":true'))
    assert marks.all() == (RIGHT,) and marks.damaged == 1


def test_another_file_is_left_as_it_is(tmp_path):
    path = tmp_path / "checks.jsonl"
    path.write_text("my own notes\n")
    with pytest.raises(ValueError, match="checks.jsonl holds no checks"):
        CheckMarks(path).all()
    with pytest.raises(ValueError):
        CheckMarks(path).put(RIGHT)
    assert path.read_text() == "my own notes\n"
