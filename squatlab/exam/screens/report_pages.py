"""The printed report of an exam: each candidate, the class, the items, the panel."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from squatlab.exam.cut_scores import CutScore
from squatlab.exam.panel import JudgesPanel, panel_lines
from squatlab.exam.records.certificates import Certificate
from squatlab.exam.report import Outcome, Report, Row, cell_words, option_words, percent
from squatlab.exam.screens.blind_sheets import review_pages
from squatlab.show.paper import BLACK, GREY, SHADE, Page, wrapped

CAUTION = (
    "This is about clips of moving figures: who names the first fault in them as this form's key "
    "does. It is no licence to coach, and it diagnoses nothing. On the floor: safety bars or "
    "spotters first, stop on pain; pain and injury are for a licensed professional; local codes "
    "and the facility's rules come first."
)

ROW, BAR = 4.6, 50.0
"""Height of a table's row and length of a full bar, mm."""

GREYS = ("#ffffff", "#e3e3e3", "#c4c4c4", "#a0a0a0")
"""Shades of a map, from none on: numbers stay readable on all of them."""

ITEMS = {
    "item": 14,
    "cell": 49,
    "difficulty": 15,
    "item–rest": 14,
    "upper–lower": 17,
    "reviewed": 15,
    "look at": 0,
}
"""Columns of the items' table and their widths, mm; 0 takes what is left."""


def report_pages(
    report: Report,
    panel: JudgesPanel | None = None,
    ebel: CutScore | None = None,
    paper: str = "A4",
) -> tuple[Page, ...]:
    """Return the whole report: form, class, key, items, then a page a person.

    The pages of candidates name no item, so that each may be handed out;
    keep the others. ``paper`` is "A4" or "Letter".
    """
    return (
        form_page(report, panel, ebel, paper),
        class_page(report, paper),
        *review_pages(report, paper),
        *item_pages(report, paper),
        *(candidate_page(report, outcome, paper) for outcome in report.outcomes),
    )


def candidate_page(report: Report, outcome: Outcome, paper: str = "A4") -> Page:
    """Return one candidate's result: score, cut, band, feedback by cell."""
    form, lifts = report.marks.form, report.lifts
    result = "Passed" if outcome.passed else "Not passed"
    words = (
        f"Candidate {outcome.candidate}, form {form.id}: {outcome.score:g} of {lifts} lifts, "
        f"{form.cut:g} needed. {result}."
    )
    page = Page(
        paper, alt=f"{words} One standard error: {outcome.band[0]:.1f} to {outcome.band[1]:.1f}."
    )
    column = _Column(page, page.head("Result", "Candidate", "Form", "Date") + 2)
    for place, text in enumerate((outcome.candidate, form.id)):
        page.words(page.right - 50 * (3 - place) + 3, page.top, text, 11, bold=True)
    column.line(result, 20, bold=True)
    column.line(
        f"{outcome.score:g} of {lifts} lifts: the one fault to fix first was named. "
        f"{form.cut:g} were needed.",
        10,
    )
    column.line(f"{report.review.words.capitalize()}.", 9, below=3)
    _scale(column, report, outcome)
    sure = (
        "The cut lies outside this band."
        if outcome.sure
        else (
            "The cut lies inside this band: another form of the same kind might decide otherwise."
        )
    )
    column.paragraph(
        "The band is one standard error of measurement either side, at the cut "
        f"{report.analysis.error_at_cut:.2f}: {outcome.band[0]:.1f} to "
        f"{outcome.band[1]:.1f}. {sure}",
        9,
        below=4,
    )
    column.heading("Where it went well, and where not")
    column.line(
        "Mean mark of each part of the form; the small line is the mean of all who sat it.",
        8,
        colour=GREY,
    )
    means = {cell: float(values.mean()) for cell, values in report.marks.by_cell().items()}
    if outcome.candidate in report.appealed:
        column.line(
            "The score was changed on appeal; these marks are from before it.", 8, bold=True
        )
    if credited := report.marks.credited:
        gift = report.marks.gift
        column.line(
            "Found wrong after the sitting, right for everyone and left "
            f"out here: {gift} of {lifts} lifts, other items: {len(credited) - gift}.",
            8,
            bold=True,
        )
    for cell, share in outcome.cells.items():
        _bar(column, cell_words(cell), share, means[cell])
    column.skip(4)
    column.heading("Feedback beside the score")
    for part, share in outcome.parts.items():
        _bar(column, "all three, weighted" if part == "all" else part, share)
    _foot(column)
    return page


