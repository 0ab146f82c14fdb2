"""``squatlab form``, ``panel``, ``receive``, ``mark``: an exam before and after it was sat."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from squatlab import storage
from squatlab.commands.bookkeeping import ALL, SOME, book, there
from squatlab.commands.options import REPLACE, must_be_new
from squatlab.commands.progress import telling

if TYPE_CHECKING:
    from squatlab.questions.item_bank import Bank


def add_to(commands: Any) -> None:
    """Add ``form``, ``panel``, ``receive`` and ``mark`` to the parser's commands."""
    form = commands.add_parser(
        "form",
        help="make sealed exam forms with their keys from your secret",
        description="Make forms from the blueprint (data/blueprint.csv) and your secret: for each "
        "a NAME.zip for candidates, and NAME.key.json and NAME.register.json, which stay with you.",
        epilog="The secret makes every form, and again the same one: keep a copy where candidates "
        "never come. The seal protects the key, not the room: supervise. Exit codes: 0 made, 1 "
        "made but two forms differ in a cell, 2 wrong use.",
    )
    form.add_argument("names", nargs="*", metavar="NAME", help="a new name for each new form")
    form.add_argument("--secret", type=Path, required=True, metavar="FILE")
    form.add_argument("--new-secret", action="store_true", help="draw the secret into FILE first")
    form.add_argument(
        "-o", "--output", type=Path, default=Path("forms"), metavar="DIR", help="default: forms"
    )
    form.add_argument("--cut", type=float, metavar="N", help="right lifts that pass")
    form.add_argument("--minutes", type=float, metavar="MIN", help="to sit it, without time factor")
    form.add_argument(
        "--bank",
        type=Path,
        metavar="FOLDER",
        help="your own items.csv and cues.csv (default, to certify: those beside the secret)",
    )
    form.add_argument(
        "--practice",
        action="store_true",
        help="it certifies nobody, and asks from the practice bank unless --bank is given",
    )
    form.add_argument(
        "--override",
        default="",
        metavar="WHY",
        help="certify on too few lifts, or on questions that everybody has; WHY is recorded",
    )
    form.add_argument(
        "--text",
        action="store_true",
        help="the lifts in words as well, for a candidate who cannot watch: words tell a program "
        "more than pictures do, so pack this file apart (-o), for them alone, and supervise; the "
        "seal and the marks are the same",
    )
    form.add_argument("--workers", type=int, default=2, metavar="N", help="processes; default: 2")
    form.set_defaults(run=_form)

    panel = commands.add_parser(
        "panel",
        help="print a form for coaches who judge its key blind",
        description="Write NAME.panel.pdf, each item with its pictures and options and without "
        "the key, and NAME.panel.csv to type one coach's answers into.",
        epilog="Give each coach both. What comes back goes into the records by: squatlab records "
        "RECORDS review FORM.zip KEY.json FILE.csv",
    )
    panel.add_argument("form", type=Path, metavar="FORM.zip")
    panel.add_argument(
        "-o", "--output", type=Path, default=Path("."), metavar="DIR", help="default: here"
    )
    panel.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="default: A4")
    add_author(panel)
    panel.add_argument("--replace", **REPLACE)
    panel.set_defaults(run=_panel)

    receive = commands.add_parser(
        "receive",
        help="take hand-ins in, by this machine's clock, without marking them",
        description="Record hand-ins as they come: whose they are, when this machine first had "
        "them, and why any is refused. squatlab mark does the same for what is new.",
        epilog="Exit codes: 0 all stand, 1 some refused, 2 wrong use.",
    )
    add_sitting(receive)
    receive.add_argument("files", nargs="+", type=Path, metavar="FILE")
    _add_receiving(receive)
    receive.set_defaults(run=_receive)

    mark = commands.add_parser(
        "mark",
        help="mark a folder of hand-ins into the records",
        description="Receive every hand-in (*.json) of a folder, mark what stands, record "
        "attempts and decisions. What cannot be marked is refused by name, and that is recorded "
        "too; the others are marked.",
        epilog="May be run again: nothing is recorded twice. Exit codes: 0 all marked, 1 some "
        "refused, 2 wrong use.",
    )
    add_sitting(mark)
    mark.add_argument("folder", type=Path, metavar="FOLDER", help="of hand-in files")
    _add_receiving(mark)
    mark.set_defaults(run=_mark)


