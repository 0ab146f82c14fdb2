"""``squatlab records``: what is kept of an exam, looked into and added to."""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

from squatlab.commands import rulings
from squatlab.commands.exam import ALL, SOME
from squatlab.commands.options import REPLACE, must_be_new

if TYPE_CHECKING:
    from squatlab.exam.records import Certificate, Records

COURSE = "this squat course"


def add_to(commands: Any) -> None:
    """Add ``records`` to the parser's commands."""
    records = commands.add_parser(
        "records",
        help="look into the records: open, verify, review, gradebook, certify, appeal, credit",
        description="Look into the records: a file, postgresql://user@host/database, or - for "
        "what SQUATLAB_RECORDS names.",
        epilog="Exit codes: 0 all is well, 1 something was altered or does not hold, 2 wrong use.",
    )
    records.add_argument("where", metavar="RECORDS")
    parts = records.add_subparsers(required=True, metavar="what")
    verify = _part(parts, "verify", "say what was altered, row by row", _verify)
    verify.add_argument(
        "--head", default="", metavar="NOTE", help="what mark printed, noted outside"
    )
    _part(parts, "list", "every attempt and the decision that stands", _list)
    _part(parts, "openings", "who was given which form, and when it came back", _openings)
    give = _part(parts, "open", "give candidates a form, if the retake rule lets them", _open)
    give.set_defaults(may_be_new=True)
    give.add_argument("form", type=Path, metavar="FORM.zip")
    give.add_argument("candidates", nargs="+", metavar="ID")
    review = _part(parts, "review", "record what coaches say of a key, and show all of it", _review)
    review.set_defaults(may_be_new=True)
    review.add_argument("form", type=Path, metavar="FORM.zip")
    review.add_argument("key", type=Path, metavar="KEY.json")
    review.add_argument(
        "answers", nargs="*", type=Path, metavar="FILE",
        help="typed into the table that panel wrote (.csv), or handed in from notebook 11 (.json)",
    )  # fmt: skip
    book = _part(parts, "gradebook", "a row a candidate, a column a form, as CSV", _gradebook)
    book.add_argument("-o", "--output", type=Path, metavar="FILE.csv", help="default: print it")
    book.add_argument("--replace", **REPLACE)
    certify = _part(parts, "certify", "give the certificate for an attempt that passed", _certify)
    certify.add_argument("attempt", type=int, metavar="ATTEMPT", help="its number, see list")
    certify.add_argument("--by", required=True, metavar="NAME")
    certify.add_argument(
        "--override", default="", metavar="WHY", help="for a form of too few lifts"
    )
    certify.add_argument("--issuer", default="", metavar="NAME", help="who gives it, to print")
    certify.add_argument("--course", default="", metavar="NAME", help=f"default: {COURSE}")
    certify.add_argument("--pdf", type=Path, metavar="FILE.pdf", help="write it to print")
    certify.add_argument("--replace", **REPLACE)
    check = _part(parts, "check", "say whether a certificate holds", _check)
    check.add_argument("code", metavar="CODE")
    events = {"suspend": "suspended", "reinstate": "reinstated", "revoke": "revoked"}
    for name, event in events.items():
        change = _part(parts, name, f"{name} a certificate", _change)
        change.add_argument("code", metavar="CODE")
        change.set_defaults(event=event)
        _decided(change)
    appeal = _part(parts, "appeal", "mark an attempt again from its stored answers", _appeal)
    appeal.add_argument("attempt", type=int, metavar="ATTEMPT", help="its number, see list")
    appeal.add_argument("form", type=Path, metavar="FORM.zip")
    appeal.add_argument("key", type=Path, metavar="KEY.json")
    appeal.add_argument(
        "--accept", action="append", default=[], metavar="ITEM=OPTION",
        help="an option that is right as well, such as q05='knees fall in'; repeatable",
    )  # fmt: skip
    _decided(appeal)
    words = "count an item found wrong as right for everyone who sat the form or will"
    credit = _part(parts, "credit", words, rulings.credit)
    credit.add_argument("form", type=Path, metavar="FORM.zip")
    credit.add_argument("key", type=Path, metavar="KEY.json")
    credit.add_argument("item", metavar="ITEM", help="its name, see items.csv of the report")
    _decided(credit)


def _part(parts: Any, name: str, words: str, run: Any) -> argparse.ArgumentParser:
    part = parts.add_parser(name, help=words, description=f"{words[0].upper()}{words[1:]}.")
    part.set_defaults(run=lambda options: _opened(options, run))
    return part


def _decided(part: argparse.ArgumentParser) -> None:
    part.add_argument("--by", required=True, metavar="NAME", help="who decides")
    part.add_argument("--why", required=True, metavar="WHY", help="the reason, for the record")


def _opened(options: argparse.Namespace, run: Any) -> int:
    from squatlab.exam.records import Records

    given = (getattr(options, name, None) for name in ("form", "key"))
    there(*filter(None, given), *getattr(options, "answers", ()))
    new = getattr(options, "may_be_new", False)
    records = Records(options.where) if new else Records.existing(options.where)
    try:
        return run(records, options)
    finally:
        records.close()


def there(*paths: Path) -> None:
    """Raise FileNotFoundError in words for the first file that is not there."""
    for path in paths:
        if not path.exists():
            raise FileNotFoundError(f"there is no {path}: look at its name and its folder")


def _verify(records: Records, options: argparse.Namespace) -> int:
    found = records.verify(options.head)
    cut = "" if options.head else " (A cut-off end is seen only with --head.)"
    print(*found or [f"Nothing was altered.{cut}"], sep="\n")
    if found:
        print("Restore the records from a copy, and ask who had access.")
    print(f"The chain ends at {records.head()}.")
    return SOME if found else ALL


