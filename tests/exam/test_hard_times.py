"""Killed, crowded, out of room: what answers and records go through without loss."""

from __future__ import annotations

import contextlib
import errno
import multiprocessing
import os
import random
import shutil
import signal
import sys
import time
from dataclasses import replace

import pytest
import sqlalchemy

from squatlab.__main__ import main
from squatlab.exam.answers import Sheet, hand_in_files
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.journal import Journal
from squatlab.exam.marking import mark
from squatlab.exam.records import (
    Records,
    RecordsUnwritten,
    decisions,
    open_form,
    record_all,
    standings,
)
from squatlab.questions import files
from tests.exam import invented_class

# Children come from a server that has imported everything and holds no threads and no files.
PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["squatlab.exam.records", "tests.exam.invented_class"])
FEW, MANY = 2, 20
"""Kills of each kind in a normal run, and with --long-fuzz."""

CROWD, LARGE_CROWD = 8, 50
"""Processes that are let go together in a normal run, and with --long-fuzz."""


@pytest.fixture
def kills(request) -> int:
    """Return how often a test kills its child."""
    return MANY if request.config.getoption("--long-fuzz") else FEW


@pytest.fixture
def crowd(request) -> int:
    """Return how many processes are let go together."""
    return LARGE_CROWD if request.config.getoption("--long-fuzz") else CROWD


@pytest.fixture
def sitting(request) -> int:
    """Return how many people sit the exam whose recording is killed."""
    return 200 if request.config.getoption("--long-fuzz") else 80


def attempts(records: Records) -> list[str]:
    with records.reading() as connection:
        found = connection.execute(sqlalchemy.text("SELECT candidate FROM attempts"))
        return sorted(found.scalars())


def hand_in_and_record(where: str, folder, form: Form, key: FormKey, sheet: Sheet, ready) -> None:
    """Hand in to a folder, mark and record; the life of a child."""
    ready.wait()
    sheet.write(folder / f"{sheet.candidate}.json")
    records = Records(where, "T. Test")
    invented_class.record_all(records, form, key, [sheet])
    records.close()


def record_one_by_one(where: str, form: Form, key: FormKey, sheets: list[Sheet], ready) -> None:
    """Record a sitting with a breath after each sheet: nobody ends before the kill."""
    ready.wait()
    records = Records(where, "T. Test")
    for sheet in sheets:
        invented_class.record_all(records, form, key, [sheet])
        time.sleep(0.005)
    records.close()


def test_many_at_once_lose_nothing_and_double_nothing(where, form_and_key, tmp_path, crowd):
    """Processes let go together: one folder, and records that do not exist yet."""
    form, key = form_and_key
    sheets = list(invented_class.sheets(form, key, crowd))
    gate, folder = PROCESSES.Barrier(crowd), tmp_path / "hand-ins"
    folder.mkdir()
    children = [
        PROCESSES.Process(target=hand_in_and_record, args=(where, folder, form, key, sheet, gate))
        for sheet in sheets
    ]
    for child in children:
        child.start()
    for child in children:
        child.join(300)
    assert [child.exitcode for child in children] == [0] * crowd
    assert [Sheet.read(path) for path in hand_in_files(folder)] == sheets
    assert len(list(folder.iterdir())) == crowd, "nothing half-written is left"
    records = Records(where, "T. Test")
    assert attempts(records) == [sheet.candidate for sheet in sheets]
    assert records.verify() == ()
    records.close()


def test_killed_again_and_again_in_the_middle_of_recording(where, form_and_key, kills, sitting):
    form, key = form_and_key
    sheets = list(invented_class.sheets(form, key, sitting))
    delays = random.Random(7)
    kept, interrupted = 0, 0
    for _ in range(kills):
        ready = PROCESSES.Event()
        child = PROCESSES.Process(
            target=record_one_by_one, args=(where, form, key, sheets[max(0, kept - 20) :], ready)
        )
        child.start()
        ready.set()
        # Only once it is at work does the clock run: on a slow machine it is killed there too.
        wait_for_more(where, kept, child)
        time.sleep(delays.uniform(0.0, 0.03))
        child.kill()
        child.join()
        interrupted += child.exitcode == -9
        records = Records(where, "T. Test")
        so_far = attempts(records)
        assert len(so_far) >= kept and len(set(so_far)) == len(so_far)
        assert records.verify() == ()
        records.close()
        kept = len(so_far)
    assert interrupted == kills and 0 < kept < sitting
    records = Records(where, "T. Test")
    done, refused = invented_class.record_all(records, form, key, sheets)
    assert not refused and len(done) == sitting
    assert attempts(records) == [sheet.candidate for sheet in sheets]
    assert records.verify() == ()
    records.close()


def wait_for_more(where: str, before: int, child) -> None:
    """Wait until the child has recorded something that was not there before."""
    end = time.monotonic() + 120
    while child.is_alive() and time.monotonic() < end:
        records = Records(where, "T. Test")
        more = len(attempts(records)) > before
        records.close()
        if more:
            return
        time.sleep(0.005)


