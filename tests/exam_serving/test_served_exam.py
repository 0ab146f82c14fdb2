"""A served exam, used honestly and not: without a browser, from two devices, over kills."""

from __future__ import annotations

import asyncio
import contextlib
import json
import re
import signal
from datetime import UTC, datetime, timedelta

import pytest

from squatlab.__main__ import main
from squatlab.exam.package import Package
from squatlab.exam.records import (
    Records,
    chain,
    hand_ins,
    note_incident,
    rule,
    schema,
    served,
)
from squatlab.exam.records.ledger import RecordsUnwritten
from squatlab.exam.serving import places
from squatlab.exam.serving.hall import STALE_S, Hall
from squatlab.exam.serving.places import Moved, PlaceKeeper
from squatlab.questions import files

from .rooms import CERTIFIER, MINUTES, Candidate, Certifier, Program, hall, opened, pack

BEGIN = datetime(2026, 5, 1, 10, 0, tzinfo=UTC)


class Clock:
    """Tell the time that a test sets."""

    def __init__(self) -> None:
        self.now = BEGIN

    def __call__(self) -> datetime:
        return self.now

    def on(self, minutes: float) -> None:
        self.now += timedelta(minutes=minutes)


@pytest.fixture(scope="module")
def packed(tmp_path_factory):
    return pack(tmp_path_factory.mktemp("form"))


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def records(tmp_path, clock):
    found = Records(tmp_path / "records.sqlite", CERTIFIER, clock)
    yield found
    found.close()


@pytest.fixture
def slips(records, packed):
    return opened(records, packed, factor=1.5)


@pytest.fixture
def room(records, packed, slips):
    with hall(Package.read(packed.package), packed.key, records) as found:
        yield found


@pytest.fixture
def candidate(room, slips):
    one = Candidate(room[2])
    assert one.enter("R01", slips["R01"].code) == 200
    return one


@pytest.fixture
def certifier(room):
    one = Certifier(room[2])
    assert one.come(room[1].desk_key) == 302
    return one


def right(packed) -> dict:
    found = {}
    for item, entry in packed.key.entries.items():
        found[item] = entry.answer[0] if isinstance(entry.answer, tuple) else entry.answer
    return found


def saved(records) -> list[tuple[str, object]]:
    with records.reading() as connection:
        return [
            (row["item"], json.loads(row["answer"])) for row in chain.rows(connection, schema.saved)
        ]


# Honest


def test_a_sitting_from_the_code_to_the_result(records, packed, slips, room, candidate, certifier):
    status, told = candidate.ask("page")
    assert status == 200 and told["page"]["button"] == ["Begin", "begin"]
    assert certifier.do("state")["overview"]["rows"][0]["state"] == "not started"
    status, told = candidate.ask("begin")
    assert told["done"] and [one["item"] for one in told["page"]["questions"]] == list(
        packed.form.items
    )
    questions = Package.read(packed.package).questions
    lifts = {item for item, question in questions.items() if question.clip is not None}
    assert lifts and lifts != set(questions)
    for item, answer in right(packed).items():
        status, told = candidate.ask("question", item=item)
        question = told["question"]
        assert status == 200 and question["item"] == item and question["prompt"]
        assert question["lift"] is (item in lifts)
        if item in lifts:
            _, (head, sheets) = candidate.lift(item)
            assert sheets == list(Package.read(packed.package).clip(item).sheets)
            assert head["frames"] and head["panels"][0][0] == "side"
        status, told = candidate.ask("answer", item=item, answer=answer)
        assert told["done"] and told["message"].startswith("Saved ")
        assert saved(records)[-1] == (item, answer), "a row before the page said so"
    row = certifier.do("state")["overview"]["rows"][0]
    assert (row["candidate"], row["state"], row["answered"], row["of"]) == ("R01", "sitting", 4, 4)
    _, told = candidate.ask("hand in")
    assert told["page"]["title"] == "Handed in"
    (handed,) = hand_ins(records, "spring")
    assert dict(told["page"]["facts"])["Receipt"] == handed.receipt and handed.stands
    assert handed.mode == served.SERVED
    assert certifier.do("results")["results"] == [
        {"candidate": "R01", "score": 1.0, "of": 1, "passed": True}
    ]
    assert records.verify() == () or "not signed" in records.verify()[0]