def _list(records: Records, options: argparse.Namespace) -> int:
    from squatlab.exam.records import standings
    from squatlab.exam.report import aligned

    rows = []
    for one in standings(records):
        decision = one.decision
        result = ("passed" if decision.passed else "not passed") if decision else "not decided"
        score = f"{decision.score:g} of {one.cases}" if decision else ""
        rows.append(
            {"attempt": str(one.number), "candidate": one.candidate, "form": one.form,
             "handed in": one.handed_in, "score": score, "result": result,
             "key": one.key, "why": decision.why if decision else ""}
        )  # fmt: skip
    print(aligned(rows) if rows else "There are no attempts.")
    return ALL


def _openings(records: Records, options: argparse.Namespace) -> int:
    from squatlab.exam.records import openings
    from squatlab.exam.report import aligned

    rows = [one._asdict() for one in openings(records)]
    print(aligned(rows) if rows else "No form was given.")
    return ALL


def _open(records: Records, options: argparse.Namespace) -> int:
    from squatlab.exam.package import Package
    from squatlab.exam.records import RecordsError, open_form, opinions
    from squatlab.exam.reviews import reviewed

    form, code = Package.read(options.form).form, ALL
    if not reviewed(opinions(records, form.id)):
        print(f"Note: no coaches have reviewed the key of form {form.id}; see squatlab panel.")
    for candidate in options.candidates:
        try:
            notes = open_form(records, form, candidate)
            print(f"{candidate} may have form {form.id}; recorded.")
            print(*(f"Note: {note}.\n" for note in notes), sep="", end="")
        except RecordsError as problem:
            code = SOME
            print(f"REFUSED {problem}")
    return code


def _review(records: Records, options: argparse.Namespace) -> int:
    from squatlab.exam.answers import Sheet
    from squatlab.exam.forms import Key
    from squatlab.exam.package import Package
    from squatlab.exam.records import opinions, record_review
    from squatlab.exam.reviews import KeyReview, read_blind

    package, key = Package.read(options.form), Key.read(options.key)
    form = package.form
    for path in options.answers:
        if path.suffix == ".json":
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
    from squatlab.exam.records import gradebook

    text = gradebook(records)
    if options.output:
        must_be_new(options, options.output, other="name with -o")
        options.output.write_text(text, encoding="utf-8")
        text = f"Wrote {options.output}.\n"
    print(text, end="")
    return ALL


def _certify(records: Records, options: argparse.Namespace) -> int:
    from squatlab.exam.records import issue

    if options.pdf:
        must_be_new(options, options.pdf, other="name with --pdf")
    names = options.issuer, options.course
    made = issue(records, options.attempt, options.by, options.override, *names)
    if options.pdf and made.status != "valid":
        first = "; reinstate first" if made.status == "suspended" else ""
        print(f"{made.status.capitalize()}: nothing was printed{first}.")
    elif options.pdf:
        from squatlab.exam.screens.report_pages import certificate_page
        from squatlab.show import paper

        paper.save([certificate_page(made, COURSE)], options.pdf, f"Certificate {made.code}")
    return _say(made)


def _check(records: Records, options: argparse.Namespace) -> int:
    from squatlab.exam.records import check

    return _say(check(records, options.code))


def _change(records: Records, options: argparse.Namespace) -> int:
    from squatlab.exam.records import change

    _say(change(records, options.code, options.event, options.by, options.why))
    return ALL


def _say(certificate: Certificate) -> int:
    who = f" ({certificate.candidate}, form {certificate.form})" if certificate.candidate else ""
    key = f" {certificate.key.capitalize()}." if who else ""
    print(f"{certificate.code}{who}: {certificate.words}{key}")
    return ALL if certificate.status == "valid" else SOME


def _appeal(records: Records, options: argparse.Namespace) -> int:
    from squatlab.exam.forms import Key
    from squatlab.exam.package import Package
    from squatlab.exam.records import accepting, appeal, standings
    from squatlab.exam.records.certificates import certificate_of

    form, key = Package.read(options.form).form, Key.read(options.key)
    form.check(key)
    mine = next((one for one in standings(records) if one.number == options.attempt), None)
    if mine is None or mine.form != form.id:
        raise ValueError(f"there is no attempt {options.attempt} at form {form.id}; see list")
    right = {i: e.answer for i, e in key.entries.items() if e.kind == "first"}
    also = dict(one.partition("=")[::2] for one in options.accept)
    for item, option in also.items():
        if item in right and option not in key.entries[item].options:
            raise ValueError(
                f"{item} has no option {option!r}; there are {', '.join(key.entries[item].options)}"
            )
    decision = appeal(records, options.attempt, accepting(right, also), options.by, options.why)
    before = mine.decision.score if mine.decision else decision.score
    result = "passed" if decision.passed else "not passed"
    print(f"Attempt {options.attempt}, {mine.candidate}: {before:g} before, now "
          f"{decision.score:g}, {result}. {decision.why}")  # fmt: skip
    held = None if decision.passed else certificate_of(records, options.attempt)
    if held and held.status == "valid":
        words = ["squatlab", "records", options.where, "revoke", held.code, "--by", options.by]
        print(
            f"Certificate {held.code}, given for this attempt, stays valid until you revoke it (or "
            f"suspend it: suspend for revoke):\n  {shlex.join([*words, '--why', decision.why])}"
        )
    return ALL
