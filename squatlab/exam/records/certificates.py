"""Certificates: given, suspended, revoked, and checked by their code."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sqlalchemy import Connection, select

from squatlab import tables as data
from squatlab.exam.forms import UNREVIEWED
from squatlab.exam.records import chain, tables
from squatlab.exam.records.attempts import answered, latest, stored
from squatlab.exam.records.book import Records, RecordsError
from squatlab.exam.records.reviews import key_status
from squatlab.questions import files

LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""The 31 signs of a code: none that is taken for another (0 O, 1 I L)."""

LENGTH = 12
"""Signs of a code, the last one checking the others; 54 bits are drawn."""

NEXT = {
    "suspended": ("issued", "reinstated"),
    "reinstated": ("suspended",),
    "revoked": ("issued", "reinstated", "suspended"),
}
"""What may become of a certificate, and after which event; revoked is final."""


class Certificate(NamedTuple):
    """Hold what a code stands for now.

    ``status`` is "valid", "expired", "suspended", "revoked", "altered",
    "unknown" or "mistyped"; ``words`` say it to whoever asked, ``key`` how
    far coaches have reviewed the key of its form.
    """

    code: str
    status: str
    words: str
    candidate: str = ""
    form: str = ""
    since: str = ""
    until: str = ""
    key: str = UNREVIEWED
    issuer: str = ""
    course: str = ""


def issue(
    records: Records, attempt: int, by: str, override: str = "", issuer: str = "", course: str = ""
) -> Certificate:
    """Give the certificate for an attempt that passed.

    Asked again, it gives the same one. ``issuer`` and ``course`` are names
    to print on it; once recorded they stand. Raises RecordsError for others
    then, if the decision is missing or not a pass, or if the form had fewer
    lifts than ``data/exam_policy.csv`` asks, unless ``override`` says, for
    the record, why that is enough.
    """
    with records.writing() as connection:
        row, standing = stored(connection, attempt), latest(connection, attempt)
        answered(connection, row)
        if not (standing and standing.passed):
            state = "not passed" if standing else "not decided"
            raise RecordsError(f"attempt {attempt} is {state}: there is nothing to certify")
        fewest = int(data.value("exam_policy", name="cases_to_certify"))
        if row["cases"] < fewest and not override:
            raise RecordsError(
                f"attempt {attempt} was on {row['cases']} lifts; fewer than {fewest} fail too many "
                "able coaches and pass too many others. Use a longer form, or give the reason why "
                "it is enough as override; it is recorded"
            )
        earlier = _events(connection, attempt=attempt)
        code = earlier[0]["code"] if earlier else ""
        if not code:
            code = new_code(records.draw)
            days = timedelta(days=data.value("exam_policy", name="certificate_days"))
            until = files.stamp(datetime.fromisoformat(records.now) + days)
            _write(connection, records, code, "issued", attempt, until, by, override)
        wanted = issuer.strip(), course.strip()
        named = _named(connection, code)
        if any(named) and any(new and new != old for new, old in zip(wanted, named, strict=True)):
            words = " and ".join(f"“{name}”" for name in named if name)
            raise RecordsError(f"certificate {code} was issued with {words}, which stands")
        if any(wanted) and not any(named):
            more = dict(zip(("issuer", "course"), wanted, strict=True))
            chain.append(connection, tables.names, code=code, **more, at=records.now)
        return _state(connection, code, records.now)


def certificate_of(records: Records, attempt: int) -> Certificate | None:
    """Return the certificate that was given for an attempt, None if none was."""
    with records.reading() as connection:
        events = _events(connection, attempt=attempt)
        return _state(connection, events[0]["code"], records.now) if events else None


def change(records: Records, code: str, event: str, by: str, why: str) -> Certificate:
    """Suspend, reinstate or revoke: ``event`` is the past participle.

    Raises RecordsError for another event, without name and reason, for a
    code that is not there, or where the event cannot follow.
    """
    if event not in NEXT or not by.strip() or not why.strip():
        raise RecordsError(f"give {', '.join(NEXT)}, who decides it (by) and the reason (why)")
    code = tidy(code)
    with records.writing() as connection:
        events = _events(connection, code=code)
        if not events:
            raise RecordsError(f"there is no certificate {code}")
        last = events[-1]
        if last["event"] not in NEXT[event]:
            raise RecordsError(f"certificate {code} is {last['event']} and cannot be {event}")
        _write(connection, records, code, event, last["attempt"], last["until"], by, why)
        return _state(connection, code, records.now)


