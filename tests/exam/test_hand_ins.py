"""Codes, openings, and what comes in: whose it is, when it came, what stands."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from squatlab.exam import codes
from squatlab.exam.answers import Sheet, hand_in_files
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import mark
from squatlab.exam.package import Package
from squatlab.exam.policy import shipped_policy
from squatlab.exam.records import (
    Records,
    RecordsError,
    decide,
    grounds,
    hand_ins,
    incidents,
    issue,
    known_by,
    let_stand,
    note_incident,
    open_form,
    openings,
    receive,
    receive_sheets,
    record_all,
    slips,
)
from squatlab.exam.records.hand_ins import deciding_time
from squatlab.exam.records.served import begin, end, save, sitting
from squatlab.questions.kinds import NOTHING
from tests.exam import invented_class
from tests.exam.test_records import Clock, execute, rows

OPENED = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
MINUTES = 60


class Room:
    """An exam room: a sealed package, records with a clock, candidates who hand in files."""

    def __init__(self, folder, where=None) -> None:
        self.folder, self.clock = folder, Clock()
        self.clock.time = OPENED
        self.form, self.key = invented_class.pack(
            folder / "spring.zip", *invented_class.form_and_key(), MINUTES, "cm"
        )
        self.package = Package.read(folder / "spring.zip")
        self.records = Records(where or folder / "records.sqlite", "A. Judge", self.clock)
        (folder / "in").mkdir()

    def open(self, candidate: str, factor: float = 1.0) -> str:
        return open_form(self.records, self.form, self.key, candidate, factor).code

    def sheet(self, candidate: str, code: str = "", took: float = 50, **more) -> Sheet:
        """Return a sheet of right answers, begun at 9:10 by the candidate's clock."""
        began = OPENED + timedelta(minutes=10)
        right = {i: invented_class.answer(e, True) for i, e in self.key.entries.items()}
        times = {
            "handed_in": (began + timedelta(minutes=took)).isoformat(),
            "began": began.isoformat(),
        }
        made = Sheet(self.form.id, self.form.seal, candidate, **{"answers": right, **times, **more})
        return made.proven(code) if code else made

    def hand_in(self, sheet: Sheet, name: str = ""):
        return sheet.write(self.folder / "in" / (name or f"{sheet.candidate}.json"))

    def receive(self, closes: datetime | None = None, at: float = 62):
        """Receive all that was handed in, so many minutes after the forms were given."""
        self.clock.time = max(self.clock.time, OPENED + timedelta(minutes=at))
        paths = hand_in_files(self.folder / "in")
        found = receive(self.records, self.package, self.key, paths, closes)
        return (
            {sheet.candidate: sheet for sheet in found.sheets},
            {one.file: one.reason for one in found.refused},
        )


@pytest.fixture
def room(tmp_path, where):
    made = Room(tmp_path, where)
    yield made
    made.records.close()


def test_a_code_finds_its_slips(room):
    slip = open_form(room.records, room.form, room.key, "C1", 1.5)
    assert (slip.candidate, slip.form, slip.time_factor, slip.minutes) == ("C1", "spring", 1.5, 90)
    assert codes.possible(slip.code) and slips(room.records, room.form, room.key) == (
        slip._replace(notes=()),
    )
    typed = slip.code.lower().replace("-", " ")
    assert known_by(room.records, "spring", "C1", typed).number == slip.opening
    other = room.open("C2")
    assert other != slip.code
    wrong = [("C1", other), ("C2", slip.code), ("C3", slip.code), ("C1", ""), (None, "")]
    half_a_character = "\ud800"
    wrong += [(half_a_character, slip.code), ("C1", half_a_character)]
    for who, code in wrong:
        assert known_by(room.records, "spring", who, code) is None
    (row, _) = rows(room.records, "openings")
    assert slip.code not in str(row) and row["code"] != slip.code
    assert room.records.verify() == ()


def test_a_time_factor_has_bounds(room):
    for factor in (0.5, 4.1, float("nan")):
        with pytest.raises(RecordsError, match="the time factor is .*; it is 1 to 4"):
            room.open("C1", factor)
    assert openings(room.records) == ()
    slip = open_form(room.records, room.form, room.key, "C1")
    assert (slip.time_factor, slip.minutes) == (1, MINUTES), "unless another is agreed"


