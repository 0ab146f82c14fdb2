"""Hand-ins: whole, checked, and refused by name; the journal of a candidate."""

from __future__ import annotations

import hashlib
import hmac
import json
import os
from dataclasses import asdict, replace
from datetime import UTC, datetime

import pytest

from squatlab.exam import codes
from squatlab.exam.answers import Sheet, misfit, without_units
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.journal import Journal
from squatlab.questions import files, line_files
from squatlab.questions.question import Question
from tests.exam import invented_class


@pytest.fixture
def sheets(form_and_key):
    return list(invented_class.sheets(*form_and_key, 5))


def test_a_sheet_comes_back_as_it_was_written(tmp_path, sheets):
    for sheet in sheets:
        assert Sheet.read(sheet.write(tmp_path / "sheet.json")) == sheet
    assert codes.possible(sheets[0].receipt) and sheets[0].receipt != sheets[1].receipt
    assert replace(sheets[0], handed_in="2030-01-01T00:00:00Z").digest == sheets[0].digest


def test_one_changed_letter_anywhere_is_noticed(tmp_path, sheets):
    path = sheets[0].write(tmp_path / "sheet.json")
    text = path.read_text()
    for place in range(0, len(text) - 1, 7):
        other = "x" if text[place] != "x" else "y"
        path.write_text(text[:place] + other + text[place + 1 :])
        with pytest.raises(ValueError, match=r"sheet.json (is|has)"):
            Sheet.read(path)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\0" * 50,
        b"{",
        b"[]",
        b"null",
        b'"text"',
        b"[" * 100_000,
        b'{"what": 1e999}',
        b"\xff\xfe",
        b'{"what": "squatlab exam answers", "version": 1, "checksum": "no"}',
        b'{"what": "squatlab exam answers", "version": 1, "answers": NaN, "checksum": 0}',
        b'{"what": "squatlab exam answers", "version": 1, "answers": "\\ud800", "checksum": 0}',
    ],
    ids=range(12),
)
def test_what_is_no_sheet_is_refused_by_its_file_name(tmp_path, content):
    (tmp_path / "odd.json").write_bytes(content)
    with pytest.raises(ValueError, match=r"odd\.json .*(ask for the file again|choose the right)"):
        Sheet.read(tmp_path / "odd.json")


def test_other_files_and_newer_versions(tmp_path, form_and_key, monkeypatch):
    form, _ = form_and_key
    with pytest.raises(ValueError, match="no squatlab exam answers but a squatlab exam form; ch"):
        Sheet.read(form.write(tmp_path / "form.json"))
    monkeypatch.setattr(files, "VERSION", 2)
    path = form.write(tmp_path / "form.json")
    monkeypatch.undo()
    with pytest.raises(ValueError, match="has version 2, this squatlab reads 1; install the squat"):
        Form.read(path)
    (tmp_path / "long.json").write_text("9" * (files.LARGEST + 10))
    with pytest.raises(ValueError, match="long.json is longer than 4 MB"):
        Sheet.read(tmp_path / "long.json")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"candidate": "../../etc"}, "the candidate is “../../etc”; use 1 to 64 letters, digits"),
        ({"answers": [1]}, "answers map an item to what was answered"),
        ({"answers": {"first-00": {"a": 1}}}, "answer to first-00 is {'a': 1}: no option, number"),
        ({"answers": {"first-00": True}}, "answer to first-00 is True: no option"),
        ({"answers": {"spot-0": ["a", 1]}}, "no option, number or list"),
        ({"handed_in": "yesterday"}, "“yesterday” is no time of handing in, in UTC"),
        ({"handed_in": "2026-05-01T10:00:00"}, "is no time of handing in, in UTC"),
        ({"handed_in": "0001-01-01T00:00:00+14:00"}, "is no time of handing in, in UTC"),
        ({"handed_in": "9999-12-31T23:59:59-12:00"}, "is no time of handing in, in UTC"),
        ({"began": "1969-01-01T00:00:00Z"}, "is no time of beginning, in UTC"),
        ({"answers": {"number-0": 10**400}}, "answer to number-0 is 1000"),
        ({"proof": 3}, "its proof is no text"),
    ],
)
def test_a_sheet_that_cannot_be(tmp_path, sheets, change, words):
    with pytest.raises(ValueError, match=words):
        replace(sheets[0], **change)
    body = {"form": "spring", "seal": "", "candidate": "C1", "answers": {}, "handed_in": "2026"}
    path = files.save(tmp_path / "sheet.json", "exam answers", body | change)
    with pytest.raises(ValueError, match=r"sheet.json is damaged: "):
        Sheet.read(path)