class _Column:
    """Write one thing below the other on a page; ``y`` is where the next goes, mm."""

    def __init__(self, page: Page, y: float) -> None:
        self.page, self.y = page, y

    def skip(self, gap: float) -> None:
        """Leave room."""
        self.y += gap

    def heading(self, text: str, size: float = 13) -> None:
        """Write what the next is about."""
        self.line(text, size, bold=True)

    def line(self, text: str, size: float, below: float = 1.0, **look: Any) -> None:
        """Write one line, with room below it; the rest as `Page.words`."""
        self.y = self.page.words(self.page.left, self.y, text, size, **look) + below

    def paragraph(self, text: str, size: float, below: float = 1.0) -> None:
        """Write a text over the width of the page, with room below it."""
        width = self.page.right - self.page.left
        self.y = self.page.paragraph(self.page.left, self.y, width, text, size) + below


def _foot(column: _Column) -> None:
    """Draw what every candidate should know of the result."""
    column.skip(3)
    column.paragraph(
        "Spotting, order and cue decide nothing. You may appeal: your stored answers are then "
        "marked again, and who decided and why is recorded.",
        8,
    )
    column.page.framed(CAUTION)


def _scale(column: _Column, report: Report, outcome: Outcome) -> None:
    """Draw score, band and cut on a line of all lifts."""
    page = column.page
    left, right = page.left + 4, page.right - 4
    step = (right - left) / report.lifts
    top = column.y + 6
    page.box(left, top, right - left, 6, line=0.7)
    low, high = outcome.band
    page.box(left + low * step, top, (high - low) * step, 6, SHADE, 0)
    page.box(left + outcome.score * step - 0.8, top - 1.2, 1.6, 8.4, BLACK, 0)
    page.words(
        left + outcome.score * step, top - 5, f"{outcome.score:g}", 9, bold=True, anchor="center"
    )
    cut = left + report.marks.form.cut * step
    page.box(cut - 0.2, top - 1, 0.4, 12, GREY, 0)
    page.words(cut, top + 11.5, f"cut {report.marks.form.cut:g}", 8, anchor="center", colour=GREY)
    for end, where in ((0, left), (report.lifts, right)):
        if abs(where - cut) > 10:
            page.words(where, top + 11.5, f"{end}", 8, anchor="center", colour=GREY)
    column.y = top + 17


def _bar(column: _Column, words: str, share: float, mean: float | None = None) -> None:
    """Draw a share as a bar, with the mean of all who sat."""
    page, y = column.page, column.y
    left = page.left + 66
    page.cell(page.left, y, 64, ROW, words, 8.5)
    page.box(left, y + 0.8, BAR, ROW - 1.6, line=0.4)
    if share == share:
        page.box(left, y + 0.8, BAR * share, ROW - 1.6, "#8c8c8c", 0.4)
    page.cell(left + BAR + 2, y, 14, ROW, percent(share), 8.5, anchor="right")
    if mean is not None and mean == mean:
        page.box(left + BAR * mean - 0.2, y + 0.2, 0.4, ROW - 0.4, BLACK, 0)
        page.cell(left + BAR + 18, y, 26, ROW, f"all: {percent(mean)}", 8, colour=GREY)
    column.skip(ROW)


