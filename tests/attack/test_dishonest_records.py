"""Records as a dishonest keeper leaves them: what is seen, by whom, and what cannot be."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

import pytest
import sqlalchemy

from squatlab.exam import signing
from squatlab.exam.marking import mark
from squatlab.exam.records import (
    Records,
    RecordsError,
    appeal,
    chain,
    change,
    check,
    copy,
    decide,
    due_to_forget,
    enrol_coach,
    forget,
    issue,
    ledger,
    note_output,
    record_all,
    record_review,
    rule,
    schema,
)
from squatlab.exam.records.keeping import STAYS
from tests.exam import invented_class
from tests.exam.test_records import execute, rows, tamper


@pytest.fixture
def book(room):
    """Records of three who sat the form: decided, one certified, one heard, one item credited."""
    sheets = []
    for n, who in enumerate(("C1", "C2", "C3")):
        code = room.open(who)
        right = room.sheet(who).answers
        slips = {f"first-{m:02}": "bar_forward" for m in range(8 * n)}
        sheets.append(room.sheet(who, code, answers={**right, **slips}))
        room.hand_in(sheets[-1])
    stand, _ = room.receive()
    marks = mark(room.form, room.key, stand.values())
    attempts, _ = record_all(room.records, marks, stand.values())
    for one in attempts:
        decide(room.records, one.number)
    issue(room.records, attempts[0].number, "B. Judge", "a trial", "a club", "a course")
    slip = sheets[1].answers["first-00"]
    appeal(room.records, attempts[1].number, {"first-00": slip}, "both fit")
    rule(room.records, room.form, room.key, "first-01", "the clip was cut")
    note_output(room.records, "gradebook", "x", "y")
    room.records.sign()
    key = signing.public(signing.read_key(room.records.key_file))
    assert room.records.verify(room.records.head(), key) == ()
    return room, attempts, key


def file_of(room) -> str:
    return str(room.folder / "records.sqlite")


def test_every_single_cell_that_is_changed_is_seen(book):
    """Each cell of each row of each table, changed alone behind the records' back."""
    room, _, key = book
    path, tried = file_of(room), 0
    base = (room.folder / "records.sqlite").read_bytes()
    for name, table in schema.TABLES.tables.items():
        if name == "about":
            continue
        for row in rows(room.records, name):
            for column in table.c:
                value = row[column.name]
                other = (
                    "NULL"
                    if value is not None and column.nullable
                    else "'~'"
                    if isinstance(value, str) or value is None
                    else str(int(not value))
                    if isinstance(value, bool)
                    else str(value + 1000)
                )
                where = " AND ".join(f"{one.name} = {row[one.name]!r}" for one in table.primary_key)
                tamper(path, f"UPDATE {name} SET {column.name} = {other} WHERE {where}")
                assert room.records.verify("", key), (name, column.name, row)
                (room.folder / "records.sqlite").write_bytes(base)
                tried += 1
    assert tried > 300


def reckoned(path: str) -> None:
    """Recompute the whole chain, as whoever knows SHA-256 can."""
    records = Records(path, "the forger")
    with records.writing() as step:
        connection, previous = step.connection, ""
        ordered = sqlalchemy.select(schema.chain).order_by(schema.chain.c.number)
        links = list(connection.execute(ordered).mappings())
        for link in links:
            table = schema.KEPT[link["kind"]]
            found = sqlalchemy.select(table).where(table.c.number == link["number"])
            row = connection.execute(found).mappings().one()
            new = dict(link) | {"previous": previous}
            previous = chain.hash_of(new, row)
            update = schema.chain.update().where(schema.chain.c.number == link["number"])
            connection.execute(update.values(previous=new["previous"], hash=previous))
    records.close()


def test_an_invented_decision_is_seen_even_in_a_chain_recomputed(book):
    """Numbers that do not follow from answers, rulings and appeals are named: no key is needed."""
    room, attempts, _ = book
    with room.records.writing("the forger") as step:
        step.append(
            schema.decisions, attempt=attempts[2].number, score=29.0, passed=True, why="so it is"
        )
    room.records.sign()
    found = room.records.verify()
    assert any("nothing that is on record led to it" in one for one in found)
    assert any("give 17 at a cut of 22.5, not 29, passed" in one for one in found)