def test_an_answer_taken_back_and_a_number_with_its_unit(records, packed, candidate):
    candidate.ask("begin")
    number = next(i for i, e in packed.key.entries.items() if e.kind == "number")
    unit = Package.read(packed.package).questions[number].unit
    assert candidate.ask("answer", item=number, answer=f"12,5 {unit}")[1]["done"]
    assert saved(records)[-1] == (number, 12.5)
    assert candidate.ask("answer", item=number, answer=None)[1]["answers"] == {}
    for wrong in ("much", [1], {"a": 1}, 10**400, "1" * 5000):
        status, told = candidate.ask("answer", item=number, answer=wrong)
        assert not told.get("done") and status in (200, 400)
    assert len(saved(records)) == 2


# Kills


def test_killed_in_the_middle_it_goes_on_where_it_was(tmp_path, packed):
    """SIGKILL between answers, twice: nothing is lost or doubled, the clock ran on."""
    records = Records(tmp_path / "records.sqlite", CERTIFIER)
    codes = opened(records, packed, ("R01",))
    answers = right(packed)
    one = None
    for n, (item, answer) in enumerate(answers.items()):
        program = Program(packed.package, packed.key_file, tmp_path / "records.sqlite")
        if one is None:
            one = Candidate(program.port)
            assert one.enter("R01", codes["R01"].code) == 200
            one.ask("begin")
            begun = served.sitting(records, codes["R01"].opening).begun
        one.port = program.port  # the same place, known by its cookie
        status, told = one.ask("page")
        assert status == 200 and told["answers"] == dict(list(answers.items())[:n])
        assert one.ask("answer", item=item, answer=answer)[1]["done"]
        program.end(signal.SIGKILL)
    program = Program(packed.package, packed.key_file, tmp_path / "records.sqlite")
    one.port = program.port
    assert one.ask("hand in")[1]["page"]["title"] == "Handed in"
    told = program.end()
    assert program.process.returncode == 0 and "The chain of" in told
    assert [item for item, _ in saved(records)] == list(answers)
    assert served.sitting(records, codes["R01"].opening).begun == begun
    assert len(hand_ins(records, "spring")) == 1 and records.verify() == ()
    records.close()


# Dishonest


def test_nothing_before_the_beginning_and_nothing_after_the_end(records, packed, candidate):
    item = packed.form.items[0]

    def refused() -> None:
        assert "problem" in candidate.ask("question", item=item)[1]
        assert candidate.lift(item)[0] == 403
        assert not candidate.ask("answer", item=item, answer="nothing")[1]["done"]

    refused()
    assert "questions" not in candidate.ask("page")[1]["page"]
    candidate.ask("begin")
    assert candidate.lift(item)[0] == 200
    candidate.ask("hand in")
    refused()
    candidate.ask("begin")
    refused()
    assert saved(records) == []


def test_the_clock_is_the_servers(records, packed, slips, room, candidate, certifier, clock):
    """Times that a candidate sends change nothing; the agreed factor and extensions do."""
    item = packed.form.items[0]
    answer = right(packed)[item]
    _, told = candidate.ask("begin", begun="2020-01-01T00:00:00Z", time_factor=4, minutes=900)
    assert told["page"]["minutes"] == MINUTES
    assert told["page"]["until"] == (clock.now + timedelta(minutes=MINUTES)).timestamp()
    slow = Candidate(candidate.port)
    slow.enter("R02", slips["R02"].code)
    assert slow.ask("begin")[1]["page"]["minutes"] == 1.5 * MINUTES
    clock.on(MINUTES - 1)
    assert candidate.ask("answer", item=item, answer=answer, at="2026-05-01T10:00:01Z")[1]["done"]
    certifier.do("extended", opening=slips["R01"].opening, minutes=5, why="fire alarm")
    clock.on(4)
    assert candidate.ask("answer", item=item, answer=None)[1]["done"], "within the extension"
    clock.on(3)
    _, told = candidate.ask("answer", item=item, answer=answer)
    assert not told["done"] and told["page"]["title"] == "Handed in"
    assert slow.ask("answer", item=item, answer=answer)[1]["done"]
    (handed,) = hand_ins(records, "spring")
    end = BEGIN + timedelta(minutes=MINUTES + 5)
    assert datetime.fromisoformat(handed.handed_in) == end, "at its end, not when it was seen"
    clock.now = BEGIN - timedelta(days=1)  # the machine's clock is put back
    assert not candidate.ask("answer", item=item, answer=answer)[1]["done"]
    assert len(saved(records)) == 3