def test_a_sheet_is_proven_by_a_code_and_by_no_other(sheets, codes_as_they_are):
    code, other = (codes.spell(bytes(range(n, n + 16))) for n in (1, 2))
    proven = sheets[0].proven(code)
    assert proven.proves(code) and proven.proves(code.lower().replace("-", " "))
    assert not proven.proves(other) and not sheets[0].proves(code)
    answers = {**proven.answers, "first-00": "bar_forward"}
    for change in (
        {"answers": answers},
        {"handed_in": "2026-05-01T10:59:00Z"},
        {"began": ""},
        {"candidate": "C2"},
        {"form": "autumn"},
        {"seal": "0"},
    ):
        assert not replace(proven, **change).proves(code), change
    # An HMAC by hand [RFC 2104]: the proof is SHA-256 over what the sheet says, keyed by scrypt.
    body = asdict(proven)
    del body["proof"]
    key = hashlib.scrypt(code.encode(), salt=b'["spring","C00000"]', n=4096, r=8, p=1, dklen=32)
    by_hand = hmac.new(key, files.canonical(body).encode(), "sha256").hexdigest()
    assert by_hand == proven.proof


def test_what_does_not_answer_the_form(form_and_key, sheets):
    form, _ = form_and_key
    assert misfit(sheets[0], form) == ""
    assert "form autumn, not spring; put it in" in misfit(replace(sheets[0], form="autumn"), form)
    assert "with another seal was answered" in misfit(replace(sheets[0], seal="0" * 64), form)
    odd = misfit(replace(sheets[0], answers={"essay\x1b": "x"}), form)
    assert "it answers what the form does not ask: essay\ufffd" in odd


# Numbers and their units.


def test_numbers_of_hand_ins_are_taken_as_those_of_the_screen(form_and_key, sheets):
    _, key = form_and_key
    asked = {i: Question(i, e.kind, "?", e.options, "cm") for i, e in key.entries.items()}
    one, other, *_ = sheets
    given = {"number-0": "100,5 cm", "number-1": None}
    kept = without_units(replace(one, answers={**one.answers, **given}), asked)
    assert (kept.answers["number-0"], kept.answers["number-1"]) == (100.5, None)
    with pytest.raises(
        ValueError, match="the answer to number-0: “1 kg” is in “kg” and this quest"
    ):
        without_units(replace(other, answers={"number-0": "1 kg"}), asked)


# The journal.


def begun(*given) -> Journal:
    journal = Journal(*given)
    journal.begin()
    return journal


def test_answers_come_back_and_the_last_one_counts(tmp_path, form_and_key):
    form, _ = form_and_key
    journal = begun(tmp_path / "new" / "C1.journal", form, "C1")
    given = {"first-00": "heel_lift", "spot-0": [], "number-0": 3.5, "rank-0": ["b", "a"]}
    for item, answer in given.items():
        journal.put(item, "no")
        journal.put(item, answer)
    journal.put("cue-0", None)
    again = Journal(journal.path, form, "C1")
    assert again.answers == journal.answers == given | {"cue-0": None}
    assert journal.path.stat().st_mode & 0o777 == 0o600


def test_a_journal_takes_a_code_that_can_be_and_no_other(tmp_path, form_and_key):
    form, _ = form_and_key
    code = codes.spell(bytes(range(16)))
    path = tmp_path / "C1.journal"
    assert Journal(path, form, "C1", code=code).has_code
    assert not Journal(path, form, "C1").has_code
    sheet = begun(path, form, "C1", lambda: datetime(2026, 5, 1, 10, tzinfo=UTC), code).hand_in(
        tmp_path / "C1.json"
    )
    assert sheet.proves(code)
    for wrong in (code[:-1], code + "A", "7XKQ"):
        with pytest.raises(ValueError, match="is no candidate's code"):
            Journal(path, form, "C1", code=wrong)


def test_handing_in_ends_it_and_may_be_repeated(tmp_path, form_and_key):
    form, _ = form_and_key
    times = iter([datetime(2026, 5, 1, 10, n, tzinfo=UTC) for n in range(9)])
    journal = begun(tmp_path / "C1.journal", form, "C1", lambda: next(times))
    journal.put("first-00", "heel_lift")
    sheet = journal.hand_in(tmp_path / "C1.json")
    assert sheet == Sheet.read(tmp_path / "C1.json")
    assert (sheet.answers, sheet.began, sheet.handed_in) == (
        {"first-00": "heel_lift"},
        "2026-05-01T10:00:00.000Z",
        "2026-05-01T10:02:00.000Z",
    )
    (tmp_path / "C1.json").unlink()  # as if killed before it was written
    again = Journal(journal.path, form, "C1", lambda: next(times))
    assert again.begun == journal.begun == "2026-05-01T10:00:00.000Z"
    assert again.hand_in(tmp_path / "C1.json") == sheet
    for closed in (journal, again):
        with pytest.raises(
            ValueError, match="handed in at 2026-05-01T10:02:00.000Z: answers can n"
        ):
            closed.put("first-00", "nothing")


