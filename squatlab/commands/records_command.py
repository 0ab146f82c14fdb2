"""``squatlab records``: what is kept of an exam, looked into and added to."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any

from squatlab import storage
from squatlab.commands.bookkeeping import (
    ALL,
    SOME,
    add_form_and_key,
    book,
    print_head,
    there,
    there_form_and_key,
)
from squatlab.commands.loading import load
from squatlab.commands.options import REPLACE, add_examples, must_be_new
from squatlab.exam import signing
from squatlab.exam.answers import Sheet
from squatlab.exam.forms import TIME_FACTORS, FormKey
from squatlab.exam.package import Package
from squatlab.exam.records import (
    Certificate,
    Records,
    RecordsError,
    appeal,
    change,
    changes,
    check,
    copy,
    credited,
    due_to_forget,
    enrol_coach,
    forget,
    gradebook,
    grounds,
    hand_ins,
    issue,
    let_stand,
    note_incident,
    note_output,
    open_form,
    openings,
    opinions,
    public_list,
    record_review,
    rule,
    slips,
    standings,
)
from squatlab.exam.records.certificates import certificate_of
from squatlab.exam.records.decisions import answers_of
from squatlab.exam.report import aligned
from squatlab.exam.reviews import KeyReview, read_blind, reviewed
from squatlab.spreadsheet import read_rows

EVENTS = {"suspend": "suspended", "reinstate": "reinstated", "revoke": "revoked"}
"""What may become of a certificate, by the command that does it."""

INCIDENTS = {"extend": "extended", "close": "closed", "note": "note"}
"""What may happen to a sitting, by the command that records it."""

PROTECTS = (
    "What this cannot show: whoever keeps the signing key and the only copy can write the whole "
    "book anew. So note heads outside, and let a second person sign them with a key of their own "
    "(witness)."
)


def add_records(records: argparse.ArgumentParser) -> None:
    """Give ``records`` its options."""
    records.description = (
        "Look into the records: a file, postgresql://user@host/database, or - for "
        "what SQUATLAB_RECORDS names. Whatever writes names its author (--by) and ends with the "
        "head of the chain, signed with the key beside the records (records.signing.json, drawn "
        f"when it is needed, or what SQUATLAB_SIGNING_KEY names). {PROTECTS}"
    )
    records.epilog = (
        "Each command names what it acts on: an attempt, a certificate, a candidate. Those that "
        "need a form take it first, with its key. Exit codes: 0 all is well, 1 something was "
        "altered or does not hold, 2 wrong use."
    )
    records.add_argument(
        "where",
        type=lambda where: _place(where, parts.choices),
        metavar="RECORDS",
        help="a file, a database's URL, or - (SQUATLAB_RECORDS)",
    )
    add_examples(
        records,
        "squatlab records records.sqlite open spring.zip spring.key.json C01 --by NAME",
        "squatlab records records.sqlite list",
        "squatlab records records.sqlite certify 7 --by NAME",
        "squatlab records records.sqlite verify",
    )
    parts = records.add_subparsers(required=True, metavar="what")
    _add_looks(parts)
    _add_sitting(parts)
    _add_results(parts)
    _add_keeping(parts)


def _place(where: str, commands: Collection[str]) -> str:
    """Return where the records are; argparse says so if a command stands in its place."""
    if where in commands:
        raise argparse.ArgumentTypeError(
            f"“{where}” is what to do; the records come first: squatlab records records.sqlite "
            f"{where}"
        )
    return where


def _add_looks(parts: Any) -> None:
    """Add the commands that only look."""
    verify = _part(
        parts,
        "verify",
        "say what was altered, row by row",
        "Compare every row with the chain, every score and decision with the answers it follows "
        "from, and the head with its signature; print what does not fit. Writes nothing.",
        _verify,
        "verify",
    )
    verify.add_argument(
        "--head",
        default="",
        metavar="NUMBER:HASH",
        help="a head that was printed and noted earlier: shows what was cut off since",
    )
    verify.add_argument(
        "--key", type=Path, metavar="PUBLIC.json", help="the key that signs, from who keeps it"
    )
    _part(
        parts,
        "list",
        "every attempt and the decision that stands",
        "Print every attempt with its number, score and decision. Writes nothing.",
        _list,
        "list",
    )
    _part(
        parts,
        "openings",
        "who was given which form, and when it came back",
        "Print who was given which form, the number of each opening, the time agreed, and when it "
        "came back. Writes nothing.",
        _openings,
        "openings",
    )
    _part(
        parts,
        "hand-ins",
        "everything handed in, refused or not, with both times",
        "Print everything that was handed in, with its number, the candidate's time and this "
        "machine's, and why it does not stand. Writes nothing.",
        _hand_ins,
        "hand-ins",
    )
    check = _part(
        parts,
        "check",
        "say whether a certificate holds",
        "Say what a certificate's code stands for now. Writes nothing.",
        _check,
        "check 7XKQ-M2PD-9RTA",
    )
    check.add_argument("code", metavar="CODE", help="the certificate's")


def _add_sitting(parts: Any) -> None:
    """Add what is done before a sitting, during it, and with what comes in."""
    give = _part(
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
    _by(give)
    slips = _part(
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
    stand = _part(
        parts,
        "stand",
        "let a hand-in stand that was refused",
        "Let a hand-in stand that was refused, with the reason. Others of the same candidate for "
        "this form then do not stand. squatlab mark marks it afterwards.",
        _stand,
        "stand 12 --by NAME --why 'the network failed; witnessed'",
    )
    stand.add_argument("number", type=int, metavar="HAND-IN", help="its number, see hand-ins")
    _decided(stand)


def _add_results(parts: Any) -> None:
    """Add what is done with results: reviews of the key, certificates, appeals."""
    coach = _part(
        parts,
        "coach",
        "enter coaches, who may then review keys",
        "Enter coaches, each by an id that is no name and no candidate's. Only who is entered may "
        "review a key.",
        _coach,
        "coach K1 K2 --by NAME",
    )
    coach.set_defaults(may_be_new=True)
    coach.add_argument("coaches", nargs="+", metavar="ID", help="of a coach: no name")
    _by(coach)
    review = _part(
        parts,
        "review",
        "record what coaches say of a key, and show all of it",
        "Record what coaches answered blind, and print how far they agree with the key and with "
        "each other. Answers that are on record stand. Without files, it only prints.",
        _review,
        "review spring.zip spring.key.json spring.panel.csv --by NAME",
    )
    add_form_and_key(review)
    review.add_argument(
        "answers",
        nargs="*",
        type=Path,
        metavar="FILE",
        help="typed into the table that panel wrote (.csv), or handed in from notebook 11 (.json)",
    )
    _by(review)
    book = _part(
        parts,
        "gradebook",
        "a row a candidate, a column a form, as CSV",
        "Print the scores that stand, or write them: a row a candidate, a column a form. That they "
        "left the records is recorded.",
        _gradebook,
        "gradebook -o grades.csv --by NAME",
    )
    book.add_argument("-o", "--output", type=Path, metavar="FILE.csv", help="default: print it")
    book.add_argument("--replace", **REPLACE)
    _by(book)
    certify = _part(
        parts,
        "certify",
        "give the certificate for an attempt that passed",
        "Give the certificate for an attempt that passed, and print its code. Refuses what the "
        "policy of its form does not allow, unless --override says why it is enough. "
        "Asked again, it is the same certificate.",
        _certify,
        "certify 7 --by NAME --issuer 'the rowing club' --pdf certificate.pdf",
    )
    certify.add_argument("attempt", type=int, metavar="ATTEMPT", help="its number, see list")
    certify.add_argument(
        "--override",
        default="",
        metavar="WHY",
        help="certify although the policy asks for more; WHY is recorded",
    )
    certify.add_argument("--issuer", default="", metavar="NAME", help="who gives it, to print")
    certify.add_argument("--course", default="", metavar="NAME", help="what for, to print")
    certify.add_argument("--pdf", type=Path, metavar="FILE.pdf", help="write it to print")
    certify.add_argument("--replace", **REPLACE)
    _by(certify)
    for name, becomes in (
        ("suspend", "It does not hold until it is reinstated."),
        ("reinstate", "It holds again, to the end of its time."),
        ("revoke", "It holds no more, for good."),
    ):
        part = _part(
            parts,
            name,
            f"{name} a certificate",
            f"{name.capitalize()} a certificate. {becomes}",
            _change,
            f"{name} 7XKQ-M2PD-9RTA --by NAME --why WHY",
        )
        part.add_argument("code", metavar="CODE", help="the certificate's")
        part.set_defaults(event=EVENTS[name])
        _decided(part)
    states = _part(
        parts,
        "states",
        "write the states of all certificates, for everybody, to host",
        "Write codes, states and dates of all certificates, and nobody's id, to put on your site: "
        "as a table (.csv) or a page (.html).",
        _states,
        "states -o certificates.html --by NAME",
    )
    states.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILE.csv|FILE.html",
        help="a table or a page",
    )
    states.add_argument("--replace", **REPLACE)
    _by(states)
    appeal = _part(
        parts,
        "appeal",
        "mark an attempt again from its stored answers",
        "Mark an attempt again from its stored answers, accept as right what you found so, and "
        "decide anew. What an earlier appeal accepted counts no more unless it is named again. The "
        "first result stays readable. For an item that is wrong for everyone, see credit.",
        _appeal,
        "appeal 7 --accept q05='knees fall in' --by NAME --why 'both are seen'",
    )
    appeal.add_argument("attempt", type=int, metavar="ATTEMPT", help="its number, see list")
    appeal.add_argument(
        "--accept",
        type=_accepted,
        action="append",
        default=[],
        metavar="ITEM=OPTION",
        help="what the candidate answered and is right as well; repeatable",
    )
    _decided(appeal)
    credit = _part(
        parts,
        "credit",
        "count an item found wrong as right for everyone who sat the form or will",
        "Count an item found wrong as right for everyone who sat the form or will, and decide "
        "anew where that changes a score. No score falls.",
        _credit,
        "credit spring.zip spring.key.json q09 --by NAME --why 'two faults look the same'",
    )
    add_form_and_key(credit)
    credit.add_argument("item", metavar="ITEM", help="its name, see items.csv of the report")
    _decided(credit)


def _add_keeping(parts: Any) -> None:
    """Add how records are signed, copied and freed of names."""
    sign = _part(
        parts,
        "sign",
        "sign the head of the chain",
        "Sign the head of the chain with the records' own key, and print it to be noted.",
        _sign,
        "sign --by NAME",
    )
    _by(sign)
    witness = _part(
        parts,
        "witness",
        "sign the head with a second person's key",
        "Sign the head with a second person's key. Who keeps the records cannot write them anew "
        "afterwards without the witness seeing it.",
        _witness,
        "witness --key witness.json --new-key --by NAME",
    )
    witness.add_argument(
        "--key", type=Path, required=True, metavar="FILE", help="the witness's own"
    )
    witness.add_argument("--new-key", action="store_true", help="draw the key into FILE first")
    _by(witness)
    copy = _part(
        parts,
        "copy",
        "copy the records whole, and check the copy",
        "Copy the records whole to another place, and check the copy there.",
        _copy,
        "copy backup.sqlite --by NAME",
    )
    copy.add_argument("to", metavar="FILE|URL", help="a new file, or an empty database")
    _by(copy)
    restore = _part(
        parts,
        "restore",
        "make records from a copy: RECORDS is the copy",
        "Make records from a copy, which RECORDS names here, and check them.",
        _restore,
        "restore restored.sqlite",
    )
    restore.add_argument("to", metavar="FILE|URL", help="a new file, or an empty database")
    forget = _part(
        parts,
        "forget",
        "destroy the row that says who a candidate is",
        "Destroy a candidate's row in your list of names, record that it was done, and print what "
        "stays and why. Without an id, print whose names are due to go.",
        _forget,
        "forget",
        "forget C07 --names names.csv --by NAME --why 'asked to be'",
    )
    forget.add_argument(
        "candidate",
        nargs="?",
        default="",
        metavar="ID",
        help="default: list whose names are due to go",
    )
    forget.add_argument("--names", type=Path, metavar="FILE.csv", help="columns candidate, name")
    forget.add_argument("--by", default="", metavar="NAME", help="who does it, for the record")
    forget.add_argument("--why", default="", metavar="WHY", help="the reason, for the record")


def _part(
    parts: Any,
    name: str,
    words: str,
    what_happens: str,
    run: Callable[[Records, argparse.Namespace], int],
    *examples: str,
) -> argparse.ArgumentParser:
    """Add a command of ``records`` and return it, for its options.

    ``words`` are its line in the list of commands, ``examples`` what may
    stand after ``squatlab records RECORDS``.
    """
    part = parts.add_parser(name, help=words, description=what_happens)
    add_examples(part, *(f"squatlab records records.sqlite {example}" for example in examples))
    part.set_defaults(run=lambda options: _opened(options, run))
    return part


def _incident_part(
    parts: Any, name: str, words: str, what_happens: str, example: str
) -> argparse.ArgumentParser:
    """Add a command that records what happened to one sitting."""
    part = _part(parts, name, words, what_happens, _incident, example)
    part.set_defaults(event=INCIDENTS[name])
    part.add_argument("opening", type=int, metavar="OPENING", help="its number, see openings")
    _decided(part)
    return part


def _accepted(given: str) -> tuple[str, str]:
    """Return item and option of what was typed as ITEM=OPTION."""
    item, equals, option = given.partition("=")
    if not (item and equals and option):
        raise argparse.ArgumentTypeError(
            f"“{given}”: write ITEM=OPTION, such as q05='knees fall in'"
        )
    return item, option


def _by(part: argparse.ArgumentParser) -> None:
    """Ask who writes into the records."""
    part.add_argument("--by", required=True, metavar="NAME", help="who does it, for the record")


def _decided(part: argparse.ArgumentParser) -> None:
    """Ask who decides something, and why."""
    part.add_argument("--by", required=True, metavar="NAME", help="who decides")
    part.add_argument("--why", required=True, metavar="WHY", help="the reason, for the record")


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


def _opened(options: argparse.Namespace, run: Callable[[Records, argparse.Namespace], int]) -> int:
    """Run a command on the records, after a look whether its files are there."""
    if getattr(options, "has_form_and_key", False):
        there_form_and_key(options)
    there(*getattr(options, "answers", ()))
    by, new = getattr(options, "by", ""), getattr(options, "may_be_new", False)
    with book(options.where, by, new) as records:
        return run(records, options)


def _verify(records: Records, options: argparse.Namespace) -> int:
    """Print what was altered, and where the chain ends."""
    beside = records.key_file and signing.public_path(records.key_file)
    path = options.key or (beside if beside and beside.exists() else None)
    if options.key:
        there(options.key)
    key = signing.public(signing.read_key(path)) if path else None
    faults_of_chain = records.verify(options.head, key)
    cut = "" if options.head else " (A cut-off end is seen only with --head.)"
    print(*faults_of_chain or [f"Nothing was altered.{cut}"], sep="\n")
    if faults_of_chain:
        print("Restore the records from a copy, and ask who had access.")
    print(f"The chain ends at {records.head()}.")
    if key is None:
        print("Nobody's signature was asked for: give the public key, --key PUBLIC.json.")
    return SOME if faults_of_chain else ALL


def _list(records: Records, options: argparse.Namespace) -> int:
    """Print every attempt with the decision that stands."""
    rows = []
    for standing in standings(records):
        decision = standing.decision
        result = ("passed" if decision.passed else "not passed") if decision else "not decided"
        score = f"{decision.score:g} of {standing.cases}" if decision else ""
        rows.append(
            {
                "attempt": str(standing.number),
                "candidate": standing.candidate,
                "form": standing.form,
                "handed in": standing.handed_in,
                "how": standing.mode,
                "receipt": standing.receipt,
                "score": score,
                "result": result,
                "key": standing.key,
                "why": decision.why if decision else "",
            }
        )
    print(aligned(rows) if rows else "There are no attempts.")
    return ALL


def _openings(records: Records, options: argparse.Namespace) -> int:
    """Print who was given which form."""
    rows = [
        {
            "opening": str(opening.number),
            "candidate": opening.candidate,
            "form": opening.form,
            "time factor": f"{opening.time_factor:g}",
            "minutes": "–" if opening.minutes is None else f"{opening.minutes:g}",
            "opened": opening.opened,
            "handed in": opening.handed_in or "not yet",
        }
        for opening in openings(records)
    ]
    print(aligned(rows) if rows else "No form was given.")
    return ALL


def _hand_ins(records: Records, options: argparse.Namespace) -> int:
    """Print everything that was handed in, refused or not."""
    rows = [
        {
            "hand-in": str(hand_in.number),
            "candidate": hand_in.candidate or "–",
            "form": hand_in.form,
            "how": hand_in.mode,
            "file": hand_in.file,
            "receipt": hand_in.receipt,
            "declared": hand_in.declared,
            "received": hand_in.received,
            "stands": "yes" if hand_in.stands else "no",
            "why": hand_in.why,
        }
        for hand_in in hand_ins(records)
    ]
    print(aligned(rows) if rows else "Nothing was handed in.")
    return ALL


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
    lines = path.read_text(encoding="utf-8-sig").splitlines()
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


def _coach(records: Records, options: argparse.Namespace) -> int:
    """Enter coaches."""
    for coach in options.coaches:
        enrol_coach(records, coach)
        print(f"{coach} may review keys.")
    return ALL


def _review(records: Records, options: argparse.Namespace) -> int:
    """Record coaches' answers; print how far they agree with the key."""
    package, key = Package.read(options.form), FormKey.read(options.key)
    package.check(key)
    form = package.form
    for path in options.answers:
        if path.suffix.lower() == ".json":
            sheet = Sheet.read(path)
            if (sheet.form, sheet.seal) != (form.id, form.seal):
                raise ValueError(f"{path.name} answers another form; give the file of {form.id}")
            given = {sheet.candidate: sheet.answers}
        else:
            given = read_blind(path, form, package.questions)
        for coach, answers in given.items():
            new = record_review(records, form, key, coach, answers)
            print(f"{path.name}: {len(new)} answer{'s' * (len(new) != 1)} of {coach} recorded.")
    review = KeyReview(form, key, opinions(records, form.id))
    print(review)
    return SOME if review.doubts() else ALL