def test_time_that_is_over_is_handed_in_without_the_candidate(room, records, candidate, clock):
    candidate.ask("begin")
    clock.on(MINUTES + 1)
    for _ in range(100):
        if hand_ins(records, "spring"):
            break
        __import__("time").sleep(0.1)
    (handed,) = hand_ins(records, "spring")
    assert datetime.fromisoformat(handed.handed_in) == BEGIN + timedelta(minutes=MINUTES)


def test_an_extension_counts_until_the_very_step_that_hands_in(records, packed, slips, clock):
    opening = slips["R01"].opening
    served.begin(records, opening)
    assert served.end_if_over(records, opening, packed.form) is None
    served.save(records, opening, packed.form, "q01", "nothing")
    clock.on(MINUTES + 1)
    hall_of_it = Hall(Package.read(packed.package), packed.key, records)
    write = hall_of_it._write

    async def after_an_extension(*work):
        note_incident(records, opening, "extended", "fire alarm", 10)
        return await write(*work)

    hall_of_it._write = after_an_extension
    asyncio.run(hall_of_it.refresh())
    page = asyncio.run(hall_of_it.page(opening))
    assert "questions" in page["page"] and hand_ins(records, "spring") == ()
    clock.on(10)
    hall_of_it._write = write
    assert asyncio.run(hall_of_it.page(opening))["page"]["title"] == "Handed in"
    assert served.end_what_is_over(records, packed.form) == ()


def test_the_certifier_sees_what_another_program_wrote_within_a_while(
    records, packed, slips, clock
):
    opening = slips["R01"].opening
    hall_of_it = Hall(Package.read(packed.package), packed.key, records)
    asyncio.run(hall_of_it.refresh())
    read_at = hall_of_it._read_at
    served.begin(records, opening)  # by another program: the hall is not told

    def state() -> str:
        rows = asyncio.run(hall_of_it.overview())["rows"]
        return next(row["begun"] for row in rows if row["opening"] == opening)

    clock.now += timedelta(seconds=STALE_S)
    assert state() == "" and hall_of_it._read_at == read_at
    clock.now += timedelta(seconds=1)
    assert state() != "" and hall_of_it._read_at > read_at


@pytest.mark.parametrize("look", ["refresh", "page"])
def test_a_look_that_began_before_an_answer_does_not_hide_it(records, packed, slips, look):
    opening = slips["R01"].opening
    served.begin(records, opening)
    hall_of_it = Hall(Package.read(packed.package), packed.key, records)
    item, answer = next(iter(right(packed).items()))

    async def answered_meanwhile():
        await hall_of_it.refresh()
        read, saves = hall_of_it._read, []

        async def slow(*work):
            seen = await read(*work)
            if not saves:
                saves.append(await hall_of_it.save(opening, item, answer))
            return seen

        hall_of_it._read = slow
        await (hall_of_it.refresh() if look == "refresh" else hall_of_it.page(opening))

    asyncio.run(answered_meanwhile())
    assert hall_of_it.answers(opening) == {item: answer}


def test_one_live_place_a_candidate(records, packed, slips, candidate):
    """The newest device goes on with what was saved; the one before can do nothing."""
    items = packed.form.items
    answers = right(packed)
    candidate.ask("begin")
    candidate.ask("answer", item=items[0], answer=answers[items[0]])
    other = Candidate(candidate.port)
    assert other.ask("page")[0] == 401
    assert other.enter("R01", slips["R01"].code.lower().replace("-", " ")) == 200
    assert other.ask("page")[1]["answers"] == {items[0]: answers[items[0]]}
    for do in ("page", "question", "answer", "hand in"):
        assert candidate.ask(do, item=items[1], answer=answers[items[1]])[0] == 409
    assert candidate.lift(items[0])[0] == 409
    assert len(saved(records)) == 1 and hand_ins(records, "spring") == ()
    assert other.ask("answer", item=items[1], answer=answers[items[1]])[1]["done"]