def test_a_journal_belongs_to_one_candidate_and_form(tmp_path, form_and_key):
    form, _ = form_and_key
    begun(tmp_path / "C1.journal", form, "C1").put("first-00", "heel_lift")
    for other, who in ((form, "C2"), (replace(form, seal="0" * 64), "C1")):
        with pytest.raises(ValueError, match=f"was not started by candidate {who} for form spring"):
            Journal(tmp_path / "C1.journal", other, who)
    with pytest.raises(ValueError, match="form spring has no item 'first-99'"):
        Journal(tmp_path / "C1.journal", form, "C1").put("first-99", "x")
    with pytest.raises(
        ValueError, match="answer to first-00 is .* no option, number or list of options"
    ):
        Journal(tmp_path / "C1.journal", form, "C1").put("first-00", {"a": 1})


def test_a_line_changed_by_hand_is_not_used_and_is_named(tmp_path, form_and_key):
    form, _ = form_and_key
    journal = begun(tmp_path / "C1.journal", form, "C1")
    journal.put("first-00", "heel_lift")
    journal.put("first-01", "nothing")
    text = journal.path.read_text()
    journal.path.write_text(text.replace("heel_lift", "uneven_bar"))
    again = Journal(journal.path, form, "C1")
    assert again.answers == {"first-01": "nothing"} and again.damaged == (3,)
    journal.path.write_text(text.replace(text.splitlines()[3], "scribble"))
    again = Journal(journal.path, form, "C1")
    assert again.answers == {"first-00": "heel_lift"} and again.damaged == (4,)


def test_a_journal_is_begun_once_and_takes_nothing_before(tmp_path, form_and_key):
    form, _ = form_and_key
    times = iter([datetime(2026, 5, 1, 10, n, tzinfo=UTC) for n in range(9)])
    path = tmp_path / "C1.journal"
    for _ in range(2):
        journal = Journal(path, form, "C1", lambda: next(times))
        assert journal.begun == ""
        with pytest.raises(
            ValueError, match="not started yet: press Begin, which starts the clock"
        ):
            journal.put("first-00", "heel_lift")
        with pytest.raises(ValueError, match="not started yet"):
            journal.hand_in(tmp_path / "C1.json")
    other = Journal(path, form, "C1", lambda: next(times))
    for one in (journal, other, journal, Journal(path, form, "C1", lambda: next(times))):
        one.begin()
        assert one.begun == "2026-05-01T10:00:00.000Z"
    line_files.append(path, {"begun": "2026-05-01T10:30:00.000Z"})  # two windows at the same moment
    assert Journal(path, form, "C1").begun == "2026-05-01T10:00:00.000Z"
    path.write_text("".join(path.read_text().splitlines(keepends=True)[:2]))
    # The line changed by hand: the first answer's time stands for it, not a new beginning.
    journal.put("first-00", "heel_lift")
    path.write_text(path.read_text().replace("10:00:00.000Z", "23:00:00.000Z"))
    again = Journal(path, form, "C1")
    again.begin()
    assert again.begun == "2026-05-01T10:01:00.000Z" and again.damaged == (2,)


def test_an_answer_after_handing_in_from_another_window_does_not_count(tmp_path, form_and_key):
    form, _ = form_and_key
    one = begun(tmp_path / "C1.journal", form, "C1")
    other = Journal(tmp_path / "C1.journal", form, "C1")
    one.put("first-00", "heel_lift")
    sheet = one.hand_in(tmp_path / "C1.json")
    with pytest.raises(ValueError, match="handed in at .*: answers can no longer be changed"):
        other.put("first-00", "nothing")
    # As if saved by another window at the same moment.
    line_files.append(one.path, {"item": "first-00", "answer": "nothing", "at": sheet.handed_in})
    again = Journal(tmp_path / "C1.journal", form, "C1")
    assert again.answers == {"first-00": "heel_lift"}
    assert again.hand_in(tmp_path / "C1.json") == other.hand_in(tmp_path / "C1.json") == sheet


def test_what_another_window_saved_is_handed_in_as_well(tmp_path, form_and_key):
    form, _ = form_and_key
    one = begun(tmp_path / "C1.journal", form, "C1")
    other = Journal(tmp_path / "C1.journal", form, "C1")
    one.put("first-00", "heel_lift")
    other.put("first-01", "nothing")
    assert other.answers == {"first-00": "heel_lift", "first-01": "nothing"}
    assert one.hand_in(tmp_path / "C1.json").answers == other.answers