def test_a_mark_invented_with_its_fingerprints_contradicts_the_score(book):
    """All hashes recomputed: then the answers no longer give what was handed in, or the score."""
    room, attempts, key = book
    execute(room.records, f"UPDATE attempts SET score = 28 WHERE number = {attempts[2].number}")
    reckoned(file_of(room))
    found = room.records.verify()
    assert any("its answers give 16 of 30, not 28 of 30" in one for one in found)
    assert room.records.verify("", key) != found, "and the signature does not hold either"


def test_a_chain_recomputed_shows_by_the_signature_and_by_an_older_head(book):
    room, _, key = book
    head = room.records.head()
    execute(room.records, "UPDATE incidents SET why = 'x'")
    execute(room.records, "UPDATE rulings SET why = 'because'")
    reckoned(file_of(room))
    with room.records.reading() as connection:
        assert chain.verify(connection) == (), "the chain alone does not show it"
    by_key = room.records.verify("", key)
    assert any("the signature of row" in one and "does not hold" in one for one in by_key)
    assert any("is not the one that was noted" in one for one in room.records.verify(head))
    execute(room.records, "DELETE FROM signatures")
    assert room.records.verify() == (), "without head and key nothing is seen, and that is said"
    assert any("are not signed with this key" in one for one in room.records.verify("", key))


def test_a_revocation_cut_off_shows_to_whoever_has_a_head_from_after_it(book):
    room, attempts, key = book
    code = rows(room.records, "certificates")[0]["code"]
    before = room.records.sign()
    change(room.records, code, "revoked", "sat under another name")
    after = room.records.sign()
    witness = signing.read_key(key_of_a_witness(room))
    witnessed = room.records.sign("W. Witness", witness)
    assert check(room.records, code).status == "revoked" and witnessed.key != after.key
    last = after.number
    tamper(
        file_of(room),
        f"DELETE FROM certificates WHERE number = {last}",
        f"DELETE FROM signatures WHERE number = {last}",
        f"DELETE FROM chain WHERE number = {last}",
    )
    assert check(room.records, code).status == "valid"
    assert room.records.verify("", key) == (), "without a head from after it, nothing shows"
    assert room.records.verify(before.note, key) == ()
    for one in (after, witnessed):
        found = room.records.verify(one.note, key)
        assert any(f"from there to row {last} was cut off" in words for words in found)
    # What a witness kept proves it by itself: the signature is theirs, over that head.
    assert signing.signed(signing.public(witness), witnessed.message, witnessed.signature)
    assert attempts


def key_of_a_witness(room):
    path = room.folder / "witness.json"
    signing.make_key(path)
    return path


def test_the_signing_key_is_its_owners_and_is_not_drawn_anew(book):
    room, *_ = book
    path = room.records.key_file
    assert path.stat().st_mode & 0o777 == 0o600
    path.rename(room.folder / "elsewhere.json")
    change_ = rows(room.records, "certificates")[0]["code"]
    change(room.records, change_, "suspended", "a question")
    with pytest.raises(RecordsError, match="is signed, and its key is not in"):
        room.records.sign()


def test_nobody_writes_without_a_name_and_no_time_falls(book):
    room, *_ = book
    for nobody in ("", "  ", "\t"):
        room.records.by = nobody
        with pytest.raises(RecordsError, match="say who writes this into the records"):
            enrol_coach(room.records, "K1")
    with room.records.reading() as connection:
        links = list(connection.execute(sqlalchemy.select(schema.chain)).mappings())
    assert all(link["by"].strip() for link in links)
    assert [link["at"] for link in links] == sorted(link["at"] for link in links)
    execute_as(room.records, "UPDATE chain SET by = ' ' WHERE number = 5")
    assert any("says nobody who wrote it" in one for one in room.records.verify())


def execute_as(records: Records, command: str) -> None:
    records.by = "T. Test"
    execute(records, command)


# Reviews, certificates.