def test_codes_and_places_of_others_open_nothing(room, slips, candidate):
    """Another's code, a code for another id, a place written by hand."""
    mallory = Candidate(candidate.port)
    assert mallory.enter("R02", slips["R01"].code) == 403
    assert mallory.enter("R09", slips["R01"].code) == 403
    name, _, value = candidate.cookie.partition("=")
    opening, given, chance, sign = value.split(".")
    other = str(slips["R02"].opening)
    for forged in (
        f"{other}.{given}.{chance}.{sign}",
        f"{opening}.{int(given) + 9}.{chance}.{sign}",
        f"{other}.{given}.{chance}.{'0' * 64}",
        "",
        "x" * 4000,
        f"{opening}.{given}",
    ):
        mallory.cookie = f"{name}={forged}"
        assert mallory.ask("page")[0] == 401
    assert candidate.ask("page")[0] == 200, "the real place is still the live one"


def test_wrong_codes_from_elsewhere_keep_nobody_out():
    keeper = PlaceKeeper(b"key", lambda: 1000.0)
    for _ in range(places.TRIES):
        keeper.failed("R01", "10.0.0.66")
    assert keeper.must_wait_s("R01", "10.0.0.66") == places.TRIES_AGAIN_S
    assert keeper.must_wait_s("R01", "10.0.0.7") == keeper.must_wait_s("R02", "10.0.0.66") == 0
    for n in range(places.TRIES_AN_ADDRESS):
        keeper.failed(f"X{n}", "10.0.0.66")
    assert keeper.must_wait_s("R02", "10.0.0.66") > 0, "but not for ever from one address"


def test_codes_are_not_tried_for_ever(room, slips):
    mallory = Candidate(room[2])
    tried = [mallory.enter("R01", f"7XKQ-M2PD-9RT{n}") for n in range(7)]
    assert tried == [403] * places.TRIES + [429, 429]
    assert int(mallory.headers["retry-after"]) <= places.TRIES_AGAIN_S
    assert mallory.enter("R01", slips["R01"].code) == 429, "the right one has to wait as well"
    assert mallory.enter("R02", slips["R02"].code) == 200, "others need not"


def test_blanks_around_an_id_give_no_further_tries(room):
    mallory = Candidate(room[2])
    typed = ("R01", " R01", "R01 ", "\tR01", "R01  ", "  R01", " R01 ")
    tried = [mallory.enter(candidate, "7XKQ-M2PD-9RTA") for candidate in typed]
    assert tried == [403] * places.TRIES + [429, 429]


def test_a_page_elsewhere_can_ask_nothing(candidate, records, packed):
    """Cross-site requests: another origin, a form's content type, no header of our own."""
    body = {"do": "begin", "number": 1}
    for headers in (
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"X-Squatlab-Exam": None},
        {"Content-Type": "text/plain"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Content-Type": "application/x-www-form-urlencoded"},
    ):
        assert candidate.request("POST", "ask", body, headers)[0] == 403
        assert candidate.request("POST", "enter", body, headers)[0] == 403
    assert candidate.request("POST", "ask", body, {"Host": "evil.example"})[0] == 421
    assert candidate.request("GET", "", headers={"Host": "evil.example"})[0] == 421
    with records.reading() as connection:
        assert chain.rows(connection, schema.begun) == []


def test_odd_requests_are_refused_and_hurt_nobody(candidate):
    for body in (b"", b"[]", b"{", b"\xff", b"[" * 5000, b'{"do": 7}', b'{"do": "drop"}'):
        assert candidate.request("POST", "ask", body)[0] == 400
    # A body that is too long is not read to its end: the line may break before the answer.
    with contextlib.suppress(ConnectionError):
        assert candidate.request("POST", "ask", b"{" + b" " * 20_000 + b"}")[0] in (400, 413)
    for path in ("files/../web.py", "files/hall.py", "lift/../../etc", "key", "files/desk.html"):
        assert candidate.request("GET", path)[0] in (400, 403, 404)
    assert candidate.request("GET", "ask")[0] == 405
    assert candidate.ask("page")[0] == 200


def test_a_page_asks_so_often_and_no_more(room, candidate, slips):
    statuses = [candidate.ask("page")[0] for _ in range(60)]
    assert 429 in statuses and statuses[:30] == [200] * 30
    other = Candidate(candidate.port)
    assert other.enter("R02", slips["R02"].code) == 200 and other.ask("page")[0] == 200


