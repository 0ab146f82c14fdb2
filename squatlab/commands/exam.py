"""``squatlab form``, ``panel``, ``mark``: an exam before and after it was sat."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from squatlab.commands.options import REPLACE, must_be_new
from squatlab.commands.progress import telling

ALL, SOME = 0, 1
"""Exit codes: all is well; some were refused, or two forms differ. 2 is wrong use."""


def add_to(commands: Any) -> None:
    """Add ``form``, ``panel`` and ``mark`` to the parser's commands."""
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
    form.add_argument("--practice", action="store_true", help="it certifies nobody")
    form.add_argument(
        "--override", default="", metavar="WHY", help="certify on too few lifts; WHY is recorded"
    )
    form.add_argument(
        "--text", action="store_true",
        help="the lifts in words and numbers as well, for a candidate who cannot watch: whoever "
        "has this file can compute the answers, so pack it apart (-o), for them alone, and "
        "supervise; the seal and the marks are the same",
    )  # fmt: skip
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
    panel.add_argument("--replace", **REPLACE)
    panel.set_defaults(run=_panel)

    mark = commands.add_parser(
        "mark",
        help="mark a folder of hand-ins into the records",
        description="Mark every hand-in (*.json) of a folder and record attempts and decisions. "
        "What cannot be marked is refused by name; the others are marked.",
        epilog="May be run again: nothing is recorded twice. Exit codes: 0 all marked, 1 some "
        "refused, 2 wrong use.",
    )
    add_sitting(mark)
    mark.add_argument("folder", type=Path, metavar="FOLDER", help="of hand-in files")
    mark.add_argument("--by", required=True, metavar="NAME", help="who decides, for the record")
    mark.add_argument(
        "--closes", type=_moment, metavar="TIME", help="such as 2026-05-01T12:00+02:00"
    )
    mark.add_argument(
        "--extra", type=_extra, action="append", default=[], metavar="ID=MIN",
        help="minutes more for one candidate; repeatable",
    )  # fmt: skip
    mark.add_argument("--candidates", type=Path, metavar="FILE", help="ids that sat, one a line")
    mark.set_defaults(run=_mark)


def add_sitting(parser: argparse.ArgumentParser) -> None:
    """Add the form, its key and the records to a command's arguments."""
    parser.add_argument("form", type=Path, metavar="FORM.zip")
    parser.add_argument("key", type=Path, metavar="KEY.json")
    parser.add_argument(
        "--records", default="", metavar="FILE",
        help="or a database's URL (default: what SQUATLAB_RECORDS names, else records.sqlite)",
    )  # fmt: skip


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
    drawn = []
    with _workers(options.workers) as executor:
        for name in options.names:
            with telling(f"drawing form {name}"):
                made = draw(secret, name, cut=options.cut, minutes=options.minutes,
                            certify=not options.practice, override=options.override,
                            executor=executor)  # fmt: skip
            drawn.append(made)
            paths = made.pack(options.output, stills, executor, counting(f"packing form {name}"),
                              texts=options.text)  # fmt: skip
            print(f"{made}\nWrote {', '.join(map(str, paths))}.")
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


def _panel(options: argparse.Namespace) -> int:
    """Print what coaches judge a key by, from the candidates' file alone."""
    from squatlab.exam.package import Package
    from squatlab.exam.reviews import template
    from squatlab.exam.screens.blind_sheets import blind_sheets
    from squatlab.show import paper

    package, folder = Package.read(options.form), options.output
    folder.mkdir(parents=True, exist_ok=True)
    table, sheets = (folder / f"{package.form.id}.panel.{kind}" for kind in ("csv", "pdf"))
    must_be_new(options, table, sheets, other="folder with -o")
    table.write_text(template(package.form, package.questions), encoding="utf-8")
    with telling("drawing the sheets"):
        pages = blind_sheets(package, options.paper)
        paper.save(pages, sheets, f"Form {package.form.id}, blind")
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


def _mark(options: argparse.Namespace) -> int:
    """Collect, mark, record and decide; print who has what."""
    from squatlab.exam.answers import collect
    from squatlab.exam.forms import Key
    from squatlab.exam.marking import mark
    from squatlab.exam.package import Package
    from squatlab.exam.records import Records, credited, decide, record_all
    from squatlab.exam.report import aligned

    package, key = Package.read(options.form), Key.read(options.key)
    if not options.folder.is_dir():
        raise NotADirectoryError(f"{options.folder} is no folder of hand-ins")
    ids = options.candidates and options.candidates.read_text(encoding="utf-8").split()
    form, extra = package.form, dict(options.extra)
    found = collect(options.folder, form, options.closes, extra, ids, package.questions)
    marks = mark(form, key, found.sheets)
    records = Records(options.records)
    attempts, unrecorded = record_all(records, marks, found.sheets)
    rows = []
    for attempt in attempts:
        decision = decide(records, attempt.number, options.by)
        result = "passed" if decision.passed else "not passed"
        rows.append(
            {"attempt": str(attempt.number), "candidate": attempt.candidate,
             "score": f"{decision.score:g} of {attempt.cases}", "result": result}
        )  # fmt: skip
    refused = [*found.refused, *marks.refused, *unrecorded]
    given = {one.candidate for one in (*found.sheets, *refused)}
    absent = ", ".join(who for who in ids or () if who not in given)
    if rows:
        print(aligned(rows))
    print(*(f"REFUSED {one}" for one in refused), sep="\n", end="\n" if refused else "")
    if absent:
        print(f"On the list, nothing handed in: {absent}.")
    if gifts := credited(records, form.id):
        print(f"Right for everyone by a ruling: {', '.join(gifts)}.")
    print(
        f"{len(attempts)} marked, {len(refused)} refused. The chain of {records.name} ends at "
        f"{records.head()}: note this outside it."
    )
    records.close()
    return SOME if refused else ALL


def _moment(given: str) -> datetime:
    try:
        moment = datetime.fromisoformat(given)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{given!r} is no time; write 2026-05-01T12:00+02:00"
        ) from None
    return moment if moment.tzinfo else moment.astimezone()


def _extra(given: str) -> tuple[str, timedelta]:
    who, _, minutes = given.partition("=")
    try:
        return who, timedelta(minutes=float(minutes))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{given!r}: write ID=MINUTES, such as C07=30") from None