def class_page(report: Report, paper: str = "A4") -> Page:
    """Return what the class confuses: the map, what is missed, over-called."""
    instead = report.named_instead()
    page = Page(
        paper, alt=f"What the class confuses on form {report.marks.form.id}. " + " ".join(instead)
    )
    column = _Column(page, page.head("The class", "Form", "Date"))
    page.words(page.right - 97, page.top, report.marks.form.id, 11, bold=True)
    column.heading("What was to fix first (rows), and what was named (columns)", 12)
    _map(column, report)
    column.skip(3)
    for sentence in instead:
        column.line(sentence, 8.5, below=0)
    column.skip(3)
    column.heading("Fault by fault", 12)
    rows = report.confusions()
    return _table(page, column.y, rows, [56, 23, 25, 32, 15, 0, 0][: len(rows[0])])


def _map(column: _Column, report: Report) -> None:
    """Draw a confusion map, dark where much is confused."""
    page, y = column.page, column.y
    labels, counts = report.first
    left, wide = page.left + 58, (page.right - page.left - 58) / len(labels)
    page.cell(page.left, y, 56, ROW, "to fix first", 8, colour=GREY)
    for n in range(len(labels)):
        page.cell(left + n * wide, y, wide, ROW, str(n + 1), 8, anchor="center", colour=GREY)
    y += ROW
    for row, label in enumerate(labels):
        row_total = counts[row].sum()
        page.cell(page.left, y, 56, ROW, f"{row + 1}  {option_words(label)}", 8.5)
        for n, times in enumerate(counts[row].tolist()):
            share = times / row_total if row_total else 0.0
            shade = GREYS[min(3, int(3 * share + 0.999))]
            page.box(left + n * wide, y, wide, ROW, shade, 1.2 if n == row else 0.2)
            if times:
                page.cell(left + n * wide, y, wide, ROW, str(times), 8, n == row, "center")
        y += ROW
    page.words(
        page.left,
        y + 0.8,
        "Framed: named as the key has it. Darker: a larger share of its row.",
        7.5,
        colour=GREY,
    )
    column.y = y + 5


def _table(page: Page, y: float, rows: Sequence[Row], widths: Sequence[float]) -> Page:
    """Draw rows as a table; widths in mm, 0 for what is left."""
    free = page.right - page.left - sum(widths)
    zeros = sum(1 for width in widths if not width)
    widths = [width or free / zeros for width in widths]
    y = page.row(y, 2 * ROW, widths, list(rows[0]), 7.5, colour=GREY)
    page.rule(page.left, y, page.right)
    for n, row in enumerate(rows):
        y = page.row(y, ROW, widths, list(row.values()), 8.5, (0,), SHADE if n % 2 else "none")
    return page