def test_every_answer_keeps_to_itself(candidate):
    for path in ("", "files/place.js", "files/nothing.js", "lift/q01", "desk"):
        candidate.request("GET", path)
        assert candidate.headers["cache-control"] == "no-store"
        assert candidate.headers["x-content-type-options"] == "nosniff"
        policy = candidate.headers["content-security-policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy and "server" not in candidate.headers
    one = Candidate(candidate.port)
    one.request("GET", "")
    assert one.cookie == "", "no place without a code"


def test_a_place_is_a_cookie_that_scripts_and_other_sites_do_not_get(room, slips):
    one = Candidate(room[2])
    one.enter("R01", slips["R01"].code)
    cookie = one.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie and "path=/" in cookie


def test_nothing_that_answers_a_question_reaches_a_page(packed, candidate):
    """All that a candidate can get, searched for key, seeds, cells and measured names."""
    candidate.ask("begin")
    package = Package.read(packed.package)
    told = [json.dumps(candidate.ask("page")[1])]
    for item in packed.form.items:
        question = candidate.ask("question", item=item)[1]
        assert set(question["question"]) == {
            "item",
            "control",
            "prompt",
            "unit",
            "lift",
            "options",
            "text",
        }
        assert question["question"]["text"] is None
        told.append(json.dumps(question))
        others = [one.text for one in package.questions.values() if one.id != item]
        mine = package.questions[item].text
        assert not any(prompt in told[-1] for prompt in others if prompt != mine)
        if question["question"]["lift"]:
            told.append(json.dumps(candidate.lift(item)[1][0]))
    everything = " ".join(told)
    for word in ("seed", "salt", "margin", "cell", "hip_r", "knee_r", packed.key.salt):
        assert word not in everything


def test_not_saved_is_said_when_it_is_not(monkeypatch, records, packed, candidate):
    candidate.ask("begin")

    def full(*_):
        raise RecordsUnwritten("the disk is full")

    monkeypatch.setattr(served, "save", full)
    _, told = candidate.ask("answer", item=packed.form.items[0], answer=None)
    assert not told["done"] and told["message"].startswith("NOT SAVED")
    assert saved(records) == [] and told["answers"] == {}


# The desk


def test_the_desk_is_the_certifiers(room, candidate, certifier, slips):
    assert candidate.request("GET", "desk")[0] == 403
    for key in ("x", "%C3%A9", "%00", "%FF"):
        assert candidate.request("GET", f"desk?key={key}")[0] in (400, 403), key
    odd = {"Cookie": 'squatlab_desk="\\351"'}  # é, as a cookie writes it
    assert candidate.request("GET", "desk", headers=odd)[0] == 403
    assert certifier.request("POST", "desk", b'{"do": "note", "opening": 1e999}')[0] == 200
    body = {"do": "extended", "opening": slips["R01"].opening, "minutes": 60, "why": "me"}
    assert candidate.request("POST", "desk", body)[0] == 403
    assert certifier.request("POST", "desk", body, {"Origin": "http://evil.example"})[0] == 403
    rows = certifier.do("state")["overview"]["rows"]
    assert [row["incidents"] for row in rows] == [[], [], []]


def test_extending_and_closing_need_a_reason_and_are_rows(records, slips, candidate, certifier):
    opening = slips["R01"].opening
    candidate.ask("begin")
    for what in ({"minutes": 5}, {"minutes": -5, "why": "x"}, {"minutes": "5", "why": "x"}):
        assert certifier.do("extended", opening=opening, **what)["problem"]
    assert certifier.do("closed", opening=opening, why=" ")["problem"]
    assert certifier.do("note", opening=999, why="nobody")["problem"]
    assert certifier.do("results")["problem"], "results come after the end"
    certifier.do("note", opening=opening, why="left the room for two minutes")
    certifier.do("closed", opening=opening, why="a phone under the desk")
    row = certifier.do("state")["overview"]["rows"][0]
    assert row["state"] == "ended"
    assert [(one["event"], one["by"]) for one in row["incidents"]] == [
        ("note", CERTIFIER),
        ("closed", CERTIFIER),
    ]
    assert not candidate.ask("answer", item="q01", answer=None)[1]["done"]
    assert len(hand_ins(records, "spring")) == 1


def test_words_are_given_to_those_with_whom_they_were_agreed(records, packed, slips, tmp_path):
    prefix = "/services/exam/"
    with hall(Package.read(packed.package), packed.key, records, ("R02",), prefix) as room:
        one = Candidate(room[2], prefix)
        assert one.request("GET", "")[0] == 200
        assert Candidate(room[2]).request("GET", "")[0] == 404
        assert one.enter("R02", slips["R02"].code) == 200 and prefix in one.headers["set-cookie"]
        one.ask("begin")
        # This form was made without words: there are none to give.
        assert one.ask("question", item="q01")[1]["question"]["text"] is None


def test_a_served_exam_is_marked_from_the_records(
    records, packed, slips, clock, capsys, monkeypatch, tmp_path
):
    """Handed in, over while nobody served, still sitting, never begun: one command says all."""
    monkeypatch.setattr(files, "now", clock)
    sitting = {who: slips[who].opening for who in slips}
    command = ["mark", packed.package, packed.key_file, "--records", tmp_path / "records.sqlite"]
    mark = [*map(str, command), "--by", CERTIFIER]
    assert main(mark) == 2 and "nothing was handed in for form spring" in capsys.readouterr().err
    served.begin(records, sitting["R01"])
    key = packed.key.entries["q01"]
    served.save(records, sitting["R01"], packed.form, "q01", key.answer)
    served.end(records, sitting["R01"], packed.form)
    served.begin(records, sitting["R03"])
    clock.on(MINUTES + 1)
    served.begin(records, sitting["R02"])
    assert main(mark) == 0
    out = capsys.readouterr().out
    assert re.search(r"R01 +1 of 1", out) and re.search(r"R03 +0 of 1", out)
    assert "Still sitting, so not marked: R02." in out and "nothing handed in" not in out
    rows = {one.candidate: one for one in hand_ins(records, "spring")}
    assert rows["R03"].handed_in == files.stamp(BEGIN + timedelta(minutes=MINUTES)), "its end"
    assert main(mark) == 0 and len(hand_ins(records, "spring")) == 2
    served.end(records, sitting["R02"], packed.form)
    capsys.readouterr()
    assert main(mark) == 0 and "3 marked, 0 refused." in capsys.readouterr().out
    assert records.verify() == ()


def test_the_desk_counts_a_credited_lift_as_the_marking_does(records, clock, tmp_path):
    """Both lifts that certify were left out, and one is ruled right for everyone."""
    packed = pack(tmp_path / "credited", cut=2.0, lifts=2)
    slips = opened(records, packed, ("R01",))
    item = next(name for name, entry in packed.key.entries.items() if entry.how.certifies)
    served.begin(records, slips["R01"].opening)
    served.end(records, slips["R01"].opening, packed.form)
    with hall(Package.read(packed.package), packed.key, records) as (_, door, port):
        certifier = Certifier(port)
        certifier.come(door.desk_key)
        before = {"candidate": "R01", "score": 0.0, "of": 2, "passed": False}
        assert certifier.do("results")["results"] == [before]
        rule(records, packed.form, packed.key, item, "two of its faults look the same")
        assert certifier.do("results")["results"] == [before | {"score": 1.0}]


def test_a_form_that_was_changed_is_not_served(records, packed, tmp_path):
    other = pack(tmp_path)
    key = packed.key
    changed = Package.read(other.package)
    changed.questions["q01"] = changed.questions["q02"]
    with pytest.raises(ValueError, match="sealed|changed"), hall(changed, key, records):
        pass


# Places


def test_places_are_signed_and_the_newest_counts():
    now = [1000.0]
    kept = PlaceKeeper(b"key", lambda: now[0])
    first, second = kept.give(7), kept.give(7)
    assert kept.opening(second) == 7
    with pytest.raises(Moved):
        kept.opening(first)
    again = PlaceKeeper(b"key", lambda: now[0])  # after a restart
    assert again.opening(first) == 7 and again.opening(second) == 7
    with pytest.raises(Moved):
        again.opening(first)
    assert PlaceKeeper(b"another", lambda: now[0]).opening(second) is None