def _add_receiving(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--by", required=True, metavar="NAME", help="who decides, for the record")
    parser.add_argument(
        "--closes",
        type=_moment,
        metavar="TIME",
        help="end of the sitting at time factor 1, such as 2026-05-01T12:00+02:00; who has more "
        "time by the records may be later by that",
    )


def add_sitting(parser: argparse.ArgumentParser) -> None:
    """Add the form, its key and the records to a command's arguments."""
    parser.add_argument("form", type=Path, metavar="FORM.zip")
    parser.add_argument("key", type=Path, metavar="KEY.json")
    _add_records(parser)


def _add_records(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--records",
        default="",
        metavar="FILE",
        help="or a database's URL (default: what SQUATLAB_RECORDS names, else records.sqlite)",
    )


def add_author(parser: argparse.ArgumentParser) -> None:
    """Add the records and who writes into them to a command's arguments."""
    _add_records(parser)
    parser.add_argument("--by", required=True, metavar="NAME", help="who does it, for the record")


def _form(options: argparse.Namespace) -> int:
    """Draw and write the forms; say how far two of them agree."""
    from squatlab.exam.build import balance, draw
    from squatlab.exam.screens.stills import stills
    from squatlab.exam.secret import Secret

    if not (options.names or options.new_secret):
        raise ValueError("name a form to make, such as: squatlab form spring --secret FILE")
    for name in options.names:
        files = (options.output / f"{name}.{kind}" for kind in ("zip", "key.json", "register.json"))
        if there := next(filter(Path.exists, files), None):
            raise FileExistsError(f"{there} is there already; a new form needs a new name")
    if not (options.new_secret or options.secret.exists()):
        raise FileNotFoundError(
            f"there is no secret in {options.secret}: give the file you keep, or add --new-secret "
            "to draw one into it"
        )
    if options.new_secret:
        secret = Secret.make(options.secret)
        print(f"Wrote {options.secret}: keep it to yourself, and a copy of it.")
    else:
        secret = Secret.read(options.secret)
        if secret.weakness and not options.practice:
            raise ValueError(
                f"{options.secret} can be guessed: {secret.weakness}. Draw another (--new-secret), "
                "or make forms for practice (--practice)"
            )
    bank = _bank(options)
    drawn = []
    with _workers(options.workers) as executor:
        for name in options.names:
            with telling(f"drawing form {name}"):
                made = draw(
                    secret,
                    name,
                    cut=options.cut,
                    minutes=options.minutes,
                    certify=not options.practice,
                    override=options.override,
                    executor=executor,
                    bank=bank,
                )
            drawn.append(made)
            packed = made.pack(
                options.output,
                stills,
                executor,
                counting(f"packing form {name}"),
                texts=options.text,
            )
            where = ", ".join(map(str, (packed.package, packed.key_file, packed.register)))
            print(f"{made}; seal {packed.form.seal[:16]}…\nWrote {where}.")
    apart = [
        f"form {other.form.id}, {row.cell}: {row.counts[1]} items, mean margin "
        f"{row.margins[1]:.2f}; form {drawn[0].form.id}: {row.counts[0]}, {row.margins[0]:.2f}"
        for other in drawn[1:]
        for row in balance(drawn[0], other)
        if not row.alike
    ]
    if len(drawn) > 1:
        print(
            *apart or ["The forms agree in every cell: counts, and margins within 0.1."], sep="\n"
        )
    return SOME if apart else ALL


def _bank(options: argparse.Namespace) -> Bank | None:
    """Return the bank to draw from, None for the one that ships.

    Raises ValueError for a certifying form if that one alone is there, or
    if others may read the certifier's.
    """
    from squatlab.exam.build import blueprint, everybody_has
    from squatlab.exam.secret import for_owner_alone
    from squatlab.questions.item_bank import Bank

    beside = options.secret.parent
    tables = ("items.csv", "cues.csv")
    folder = options.bank
    if folder is None and not options.practice:
        folder = beside if any((beside / name).exists() for name in tables) else None
    if folder is not None:
        bank = Bank.read(folder)
        for name in tables:
            if (folder / name).exists() and not options.practice:
                for_owner_alone(folder / name, "items")
        print(f"Knowledge and cues are from {folder}.")
        return bank
    if options.names and not (options.practice or options.override.strip()):
        asked = [c.name for c in blueprint().values() if c.count and c.how.from_bank]
        if asked:
            raise ValueError(everybody_has(asked))
    return None


def _panel(options: argparse.Namespace) -> int:
    """Print what coaches judge a key by, from the candidates' file alone."""
    from squatlab.exam.package import Package
    from squatlab.exam.records import note_output
    from squatlab.exam.reviews import template
    from squatlab.exam.screens.blind_sheets import blind_sheets
    from squatlab.show import paper

    package, folder = Package.read(options.form), options.output
    table, sheets = (folder / f"{package.form.id}.panel.{kind}" for kind in ("csv", "pdf"))
    must_be_new(options, table, sheets, other="folder with -o")
    with telling("drawing the sheets"):
        pages = blind_sheets(package, options.paper)
        printed = paper.pdf(pages, f"Form {package.form.id}, blind")
    storage.write_together({table: template(package.form, package.questions), sheets: printed})
    with book(options.records, options.by, True) as records:
        note_output(records, "blind sheets", package.form.id, sheets.read_bytes())
        print(f"Wrote {sheets} ({len(pages)} page{'s' * (len(pages) != 1)}) and {table}.")
    return ALL


@contextmanager
def _workers(count: int) -> Iterator[Executor | None]:
    if count < 2:
        yield None
        return
    with ProcessPoolExecutor(count) as executor:
        yield executor


def counting(what: str) -> Callable[[int, int], None]:
    """Return what draws a bar on stderr, of how much is done of how much.

    Nothing is drawn where nobody watches: to a file or another program.
    """

    def tell(done: int, of: int) -> None:
        if sys.stderr.isatty():
            full = 30 * done // of
            bar = "#" * full + "." * (30 - full)
            end = "\n" if done == of else ""
            print(f"\r{what}: {bar} {done} of {of}", end=end, file=sys.stderr, flush=True)

    return tell


def _receive(options: argparse.Namespace) -> int:
    """Take hand-ins in; print what stands, with its receipt, and what is refused."""
    from squatlab.exam.forms import FormKey
    from squatlab.exam.package import Package
    from squatlab.exam.records import receive

    there(options.form, options.key, *options.files)
    package, key = Package.read(options.form), FormKey.read(options.key)
    with book(options.records, options.by, True) as records:
        found = receive(records, package, key, options.files, options.closes)
        for sheet in found.sheets:
            print(f"{sheet.candidate}: received, receipt {sheet.receipt}.")
        print(*(f"REFUSED {one}\n" for one in found.refused), sep="", end="")
        print(f"{len(found.sheets)} stand, {len(found.refused)} refused.")
    return SOME if found.refused else ALL


def _mark(options: argparse.Namespace) -> int:
    """Receive, mark, record and decide; print who has what, and who has nothing."""
    from squatlab.exam.answers import hand_in_files
    from squatlab.exam.forms import FormKey
    from squatlab.exam.marking import mark
    from squatlab.exam.package import Package
    from squatlab.exam.records import credited, decide, openings, receive, record_all
    from squatlab.exam.report import aligned

    there(options.form, options.key)
    package, key = Package.read(options.form), FormKey.read(options.key)
    form, handed_in = package.form, hand_in_files(options.folder)
    with book(options.records, options.by, True) as records:
        found = receive(records, package, key, handed_in, options.closes)
        marks = mark(form, key, found.sheets)
        attempts, unrecorded = record_all(records, marks, found.sheets)
        receipts = {sheet.candidate: sheet.receipt for sheet in found.sheets}
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
        refused = [*found.refused, *marks.refused, *unrecorded]
        given = {one.candidate for one in (*found.sheets, *refused)}
        absent = [
            one.candidate
            for one in openings(records, form.id)
            if one.handed_in == "not yet" and one.candidate not in given
        ]
        if rows:
            print(aligned(rows))
        print(*(f"REFUSED {one}\n" for one in refused), sep="", end="")
        if absent:
            print(f"Given the form, nothing handed in: {', '.join(absent)}.")
        if gifts := credited(records, form.id):
            print(f"Right for everyone by a ruling: {', '.join(gifts)}.")
        print(f"{len(attempts)} marked, {len(refused)} refused.")
    return SOME if refused else ALL


def _moment(given: str) -> datetime:
    try:
        moment = datetime.fromisoformat(given)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{given!r} is no time; write 2026-05-01T12:00+02:00"
        ) from None
    return moment if moment.tzinfo else moment.astimezone()