def item_pages(report: Report, paper: str = "A4") -> Iterator[Page]:
    """Yield the items: how hard, how they tell people apart, what to look at."""
    rows, first = [{name: row[name] for name in ITEMS} for row in report.items()], True
    while rows:
        flags = sum(1 for row in rows if row["look at"])
        page = Page(
            paper,
            alt=f"{len(rows)} items of form {report.marks.form.id}; {flags} of "
            "them ask to be looked at.",
        )
        column = _Column(page, page.head("The items", "Form", "Date"))
        page.words(page.right - 97, page.top, report.marks.form.id, 11, bold=True)
        if first:
            column.paragraph(
                "Difficulty is the mean mark, 1 is easiest. Item–rest is the correlation with "
                "the rest of the form, upper–lower the mark of the best 27 % less that of the "
                "weakest. Of the lifts that certify, the rest are the other lifts. "
                f"{report.items_note} Keep this page: it names items.",
                8,
            )
        fitting = int((page.bottom - column.y - 2 * ROW) // ROW)
        yield _table(page, column.y, rows[:fitting], list(ITEMS.values()))
        rows, first = rows[fitting:], False


def form_page(
    report: Report, panel: JudgesPanel | None, ebel: CutScore | None, paper: str = "A4"
) -> Page:
    """Return what the sitting says of the form, and the panel's cut."""
    lines = report.form_lines()
    page = Page(paper, alt=" ".join(lines))
    column = _Column(page, page.head("The form", "Form", "Date"))
    page.words(page.right - 97, page.top, report.marks.form.id, 11, bold=True)
    for line in lines:
        column.paragraph(line, 10)
    column.skip(2)
    column.heading("Scores")
    _scores(column, report)
    column.skip(4)
    column.heading("Where to draw the line")
    column.paragraph(
        f"The form was made with a cut of {report.marks.form.cut:g} of {report.lifts} lifts.", 10
    )
    for line in panel_lines(panel, ebel, report.marks.form):
        column.paragraph(line, 10)
    if report.marks.refused:
        column.skip(3)
        column.heading("Not marked")
        for refusal in report.marks.refused:
            column.paragraph(str(refusal), 8.5, below=0)
    return page


def _scores(column: _Column, report: Report) -> None:
    """Draw how many have each score."""
    page = column.page
    scores = [round(outcome.score) for outcome in report.outcomes]
    most = max(scores.count(score) for score in scores)
    step, tall = (page.right - page.left) / (report.lifts + 1), 30.0
    base = column.y + tall + 4
    for score in range(report.lifts + 1):
        left, many = page.left + score * step, scores.count(score)
        if many:
            high = tall * many / most
            passed = score >= report.marks.form.cut
            page.box(left + 0.4, base - high, step - 0.8, high, "#8c8c8c" if passed else SHADE, 0.5)
            page.words(left + step / 2, base - high - 3.4, str(many), 7.5, anchor="center")
        page.words(left + step / 2, base + 1, str(score), 6.5, anchor="center", colour=GREY)
    page.rule(page.left, base, page.right)
    page.words(
        page.left, base + 5, "People with each score; dark: at or above the cut.", 7.5, colour=GREY
    )
    column.y = base + 9


def certificate_page(certificate: Certificate, course: str, paper: str = "A4") -> Page:
    """Return a certificate to sign, with its own issuer and course, else ``course``."""
    words = (
        f"has passed the exam of {certificate.course or course}, form {certificate.form}: to name, "
        "in clips of high-bar and low-bar back squats, the one fault to fix first."
    )
    until = f"Issued {certificate.since[:10]}, good to {certificate.until[:10]}."
    page = Page(
        paper,
        landscape=True,
        alt=f"Certificate {certificate.code}. "
        f"{certificate.candidate} {words} {until} {certificate.issuer}",
    )
    width, middle = page.right - page.left, (page.left + page.right) / 2
    page.box(page.left, page.top, width, page.bottom - page.top, line=1.6)
    for n, line in enumerate(wrapped(certificate.issuer, width - 40, 13)):
        page.words(middle, page.top + 7 + 6 * n, line, 13, anchor="center")
    y = page.words(middle, page.top + 22, "Certificate", 34, bold=True, anchor="center") + 12
    y = page.words(middle, y, certificate.candidate, 24, bold=True, anchor="center") + 8
    for line in wrapped(words, width - 70, 14):
        y = page.words(middle, y, line, 14, anchor="center")
    y = page.words(middle, y + 6, until, 12, anchor="center") + 4
    y = page.words(middle, y, f"Code {certificate.code}", 14, bold=True, anchor="center")
    y = page.words(middle, y + 2, f"{certificate.key.capitalize()}.", 9, anchor="center")
    can = f"{certificate.issuer or 'Whoever issued it'} can say whether this code still holds."
    for n, line in enumerate(wrapped(can, width - 70, 9)):
        page.words(middle, y + 4 + 4 * n, line, 9, anchor="center", colour=GREY)
    for left, blank in ((page.left + 30, "Place and date"), (page.right - 110, "Signature")):
        page.rule(left, page.bottom - 34, left + 80)
        page.words(left, page.bottom - 32, blank, 8, colour=GREY)
    for n, line in enumerate(wrapped(CAUTION, width - 30, 7.5)):
        page.words(page.left + 15, page.bottom - 16 + 3.4 * n, line, 7.5, colour=GREY)
    return page
