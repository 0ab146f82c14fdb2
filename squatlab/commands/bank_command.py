"""``squatlab bank``: a certifier's own knowledge items and cues, beside the secret."""

from __future__ import annotations

import argparse
import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from squatlab import storage
from squatlab import tables as data
from squatlab.commands.bookkeeping import ALL, SOME
from squatlab.commands.options import add_examples
from squatlab.exam.build import bank_lacks
from squatlab.questions.blueprint import Cell, blueprint, read_blueprint
from squatlab.questions.item_bank import CUE_COLUMNS, ITEM_COLUMNS, Bank


def add_bank(bank: argparse.ArgumentParser) -> None:
    """Give ``bank`` its options."""
    bank.description = (
        "The knowledge items and cues that come with squatlab are for practice: everybody has "
        "their answers. A form that certifies draws from a bank of your own: a folder with "
        "items.csv and cues.csv. Keep it where you keep the secret; squatlab form finds it beside "
        "the secret, or by --bank."
    )
    bank.epilog = (
        "Exit codes: 0 the bank has all that the blueprint asks, 1 something is lacking or "
        "known to everybody, 2 wrong use or a row that is wrong."
    )
    add_examples(bank, "squatlab bank my-bank --new", "squatlab bank my-bank")
    bank.add_argument(
        "folder", type=Path, metavar="FOLDER", help="where items.csv and cues.csv are"
    )
    bank.add_argument(
        "--new",
        action="store_true",
        help="write both tables first, a row for everything the blueprint asks, to be filled in",
    )
    add_blueprint(bank)
    bank.set_defaults(run=_bank)


def add_blueprint(parser: argparse.ArgumentParser) -> None:
    """Add a blueprint of one's own to a command's arguments."""
    parser.add_argument(
        "--blueprint",
        type=Path,
        metavar="FILE.csv",
        help="what a form asks, with the columns of data/blueprint.csv (default: that one)",
    )


def cells_of(options: argparse.Namespace) -> tuple[Cell, ...]:
    """Return the cells of the blueprint that is given, or of the one that ships."""
    cells = read_blueprint(options.blueprint) if options.blueprint else blueprint()
    return tuple(cells.values())


def _bank(options: argparse.Namespace) -> int:
    """Start a bank, or read it and say what it lacks."""
    folder = options.folder
    cells = cells_of(options)
    if options.new:
        _start(folder, cells)
        return ALL
    bank = Bank.read(folder)
    lacking, known = bank_lacks(bank, cells), bank.known()
    faults = {cue.fault for cue in bank.cues}
    print(f"{folder}: {len(bank.items)} items, {len(bank.cues)} cues for {len(faults)} faults.")
    print(*(f"Lacking, {words}.\n" for words in lacking), sep="", end="")
    if known:
        print(f"Known to everybody, because they come with squatlab: {', '.join(known)}.")
    if not (lacking or known):
        print(f"It has all that {options.blueprint or 'data/blueprint.csv'} asks.")
    return SOME if lacking or known else ALL


def _start(folder: Path, cells: Iterable[Cell]) -> None:
    """Write both tables with a row for everything the blueprint asks."""
    items_file, cues_file = folder / "items.csv", folder / "cues.csv"
    if there := [str(path) for path in (items_file, cues_file) if path.exists()]:
        raise FileExistsError(f"{', '.join(there)}: there already; go on with what is there")
    cells = [cell for cell in cells if cell.count and cell.how.from_bank]
    # A cell that draws from two parts of the course needs an item of each.
    parts = [
        part
        for cell in cells
        if not cell.how.shows_lift
        for part in (cell.draws * cell.count)[: max(cell.count, len(cell.draws))]
    ]
    faults = dict.fromkeys(fault for cell in cells if cell.how.shows_lift for fault in cell.draws)
    items = [
        {"id": f"own{n:03}", "version": "1", "kind": "choice", "cell": part}
        for n, part in enumerate(parts, 1)
    ]
    cues = [{"fault": fault, "accepted": fits} for fault in faults for fits in ("yes", "no")]
    folder.mkdir(parents=True, exist_ok=True)
    tables = {
        items_file: _table(ITEM_COLUMNS, items),
        cues_file: _table(CUE_COLUMNS, cues),
    }
    storage.write_together(tables, storage.OWNER_ONLY)
    shipped = data.folder("data")
    print(
        f"Wrote {items_file} and {cues_file}, for you alone to read: {len(items)} items and "
        f"{len(cues)} cues to fill in; more make forms that differ more. items.csv and cues.csv "
        f"in {shipped} show how, and their own rows certify nobody. Then: squatlab bank {folder}"
    )


def _table(columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> str:
    """Return rows as CSV under a heading; what a row does not have is empty."""
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