def _gradebook(records: Records, options: argparse.Namespace) -> int:
    """Print or write the scores, and record that they left."""
    text = gradebook(records)
    if options.output:
        must_be_new(options, options.output, other="name with -o")
        storage.write(options.output, text)
    note_output(records, "gradebook", str(options.output or "printed"), text)
    print(f"Wrote {options.output}." if options.output else text.rstrip("\n"))
    return ALL


def _certify(records: Records, options: argparse.Namespace) -> int:
    """Issue the certificate of an attempt, and write it if asked."""
    if options.pdf:
        must_be_new(options, options.pdf, other="name with --pdf")
    basis = grounds(records, options.attempt)
    names = options.issuer, options.course
    made = issue(records, options.attempt, "", options.override, *names)
    if basis.near:
        print(
            f"WARNING: {basis.score:g} is within one standard error ({basis.error:.1f}) of the "
            f"cut, {basis.cut:g}: another equal form might have decided otherwise."
        )
    for objection in basis.objections:
        print(f"Overridden ({options.override or 'when it was issued'}): {objection}.")
    if options.pdf and made.status != "valid":
        first = "; reinstate first" if made.status == "suspended" else ""
        print(f"{made.status.capitalize()}: nothing was printed{first}.")
    elif options.pdf:
        page = load("squatlab.exam.screens.report_pages:certificate_page")(made, COURSE)
        load("squatlab.show.paper:save")([page], options.pdf, f"Certificate {made.code}")
    return _say(made)


