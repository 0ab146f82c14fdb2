"""How printed pages are laid out, by a printer's rules: measured on the page, in mm.

Every page of the exam's print keeps them, whatever is written on it.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest

from squatlab.exam.cut_scores import angoff, ebel
from squatlab.exam.marking import mark
from squatlab.exam.panel import JudgesPanel
from squatlab.exam.records import Certificate, Slip
from squatlab.exam.report import Report, percent
from squatlab.exam.reviews import KeyReview
from squatlab.exam.screens.blind_sheets import blind_sheets, review_pages
from squatlab.exam.screens.report_pages import (
    GREYS,
    ITEMS,
    ROW,
    candidate_page,
    certificate_page,
    class_page,
    form_page,
    item_pages,
)
from squatlab.exam.screens.slip_pages import slip_pages
from squatlab.show.paper import LEADING, POINT
from tests.exam import invented_class
from tests.exam.printed import Printed
from tests.exam.test_reviews import packed

PANEL = JudgesPanel(("Ash", "Bay"), (22.0, 24.0), angoff([[0.7, 0.75, 0.8], [0.8, 0.8, 0.9]]))
ISSUED = Certificate(
    *("DWQ7-JQEJ-43E4", "valid", "", "C07", "spring", "2026-05-01T10", "2028-04-30T1"),
    issuer="The Invented Rowing Club",
)


@pytest.fixture(scope="module")
def report():
    form, key = invented_class.form_and_key()
    review, said = KeyReview(form, key), ()
    for coach in ("K1", "K2"):
        answers = {i: invented_class.answer(e, i > "first-02") for i, e in key.entries.items()}
        said += review.judged(coach, answers)
    return Report(mark(form, key, invented_class.sheets(form, key, 7)), opinions=said)


@pytest.fixture(scope="module")
def pages(report, tmp_path_factory):
    """Return every kind of page by name, as it is printed."""
    marks, sheets = report.marks, [*invented_class.sheets(report.marks.form, report.marks.key, 7)]
    gifts = {"first-03": "B. Board, 2026-05-09: two coaches see it so", "cue-0": "B. Board"}
    wrong = [replace(sheet, form="autumn", candidate=f"X{n}") for n, sheet in enumerate(sheets[:2])]
    later = Report(
        mark(marks.form, marks.key, [*sheets, *wrong], gifts), {sheets[0].candidate: 30.0}
    )
    few = packed(
        tmp_path_factory.mktemp("form") / "spring.zip",
        invented_class.FormKey.of("spring", invented_class.entries(5)),
    )
    blind = blind_sheets(few)
    slips = [Slip(1, f"C{n}", "spring", "7XKQ-M2PD-9RTA", 1.5, 90.0, ()) for n in range(8)]
    made = {
        "form": form_page(report, PANEL, ebel([[0.9]], [[30]])),
        "class": class_page(report),
        "key": next(review_pages(report)),
        "items": next(item_pages(report)),
        "candidate": candidate_page(report, report.outcomes[0]),
        "another": candidate_page(report, report.outcomes[-1]),
        "form with refused": form_page(later, None, None),
        "appealed": candidate_page(later, later.outcomes[0]),
        "certificate": certificate_page(ISSUED, "this squat course"),
        "blind": blind[0],
        "more blind": blind[-1],
        "numbers": next(page for page in blind if "(number)" in page.alt),
        "slips": slip_pages(slips, {"C1": "A. Rower"})[0],
    }
    return {name: Printed(page) for name, page in made.items()}


def each(pages):
    return list(pages.items())


def test_everything_is_inside_the_margins(pages):
    for name, page in each(pages):
        for area in (
            *(words.ink for words in page.words),
            *(box.area for box in page.boxes),
            *page.rules,
            *page.pictures,
        ):
            assert page.inside.holds(area, -0.01), (name, area)


def test_lines_have_air_and_words_beside_each_other_a_space(pages):
    for name, page in each(pages):
        for one, other in combinations(page.words, 2):
            across, down = one.ink.apart(other.ink)
            least = 0.25 * min(one.size, other.size) * POINT
            assert across >= 1.0 or down >= least, (name, one.text, other.text, across, down)


def test_words_stand_in_their_box_or_outside_it_and_on_no_rule(pages):
    for name, page in each(pages):
        for words in page.words:
            for box in page.boxes:
                across, down = words.capitals.apart(box.area)
                if across < 0 and down < 0:
                    assert box.area.holds(words.capitals, 0.3), (name, words.text, box)
            for rule in page.rules:
                across, down = words.capitals.apart(rule)
                assert across >= 0 or down >= 0.3, (name, words.text, rule)


def test_what_is_framed_contains_or_is_apart(pages):
    for name, page in each(pages):
        framed = [box.area for box in page.boxes if box.line]
        for one, other in combinations(framed, 2):
            across, down = one.apart(other)
            beside = max(across, down) >= -1e-6
            assert beside or one.holds(other) or other.holds(one), (name, one, other)
        for one, other in combinations(page.pictures, 2):
            assert max(one.apart(other)) >= -1e-6, name


def headings(page):
    """Return the headings on a page below its head."""
    return [
        words
        for words in page.words
        if words.bold
        and 12 <= words.size < 20
        and words.ink.left == page.inside.left
        and words.ink.top > page.inside.top + 12
    ]


def test_headings_are_alike_and_nearer_to_what_they_head(pages):
    for name, page in each(pages):
        found = headings(page)
        assert len({words.size for words in found}) <= 1, name
        plain = [w.size for w in page.words if not w.bold and w.anchor == "left"]
        assert not found or max(plain) <= 0.85 * found[0].size, name
        for heading in found:
            others = [*(w.ink for w in page.words if w is not heading), *page.rules]
            others += [box.area for box in page.boxes]
            above = [
                heading.ink.top - one.bottom for one in others if one.bottom <= heading.ink.top
            ]
            below = [
                one.top - heading.ink.bottom for one in others if one.top >= heading.ink.bottom
            ]
            if heading.ink.top > page.inside.top + 20:  # below others, not first on its page
                assert 1.3 * min(below) < min(above) < 12, (name, heading.text)
            assert 2.0 < min(below) < 4.0, (name, heading.text, min(below))


def test_what_is_filled_in_stands_at_the_left_end_of_its_line(pages):
    sizes = set()
    for name in ("form", "class", "key", "items", "candidate", "another"):
        page = pages[name]
        head = [rule for rule in page.rules if rule.top == pytest.approx(page.inside.top + 8)]
        assert len(head) == (3 if name in ("candidate", "another") else 2)
        filled = [
            words
            for words in page.words
            if words.bold and words.ink.top < page.inside.top + 8 and words.size < 20
        ]
        assert [words.text for words in filled][-1] == "spring"
        for words, rule in zip(filled, sorted(head)[: len(filled)], strict=True):
            assert words.ink.left == pytest.approx(rule.left)
            assert words.ink.right < rule.right and words.capitals.bottom < rule.top - 0.3
        assert len(filled) == len(head) - 1
        sizes |= {words.size for words in filled}
    assert len(sizes) == 1


def test_lines_of_one_sentence_follow_each_other_evenly(pages):
    """From one line to the next of the same left edge and type: the leading, if not more."""
    for name, page in each(pages):
        for one in page.words:
            below = [
                words
                for words in page.words
                if words.ink.left == one.ink.left
                and words.size == one.size
                and words.bold == one.bold
                and words.ink.top > one.ink.top
            ]
            if below and one.anchor == "left":
                step = min(words.ink.top for words in below) - one.ink.top
                assert step >= 0.99 * LEADING * one.size * POINT, (name, one.text)


def downward(page):
    """Return the words at the left edge from the top down, and the room between each and the next.

    Room beyond the leading, mm.
    """
    left = [words for words in page.words if words.ink.left == page.inside.left]
    left = sorted(left, key=lambda words: words.ink.top)
    return [
        (one, after, after.ink.top - one.ink.top - LEADING * one.size * POINT)
        for one, after in pairwise(left)
    ]


def in_a_row(page, words):
    """Return whether words stand beside a bar, or in a row of a table."""
    return any(
        box.area.height < 1.2 * ROW and words.capitals.apart(box.area)[1] < -0.5
        for box in page.boxes
    )


TEXT = ("form", "form with refused", "candidate", "appealed", "key")


@pytest.mark.parametrize("name", TEXT)
def test_a_page_of_text_has_one_rhythm(pages, name):
    """No room within a paragraph, one between paragraphs, the same below every heading."""
    page = pages[name]
    found = headings(page) + [w for w in page.words if w.text.endswith("assed") and w.size == 20]
    below = {
        round(room, 3)
        for one, after, room in downward(page)
        if one in found and not after.bold and not in_a_row(page, after) and room < 4
    }
    between = {
        round(room, 3)
        for one, after, room in downward(page)
        if one.size == after.size
        and one not in found
        and (after.bold or not one.bold)
        and room < ROW - LEADING * one.size * POINT - 0.01
    }
    assert below <= {1.0} and between - {0.0, -0.0} <= {1.0}
    assert below or name == "key"


def test_tables_and_notes_follow_closely_what_is_above_them(pages):
    for name in ("items", "class"):
        page = pages[name]
        head = min(box.area.top for box in page.boxes if box.area.height == pytest.approx(2 * ROW))
        above = max(words.ink.bottom for words in page.words if words.ink.bottom <= head)
        assert 0.5 < head - above < 2.5, name


# Tables, maps and bars: what belongs together stands together.


def test_words_in_and_beside_a_low_box_are_at_its_height(pages):
    """Rows of tables and maps, bars, boxes to tick: their words are level with them."""
    seen = 0
    for name in ("class", "items", "candidate", "blind", "more blind"):
        page = pages[name]
        for words in page.words:
            for box in page.boxes:
                low = box.area.height < 1.2 * ROW and box.area.height > 2
                _, down = words.capitals.apart(box.area)
                if low and down < -0.5 and not (name == "candidate" and box.area.width > 150):
                    height = words.capitals.middle[1]
                    assert height == pytest.approx(box.area.middle[1], abs=0.15), (name, words.text)
                    seen += 1
    assert seen > 100


def test_the_map_of_the_class_is_square_and_says_how_often(pages, report):
    page, (labels, counts) = pages["class"], report.first
    count = len(labels)
    cells = [box for box in page.boxes if box.area.height == pytest.approx(ROW) and box.line]
    assert len(cells) == count**2
    lefts = sorted({round(box.area.left, 6) for box in cells})
    tops = sorted({round(box.area.top, 6) for box in cells})
    assert len(lefts) == len(tops) == count
    assert np.diff(lefts) == pytest.approx(cells[0].area.width)
    assert np.diff(tops) == pytest.approx(ROW)
    assert cells[-1].area.right == pytest.approx(page.inside.right)
    for box in cells:
        row, column = tops.index(round(box.area.top, 6)), lefts.index(round(box.area.left, 6))
        inside = [words for words in page.words if box.area.holds(words.capitals)]
        times = counts[row][column]
        assert [words.text for words in inside] == ([str(times)] if times else [])
        for words in inside:
            assert words.ink.left + words.ink.width / 2 == pytest.approx(box.area.middle[0])
            assert words.bold == (row == column)
        # What the key has is framed; the shade says which third of the row it is.
        assert (box.line > 1) == (row == column)
        share = times / max(counts[row].sum(), 1)
        assert GREYS.index(box.fill) == np.ceil(3 * share)
    for n, left in enumerate(lefts):
        head = [w for w in page.words if w.text == str(n + 1) and w.ink.bottom < tops[0] + 0.5]
        assert [w.capitals.middle[0] for w in head] == pytest.approx(
            [left + cells[0].area.width / 2]
        )
    for n, top in enumerate(tops):
        (label,) = [w for w in page.words if w.text.startswith(f"{n + 1}  ")]
        assert label.capitals.middle[1] == pytest.approx(top + ROW / 2, abs=0.15)
        assert label.ink.right < lefts[0]


def test_numbers_of_a_chart_stand_over_and_under_the_middles_of_their_bars(pages, report):
    page = pages["form"]
    bars = [b.area for b in page.boxes if b.area.width < 10 and b.line]
    assert len(bars) == len({round(one.score) for one in report.outcomes})
    ends = {round(bar.bottom, 6) for bar in bars}
    assert len(ends) == 1
    for bar in bars:
        over, under = (
            [w for w in page.words if abs(w.ink.middle[0] - bar.middle[0]) < 0.01 and near(w)]
            for near in (
                lambda words, bar=bar: 0 < bar.top - words.capitals.bottom < 2.5,
                lambda words, bar=bar: 0 < words.capitals.top - bar.bottom < 2.5,
            )
        )
        assert len(over) == len(under) == 1
        score = int(under[0].text)
        assert page.saying("People with each score").ink.top > under[0].ink.bottom
        assert int(over[0].text) == sum(round(one.score) == score for one in report.outcomes)


@pytest.mark.parametrize("name", ["class", "items"])
def test_a_table_has_a_row_for_each_and_columns_under_their_heads(pages, report, name):
    page = pages[name]
    rows = report.confusions()
    if name == "items":
        rows = [{column: row[column] for column in ITEMS} for row in report.items()]
    shaded = [box.area for box in page.boxes if box.area.width > 150]
    body = [area for area in shaded if area.height == pytest.approx(ROW)]
    head = [area for area in shaded if area.height == pytest.approx(2 * ROW)]
    assert len(head) == 1 and len(body) == len(rows)
    edges = [head[0].bottom, *(area.top for area in body)]
    assert edges[0] == pytest.approx(edges[1]) and np.diff(edges[1:]) == pytest.approx(ROW)
    # A rule under the head, and every second row tinted.
    assert any(rule.top == pytest.approx(head[0].bottom) for rule in page.rules)
    tints = [box.fill for box in page.boxes if box.area in body]
    assert tints == ["" if n % 2 == 0 else tints[1] for n in range(len(tints))] and tints[1]
    heads = [words for words in page.words if head[0].holds(words.capitals)]
    starts = sorted({round(words.ink.left, 3) for words in heads})
    if name == "class":  # the last two take what is left, each as much
        left = page.inside.right - (starts[-1] - 1.0)
        assert starts[-1] - starts[-2] == pytest.approx(left, abs=0.01)
    for area, row in zip(body, rows, strict=True):
        cells = [words for words in page.words if area.holds(words.capitals)]
        first = min(cells, key=lambda words: words.ink.left)
        assert first.bold and sum(words.bold for words in cells) == 1
        for start, value in zip(starts, row.values(), strict=True):
            lines = [words for words in cells if words.ink.left == pytest.approx(start, abs=1e-3)]
            printed = " ".join(
                words.text for words in sorted(lines, key=lambda words: words.ink.top)
            )
            # What does not fit is cut off with an ellipsis, and a fault is called by its name.
            assert bool(printed) == bool(value) and len(lines) <= 2
            if value[:1].isdigit() or value[:1] == "−":
                assert printed == value
    assert len(cells) >= len(starts) - 1


def test_a_candidate_s_bars_are_as_long_as_the_numbers_beside_them(pages, report):
    page, outcome = pages["candidate"], report.outcomes[0]
    frames = [b.area for b in page.boxes if b.line and b.area.width == pytest.approx(50.0)]
    shares = [*outcome.cells.values(), *outcome.parts.values()]
    means = [float(values.mean()) for values in report.marks.by_cell().values()]
    assert len(frames) >= len(shares)
    tops = sorted({round(area.top, 6) for area in frames})
    assert len(tops) == len(shares)
    rights = set()
    for top, share in zip(tops, shares, strict=True):
        beside = [
            words
            for words in page.words
            if abs(words.capitals.middle[1] - top - (ROW - 1.6) / 2) < 0.2
        ]
        words = {w.text: w for w in beside}
        number = words[percent(share)]
        assert number.ink.left > frames[0].right + 1, "beside the bar"
        rights.add(round(number.ink.right, 3))
        label = min(beside, key=lambda one: one.ink.left)
        assert label.ink.left == page.inside.left and label.ink.right < frames[0].left - 1
        bars = [b.area for b in page.boxes if b.fill == "#8c8c8c" and round(b.area.top, 6) == top]
        assert [bar.width for bar in bars] == pytest.approx([50.0 * share])
    assert len(rights) == 1, "numbers end alike"
    assert len(means) == sum(w.text.startswith("all: ") for w in page.words)
    gaps = np.diff(tops)
    assert np.sum(gaps > ROW + 0.01) == 1, "one gap, between the parts of the form and feedback"


def test_a_certificate_is_centred_in_its_frame(pages):
    page = pages["certificate"]
    (frame,) = [box for box in page.boxes]
    assert (
        frame.area == pytest.approx(tuple(page.inside)) and page.inside.width > page.inside.height
    )
    middle = page.inside.middle[0]
    centred = [words for words in page.words if words.anchor == "center"]
    assert len(centred) >= 8
    for words in page.words:
        assert frame.area.holds(words.ink, 2.0)
    for words in centred:
        assert words.ink.middle[0] == pytest.approx(middle)
    # Two lines to sign on, at one height, apart, as far from either edge, with words below.
    left, right = sorted(page.rules)
    assert left.top == right.top and left.width == right.width > 60
    assert left.left - page.inside.left == pytest.approx(page.inside.right - right.right)
    assert right.left - left.right > 20
    for rule, text in ((left, "Place and date"), (right, "Signature")):
        words = page.saying(text)
        assert words.ink.left == rule.left and 0.5 < words.ink.top - rule.top < 4
    caution = [words for words in page.words if words.ink.top > left.top + 5]
    assert min(w.ink.top for w in caution) > page.saying("Signature").ink.bottom + 2
    sizes = {words.text: words.size for words in page.words}
    assert (
        sizes["Certificate"] == max(sizes.values()) and sizes["C07"] == sorted(sizes.values())[-2]
    )


def test_a_slip_has_its_code_alone_and_the_secret_beside(pages):
    page = pages["slips"]
    assert len(page.boxes) == 6 and len({round(b.area.height, 6) for b in page.boxes}) == 1
    for box in page.boxes:
        inside = [words for words in page.words if box.area.holds(words.capitals)]
        secret = [words for words in inside if words.size == 8]
        others = [words for words in inside if words.size != 8]
        assert len(secret) >= 3 and len({words.ink.left for words in secret}) == 1
        assert len({words.ink.left for words in others}) == 1
        beside = [words for words in others if words.ink.top < secret[-1].ink.bottom]
        assert max(words.ink.right for words in beside) < secret[0].ink.left
        code = max(inside, key=lambda words: words.size)
        assert (
            code.text == "7XKQ-M2PD-9RTA"
            and code.size >= 1.5 * sorted(words.size for words in others)[-2]
        )
        assert box.area.holds(code.ink, 2.5)
        steps = np.diff([words.ink.top for words in secret])
        assert steps == pytest.approx(steps[0])


def test_a_blind_sheet_s_pictures_stand_in_columns_over_their_times(pages):
    page = pages["blind"]
    heights = {round(area.height, 3) for area in page.pictures}
    assert len(heights) == 1
    middles = sorted({round(area.middle[0], 3) for area in page.pictures})
    assert len(middles) == 6 and np.diff(middles) == pytest.approx(page.inside.width / 6, abs=0.01)
    first_left = middles[0] - page.inside.left
    assert page.inside.right - middles[-1] == pytest.approx(first_left, abs=0.01)
    rows = sorted({(round(a.top, 3), round(a.bottom, 3)) for a in page.pictures})
    times = [words for words in page.words if words.text.endswith(" s") and words.size == 7]
    steps = [below - above for (_, above), (below, _) in pairwise(rows)]
    assert min(steps) == pytest.approx(min(w.capitals.top for w in times) - rows[1][1], abs=0.01)
    assert len(times) > 5
    for words in times:
        assert min(abs(words.ink.middle[0] - middle) for middle in middles) < 0.01
        above = max(a.bottom for a in page.pictures if a.bottom <= words.capitals.top + 0.5)
        assert 0.5 < words.capitals.top - above < 2
    tops = sorted({round(area.top, 3) for area in page.pictures})
    for top in tops:
        assert sum(round(area.top, 3) == top for area in page.pictures) == 6


def test_a_number_is_written_on_a_line_as_long_as_a_thumb_with_its_unit_after_it(pages):
    page = pages["numbers"]
    units = [words for words in page.words if words.text == "cm"]
    assert units
    for unit in units:
        (line,) = [
            rule
            for rule in page.rules
            if 0.5 < unit.ink.left - rule.right < 4 and abs(rule.top - unit.capitals.bottom) < 1.2
        ]
        assert line.left == page.inside.left and 30 < line.width < 60
        above = max(w.ink.bottom for w in page.words if w.ink.bottom <= unit.ink.top)
        assert line.top - above > 2.5, "room to write"
