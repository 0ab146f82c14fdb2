"""``squatlab records``: what is done before a sitting, during it, and with what comes in."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from squatlab import storage
from squatlab.commands.bookkeeping import (
    ALL,
    SOME,
    add_form_and_key,
)
from squatlab.commands.loading import load
from squatlab.commands.options import REPLACE, must_be_new
from squatlab.commands.records_parts import add_part, ask_who, ask_who_and_why
from squatlab.exam.forms import TIME_FACTORS, FormKey
from squatlab.exam.package import Package
from squatlab.exam.records import (
    Records,
    RecordsError,
    let_stand,
    note_incident,
    open_form,
    opinions,
    slips,
)
from squatlab.exam.reviews import reviewed
from squatlab.spreadsheet import read_rows

INCIDENTS = {"extend": "extended", "close": "closed", "note": "note"}
"""What may happen to a sitting, by the command that records it."""


def add_sittings(parts: Any) -> None:
    """Add what is done before a sitting, during it, and with what comes in."""
    give = add_part(
        parts,
        "open",
        "give candidates a form: their codes and the time agreed",
        "Record that candidates are given a form, and print each one's code: with it they enter a "
        "served exam, or seal what they hand in. Refuses whoever may not sit it, by name.",
        _open,
        "open spring.zip spring.key.json C01 C02 --by NAME",
        "open spring.zip spring.key.json C07 --time-factor 1.5 --by NAME",
    )
    give.set_defaults(may_be_new=True)
    add_form_and_key(give)
    give.add_argument("candidates", nargs="*", metavar="ID", help="of a candidate: no name")
    give.add_argument(
        "--list",
        type=Path,
        metavar="FILE",
        help="of more ids: one a line, or a table with a column candidate",
    )
    give.add_argument(
        "--time-factor",
        type=float,
        default=1.0,
        metavar="N",
        help=f"agreed with them, {TIME_FACTORS.least:g} to {TIME_FACTORS.most:g}; default: 1",
    )
    _slips_to(give)
    ask_who(give)
    slips = add_part(
        parts,
        "slips",
        "print the codes again",
        "Print the codes of everyone who was given a form, again. Writes nothing into the records.",
        _slips,
        "slips spring.zip spring.key.json --slips slips.pdf",
    )
    add_form_and_key(slips)
    _slips_to(slips)
    extend = _incident_part(
        parts,
        "extend",
        "give one candidate more minutes",
        "Give one candidate more minutes, while they sit or before.",
        "extend 3 --minutes 10 --by NAME --why 'a fire alarm'",
    )
    extend.add_argument(
        "--minutes", type=float, required=True, metavar="MIN", help="more than they have"
    )
    _incident_part(
        parts,
        "close",
        "end one candidate's sitting",
        "End one candidate's sitting now: a served exam hands in what was saved, and takes nothing "
        "more. A sitting that has not started cannot start any more.",
        "close 3 --by NAME --why 'left the room'",
    )
    _incident_part(
        parts,
        "note",
        "note an incident",
        "Note what happened in one candidate's sitting. It changes no time and no mark.",
        "note 3 --by NAME --why 'changed to another device'",
    )
    stand = add_part(
        parts,
        "stand",
        "let a hand-in stand that was refused",
        "Let a hand-in stand that was refused, with the reason. Others of the same candidate for "
        "this form then do not stand. squatlab mark marks it afterwards.",
        _stand,
        "stand 12 --by NAME --why 'the network failed; witnessed'",
    )
    stand.add_argument("number", type=int, metavar="HAND-IN", help="its number, see hand-ins")
    ask_who_and_why(stand)


def _incident_part(
    parts: Any, name: str, words: str, what_happens: str, example: str
) -> argparse.ArgumentParser:
    """Add a command that records what happened to one sitting."""
    part = add_part(parts, name, words, what_happens, _incident, example)
    part.set_defaults(event=INCIDENTS[name])
    part.add_argument("opening", type=int, metavar="OPENING", help="its number, see openings")
    ask_who_and_why(part)
    return part


def _slips_to(part: argparse.ArgumentParser) -> None:
    """Ask where slips with codes are written, and with what on them."""
    part.add_argument("--slips", type=Path, metavar="FILE.pdf", help="write the slips, to print")
    part.add_argument(
        "--names",
        type=Path,
        metavar="FILE.csv",
        help="columns candidate, name: printed on the slips, written nowhere else",
    )
    part.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="default: A4")
    part.add_argument("--replace", **REPLACE)


def _open(records: Records, options: argparse.Namespace) -> int:
    """Give candidates a form; print codes, and who is refused."""
    package, key, code = Package.read(options.form), FormKey.read(options.key), ALL
    package.check(key)
    form = package.form
    listed = _listed(options.list) if options.list else ()
    # Who is named twice is meant once.
    if not (candidates := dict.fromkeys([*options.candidates, *listed])):
        raise ValueError("name the candidates who are given the form, or a list of them (--list)")
    if why := TIME_FACTORS.objection(options.time_factor):
        raise ValueError(f"--time-factor: {why}")
    if options.slips:
        must_be_new(options, options.slips, other="name with --slips")
    if not reviewed(opinions(records, form.id), form.policy):
        print(f"Note: no coaches have reviewed the key of form {form.id}; see squatlab panel.")
    given = []
    for candidate in candidates:
        try:
            slip = open_form(records, form, key, candidate, options.time_factor)
            print(*(f"Note: {note}.\n" for note in slip.notes), sep="", end="")
            given.append(slip)
        except RecordsError as problem:
            code = SOME
            print(f"REFUSED {problem}")
    _print_slips(given, options)
    return code


def _listed(path: Path) -> list[str]:
    """Return the ids in a list: one a line, or a table's column candidate."""
    try:
        lines = storage.read(path).decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise ValueError(f"{path.name} is not UTF-8 text; save it as UTF-8 and try again") from None
    if lines and lines[0].strip().lower().startswith("candidate"):
        return [row["candidate"] for _, row in read_rows(path, ("candidate",), ("name", "note"))]
    return " ".join(lines).split()