def test_what_a_code_proves_stands_and_nothing_else(room):
    code = {who: room.open(who) for who in ("C1", "C2", "C3")}
    room.hand_in(room.sheet("C1", code["C1"]))
    room.hand_in(room.sheet("C2"), "b-without-a-code.json")
    room.hand_in(room.sheet("C3", code["C1"]), "c-anothers-code.json")
    room.hand_in(room.sheet("C9", code["C1"]), "d-no-opening.json")
    edited = room.sheet("C2", code["C2"])
    room.hand_in(replace(edited, answers={**edited.answers, "first-00": NOTHING}), "e-edited.json")
    room.hand_in(replace(edited, began=edited.handed_in), "f-clock-edited.json")
    stand, refused = room.receive()
    assert list(stand) == ["C1"]
    assert "without the candidate's code" in refused["b-without-a-code.json"]
    assert "not what this candidate's code made" in refused["c-anothers-code.json"]
    assert "nobody gave this candidate the form" in refused["d-no-opening.json"]
    assert "altered, or made with another's" in refused["e-edited.json"]
    assert "altered, or made with another's" in refused["f-clock-edited.json"]
    kept = hand_ins(room.records)
    assert len(kept) == 6 and [one.stands for one in kept].count(True) == 1
    head = room.records.head()
    assert room.receive(at=300) == (stand, refused) and room.records.head() == head
    assert room.records.verify() == ()


def test_two_that_differ_refuse_both_and_an_examiner_decides(room):
    code = room.open("C1")
    one = room.sheet("C1", code)
    other = room.sheet("C1", code, answers={"first-00": NOTHING})
    room.hand_in(one, "a.json")
    stand, _ = room.receive()
    assert list(stand) == ["C1"]
    room.hand_in(other, "b.json")
    stand, refused = room.receive()
    assert stand == {} and set(refused) == {"a.json", "b.json"}
    assert "b.json" in refused["a.json"] and "a.json" in refused["b.json"]
    assert one.receipt in refused["b.json"] and other.receipt in refused["a.json"]
    first, second = hand_ins(room.records)
    with pytest.raises(RecordsError, match="needs the reason"):
        let_stand(room.records, first.number, " ")
    let_stand(room.records, first.number, "they handed in the trial first", "B. Judge")
    stand, refused = room.receive()
    assert stand["C1"].answers == one.answers and set(refused) == {"b.json"}
    assert hand_ins(room.records)[0].why == "B. Judge: they handed in the trial first"
    marks = mark(room.form, room.key, stand.values())
    record_all(room.records, marks, stand.values())
    with pytest.raises(RecordsError, match="was marked from other answers and stands"):
        let_stand(room.records, second.number, "no, that one")
    assert room.records.verify() == ()


def test_a_file_that_was_refused_takes_no_served_hand_in_s_place(room):
    """Anybody can send a file with no answers in a candidate's name; it proves nothing."""
    slip = open_form(room.records, room.form, room.key, "C1")
    room.hand_in(room.sheet("C1", answers={}))
    assert room.receive()[0] == {}
    begin(room.records, slip.opening)
    handed_in = end(room.records, slip.opening, room.form)
    assert (handed_in.mode, handed_in.stands) == ("served", True)
    assert sitting(room.records, slip.opening).handed_in


def test_a_conflict_after_marking_stops_the_certificate(room):
    code = room.open("C1")
    room.hand_in(room.sheet("C1", code), "a.json")
    stand, _ = room.receive()
    record_all(room.records, mark(room.form, room.key, stand.values()), stand.values())
    (attempt,) = rows(room.records, "attempts")
    assert decide(room.records, attempt["number"]).passed
    room.hand_in(room.sheet("C1", code, answers={}), "b.json")
    room.receive()
    with pytest.raises(RecordsError, match="which does not stand: two contradict"):
        issue(room.records, attempt["number"], "B. Judge", "a trial")