COURSE = "this squat course"
"""What a certificate is for that does not say it."""


def _check(records: Records, options: argparse.Namespace) -> int:
    """Print whether a certificate holds."""
    return _say(check(records, options.code))


def _change(records: Records, options: argparse.Namespace) -> int:
    """Suspend, reinstate or revoke a certificate."""
    _say(change(records, options.code, options.event, options.why))
    return ALL


def _say(certificate: Certificate) -> int:
    """Print a certificate's state; return the exit code that says if it holds."""
    who = f" ({certificate.candidate}, form {certificate.form})" if certificate.candidate else ""
    key = f" {certificate.key.capitalize()}." if who else ""
    print(f"{certificate.code}{who}: {certificate.words}{key}")
    return ALL if certificate.status == "valid" else SOME


def _states(records: Records, options: argparse.Namespace) -> int:
    """Write the list of certificates for everybody."""
    must_be_new(options, options.output, other="name with -o")
    page = options.output.suffix.lower() in (".html", ".htm")
    text = public_list(records, page)
    storage.write(options.output, text)
    note_output(records, "certificates' states", options.output.name, text)
    print(
        f"Wrote {options.output}: codes, states and dates, and nobody's id. Host it, and write "
        "it anew after each change."
    )
    return ALL


def _appeal(records: Records, options: argparse.Namespace) -> int:
    """Mark an attempt again, and say what became of its score and its certificate."""
    answers = answers_of(records, options.attempt)
    for item, option in options.accept:
        # What was not answered gains nothing: a slip of the pen would pass for a decision.
        if item in answers and answers[item] != option:
            raise ValueError(
                f"{item}: to accept “{option}” changes nothing; attempt {options.attempt} answered "
                f"“{answers[item]}”"
            )
    earlier = {standing.number: standing for standing in standings(records)}
    decision = appeal(records, options.attempt, dict(options.accept), options.why)
    standing = earlier[options.attempt]
    before = standing.decision.score if standing.decision else decision.score
    result = "passed" if decision.passed else "not passed"
    print(
        f"Attempt {options.attempt}, {standing.candidate}: {before:g} before, now "
        f"{decision.score:g}, {result}. {decision.why}"
    )
    held = None if decision.passed else certificate_of(records, options.attempt)
    if held and held.status == "valid":
        words = ["squatlab", "records", options.where, "revoke", held.code, "--by", options.by]
        print(
            f"Certificate {held.code}, given for this attempt, stays valid until you revoke it (or "
            f"suspend it: suspend for revoke):\n  {shlex.join([*words, '--why', decision.why])}"
        )
    return ALL