AT_ONCE = 6
"""People whose marks are recorded together, here: as many steps, and a third of the work."""


def marking(folder) -> list[str]:
    """Return the command that marks what was handed in to a folder."""
    files = [str(folder / name) for name in ("form.zip", "key.json", "hand-ins")]
    return ["mark", *files, "--by", "J. Panel", "--records", str(folder / "records.sqlite")]


def mark_until(call: int, folder, told) -> None:
    """Mark and tell how many calls it took, but be killed at one of them; the life of a child."""
    made = 0

    def count(frame, event, _) -> None:
        nonlocal made
        if event == "call" and "squatlab" in frame.f_code.co_filename:
            made += 1
            if made == call:
                os.kill(os.getpid(), signal.SIGKILL)

    decisions.AT_ONCE = AT_ONCE
    with contextlib.redirect_stdout(None):
        sys.setprofile(count)
        main(marking(folder))
        sys.setprofile(None)
    told.send(made)


def test_killed_at_random_points_of_marking_and_run_again(
    codes_as_they_are, tmp_path, form_and_key, kills, monkeypatch
):
    """Reading, marking, recording, deciding: wherever it ends, the next run completes it."""
    form, key = form_and_key
    (tmp_path / "hand-ins").mkdir()
    form, key = invented_class.pack(tmp_path / "form.zip", form, key)
    key.write(tmp_path / "key.json")
    people = AT_ONCE + 2  # recorded in two steps
    monkeypatch.setattr(decisions, "AT_ONCE", AT_ONCE)
    opened = Records(tmp_path / "opened.sqlite", "T. Test")
    now = files.stamp(files.now())
    for sheet in invented_class.sheets(form, key, people):
        sheet = replace(sheet, began=now, handed_in=now)
        slip = open_form(opened, form, key, sheet.candidate)
        sheet.proven(slip.code).write(tmp_path / "hand-ins" / f"{sheet.candidate}.json")
    opened.close()
    shutil.copy(tmp_path / "opened.sqlite", tmp_path / "records.sqlite")

    def run(call: int) -> tuple[int, int]:
        ours, theirs = PROCESSES.Pipe(duplex=False)
        child = PROCESSES.Process(target=mark_until, args=(call, tmp_path, theirs))
        child.start()
        theirs.close()
        child.join(300)
        return child.exitcode, ours.recv() if child.exitcode == 0 else 0

    def kept() -> tuple[list, int]:
        records = Records(tmp_path / "records.sqlite", "T. Test")
        assert records.verify() == ()
        found = [(one.candidate, one.decision and one.decision.score) for one in standings(records)]
        with records.reading() as connection:
            many = connection.execute(sqlalchemy.text("SELECT count(*) FROM decisions")).scalar()
        records.close()
        return found, many

    ended, calls = run(0)
    whole, decided = kept()
    assert (ended, len(whole), decided) == (0, people, people)
    # Half of them anywhere; half in the last third, where it records and decides.
    draw, states = random.Random(10), set()
    half = max(4, kills // 2)  # fewer never end before anything is kept, and after all
    early, late = range(1, calls), range(2 * calls // 3, calls)
    for point in draw.sample(early, half) + draw.sample(late, half):
        for rest in tmp_path.glob("records.*"):
            rest.unlink()
        shutil.copy(tmp_path / "opened.sqlite", tmp_path / "records.sqlite")
        assert run(point) == (-signal.SIGKILL, 0)
        states.add((len(kept()[0]), kept()[1]))
        assert main(marking(tmp_path)) == 0
        assert kept() == (whole, people)
    assert {(0, 0), (people, people)} <= states, "killed before anything was kept, and after all"


def answer_on(path, form: Form, acknowledged) -> None:
    """Answer the form over and over, and tell the parent what was saved; the life of a child."""
    journal = Journal(path, form, "C1")
    journal.begin()
    for number in range(1_000_000):
        item = form.items[number % len(form.items)]
        journal.put(item, float(number))
        acknowledged.send((item, float(number)))


def test_killed_again_and_again_in_the_middle_of_answering(tmp_path, form_and_key, kills):
    form, _ = form_and_key
    path = tmp_path / "answers.journal"
    delays = random.Random(8)
    for _ in range(kills):
        ours, theirs = PROCESSES.Pipe(duplex=False)
        child = PROCESSES.Process(target=answer_on, args=(path, form, theirs))
        child.start()
        theirs.close()
        saved = dict([ours.recv()])
        time.sleep(delays.uniform(0.0, 0.1))
        child.kill()
        child.join()
        try:
            while True:
                item, answer = ours.recv()
                saved[item] = answer
        except EOFError:
            pass
        kept = Journal(path, form, "C1")
        lost = {item for item in saved if kept.answers[item] < saved[item]}
        newer = {item for item in saved if kept.answers[item] > saved[item]}
        # One answer may be on the disk before anybody was told.
        assert not lost and len(newer) <= 1 and not kept.damaged
        assert child.exitcode == -9


def hand_in_on(path, sheets: list[Sheet], ready) -> None:
    """Write one hand-in over another, over and over; the life of a child."""
    sheets[0].write(path)
    ready.set()
    while True:
        for sheet in sheets:
            sheet.write(path)


def test_killed_again_and_again_in_the_middle_of_handing_in(tmp_path, form_and_key, kills):
    """The hand-in file is the old one or the new one, and collected as such."""
    form, key = form_and_key
    sheets = list(invented_class.sheets(form, key, 2))
    delays = random.Random(9)
    for _ in range(kills):
        ready = PROCESSES.Event()
        arguments = (tmp_path / "C1.json", sheets, ready)
        child = PROCESSES.Process(target=hand_in_on, args=arguments)
        child.start()
        assert ready.wait(120)
        time.sleep(delays.uniform(0.0, 0.05))
        child.kill()
        child.join()
        (kept,) = hand_in_files(tmp_path)
        assert Sheet.read(kept) in sheets


def test_a_torn_line_is_cut_off_and_the_next_answer_is_whole(tmp_path, form_and_key):
    form, _ = form_and_key
    path = tmp_path / "answers.journal"
    journal = Journal(path, form, "C1")
    journal.begin()
    for n in range(3):
        journal.put("number-0", n)
    whole = path.read_bytes()
    path.write_bytes(whole[:-1])  # the line's end alone: the answer is whole
    assert Journal(path, form, "C1").answers == {"number-0": 2}
    assert path.read_bytes() == whole
    for cut in range(2, len(whole.splitlines(keepends=True)[-1])):
        path.write_bytes(whole[:-cut])
        again = Journal(path, form, "C1")
        assert again.answers == {"number-0": 1} and again.damaged == ()
        again.put("number-1", 5)
        assert Journal(path, form, "C1").answers == {"number-0": 1, "number-1": 5}


# No room on the disk.


def test_an_answer_without_room_is_not_called_saved(tmp_path, form_and_key, monkeypatch):
    form, _ = form_and_key
    path = tmp_path / "answers.journal"
    journal = Journal(path, form, "C1")
    journal.begin()
    journal.put("number-0", 1)
    before, write = path.read_bytes(), os.write

    def full(descriptor, data):
        if len(data) > 10:
            return write(descriptor, data[:10])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "write", lambda fd, data: full(fd, data) if len(data) else 0)
    with pytest.raises(
        OSError, match="this was NOT saved .No space.*what was saved before is safe"
    ):
        journal.put("number-0", 2)
    monkeypatch.undo()
    assert journal.answers == {"number-0": 1} and path.read_bytes() == before
    journal.put("number-0", 3)
    assert Journal(path, form, "C1").answers == {"number-0": 3}


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_file_without_room_leaves_the_old_one(tmp_path, form_and_key, monkeypatch, step):
    form, _ = form_and_key
    path = form.write(tmp_path / "form.json")
    before = path.read_bytes()

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, step, full)
    with pytest.raises(OSError, match="was not written .No space.*before is unchanged. Make room"):
        replace(form, cut=1).write(path)
    assert path.read_bytes() == before and list(tmp_path.iterdir()) == [path]