def test_a_journal_that_was_taken_away_is_not_begun_anew(tmp_path, form_and_key):
    form, _ = form_and_key
    journal = begun(tmp_path / "C1.journal", form, "C1")
    journal.put("first-00", "heel_lift")
    journal.path.unlink()
    with pytest.raises(OSError):
        journal.put("first-01", "nothing")
    assert journal.answers == {"first-00": "heel_lift"} and not journal.path.exists()


# Forms and keys.


def test_form_and_key_come_back_and_fit(tmp_path, form_and_key):
    form, key = form_and_key
    assert Form.read(form.write(tmp_path / "form.json")) == form
    path = key.write(tmp_path / "key.json")
    assert FormKey.read(path) == key and path.stat().st_mode & 0o777 == 0o600
    form.check(FormKey.read(path))
    assert len(bytes.fromhex(key.salt)) == 32


def test_a_key_is_its_owners_alone_whatever_stood_there_and_whatever_the_umask(
    tmp_path, form_and_key
):
    path = tmp_path / "key.json"
    path.touch()
    path.chmod(0o666)
    before = os.umask(0)
    try:
        form_and_key[1].write(path)
    finally:
        os.umask(before)
    assert path.stat().st_mode & 0o777 == 0o600 and FormKey.read(path) == form_and_key[1]


def test_the_form_gives_nothing_of_the_key_away(tmp_path, form_and_key):
    form, key = form_and_key
    text = form.write(tmp_path / "form.json").read_text()
    assert key.salt not in text and not [f for f in invented_class.FAULTS if f in text]
    # Without the salt, the seal could be found by trying out keys.
    assert FormKey.of("spring", key.entries).seal != FormKey.of("spring", key.entries).seal


def test_another_key_is_refused(form_and_key):
    form, key = form_and_key
    with pytest.raises(ValueError, match="this is the key of form autumn; form spring needs its"):
        form.check(replace(key, form="autumn"))
    entry = replace(key.entries["first-00"], answer="heel_lift")
    with pytest.raises(ValueError, match="spring: the key is not the one the form was sealed with"):
        form.check(replace(key, entries=dict(key.entries) | {"first-00": entry}))
    sealed = replace(key, minutes=60.0)
    with pytest.raises(ValueError, match="its time was changed since it was sealed with 60 min"):
        replace(form, seal=sealed.seal, minutes=90.0).check(sealed)
    with pytest.raises(ValueError, match="have not the same items: first-00"):
        replace(form, items=form.items[1:]).check(key)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"kind": "essay"}, "the kind is one of first, spot, cue, number, rank, choice"),
        ({"points": 0}, "points are 0; give more than 0"),
        ({"options": ("a",)}, "two options at least, and none twice"),
        ({"options": ("a", "a", "nothing")}, "two options at least, and none twice"),
        ({"answer": "c"}, "what is right is among the options, each once: a, b, nothing"),
        ({"answer": ("a",)}, "one option is right"),
        ({"options": ("a", "b")}, 'the option "nothing" is missing: clean lifts are part of'),
        ({"kind": "spot"}, "give the options that are right as a tuple"),
        ({"kind": "spot", "answer": ("a", "a")}, "each once"),
        ({"kind": "cue", "answer": ()}, "one option at least is right"),
        ({"kind": "rank", "answer": ("a", "b")}, "one gain for each place"),
        ({"kind": "rank", "answer": ("a", "b"), "gains": (1, 2)}, "none above the one before"),
        ({"kind": "rank", "answer": ("a", "b"), "gains": (1, -2)}, "none below 0"),
        ({"kind": "number"}, "give a number and a tolerance, 0 or more"),
        ({"kind": "number", "answer": 1.0, "tolerance": -1}, "a tolerance, 0 or more"),
    ],
)
def test_a_key_entry_that_does_not_fit_together(form_and_key, change, words):
    from squatlab.questions.question import Key

    with pytest.raises(ValueError, match=words):
        Key(**{"kind": "first", "answer": "a", "options": ("a", "b", "nothing")} | change)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"id": "a/b"}, "the form is “a/b”; use 1 to 64 letters"),
        ({"items": ()}, "give one item at least, and none twice"),
        ({"items": ("a", "a")}, "give one item at least, and none twice"),
        ({"items": ("a b",)}, "the item is “a b”"),
        ({"cut": 41}, "the cut is 41; it must lie between 0 and 40 right items"),
    ],
)
def test_a_form_that_cannot_be(form_and_key, change, words):
    with pytest.raises(ValueError, match=words):
        replace(form_and_key[0], **change)


def test_a_file_says_what_it_is(tmp_path, sheets):
    whole = json.loads(sheets[0].write(tmp_path / "sheet.json").read_text())
    assert (whole["what"], whole["version"]) == ("squatlab exam answers", 1)
    checksum = whole.pop("checksum")
    assert files.fingerprint(whole) == checksum