def test_the_clock_that_decides(room):
    closes = OPENED + timedelta(minutes=75)
    codes_of = {who: room.open(who, 1.5 if who == "C2" else 1) for who in ("C1", "C2", "C3")}
    for who in ("C1", "C2"):
        room.hand_in(room.sheet(who, codes_of[who]))
    # Declared 10:00, received 10:20: the machine's time decides, and C2 has half an hour more.
    stand, refused = room.receive(closes, at=80)
    assert list(stand) == ["C2"]
    assert (
        "late: handed in at 2026-05-01T10:20:00.000Z by this machine's clock"
        in (refused["C1.json"])
    )
    assert [one.declared for one in hand_ins(room.records)] == ["2026-05-01T10:00:00.000Z"] * 2
    times = "2026-05-01T10:00:00.000Z", "2026-05-01T10:20:00.000Z"
    candidates_decides = replace(shipped_policy(), received_decides=0)
    decides = [deciding_time(*times, policy) for policy in (shipped_policy(), candidates_decides)]
    assert decides == [times[1], times[0]], "as the form's policy says"


CLOCK_TRICKS = {
    "longer than agreed": ({"took": 93}, "by its own clock it took 93 minutes, and 60"),
    "own time factor 4": ({"took": 239}, "by its own clock it took 239 minutes, and 60"),
    "set back before the form was given": (
        {"began": "2026-05-01T08:00:00Z", "handed_in": "2026-05-01T08:50:00Z"},
        "the form was given at 2026-05-01T09:00:00.000Z: that clock was set back",
    ),
    "handed in before it was started": (
        {"handed_in": "2026-05-01T09:06:00Z"},
        "handed in before it was started",
    ),
    "no beginning": ({"began": ""}, "does not say when it was started"),
}


@pytest.mark.parametrize("trick", CLOCK_TRICKS)
def test_a_clock_trick_is_refused(tmp_path, trick):
    room = Room(tmp_path)
    how, words = CLOCK_TRICKS[trick]
    room.hand_in(room.sheet("C1", room.open("C1"), **how))
    _, refused = room.receive(at=300)
    assert words in refused["C1.json"]


def test_a_minute_may_pass_between_the_last_answer_and_the_last_button(tmp_path):
    room = Room(tmp_path)
    for who, took in (("C1", MINUTES + 1), ("C2", MINUTES + 1.01), ("C3", 0), ("C4", -0.01)):
        room.hand_in(room.sheet(who, room.open(who), took=took))
    stand, _ = room.receive(at=300)
    assert set(stand) == {"C1", "C3"}


def test_clocks_agree_within_five_minutes_either_way(tmp_path):
    """``clocks_agree`` of data/exam_policy.csv; beyond it the machine's time decides."""
    for seconds, agree in ((-300, True), (300, True), (-301, False), (301, False)):
        declared, received = OPENED.isoformat(), (OPENED + timedelta(seconds=seconds)).isoformat()
        decides = deciding_time(declared, received, shipped_policy())
        assert decides == (declared if agree else received)
    room = Room(tmp_path)
    for who, seconds in (("C1", 300), ("C2", 301)):
        began = OPENED - timedelta(seconds=seconds)
        times = {"began": began.isoformat(), "handed_in": OPENED.isoformat()}
        room.hand_in(room.sheet(who, room.open(who), **times))
    assert set(room.receive(at=300)[0]) == {"C1"}


def test_answers_nine_hours_after_begin_are_seen_by_the_machine(tmp_path):
    """The candidate's clock stood still: it declares 50 minutes, and 9 hours passed."""
    room = Room(tmp_path)
    room.hand_in(room.sheet("C1", room.open("C1")))
    _, refused = room.receive(OPENED + timedelta(minutes=75), at=9 * 60)
    assert "late: handed in at 2026-05-01T18:00:00.000Z by this machine's" in refused["C1.json"]


def test_files_that_are_none(tmp_path):
    room = Room(tmp_path)
    with pytest.raises(FileNotFoundError, match="there is no hand-in in"):
        hand_in_files(tmp_path / "in")
    room.hand_in(room.sheet("C1", room.open("C1")), "C1.JSON")
    (tmp_path / "in" / "damaged.json").write_bytes(b"\xef\xbb\xbf{")
    (tmp_path / "in" / "folder.json").mkdir()
    hostile = "x\x1b[31m\n" + "y" * 300
    (tmp_path / "in" / f"{hostile[:100]}.json").write_text("{")
    stand, refused = room.receive()
    assert list(stand) == ["C1"] and len(refused) == 3
    for name, reason in refused.items():
        assert (name + reason).isprintable() and len(reason) < 500


