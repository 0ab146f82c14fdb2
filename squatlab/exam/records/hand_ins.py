"""What came in: received by this machine's clock, proven by a code, refused by name.

Nothing that was handed in is lost: a hand-in that is refused is a row as
well, with the reason, and an examiner may let it stand, with theirs.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Connection

from squatlab import tables
from squatlab.exam import codes
from squatlab.exam.answers import Refusal, Sheet, misfit, without_units
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.package import Package
from squatlab.exam.records import chain, schema
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.ledger import Records, Step
from squatlab.exam.records.openings import enrol, minutes_of, openings
from squatlab.questions import files

FILE = "file"
"""The mode of a hand-in that came as a file: nobody but the candidate timed it."""

TOGETHER = 20
"""Hand-ins received in one step: the disk is waited for once a step [teaching-value]."""


class HandIn(NamedTuple):
    """Hold what was handed in, and whether it stands.

    ``mode`` is "served" or "file". Times are UTC as text: ``declared`` by
    the candidate's machine, ``received`` by the certifier's, ``handed_in``
    the one of the two that decides. ``why`` says why it does not stand, or
    who let it stand.
    """

    number: int
    candidate: str
    form: str
    mode: str
    file: str
    receipt: str
    declared: str
    received: str
    handed_in: str
    stands: bool
    why: str


@dataclass(frozen=True)
class Received:
    """Hold the sheets to mark, one a candidate, and what was refused."""

    sheets: tuple[Sheet, ...]
    refused: tuple[Refusal, ...]


@dataclass(frozen=True)
class _Desk:
    """Hold what a hand-in is checked against."""

    form: Form
    key: FormKey
    package: Package | None
    closes: datetime | None

    def numbers(self, sheet: Sheet) -> Sheet:
        return without_units(sheet, self.package.questions) if self.package else sheet


def receive(
    records: Records,
    package: Package,
    key: FormKey,
    paths: Iterable[str | Path],
    closes: datetime | None = None,
) -> Received:
    """Take hand-in files in, each a row; refuse by name, never stop.

    A hand-in stands if the candidate was given the form (`open_form`), if
    their code proves it, and if no other of theirs contradicts it: of two
    that differ neither stands, until an examiner decides (`let_stand`).
    ``closes`` is the end of the sitting at time factor 1. Which clock
    decides, the candidate's or this machine's, ``data/exam_policy.csv``
    says. The same file again changes nothing. Raises ValueError if the key
    is not the package's.
    """
    package.check(key)
    desk = _Desk(package.form, key, package, closes)
    ordered, hand_ins_read = sorted(map(Path, paths)), []
    for start in range(0, len(ordered), TOGETHER):
        with records.writing() as step:
            enrol(step, package.form)
            for path in ordered[start : start + TOGETHER]:
                hand_ins_read.append(_take(step, desk, path))
    return _standing(records, desk.form, hand_ins_read)


def receive_sheets(
    records: Records,
    form: Form,
    key: FormKey,
    sheets: Sequence[Sheet],
    closes: datetime | None = None,
) -> Received:
    """Do the same with sheets that are no files, their numbers without units."""
    form.check(key)
    desk, hand_ins_read = _Desk(form, key, None, closes), []
    for start in range(0, len(sheets), TOGETHER):
        with records.writing() as step:
            enrol(step, form)
            hand_ins_read += [
                _judge(step, desk, sheet, "") for sheet in sheets[start : start + TOGETHER]
            ]
    return _standing(records, desk.form, hand_ins_read)


def hand_ins(records: Records, form: str = "") -> tuple[HandIn, ...]:
    """Return everything that was handed in, refused or not, in order."""
    wanted = {"form": form} if form else {}
    with records.reading() as connection:
        rows = chain.rows(connection, schema.hand_ins, **wanted)
        return tuple(hand_in_of(connection, row) for row in rows)


def standing(records: Records, form: Form) -> Received:
    """Return every sheet on record for a form that stands, served or received.

    ``refused`` is of candidates of whom none stands.
    """
    every = hand_ins(records, form.id)
    standing_of = {hand_in.candidate for hand_in in every if hand_in.stands}
    wanted = [
        hand_in for hand_in in every if hand_in.stands or hand_in.candidate not in standing_of
    ]
    return _standing(records, form, wanted)


def absent(records: Records, form: str) -> tuple[str, ...]:
    """Return who was given a form and of whom nothing came, refused or not."""
    heard_of = {hand_in.candidate for hand_in in hand_ins(records, form)}
    return tuple(
        opening.candidate
        for opening in openings(records, form)
        if opening.candidate not in heard_of
    )


def let_stand(records: Records, number: int, why: str, by: str = "") -> HandIn:
    """Let a hand-in stand that was refused; others by the candidate then do not.

    Raises RecordsError without a reason, for a hand-in that is not there,
    that nobody can mark, or where other answers were marked already.
    """
    if not why.strip():
        raise RecordsError("to let a hand-in stand needs the reason (why)")
    with records.writing(by) as step:
        connection = step.connection
        row = chain.newest(connection, schema.hand_ins, number=number)
        if row is None or not row["candidate"]:
            raise RecordsError(f"there is no hand-in {number} that could be marked")
        who, form = row["candidate"], row["form"]
        if not chain.rows(connection, schema.openings, candidate=who, form=form):
            raise RecordsError(f"candidate {who} was never given form {form}: open it for them")
        sat = chain.newest(connection, schema.attempts, candidate=who, form=form)
        if sat and sat["answers"] != row["digest"]:
            raise RecordsError(
                f"attempt {sat['number']} of {who} was marked from other answers and stands"
            )
        for other in _others(connection, row):
            reason = f"hand-in {number} stands instead: {why}"
            step.append(schema.standings, hand_in=other["number"], stands=False, why=reason)
        if not stands(connection, row):
            step.append(schema.standings, hand_in=number, stands=True, why=why)
        return hand_in_of(connection, row)


def keep(
    step: Step, sheet: Sheet, mode: str, file: str, handed_in: str, refused: str = ""
) -> HandIn:
    """Keep a hand-in as a row, with why it is refused, "" if it is not.

    The same again gives the row that is there. One that contradicts
    another is refused together with it.
    """
    connection = step.connection
    mine = {"candidate": sheet.candidate, "form": sheet.form, "digest": sheet.digest}
    for row in chain.rows(connection, schema.hand_ins, **mine):
        if row["refused"] == refused or not refused and row["refused"].startswith(CONFLICT):
            return hand_in_of(connection, row)
        if not refused and row["mode"] != mode:
            return hand_in_of(connection, row)  # the same answers, also as a file
    row = {
        "form": sheet.form,
        "candidate": sheet.candidate,
        "mode": mode,
        "file": file,
        "digest": sheet.digest,
        "answers": files.canonical(sheet.answers),
        "began": sheet.began,
        "ended": sheet.handed_in,
        "handed_in": handed_in,
    }
    against = (
        []
        if refused
        else [other for other in _others(connection, row) if stands(connection, other)]
    )
    if against:
        named = "; ".join(_named(other) for other in against)
        refused = (
            f"{CONFLICT} {named}: neither stands; ask the candidate, then say which one does: "
            "squatlab records RECORDS stand NUMBER"
        )
    number = step.append(schema.hand_ins, **row, refused=refused)
    for other in against:
        why = f"{CONFLICT} {_named(row | {'number': number})}: neither stands"
        step.append(schema.standings, hand_in=other["number"], stands=False, why=why)
    stored = chain.newest(connection, schema.hand_ins, number=number)
    return hand_in_of(connection, stored)


CONFLICT = "in conflict with"


def stands(connection: Connection, row: dict[str, Any]) -> bool:
    """Tell whether a hand-in stands: not refused, or let stand since."""
    ruled = chain.newest(connection, schema.standings, hand_in=row["number"])
    return ruled["stands"] if ruled else not row["refused"]


def hand_in_of(connection: Connection, row: dict[str, Any]) -> HandIn:
    """Return a row of hand-ins with what became of it."""
    ruled = chain.newest(connection, schema.standings, hand_in=row["number"])
    why = f"{ruled['by']}: {ruled['why']}" if ruled else row["refused"]
    return HandIn(
        row["number"],
        row["candidate"],
        row["form"],
        row["mode"],
        row["file"],
        codes.spell(bytes.fromhex(row["digest"])),
        row["ended"],
        row["at"],
        row["handed_in"],
        stands(connection, row),
        why,
    )


def _take(step: Step, desk: _Desk, path: Path) -> HandIn:
    """Read a file and judge it; what cannot be read is a refused row too."""
    name = files.harmless(path.name)
    try:
        if not path.is_file():
            raise ValueError(f"{name} is no file; take it out of the folder")
        sheet = Sheet.read(path)
        numbers_read = sheet if misfit(sheet, desk.form) else desk.numbers(sheet)
    except (ValueError, OSError) as problem:
        return _unreadable(step, desk, name, path, files.harmless(problem, 400))
    return _judge(step, desk, numbers_read, name, sheet)


def _judge(
    step: Step, desk: _Desk, sheet: Sheet, name: str, written: Sheet | None = None
) -> HandIn:
    """Check a sheet and keep it; ``written`` is the sheet as the code sealed it."""
    why = misfit(sheet, desk.form)
    opening = chain.newest(
        step.connection, schema.openings, candidate=sheet.candidate, form=desk.form.id
    )
    if not why:
        why = _not_theirs(written or sheet, opening, desk.key)
    moment = sheet.handed_in
    if not why:
        moment = deciding(sheet.handed_in, _first_received(step, sheet)).moment
        why = _late(step.connection, sheet, opening, moment, desk.closes)
    if why:
        named = f"{name} of candidate {sheet.candidate}" if name else f"candidate {sheet.candidate}"
        why = f"{named}: {why}"
    return keep(step, sheet, FILE, name, moment, why)


def _not_theirs(sheet: Sheet, opening: dict[str, Any] | None, key: FormKey) -> str:
    """Return why a sheet is not shown to be the candidate's, or ""."""
    if opening is None:
        return (
            "nobody gave this candidate the form: it has no opening on record; if they truly sat "
            "it, give it to them (records … open) and ask them to hand in with the code"
        )
    code = codes.candidates_code(key.salt, sheet.form, sheet.candidate, opening["nonce"])
    if not sheet.proof:
        return "it was made without the candidate's code, so it proves nothing; ask who made it"
    if not sheet.proves(code):
        return (
            "it is not what this candidate's code made: it was altered, or made with another's "
            "code; ask who made it"
        )
    return ""


