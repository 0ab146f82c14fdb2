"""``squatlab panel``: a form on paper, for coaches who judge its key blind."""

from __future__ import annotations

import argparse
from pathlib import Path

from squatlab import storage
from squatlab.commands.bookkeeping import ALL, add_author, book
from squatlab.commands.options import REPLACE, add_examples, must_be_new
from squatlab.commands.terminal_progress import progress_line
from squatlab.exam.package import Package
from squatlab.exam.records import note_output
from squatlab.exam.reviews import template
from squatlab.exam.screens.blind_sheets import blind_sheets
from squatlab.show import paper


def add_panel(panel: argparse.ArgumentParser) -> None:
    """Give ``panel`` its options."""
    panel.description = (
        "Write NAME.panel.pdf, each item with its pictures and options and without "
        "the key, and NAME.panel.csv to type one coach's answers into."
    )
    panel.epilog = (
        "Give each coach both. What comes back goes into the records by: squatlab records "
        "RECORDS review FORM.zip KEY.json FILE.csv"
    )
    add_examples(panel, "squatlab panel spring.zip -o panel --by NAME")
    panel.add_argument(
        "form", type=Path, metavar="FORM.zip", help="the sealed form, as candidates get it"
    )
    panel.add_argument(
        "-o", "--output", type=Path, default=Path("."), metavar="DIR", help="default: here"
    )
    panel.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="default: A4")
    add_author(panel)
    panel.add_argument("--replace", **REPLACE)
    panel.set_defaults(run=_panel)


def _panel(options: argparse.Namespace) -> int:
    """Print what coaches judge a key by, from the candidates' file alone."""
    package, folder = Package.read(options.form), options.output
    table, sheets = (folder / f"{package.form.id}.panel.{kind}" for kind in ("csv", "pdf"))
    must_be_new(options, table, sheets, other="folder with -o")
    with progress_line("drawing the sheets"):
        pages = blind_sheets(package, options.paper)
        printed = paper.pdf(pages, f"Form {package.form.id}, blind")
    with book(options.records, options.by, True) as records:
        storage.write_together({table: template(package.form, package.questions), sheets: printed})
        note_output(records, "blind sheets", package.form.id, sheets.read_bytes())
        print(f"Wrote {sheets} ({len(pages)} page{'s' * (len(pages) != 1)}) and {table}.")
    return ALL