def test_the_time_never_falls(room):
    room.open("C1")
    room.clock.time -= timedelta(minutes=5)
    assert room.records.wrong_clock == ""
    room.clock.time -= timedelta(minutes=1)
    assert room.records.wrong_clock.startswith(
        "this machine's clock says 2026-05-01T08:54:00.000Z, and the last step in"
    )
    room.clock.time -= timedelta(days=400)
    room.open("C2")
    assert {one.opened for one in openings(room.records)} == {"2026-05-01T09:00:00.000Z"}
    assert room.records.verify() == ()


# A sitting that the machine serves.


def test_a_served_sitting_is_timed_and_kept_by_the_records(room):
    code = room.open("C1", 1.5)
    opening = known_by(room.records, "spring", "C1", code).number
    assert sitting(room.records, opening).begun == ""
    with pytest.raises(RecordsError, match="not started yet"):
        save(room.records, opening, room.form, "first-00", NOTHING)
    room.clock.later(minutes=10)
    state = begin(room.records, opening)
    assert (state.begun, state.ends) == ("2026-05-01T09:10:00.000Z", "2026-05-01T10:40:00.000Z")
    room.clock.later(minutes=1)
    assert begin(room.records, opening) == state
    for item, answer in (
        ("first-00", "heel_lift"),
        ("spot-0", []),
        ("first-00", NOTHING),
        ("first-01", NOTHING),
        ("first-01", None),
    ):
        save(room.records, opening, room.form, item, answer)
    for item, answer in (("first-99", NOTHING), ("first-00", {"a": 1}), ("first-00", 10**400)):
        with pytest.raises(ValueError):
            save(room.records, opening, room.form, item, answer)
    assert sitting(room.records, opening).answers == {"first-00": NOTHING, "spot-0": []}
    room.clock.later(minutes=89)  # 10:40, the end
    save(room.records, opening, room.form, "first-02", NOTHING)
    room.clock.later(seconds=1)
    with pytest.raises(RecordsError, match="the sitting ended at 2026-05-01T10:40"):
        save(room.records, opening, room.form, "first-03", NOTHING)
    note_incident(room.records, opening, "extended", "the room was evacuated", 5)
    save(room.records, opening, room.form, "first-03", NOTHING)
    note_incident(room.records, opening, "closed", "asked to leave")
    room.clock.later(seconds=1)
    with pytest.raises(RecordsError, match="the sitting ended at 2026-05-01T10:40:01"):
        save(room.records, opening, room.form, "first-04", NOTHING)
    assert [one.event for one in incidents(room.records, opening)] == ["extended", "closed"]
    first = end(room.records, opening, room.form)
    assert first.mode == "served" and first.stands
    assert end(room.records, opening, room.form) == first
    assert first.handed_in == "2026-05-01T10:40:01.000Z"
    assert room.records.verify() == ()
    execute(room.records, "UPDATE saved SET item = 'first-05' WHERE item = 'first-03'")
    assert any("it is not what was saved" in words for words in room.records.verify())


def test_an_extension_is_more_than_nothing_and_at_most_a_day(tmp_path):
    room = Room(tmp_path)
    opening = known_by(room.records, "spring", "C1", room.open("C1")).number
    for minutes in (0, -1, 24 * 60 + 1, None):
        with pytest.raises(RecordsError, match="more than 0, and less than a day"):
            note_incident(room.records, opening, "extended", "a fire drill", minutes)
    with pytest.raises(RecordsError, match="only an extension has minutes"):
        note_incident(room.records, opening, "note", "a fire drill", 5)
    for minutes in (0.5, 24 * 60):
        note_incident(room.records, opening, "extended", "a fire drill", minutes)
    assert [one.minutes for one in incidents(room.records, opening)] == [0.5, 24 * 60]
    state = begin(room.records, opening)
    lasts = datetime.fromisoformat(state.ends) - datetime.fromisoformat(state.begun)
    assert lasts == timedelta(minutes=MINUTES + 0.5 + 24 * 60)


