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

from squatlab.exam import codes
from squatlab.exam.answers import Refusal, Sheet, misfit, without_units
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.package import Package
from squatlab.exam.policy import ExamPolicy
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

    def read_numbers(self, sheet: Sheet) -> Sheet:
        """Return a sheet with its numbers freed of units; ValueError for one that is none."""
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
    ``closes`` is the end of the sitting at time factor 1. The form's policy
    says which clock decides, the candidate's or this machine's. The same
    file again changes nothing. Raises ValueError if the key is not the
    package's.
    """
    package.check(key)
    desk = _Desk(package.form, key, package, closes)
    ordered = sorted(map(Path, paths))
    taken_in: list[HandIn] = []
    # A step is written whole or not at all: a run that is killed loses at most the files of one,
    # and takes them in when it is run again.
    for start in range(0, len(ordered), TOGETHER):
        with records.writing() as step:
            enrol(step, package.form)
            taken_in += [_take(step, desk, path) for path in ordered[start : start + TOGETHER]]
    return _standing(records, desk.form, taken_in)


def receive_sheets(
    records: Records,
    form: Form,
    key: FormKey,
    sheets: Sequence[Sheet],
    closes: datetime | None = None,
) -> Received:
    """Do the same with sheets that are no files, their numbers without units."""
    form.check(key)
    desk = _Desk(form, key, None, closes)
    taken_in: list[HandIn] = []
    for start in range(0, len(sheets), TOGETHER):
        with records.writing() as step:
            enrol(step, form)
            taken_in += [
                _judge(step, desk, sheet, "", sealed=sheet)
                for sheet in sheets[start : start + TOGETHER]
            ]
    return _standing(records, desk.form, taken_in)


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

    The same again gives the row that is there. Of two that contradict each
    other neither stands, until an examiner decides.
    """
    connection = step.connection
    same_answers = {"candidate": sheet.candidate, "form": sheet.form, "digest": sheet.digest}
    for row in chain.rows(connection, schema.hand_ins, **same_answers):
        if row["refused"] == refused:
            return hand_in_of(connection, row)
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
        "refused": refused,
    }
    # Only what is proven a candidate's own can contradict: otherwise anybody could keep a
    # hand-in from standing by sending another one in its candidate's name.
    contradicted = []
    if not refused:
        others = _others(connection, row)
        contradicted = [other for other in others if stands(connection, other)]
    row["number"] = step.append(schema.hand_ins, **row)
    for other in contradicted:
        why = f"in conflict with {_named(row)}: neither stands"
        step.append(schema.standings, hand_in=other["number"], stands=False, why=why)
    if contradicted:
        named = "; ".join(map(_named, contradicted))
        why = (
            f"in conflict with {named}: neither stands; ask the candidate, then say which one "
            "does: squatlab records RECORDS stand NUMBER"
        )
        step.append(schema.standings, hand_in=row["number"], stands=False, why=why)
    return hand_in_of(connection, chain.newest(connection, schema.hand_ins, number=row["number"]))


def stands(connection: Connection, row: dict[str, Any]) -> bool:
    """Tell whether a hand-in stands: as was ruled last, else if it was not refused."""
    ruled = chain.newest(connection, schema.standings, hand_in=row["number"])
    return ruled["stands"] if ruled else not row["refused"]


def hand_in_of(connection: Connection, row: dict[str, Any]) -> HandIn:
    """Return a row of hand-ins with what became of it."""
    ruled = chain.newest(connection, schema.standings, hand_in=row["number"])
    why = f"{ruled['by']}: {ruled['why']}" if ruled else row["refused"]
    return HandIn(
        number=row["number"],
        candidate=row["candidate"],
        form=row["form"],
        mode=row["mode"],
        file=row["file"],
        receipt=codes.spell(bytes.fromhex(row["digest"])),
        declared=row["ended"],
        received=row["at"],
        handed_in=row["handed_in"],
        stands=stands(connection, row),
        why=why,
    )


def _take(step: Step, desk: _Desk, path: Path) -> HandIn:
    """Read a file and judge it; what cannot be read is a refused row too."""
    name = files.harmless(path.name)
    try:
        if not path.is_file():
            raise ValueError(f"{name} is no file; take it out of the folder")
        sealed = Sheet.read(path)
        sheet = sealed if misfit(sealed, desk.form) else desk.read_numbers(sealed)
    except (ValueError, OSError) as problem:
        return _unreadable(step, desk, name, path, files.harmless(problem, 400))
    return _judge(step, desk, sheet, name, sealed)