def test_two_candidates_cannot_review_a_key_and_a_certificate_keeps_its_state(book):
    room, *_ = book
    answers = {item: invented_class.answer(e, True) for item, e in room.key.entries.items()}
    for who in ("C2", "C3"):
        with pytest.raises(RecordsError, match="is no coach on record"):
            record_review(room.records, room.form, room.key, who, answers)
        with pytest.raises(RecordsError, match="is a candidate's id"):
            enrol_coach(room.records, who)
    code = rows(room.records, "certificates")[0]["code"]
    assert check(room.records, code).key == "answer key not yet checked by coaches"
    for coach in ("K1", "K2"):
        enrol_coach(room.records, coach)
        record_review(room.records, room.form, room.key, coach, answers)
    assert check(room.records, code).key == "answer key not yet checked by coaches", (
        "as it was when it was issued"
    )
    with room.records.reading() as connection:
        dated = [row["at"] for row in chain.rows(connection, schema.reviews)]
    assert len(dated) == 2 and all(dated)


def test_credit_for_all_certifies_nobody(room):
    """22 of 32 lifts credited, and everybody would pass: the lifts left are too few."""
    code = room.open("C1")
    room.hand_in(room.sheet("C1", code))
    stand, _ = room.receive()
    attempts, _ = record_all(
        room.records, mark(room.form, room.key, stand.values()), stand.values()
    )
    decide(room.records, attempts[0].number)
    for n in range(21):
        rule(room.records, room.form, room.key, f"first-{n:02}", "found wrong")
    rule(room.records, room.form, room.key, "first-21", "found wrong")  # 22; the cut is 22.5
    with pytest.raises(RecordsError, match="as many lifts would be credited as its cut asks"):
        rule(room.records, room.form, room.key, "first-22", "found wrong")
    with pytest.raises(RecordsError, match="on 8 lifts without the 22 credited; fewer than 30"):
        issue(room.records, attempts[0].number, "B. Judge")


# Keeping.


def test_a_copy_is_whole_and_restores(book):
    room, _, key = book
    made = copy(room.records, room.folder / "copy.sqlite")
    assert made.head == room.records.head()
    (room.folder / "records.sqlite").unlink()
    kept = Records(room.folder / "copy.sqlite")
    again = copy(kept, room.folder / "records.sqlite")
    kept.close()
    restored = Records(room.folder / "records.sqlite", "A. Judge")
    assert restored.head() == again.head == made.head
    assert restored.verify(made.head, key) == (), "signatures came along"
    code = rows(restored, "certificates")[0]["code"]
    assert check(restored, code).status == "valid"
    decide(restored, rows(restored, "attempts")[0]["number"])
    enrol_coach(restored, "K1")
    assert restored.sign().signature and restored.verify("", key) == ()
    with pytest.raises(RecordsError, match="is there already: copy to a new file"):
        copy(restored, room.folder / "copy.sqlite")
    execute(restored, "UPDATE rulings SET why = 'x'")
    with pytest.raises(RecordsError, match="was altered, so it is not copied"):
        copy(restored, room.folder / "other.sqlite")
    restored.close()


def test_records_of_this_version_open_in_the_next(book, monkeypatch):
    """A later version adds a table and a column that may be empty: old rows keep their hashes."""
    room, _, key = book
    head = room.records.head()
    room.records.close()
    metadata = sqlalchemy.MetaData()
    for table in schema.TABLES.tables.values():
        table.to_metadata(metadata)
    metadata.tables["attempts"].append_column(sqlalchemy.Column("room", sqlalchemy.String(64)))
    sqlalchemy.Table(
        "rooms",
        metadata,
        sqlalchemy.Column("number", sqlalchemy.ForeignKey("chain.number"), primary_key=True),
        sqlalchemy.Column("name", sqlalchemy.Text, nullable=False),
    )
    done = []
    monkeypatch.setattr(schema, "TABLES", metadata)
    monkeypatch.setattr(schema, "VERSION", 2)
    monkeypatch.setattr(ledger, "UPGRADES", {1: lambda connection: done.append(1)})
    for name, table in metadata.tables.items():
        if name in schema.KEPT or name == "rooms":
            monkeypatch.setitem(schema.KEPT, name, table)
    monkeypatch.setattr(schema, "attempts", metadata.tables["attempts"])
    later = Records(file_of(room), "A. Judge")
    assert done == [1] and later.head() == head and later.verify(head, key) == ()
    with later.writing() as step:
        step.append(metadata.tables["rooms"], name="hall")
    assert later.verify() and "are not signed" in later.verify()[0] and len(later.verify()) == 1
    later.close()
    monkeypatch.undo()
    with pytest.raises(RecordsError, match="have version 2, this squatlab reads up to 1"):
        Records(file_of(room))
    tamper(file_of(room), "DROP TABLE about")
    with pytest.raises(RecordsError, match="have no version that it knows"):
        Records(file_of(room))