def test_answers_that_were_served_come_as_a_file_too_and_are_one_hand_in(tmp_path):
    room = Room(tmp_path)
    code = room.open("C1")
    opening = known_by(room.records, "spring", "C1", code).number
    begin(room.records, opening)
    save(room.records, opening, room.form, "first-00", NOTHING)
    served = end(room.records, opening, room.form)
    room.hand_in(room.sheet("C1", code, answers={"first-00": NOTHING}))
    stand, refused = room.receive()
    assert set(stand) == {"C1"} and refused == {}
    assert [one.number for one in hand_ins(room.records)] == [served.number]


def test_what_was_late_stands_once_it_is_extended_and_both_are_on_record(tmp_path):
    room = Room(tmp_path)
    code = room.open("C1")
    opening = known_by(room.records, "spring", "C1", code).number
    room.hand_in(room.sheet("C1", code, took=70))
    stand, refused = room.receive(at=300)
    assert stand == {} and "it took 70 minutes, and 60 were agreed" in refused["C1.json"]
    note_incident(room.records, opening, "extended", "a fire drill", 15)
    stand, refused = room.receive(at=300)
    assert set(stand) == {"C1"} and refused == {}
    assert [one.stands for one in hand_ins(room.records)] == [False, True]


def test_a_served_attempt_needs_less_of_an_override(room):
    code = room.open("C1")
    opening = known_by(room.records, "spring", "C1", code).number
    begin(room.records, opening)
    for item, entry in room.key.entries.items():
        save(room.records, opening, room.form, item, invented_class.answer(entry, True))
    end(room.records, opening, room.form)
    (row,) = rows(room.records, "hand_ins")
    from squatlab.exam.records.hand_ins import sheet_of

    sheet = sheet_of(row, room.form)
    (attempt,), _ = record_all(room.records, mark(room.form, room.key, [sheet]), [sheet])
    decide(room.records, attempt.number)
    objections = grounds(room.records, attempt.number, "B. Judge").objections
    assert len(objections) == 1 and "KR-20, is none (1 people are too few" in objections[0]
    both = grounds(room.records, attempt.number, "A. Judge").objections
    assert "A. Judge decided it as well; certifying asks for two names" in both
    assert room.records.verify() == ()


def test_every_wrong_sign_of_a_code_opens_nothing(tmp_path):
    room = Room(tmp_path)
    code = room.open("C1").replace("-", "")
    for place, sign in itertools.product((0, 5, 11), "2Z"):
        other = code[:place] + sign + code[place + 1 :]
        assert (known_by(room.records, "spring", "C1", other) is None) is (other != code)


def test_a_form_is_its_own(tmp_path):
    """A hand-in to another form, or another seal, is refused and kept under this form's name."""
    room = Room(tmp_path)
    code = room.open("C1")
    room.hand_in(room.sheet("C1", code, took=1), "a.json")
    other = replace(room.sheet("C1"), form="autumn").proven(code)
    room.hand_in(other, "b.json")
    room.hand_in(replace(room.sheet("C1"), seal="0" * 64).proven(code), "c.json")
    stand, refused = room.receive()
    assert list(stand) == ["C1"] and "answers to form autumn, not spring" in refused["b.json"]
    assert "another seal was answered" in refused["c.json"]
    assert isinstance(room.form, Form) and isinstance(room.key, FormKey)


def test_sheets_that_are_no_files_are_taken_in_as_those_that_are(room):
    """Each once, in order; without the candidate's code none stands."""
    code = {who: room.open(who) for who in ("C1", "C2")}
    sheets = [room.sheet("C1", code["C1"]), room.sheet("C2", code["C2"]), room.sheet("C2")]
    received = receive_sheets(room.records, room.form, room.key, sheets[:2])
    assert [sheet.candidate for sheet in received.sheets] == ["C1", "C2"]
    refused = receive_sheets(room.records, room.form, room.key, sheets[2:])
    assert any("code" in words for words in map(str, refused.refused))
    assert [one.candidate for one in hand_ins(room.records)] == ["C1", "C2", "C2"]
