"""What a panel of judges expects of just-able candidates, as they typed it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import product
from pathlib import Path
from typing import NamedTuple

import numpy as np

from squatlab.exam.cut_scores import CutScore, angoff, ebel
from squatlab.exam.forms import Form
from squatlab.exam.report import figure_words
from squatlab.spreadsheet import read_rows

EBEL_COLUMNS = ("relevance", "difficulty", "share", "count")


class JudgesPanel(NamedTuple):
    """Hold a panel's ratings, sum by judge, and the cut they give."""

    judges: tuple[str, ...]
    sums: tuple[float, ...]
    cut: CutScore


def read_angoff(path: str | Path, items: Sequence[str]) -> JudgesPanel:
    """Read ratings: a row a judge, a column an item, percent or share.

    ``items`` are those that certify; each needs a rating from each judge.
    Raises ValueError that names row and column, for a judge who stands
    there twice too.
    """
    name = Path(path).name
    rows = read_rows(path, ["judge", *items])
    judges: list[str] = []
    for number, row in rows:
        judge = row["judge"]
        if not judge:
            raise ValueError(f"{name}, row {number}, column judge: is empty; give a name or number")
        if judge.casefold() in map(str.casefold, judges):
            raise ValueError(
                f"{name}, row {number}: judge “{judge}” stands above as well; keep one row"
            )
        judges.append(judge)
    table = [[_share(name, number, item, row[item]) for item in items] for number, row in rows]
    if not table:
        raise ValueError(f"{name} has no judge; type one row for each")
    sums = tuple(np.sum(table, axis=1).tolist())
    return JudgesPanel(tuple(judges), sums, angoff(table))


def read_ebel(path: str | Path, lifts: int | None = None) -> CutScore:
    """Read a table of relevance, difficulty, share and count of items.

    Every pair of relevance and difficulty has one row, and counts sum to
    the form's ``lifts`` if given. Raises ValueError that names the row.
    """
    name = Path(path).name
    cells: dict[tuple[str, str], _EbelCell] = {}
    for number, row in read_rows(path, EBEL_COLUMNS):
        pair = row["relevance"], row["difficulty"]
        if pair in cells or not re.fullmatch("[0-9]{1,6}", row["count"]):
            raise ValueError(
                f"{name}, row {number}: give each relevance and difficulty once, with a whole "
                "count of items"
            )
        share = _share(name, number, "share", row["share"])
        cells[pair] = _EbelCell(share, int(row["count"]))
    if not cells:
        raise ValueError(f"{name} has no rows; type one for each relevance and difficulty")
    relevances = list(dict.fromkeys(relevance for relevance, _ in cells))
    difficulties = list(dict.fromkeys(difficulty for _, difficulty in cells))
    missing = [pair for pair in product(relevances, difficulties) if pair not in cells]
    if missing:
        missing_rows = "; ".join(" and ".join(pair) for pair in missing)
        raise ValueError(
            f"{name}: there is no row for {missing_rows}; write each word alike in every row, and "
            "0 as the count where there is no item"
        )
    total = sum(cell.count for cell in cells.values())
    if lifts is not None and total != lifts:
        raise ValueError(
            f"{name}: the counts sum to {total}, the form has {lifts} lifts: correct the counts"
        )
    shares = [[cells[r, d].share for d in difficulties] for r in relevances]
    counts = [[cells[r, d].count for d in difficulties] for r in relevances]
    return ebel(shares, counts)


class _EbelCell(NamedTuple):
    """Hold what judges expect of one relevance and difficulty."""

    share: float
    count: int


def panel_lines(
    panel: JudgesPanel | None, ebel: CutScore | None, form: Form | None = None
) -> list[str]:
    """Return the cuts that judges give, in sentences.

    For a ``form`` made with another cut, also what to do in which order.
    """
    lines = []
    cuts: list[int] = []
    if panel:
        cut = panel.cut
        cuts.append(cut.whole)
        judges = zip(panel.judges, panel.sums, strict=True)
        sums = ", ".join(f"{judge} {judges_sum:.1f}" for judge, judges_sum in judges)
        lines += [
            f"Modified Angoff, {len(panel.judges)} judges: {cut.cut:.2f} of {cut.items}, so "
            f"{cut.whole}; standard error {figure_words(cut.standard_error)}, agreement of the "
            f"judges ICC(2,k) {figure_words(cut.icc)}.",
            f"Sum of each judge: {sums}.",
        ]
    if ebel:
        cuts.append(ebel.whole)
        lines.append(f"Ebel: {ebel.cut:.2f} of {ebel.items}, so {ebel.whole}.")
    if form and any(cut != form.cut for cut in cuts):
        choices = " or ".join(str(cut) for cut in dict.fromkeys(cuts))
        lines.append(
            f"The form has {form.cut:g}, and its cut is sealed. For another: judges rate before "
            f"the sitting; make it anew before anybody has opened it, squatlab form {form.id} "
            f"--secret FILE --cut {choices} -o ANOTHER-FOLDER; hand out that "
            "one alone. It has another seal: hand-ins to the old file are refused, and where the "
            "records know the old one (somebody was given it, sat it, or reviewed its key) they "
            "refuse the new one too. Then draw a form of another name; scores stand as they are."
        )
    return lines or ["No panel of judges has rated the items yet."]


def _share(name: str, number: int, column: str, typed: str) -> float:
    """Return a typed percentage as a share; ValueError says what to write."""
    try:
        value = float(typed.replace("%", "").replace(",", "."))
    except ValueError:
        value = np.nan
    if typed.strip() == "1":
        raise ValueError(
            f"{name}, row {number}, column {column}: “1” may be one of a hundred or all of them; "
            "write 1 % or 100"
        )
    if value > 1 or "%" in typed:
        value /= 100
    if not 0 <= value <= 1:
        raise ValueError(
            f"{name}, row {number}, column {column}: “{typed}” is no share; of a hundred just-able "
            "candidates, how many get it right? Write 70 or 0.70"
        )
    return value