class Deciding(NamedTuple):
    """Hold which of two times decides, and in words why, "" if they agree."""

    moment: str
    words: str


def _first_received(step: Step, sheet: Sheet) -> str:
    """Return when these answers came in first: a second run changes no time."""
    mine = {"candidate": sheet.candidate, "form": sheet.form, "digest": sheet.digest}
    rows = chain.rows(step.connection, schema.hand_ins, **mine)
    return rows[0]["at"] if rows else step.at


def deciding(declared: str, received: str) -> Deciding:
    """Return which of the candidate's time and this machine's decides.

    As ``data/exam_policy.csv`` says: where they are no more than
    ``clocks_agree`` minutes apart the declared one, else this machine's if
    ``received_decides`` is 1.
    """
    apart = abs(datetime.fromisoformat(declared) - datetime.fromisoformat(received))
    minutes = apart.total_seconds() / 60
    if minutes <= tables.value("exam_policy", name="clocks_agree"):
        return Deciding(declared, "")
    ours = tables.value("exam_policy", name="received_decides") == 1
    which = "received" if ours else "declared"
    words = f"declared {declared}, received {received}: the {which} time decides"
    return Deciding(received if ours else declared, words)


def _late(
    connection: Connection,
    sheet: Sheet,
    opening: dict[str, Any],
    moment: str,
    closes: datetime | None,
) -> str:
    """Return why a sheet comes too late, or says it was started too early, or ""."""
    agree = timedelta(minutes=tables.value("exam_policy", name="clocks_agree"))
    if not sheet.began:
        return "it does not say when it was started; ask the candidate to run the notebook again"
    began, ended = (datetime.fromisoformat(one) for one in (sheet.began, sheet.handed_in))
    if began < datetime.fromisoformat(opening["at"]) - agree:
        return (
            f"it says it was started at {sheet.began}, and the form was given at {opening['at']}: "
            "that clock was set back, or is wrong"
        )
    minutes, form = minutes_of(connection, opening), opening["form"]
    usual = chain.newest(connection, schema.forms, id=form)["minutes"]
    took = (ended - began).total_seconds() / 60
    # A minute is what may pass between the last answer and the last button.
    if took < 0 or minutes is not None and took > minutes + 1:
        return (
            f"late: by its own clock it took {took:.0f} minutes, and {minutes:g} were agreed "
            "(extend it: squatlab records RECORDS extend)"
            if took >= 0
            else "it says it was handed in before it was started"
        )
    if closes is None:
        return ""
    more = timedelta(minutes=(minutes or 0.0) - (usual or 0.0))
    if datetime.fromisoformat(moment) <= closes + more:
        return ""
    ends = files.stamp(closes + more)
    which = "" if moment == sheet.handed_in else " by this machine's clock"
    return (
        f"late: handed in at {moment}{which}, closed for this candidate at {ends}; an examiner may "
        "let it stand: squatlab records RECORDS stand"
    )


