"""What a served page says before, during and after a sitting: how many, how long, what is left."""

from __future__ import annotations

from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
from tornado.web import HTTPError

from squatlab.exam.serving.hall import Hall, _seconds, _state_of
from squatlab.exam.serving.web import AtPlace

BEGUN, ENDS = "2026-05-01T09:00:00+00:00", "2026-05-01T10:30:00+00:00"


def hall(minutes=60.0, factor=1.0):
    """Return what of a hall the notices are made of: three items, of which two show a lift."""
    clips = {"q1": object(), "q2": None, "q3": object()}
    return SimpleNamespace(
        _openings={7: SimpleNamespace(minutes=minutes, time_factor=factor)},
        package=SimpleNamespace(
            questions={item: SimpleNamespace(clip=clip) for item, clip in clips.items()}
        ),
        form=SimpleNamespace(items=tuple(clips)),
    )


def sitting(**more):
    given = {"begun": BEGUN, "ends": ENDS, "handed_in": "", "answers": {}, "receipt": ""}
    return SimpleNamespace(**(given | more))


@pytest.mark.parametrize(
    ("minutes", "factor", "words"),
    [
        (60.0, 1.0, "60 minutes from Begin"),
        (90.0, 1.5, "90 minutes from Begin: 1.5 times the usual, as agreed"),
        (None, 1.0, "without a limit"),
    ],
)
def test_before_it_is_said_how_many_and_how_long(minutes, factor, words):
    told = Hall._before(hall(minutes, factor), 7)
    assert dict(told["facts"]) == {"Questions": "3, of which 2 show a lift", "Time": words}
    assert told["button"][1] == "begin"


def test_during_it_is_said_when_it_ends():
    told = Hall._during(hall(), sitting())
    assert [one["item"] for one in told["questions"]] == ["q1", "q2", "q3"]
    assert told["minutes"] == 90
    assert told["until"] == datetime(2026, 5, 1, 10, 30, tzinfo=UTC).timestamp()
    untimed = Hall._during(hall(), sitting(ends=""))
    assert (untimed["minutes"], untimed["until"]) == (0, 0.0)


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"q1": "a", "q2": "b", "q3": "c"}, "3 of 3"),
        ({"q2": "b"}, "1 of 3; without an answer: 1, 3"),
    ],
)
def test_after_it_is_said_what_was_left_out(answers, words):
    told = Hall._after(hall(), sitting(handed_in=ENDS, answers=answers))
    assert dict(told["facts"])["Answered"] == words


def test_the_desk_and_the_page_know_where_a_sitting_stands():
    not_begun = sitting(begun="", ends="", running=False)
    sits = sitting(running=True, answers={"q1": "a", "q3": "b"})
    over, ended = sitting(running=False), sitting(running=False, handed_in=ENDS)
    states = [_state_of(one) for one in (not_begun, sits, over, ended)]
    assert states == ["not started", "sitting", "time over", "ended"]
    said = [Hall._welcome(None, one) for one in (not_begun, sits, sitting(running=True), ended)]
    assert said[0].startswith("Not started") and said[1] == "2 answers are saved."
    assert said[2] == "Nothing is answered yet." and said[3].startswith("Handed in")
    assert _seconds(BEGUN, ENDS) == 5400.0 and _seconds("", ENDS) == float("inf")


@pytest.mark.parametrize(
    ("opening", "known", "often", "status"),
    [(7, True, True, None), (None, True, True, 401), (7, False, True, 401), (7, True, False, 429)],
)
def test_only_a_place_that_this_exam_knows_is_answered_and_not_too_often(
    opening, known, often, status
):
    heard = []
    asked = SimpleNamespace(
        places=SimpleNamespace(opening=lambda _: opening, may_ask=lambda _: often),
        hall=SimpleNamespace(knows=lambda _: known, seen=heard.append),
        get_cookie=lambda *_: "a cookie",
    )
    if status is None:
        assert AtPlace.opening(asked) == 7 and heard == [7]
        return
    with pytest.raises(HTTPError) as refused:
        AtPlace.opening(asked)
    assert refused.value.status_code == status and heard == []