def _slips(records: Records, options: argparse.Namespace) -> int:
    """Print the codes of a form again."""
    given = slips(records, Package.read(options.form).form, FormKey.read(options.key))
    if options.slips:
        must_be_new(options, options.slips, other="name with --slips")
    if not given:
        print("Nobody was given this form.")
    _print_slips(given, options)
    return ALL


def _print_slips(slips: Any, options: argparse.Namespace) -> None:
    """Print codes with the time agreed, and write the slips if asked."""
    for slip in slips:
        time = "no limit" if slip.minutes is None else f"{slip.minutes:g} minutes"
        print(f"{slip.candidate} may have form {slip.form}: code {slip.code}, {time}.")
    if options.slips and slips:
        names = {}
        if options.names:
            rows = read_rows(options.names, ("candidate", "name"), ("note",))
            names = {row["candidate"]: row["name"] for _, row in rows}
        pages = load("squatlab.exam.screens.slip_pages:slip_pages")(slips, names, options.paper)
        load("squatlab.show.paper:save")(pages, options.slips, "Candidates' codes")
        print(f"Wrote {options.slips}: cut it apart, and give each candidate their own slip.")


def _incident(records: Records, options: argparse.Namespace) -> int:
    """Record what happened to one sitting."""
    minutes = getattr(options, "minutes", None)
    incident = note_incident(records, options.opening, options.event, options.why, minutes)
    more = f" by {incident.minutes:g} minutes" if incident.minutes else ""
    print(f"Opening {options.opening}: {incident.event}{more} ({incident.why}).")
    return ALL


def _stand(records: Records, options: argparse.Namespace) -> int:
    """Let a hand-in stand."""
    hand_in = let_stand(records, options.number, options.why)
    print(
        f"Hand-in {hand_in.number} of {hand_in.candidate}, form {hand_in.form}, stands "
        f"({hand_in.why}); mark it with squatlab mark."
    )
    return ALL