def _unreadable(step: Step, desk: _Desk, name: str, path: Path, why: str) -> HandIn:
    """Keep a file that cannot be read as a refused row, by its fingerprint."""
    content = name.encode()
    if path.is_file():  # a pipe would never end
        with contextlib.suppress(OSError), path.open("rb") as file:
            content = file.read(files.LARGEST)
    digest = hashlib.sha256(content).hexdigest()
    for row in chain.rows(step.connection, schema.hand_ins, form=desk.form.id, digest=digest):
        if (row["file"], row["refused"]) == (name, why):
            return hand_in_of(step.connection, row)
    number = step.append(
        schema.hand_ins,
        form=desk.form.id,
        candidate="",
        mode=FILE,
        file=name,
        digest=digest,
        answers="{}",
        began="",
        ended="",
        handed_in="",
        refused=why,
    )
    stored = chain.newest(step.connection, schema.hand_ins, number=number)
    return hand_in_of(step.connection, stored)


def _others(connection: Connection, row: dict[str, Any]) -> list[dict[str, Any]]:
    """Return what else the candidate handed in for the same form: other answers."""
    mine = {"candidate": row["candidate"], "form": row["form"]}
    rows = chain.rows(connection, schema.hand_ins, **mine)
    return [other for other in rows if other["digest"] != row["digest"]]