def check(records: Records, code: str) -> Certificate:
    """Return what a code stands for, now; never raises for a wrong one."""
    code = tidy(code)
    plain = code.replace("-", "")
    if len(plain) != LENGTH or set(plain) - set(LETTERS) or _sign(plain[:-1]) != plain[-1]:
        return Certificate(code, "mistyped", "No certificate can have this code: look again.")
    with records.reading() as connection:
        return _state(connection, code, records.now)


def new_code(draw: Callable[[int], bytes]) -> str:
    """Return a fresh code from random bytes, as 7XKQ-M2PD-9RTA."""
    # 31 does not divide 256, but leaves of 16 bytes a bias of less than 2⁻⁷⁰.
    number, signs = int.from_bytes(draw(16), "big"), ""
    for _ in range(LENGTH - 1):
        number, rest = divmod(number, len(LETTERS))
        signs += LETTERS[rest]
    return tidy(signs + _sign(signs))


def tidy(code: str) -> str:
    """Return a typed code in capitals and groups of four."""
    plain = "".join(sign for sign in str(code).upper() if sign.isalnum())
    return "-".join(plain[n : n + 4] for n in range(0, len(plain), 4))


def _sign(signs: str) -> str:
    """Return the check sign: finds any one wrong sign and any two swapped.

    31 is a prime, so that no weight and no difference of signs vanishes.
    """
    return LETTERS[sum(n * LETTERS.index(one) for n, one in enumerate(signs, 2)) % len(LETTERS)]


def _write(
    connection: Connection, records: Records, code: str, event: str, attempt: int, until: str,
    by: str, why: str,
) -> None:  # fmt: skip
    row = {"code": code, "event": event, "attempt": attempt, "until": until, "by": by, "why": why}
    chain.append(connection, tables.certificates, **row, at=records.now)


def _named(connection: Connection, code: str) -> tuple[str, str]:
    """Return issuer and course as recorded, "" for none; RecordsError if altered."""
    mine = select(tables.names).where(tables.names.c.code == code)
    row = connection.execute(mine).mappings().first()
    if row and not chain.intact(connection, tables.names, row):
        raise RecordsError(f"the names on certificate {code} were altered: restore a copy")
    return (row["issuer"], row["course"]) if row else ("", "")


def _events(connection: Connection, **of: Any) -> list[Mapping]:
    table = tables.certificates
    mine = select(table).filter_by(**of).order_by(table.c.number)
    return list(connection.execute(mine).mappings())


def _state(connection: Connection, code: str, now: str) -> Certificate:
    events = _events(connection, code=code)
    if not events:
        return Certificate(code, "unknown", "No certificate with this code was issued here.")
    if not all(chain.intact(connection, tables.certificates, event) for event in events):
        return Certificate(code, "altered", "The record of this certificate was altered.")
    try:
        named = _named(connection, code)
        attempt = stored(connection, events[0]["attempt"])
        answered(connection, attempt)
        if (standing := latest(connection, attempt["number"])) is None:
            raise RecordsError(f"the decision on attempt {attempt['number']} was removed")
    except RecordsError as problem:
        return Certificate(code, "altered", f"It stands on what was altered: {problem}.")
    last, until = events[-1], events[-1]["until"]
    if last["event"] in ("suspended", "revoked"):
        status = last["event"]
        words = f"{status.capitalize()} on {last['at'][:10]}."
    else:
        status = "expired" if now > until else "valid"
        words = f"{status.capitalize()}: issued {events[0]['at'][:10]}, good to {until[:10]}."
    if not standing.passed:  # what follows from it, an examiner decides
        changed = f"attempt {attempt['number']} is not passed"
        words += f" The decision it stands on has changed: {changed}."
    return Certificate(
        code, status, words, attempt["candidate"], attempt["form"], events[0]["at"], until,
        key_status(connection, attempt["form"], attempt["cases"]), *named,
    )  # fmt: skip
