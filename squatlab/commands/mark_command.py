"""``squatlab receive`` and ``squatlab mark``: hand-ins into the records."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path

from squatlab.commands.bookkeeping import ALL, SOME, add_sitting, book, there, there_form_and_key
from squatlab.commands.options import add_examples
from squatlab.exam.answers import hand_in_files
from squatlab.exam.forms import FormKey
from squatlab.exam.marking import mark
from squatlab.exam.package import Package
from squatlab.exam.records import (
    absent,
    credited,
    decide,
    receive,
    record_all,
    served,
    standing,
)
from squatlab.exam.report import aligned


def add_receive(receive: argparse.ArgumentParser) -> None:
    """Give ``receive`` its options."""
    receive.description = (
        "Record hand-ins as they come: whose they are, when this machine first had "
        "them, and why any is refused. squatlab mark does the same for what is new."
    )
    receive.epilog = "Exit codes: 0 all stand, 1 some refused, 2 wrong use."
    add_examples(
        receive, "squatlab receive spring.zip spring.key.json hand-ins/spring-C01.json --by NAME"
    )
    add_sitting(receive)
    receive.add_argument(
        "files",
        nargs="+",
        type=Path,
        metavar="FILE",
        help="a hand-in (.json), or a folder of them",
    )
    _add_receiving(receive)
    receive.set_defaults(run=_receive)


def add_mark(mark: argparse.ArgumentParser) -> None:
    """Give ``mark`` its options."""
    mark.description = (
        "Receive every hand-in (*.json) of a folder, if one is given; mark all that stands in the "
        "records, as after a served exam; record attempts and decisions. What cannot be marked is "
        "refused by name, and that is recorded too; the others are marked."
    )
    mark.epilog = (
        "May be run again: nothing is recorded twice. Exit codes: 0 all marked, 1 some "
        "refused, 2 wrong use."
    )
    add_examples(
        mark,
        "squatlab mark spring.zip spring.key.json hand-ins --by NAME",
        "squatlab mark spring.zip spring.key.json --by NAME",
    )
    add_sitting(mark)
    mark.add_argument(
        "folder",
        nargs="?",
        type=Path,
        metavar="FOLDER",
        help="of hand-in files; none for an exam that was served",
    )
    _add_receiving(mark)
    mark.set_defaults(run=_mark)


def _add_receiving(parser: argparse.ArgumentParser) -> None:
    """Ask who decides, and when the sitting ends."""
    parser.add_argument("--by", required=True, metavar="NAME", help="who decides, for the record")
    parser.add_argument(
        "--closes",
        type=_moment,
        metavar="TIME",
        help="end of the sitting at time factor 1, such as 2026-05-01T12:00+02:00; who has more "
        "time by the records may be later by that",
    )


def _receive(options: argparse.Namespace) -> int:
    """Take hand-ins in; print what stands, with its receipt, and what is refused."""
    there_form_and_key(options)
    there(*options.files)
    files = [
        file
        for given in options.files
        for file in (hand_in_files(given) if given.is_dir() else [given])
    ]
    package, key = Package.read(options.form), FormKey.read(options.key)
    with book(options.records, options.by, True) as records:
        received = receive(records, package, key, files, options.closes)
        for sheet in received.sheets:
            print(f"{sheet.candidate}: received, receipt {sheet.receipt}.")
        print(*(f"REFUSED {refusal}\n" for refusal in received.refused), sep="", end="")
        print(f"{len(received.sheets)} stand, {len(received.refused)} refused.")
    return SOME if received.refused else ALL


def _mark(options: argparse.Namespace) -> int:
    """Receive, mark, record and decide; print who has what, and who has nothing."""
    there_form_and_key(options)
    package, key = Package.read(options.form), FormKey.read(options.key)
    package.check(key)
    form = package.form
    files = hand_in_files(options.folder) if options.folder else ()
    with book(options.records, options.by, may_be_new=bool(files)) as records:
        received = receive(records, package, key, files, options.closes) if files else None
        sitting = served.end_what_is_over(records, form)
        in_force = standing(records, form)
        if not (in_force.sheets or in_force.refused):
            raise ValueError(
                f"nothing was handed in for form {form.id}; give the folder of hand-in files, or "
                "the records of the exam that was served (--records)"
            )
        marks = mark(form, key, in_force.sheets)
        attempts, unrecorded = record_all(records, marks, in_force.sheets)
        receipts = {sheet.candidate: sheet.receipt for sheet in in_force.sheets}
        rows = []
        for attempt in attempts:
            decision = decide(records, attempt.number)
            result = "passed" if decision.passed else "not passed"
            rows.append(
                {
                    "attempt": str(attempt.number),
                    "candidate": attempt.candidate,
                    "score": f"{decision.score:g} of {attempt.cases}",
                    "result": result,
                    "receipt": receipts[attempt.candidate],
                }
            )
        earlier = [
            refusal for refusal in in_force.refused if received and refusal not in received.refused
        ]
        refused = [*(received or in_force).refused, *marks.refused, *unrecorded]
        missing = [who for who in absent(records, form.id) if who not in sitting]
        if rows:
            print(aligned(rows))
        print(*(f"REFUSED {refusal}\n" for refusal in refused), sep="", end="")
        if earlier:
            names = ", ".join(refusal.candidate or refusal.file for refusal in earlier)
            print(f"Handed in before, refused: {names}; see squatlab records … hand-ins.")
        if sitting:
            print(f"Still sitting, so not marked: {', '.join(sitting)}.")
        if missing:
            print(f"Given the form, nothing handed in: {', '.join(missing)}.")
        if gifts := credited(records, form.id):
            print(f"Right for everyone by a ruling: {', '.join(gifts)}.")
        print(f"{len(attempts)} marked, {len(refused)} refused.")
    return SOME if refused else ALL


def _moment(given: str) -> datetime:
    """Return a typed time; without a zone it is this machine's."""
    try:
        moment = datetime.fromisoformat(given)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{given!r} is no time; write 2026-05-01T12:00+02:00"
        ) from None
    return moment if moment.tzinfo else moment.astimezone()