def _credit(records: Records, options: argparse.Namespace) -> int:
    """Rule that an item counts as right for everyone; print what that changed."""
    form, key = Package.read(options.form).form, FormKey.read(options.key)
    ruling = rule(records, form, key, options.item, options.why)
    print(f"By {ruling.by}, {ruling.at[:10]}: {ruling.words}.")
    changed, sat = changes(records, ruling), standings(records, form.id)
    later = sum(standing.decision is None for standing in sat)
    rest = len(sat) - len(changed) - later
    print(
        f"{len(sat)} attempts at form {form.id}: {len(changed)} gained a mark, {rest} did not "
        f"need it, {later} are not decided yet."
    )
    passed = [each for each in changed if each.after.passed and not each.before.passed]
    if not ruling.certifies:
        print("No score hangs on this item; the report leaves it out.")
    for each in passed:
        print(
            f"{each.candidate} now passes: {each.before.score:g} before, now {each.after.score:g}; "
            f"certify attempt {each.after.attempt}."
        )
    print(
        f"{len(passed)} changed from not passed to passed, none the other way: credit lowers no "
        "score."
    )
    gift = sum(key.entries[item].how.certifies for item in credited(records, form.id))
    left = sum(entry.how.certifies for entry in key.entries.values()) - gift
    fewest = key.policy.cases_to_certify
    if gift and left < fewest:
        print(f"Note: {left} lifts still tell people apart; to certify, {fewest:g} are asked.")
    return ALL