def _judge(step: Step, desk: _Desk, sheet: Sheet, name: str, sealed: Sheet) -> HandIn:
    """Check a sheet and keep it; ``sealed`` is the same as the candidate's code sealed it.

    The proof is over the numbers as they were typed, with their units.
    """
    opening = chain.newest(
        step.connection, schema.openings, candidate=sheet.candidate, form=desk.form.id
    )
    moment = sheet.handed_in
    why = misfit(sheet, desk.form) or _not_theirs(sealed, opening, desk.key)
    if not why:
        received = _first_received(step, sheet)
        moment = deciding_time(sheet.handed_in, received, desk.form.policy)
        why = _untimely(step.connection, sheet, opening, moment, desk)
    if why:
        named = f"{name} of candidate {sheet.candidate}" if name else f"candidate {sheet.candidate}"
        why = f"{named}: {why}"
    return keep(step, sheet, FILE, name, moment, why)


def _not_theirs(sheet: Sheet, opening: dict[str, Any] | None, key: FormKey) -> str:
    """Return why a sheet is not shown to be the candidate's, or "".

    Whoever has a form can write a hand-in for any candidate. Only a code
    makes the proof that fits, and the code of each candidate follows from
    the key's salt and what the records drew for their opening.
    """
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


def _first_received(step: Step, sheet: Sheet) -> str:
    """Return when these answers came in first: a second run changes no time."""
    same_answers = {"candidate": sheet.candidate, "form": sheet.form, "digest": sheet.digest}
    rows = chain.rows(step.connection, schema.hand_ins, **same_answers)
    return rows[0]["at"] if rows else step.at


def deciding_time(declared: str, received: str, policy: ExamPolicy) -> str:
    """Return which of two times decides: the candidate's or this machine's.

    Where they are no more than the policy's ``clocks_agree`` minutes apart
    the declared one, else this machine's if ``received_decides`` is 1: a
    candidate can set their own clock back.
    """
    apart = abs(datetime.fromisoformat(declared) - datetime.fromisoformat(received))
    if apart <= timedelta(minutes=policy.clocks_agree):
        return declared
    return received if policy.received_decides == 1 else declared


BETWEEN_LAST_BUTTONS = 1.0
"""Minutes that may pass between the last answer and handing in [teaching-value]."""


def _untimely(
    connection: Connection,
    sheet: Sheet,
    opening: dict[str, Any],
    moment: str,
    desk: _Desk,
) -> str:
    """Return why the times of a sheet cannot be, or are too late, or "".

    ``moment`` is the one of its two times that decides.
    """
    if not sheet.began:
        return "it does not say when it was started; ask the candidate to run the notebook again"
    began = datetime.fromisoformat(sheet.began)
    ended = datetime.fromisoformat(sheet.handed_in)
    agree = timedelta(minutes=desk.form.policy.clocks_agree)
    # Nobody can begin before they are given the code: a clock that says so was set back, which
    # would hide how long they took.
    if began < datetime.fromisoformat(opening["at"]) - agree:
        return (
            f"it says it was started at {sheet.began}, and the form was given at {opening['at']}: "
            "that clock was set back, or is wrong"
        )
    if ended < began:
        return "it says it was handed in before it was started"
    minutes = minutes_of(connection, opening)
    took = (ended - began).total_seconds() / 60
    if minutes is not None and took > minutes + BETWEEN_LAST_BUTTONS:
        return (
            f"late: by its own clock it took {took:.0f} minutes, and {minutes:g} were agreed "
            "(extend it: squatlab records RECORDS extend)"
        )
    if desk.closes is None:
        return ""
    # The room closes later for whoever was given more time than the form's own.
    usual = chain.newest(connection, schema.forms, id=opening["form"])["minutes"]
    closes = desk.closes + timedelta(minutes=(minutes or 0.0) - (usual or 0.0))
    if datetime.fromisoformat(moment) <= closes:
        return ""
    clock = "" if moment == sheet.handed_in else " by this machine's clock"
    return (
        f"late: handed in at {moment}{clock}, closed for this candidate at {files.stamp(closes)}; "
        "an examiner may let it stand: squatlab records RECORDS stand"
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
    of_candidate = {"candidate": row["candidate"], "form": row["form"]}
    rows = chain.rows(connection, schema.hand_ins, **of_candidate)
    return [other for other in rows if other["digest"] != row["digest"]]


def _named(row: dict[str, Any]) -> str:
    """Return a hand-in in words: where it came from, its number and its receipt."""
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
    """Return why a hand-in does not stand, with the name of its file."""
    if hand_in.file in hand_in.why:  # as "" is in everything
        return hand_in.why
    return f"{hand_in.file}: {hand_in.why}"


def sheet_of(row: dict[str, Any], form: Form) -> Sheet:
    """Return the sheet that a row of hand-ins holds."""
    answers = json.loads(row["answers"])
    return Sheet(form.id, form.seal, row["candidate"], answers, row["handed_in"], row["began"])