@pytest.fixture
def short_book(tmp_path):
    """Records of one row."""
    records = Records(tmp_path / "records.sqlite", "A. Judge")
    enrol_coach(records, "K1")
    yield records
    records.close()


def test_a_head_that_is_none_is_refused_and_not_passed_over(short_book):
    digits = "a" * 64
    notes = "x", "12", "7:", f"07:{digits}", f"7:{digits[1:]}", f"7:{digits}:b", f"-1:{digits}"
    for note in notes:
        with pytest.raises(RecordsError, match="the head noted is .* give the number and the 64"):
            short_book.verify(note)


def test_a_head_is_found_whatever_stands_around_it(short_book):
    number, _, digits = short_book.head().partition(":")
    assert short_book.verify(f" {number}:{digits}\n") == ()
    (words,) = short_book.verify(f" {number}:{digits[::-1]}")
    assert "is not the one that was noted" in words


def test_forgetting_destroys_one_person_s_row_and_no_other(short_book, tmp_path):
    """Names typed over two lines, or with a sign that only some programs take for a line's end."""
    for name in ('"A.\n Rower"', '"A.\r\nC2,x"', "A.\u2028Rower", "A.\x0bRower"):
        names = tmp_path / "names.csv"
        kept = f"candidate,name\r\nC1,{name}\r\nC3,C. Rower\n"
        names.write_bytes(kept.replace("C3", "C2,B. Rower\r\nC3").encode())
        forget(short_book, "C2", names, "asked to be")
        assert names.read_bytes().decode() == kept
        forget(short_book, "C1", names, "asked to be")
        assert names.read_bytes().decode() == "candidate,name\r\nC3,C. Rower\n"


def test_a_person_is_forgotten_and_what_stays_is_said(book):
    room, *_ = book
    names = room.folder / "names.csv"
    names.write_text("\ufeffcandidate,name\nC1,A. Rower\nC2,B. Rower\nC3,C. Rower\n")
    with pytest.raises(RecordsError, match="needs the reason"):
        forget(room.records, "C2", names, " ")
    assert forget(room.records, "C2", names, "asked to be") == STAYS
    assert names.read_text() == "candidate,name\nC1,A. Rower\nC3,C. Rower\n"
    assert names.stat().st_mode & 0o777 == 0o600
    with pytest.raises(RecordsError, match="has no candidate C2"):
        forget(room.records, "C2", names, "again")
    other = invented_class.form_and_key(name="autumn")
    from squatlab.exam.records import open_form

    with pytest.raises(RecordsError, match="C2 was forgotten: the id stands for nobody any more"):
        open_form(room.records, *other, "C2")
    assert room.records.verify() == () or "not signed" in room.records.verify()[0]
    assert b"Rower" not in (room.folder / "records.sqlite").read_bytes()
    assert due_to_forget(room.records) == ()
    room.clock.later(days=3651)
    assert due_to_forget(room.records) == ("C3",), "C1's certificate ended later, C2 is gone"
    room.clock.later(days=731)
    assert due_to_forget(room.records) == ("C1", "C3")


def test_edited_swapped_and_doubled_hand_ins_after_the_marking(book):
    """The rows of hand-ins and attempts hold each other: swapping answers shows."""
    room, attempts, _ = book
    one, two = rows(room.records, "hand_ins")[:2]
    with sqlite3.connect(file_of(room)) as file:
        file.execute(
            "UPDATE hand_ins SET answers = ? WHERE number = ?", (two["answers"], one["number"])
        )
    file.close()
    assert f"hand_ins, row {one['number']} (C1, spring), was altered" in room.records.verify()
    reckoned(file_of(room))
    assert any(
        "its answers are not those that were handed in" in words for words in room.records.verify()
    )
    assert attempts and replace