def _sign(records: Records, options: argparse.Namespace) -> int:
    """Sign the head of the chain."""
    print_head(records)
    return ALL


def _witness(records: Records, options: argparse.Namespace) -> int:
    """Sign the head with a witness's key."""
    if options.new_key:
        known = signing.make_key(options.key)
        print(
            f"Wrote {options.key}: the witness keeps it, and nobody else. Wrote {known}, to "
            "check with."
        )
    elif not options.key.exists():
        raise FileNotFoundError(
            f"there is no key in {options.key}: look at its name and its folder, or add --new-key "
            "to draw one into it"
        )
    head = records.sign(options.by, signing.read_key(options.key))
    print(
        f"Witnessed by {head.by} with key {head.key}: {head.note}. The witness notes this; a "
        "book cut or rewritten since then shows to them: verify --head."
    )
    return ALL


def _copy(records: Records, options: argparse.Namespace) -> int:
    """Copy the records, and record that they were copied."""
    made = copy(records, options.to)
    note_output(records, "copy", made.where, made.head)
    print(
        f"Copied to {made.where}, checked; its chain ends at {made.head}. To restore: squatlab "
        f"records {made.where} restore NEW."
    )
    return ALL


def _restore(records: Records, options: argparse.Namespace) -> int:
    """Make records from a copy."""
    made = copy(records, options.to)
    print(
        f"Restored to {made.where}, checked; its chain ends at {made.head}. Put the signing key "
        "beside it again."
    )
    return ALL


def _forget(records: Records, options: argparse.Namespace) -> int:
    """Forget a candidate, or list whose names are due to go."""
    if not options.candidate:
        due = due_to_forget(records)
        print(f"Names kept for long enough and due to go: {', '.join(due) or 'none'}.")
        return ALL
    if not options.names:
        raise ValueError("name the list that says who the candidate is: --names FILE.csv")
    there(options.names)
    stays = forget(records, options.candidate, options.names, options.why)
    print(
        f"{options.candidate} was taken out of {options.names}. Copies of that list are yours to "
        f"destroy. {stays}"
    )
    return ALL
