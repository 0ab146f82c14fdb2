"""``squatlab report``: what an exam said."""

from __future__ import annotations

import argparse
from pathlib import Path

from squatlab import storage
from squatlab.commands.bookkeeping import ALL, add_sitting, book, there_form_and_key
from squatlab.commands.options import REPLACE, add_examples, must_be_new
from squatlab.commands.terminal_progress import progress_line
from squatlab.exam.cut_scores import CutScore
from squatlab.exam.forms import FormKey
from squatlab.exam.package import Package
from squatlab.exam.panel import JudgesPanel, panel_lines, read_angoff, read_ebel
from squatlab.exam.recorded_report import recorded_report
from squatlab.exam.records import note_output, sheets
from squatlab.exam.report import Report, as_csv
from squatlab.exam.screens.report_pages import report_pages
from squatlab.show import paper

FILES = ("candidates.csv", "class.csv", "items.csv", "report.pdf", "candidates.pdf")


def add_report(report: argparse.ArgumentParser) -> None:
    """Give ``report`` its options."""
    report.description = (
        "Report what is on record for a form. Writes candidates.csv, class.csv, "
        "items.csv and report.pdf for you, and candidates.pdf, a page a candidate that names no "
        "item. Before anybody has sat, --angoff and --ebel print the panel's cut alone."
    )
    add_examples(report, "squatlab report spring.zip spring.key.json -o report")
    add_sitting(report)
    report.add_argument(
        "-o", "--output", type=Path, default=Path("report"), metavar="DIR", help="default: report"
    )
    report.add_argument(
        "--angoff", type=Path, metavar="FILE.csv", help="a row a judge, a column an item"
    )
    report.add_argument(
        "--ebel",
        type=Path,
        metavar="FILE.csv",
        help="columns relevance, difficulty, share, count, such as the row "
        "essential,easy,90,8; counts sum to the lifts",
    )
    report.add_argument(
        "--by", default="", metavar="NAME", help="with --angoff or --ebel: who records the cut"
    )
    report.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="default: A4")
    report.add_argument("--replace", **REPLACE)
    report.set_defaults(run=_report)


def _report(options: argparse.Namespace) -> int:
    """Mark what is on record again, print the tables and write the files."""
    there_form_and_key(options)
    package, key = Package.read(options.form), FormKey.read(options.key)
    package.check(key)
    form = package.form
    lifts = [item for item in form.items if key.entries[item].how.certifies]
    panel = options.angoff and read_angoff(options.angoff, lifts)
    ebel = options.ebel and read_ebel(options.ebel, len(lifts))
    cut = panel_lines(panel, ebel, form)
    rated = bool(panel or ebel)
    if rated and not options.by:
        raise ValueError("a panel's cut is recorded: say who records it, --by NAME")
    with book(options.records, options.by, rated) as records:
        given = sheets(records, form)
        is_panel_alone = rated and not given
        if not is_panel_alone:  # before a cut is recorded: what is refused leaves nothing behind
            must_be_new(options, *(options.output / name for name in FILES), other="folder with -o")
        if rated:
            tables = [path.read_bytes() for path in (options.angoff, options.ebel) if path]
            note_output(records, "panel's cut", form.id, b"".join(tables), "\n".join(cut))
        if is_panel_alone:
            alone = f"Nobody has sat form {form.id} yet: this is the panel alone."
            print(*cut, alone, sep="\n")
            return ALL
        report = recorded_report(records, form, key)
        write(report, options.output, panel, ebel, options.paper)
        print(report, "", *cut, "", sep="\n")
        print(
            f"Wrote {', '.join(FILES)} in {options.output}. items.csv and report.pdf name items: "
            "keep them to yourself. The pages of candidates.pdf may be handed out."
        )
    return ALL


def write(
    report: Report,
    folder: Path,
    panel: JudgesPanel | None,
    ebel: CutScore | None = None,
    size: str = "A4",
) -> None:
    """Write `FILES` of a report into a folder; candidates' pages apart from items."""
    tables = report.candidates(), report.confusions(), report.items()
    contents: dict[Path, str | bytes] = {
        folder / name: as_csv(rows) for name, rows in zip(FILES, tables, strict=False)
    }
    with progress_line("drawing the report"):
        pages, form = report_pages(report, panel, ebel, size), report.marks.form.id
        pages_of_class = len(pages) - len(report.outcomes)
        contents[folder / FILES[-2]] = paper.pdf(
            pages[:pages_of_class], f"Exam report, form {form}"
        )
        contents[folder / FILES[-1]] = paper.pdf(
            pages[pages_of_class:], f"Results of candidates, form {form}"
        )
    storage.write_together(contents)