def _named(row: dict[str, Any]) -> str:
    what = row["file"] or "the served sitting"
    return f"{what} (hand-in {row['number']}, receipt {codes.spell(bytes.fromhex(row['digest']))})"


def _standing(records: Records, form: Form, wanted: Sequence[HandIn]) -> Received:
    """Return what stands of what came in, as it is after the last file."""
    sheets: dict[int, Sheet] = {}
    refused = []
    with records.reading() as connection:
        for number in dict.fromkeys(hand_in.number for hand_in in wanted):
            row = chain.newest(connection, schema.hand_ins, number=number)
            hand_in = hand_in_of(connection, row)
            if hand_in.stands:
                sheets[number] = sheet_of(row, form)
            else:
                refused.append(Refusal(hand_in.file, hand_in.candidate, _why(hand_in)))
    return Received(tuple(sheets.values()), tuple(refused))


def _why(hand_in: HandIn) -> str:
    return (
        hand_in.why
        if hand_in.file in hand_in.why or not hand_in.file
        else f"{hand_in.file}: {hand_in.why}"
    )


def sheet_of(row: dict[str, Any], form: Form) -> Sheet:
    """Return the sheet that a row of hand-ins holds."""
    answers = json.loads(row["answers"])
    return Sheet(form.id, form.seal, row["candidate"], answers, row["handed_in"], row["began"])