def test_records_without_room_keep_what_they_had(tmp_path, form_and_key):
    """SQLite is told that the file may not grow, as a full disk would tell it."""
    form, key = form_and_key
    sheets = list(invented_class.sheets(form, key, 80))
    records = Records(tmp_path / "records.sqlite", "T. Test")
    invented_class.received(records, form, key, sheets)
    with records.reading() as connection:
        pages = connection.execute(sqlalchemy.text("PRAGMA page_count")).scalar()

    def limit(connection, _):
        connection.execute(f"PRAGMA max_page_count={pages + 24}").close()

    marks = mark(form, key, sheets)
    sqlalchemy.event.listen(records._engine, "connect", limit)
    with pytest.raises(
        RecordsUnwritten, match="not recorded .*full.*run the same again: nothing i"
    ):
        record_all(records, marks, sheets)
    kept = attempts(records)
    assert 0 < len(kept) < 80 and records.verify() == ()
    sqlalchemy.event.remove(records._engine, "connect", limit)
    done, refused = record_all(records, marks, sheets)
    assert len(done) == len(attempts(records)) == 80 and not refused and records.verify() == ()


def test_records_that_another_program_holds(tmp_path, form_and_key, monkeypatch):
    form, key = form_and_key
    sheets = list(invented_class.sheets(form, key, 1))
    monkeypatch.setattr("squatlab.exam.records.ledger.PATIENCE_S", 0.1)
    records = Records(tmp_path / "records.sqlite", "T. Test")
    with records.writing(), pytest.raises(RecordsUnwritten, match="another program has held it"):
        invented_class.record_all(records, form, key, sheets)
    assert len(invented_class.record_all(records, form, key, sheets)[0]) == 1
