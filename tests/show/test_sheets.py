"""Printed sheets: all on the page, nothing on anything else, and the words that must be there."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
import pypdfium2
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import Rectangle

from squatlab import faults, tables
from squatlab.gym import PlateSet, Rack, Roster, plan_session, read_roster
from squatlab.show import paper, sheets

DPI = 288
"""Fine enough that letters are not moved to whole pixels."""

MILLIMETRE = 72 / 25.4
"""In points."""

KINDS = {"cards": sheets.session_cards, "observation": sheets.observation_sheets}

NAMES = (
    "Bartholomew-Alexander O'Shaughnessy",
    "Zoë",
    "Wilhelmina van der Berg",
    "Ann $x$",
    "Per",
    "María José Fernández",
    "Li",
    "Ottoline",
    "Quentin III",
    "Ras",
    "Sam",
    "Tom",
)


@pytest.fixture(scope="module")
def club():
    return read_roster(tables.folder("data") / "demo" / "roster.csv")


@pytest.fixture(scope="module")
def plans(club):
    """A usual class, and the hardest to lay out: many at one rack, long names, one alone."""
    odd = [
        replace(person, name=name, shoulder_restricted=True)
        for person, name in zip(club.people, NAMES, strict=False)
    ]
    pounds = {"rack": Rack.of("2 in"), "plates": PlateSet.of("lb"), "load": 185}
    full = plan_session(club, 5, passes=2)
    return {
        # Hooks that move at the first, somebody who does not lift at the other.
        "class": replace(full, stations=(full.stations[0], full.stations[3])),
        "crowd": plan_session(Roster(tuple(odd)), 1, block_minutes=200, passes=2, **pounds),
        "six": plan_session(Roster(tuple(odd[:6])), 1),
        "alone": plan_session(Roster(tuple(odd[:1])), 1),
    }


@pytest.fixture(scope="module", params=["A4", "Letter"])
def pages(request, plans):
    """Every page of every plan on one paper, ready to be measured."""
    found = {
        (plan, kind, number): page
        for plan in plans
        for kind, make in KINDS.items()
        for number, page in enumerate(make(plans[plan], request.param), start=1)
    }
    for page in found.values():
        page.figure.set_dpi(DPI)
        FigureCanvasAgg(page.figure)
    return found


@pytest.fixture(scope="module")
def printed(plans, tmp_path_factory):
    """Gives what prints a plan on A4 and reads it back with a library that shares nothing."""
    folder = tmp_path_factory.mktemp("printed")

    @cache
    def printed(plan: str, kind: str) -> pypdfium2.PdfDocument:
        path = folder / f"{plan}-{kind}.pdf"
        return pypdfium2.PdfDocument(paper.save(KINDS[kind](plans[plan]), path, "Sheet"))

    return printed


def extent(artist) -> np.ndarray:
    """Return left, lower, right and upper, mm."""
    return np.ravel(artist.get_window_extent()) / DPI * 25.4


def words(page) -> str:
    return " ".join(page.get_textpage().get_text_bounded().split())


def boxes(page) -> dict[str, np.ndarray]:
    """Return left, lower, right and upper of every piece of writing, mm."""
    (axes,) = page.figure.axes
    return {
        f"{text.get_text()} @ {place}": extent(text)
        for place, text in enumerate(axes.texts)
        if text.get_text().strip()
    }


def overlap(one: np.ndarray, other: np.ndarray, slack: float = 0.15) -> bool:
    """Tell whether two boxes share more than a hair, mm."""
    left, lower = np.maximum(one[:2], other[:2])
    right, upper = np.minimum(one[2:], other[2:])
    return right - left > slack and upper - lower > slack


def test_nothing_leaves_the_page(pages):
    for name, page in pages.items():
        width, height = page.figure.get_size_inches() * 25.4
        for text, (left, lower, right, upper) in boxes(page).items():
            assert paper.MARGIN - 0.2 <= left < right <= width - paper.MARGIN + 0.2, (name, text)
            assert paper.MARGIN - 0.2 <= lower, (name, text)
            assert upper <= height - paper.MARGIN + 1.5, (name, text)


def test_no_words_lie_on_other_words(pages):
    for name, page in pages.items():
        for (one, a), (other, b) in combinations(boxes(page).items(), 2):
            assert not overlap(a, b), (name, one, other)


def test_no_frame_or_rule_cuts_through_words(pages):
    for name, page in pages.items():
        (axes,) = page.figure.axes
        frames = [
            extent(patch)
            for patch in axes.patches
            if isinstance(patch, Rectangle) and patch.get_linewidth()
        ]
        rules = [extent(line) for line in axes.lines]
        for text, box in boxes(page).items():
            # The box of words holds room for tails that most of them do not have.
            core = box + np.array([0.2, 0.3, -0.2, -0.3]) * min(1, (box[3] - box[1]) / 2)
            for frame in frames:
                inside = (core[:2] >= frame[:2]).all() and (core[2:] <= frame[2:]).all()
                assert inside or not overlap(core, frame, 0.0), (name, text)
            for left, level, right, _ in rules:
                assert not (core[1] < level < core[3] and core[0] < right and left < core[2]), (
                    name,
                    text,
                )


def test_type_is_large_enough_to_read(pages):
    """Six points is the usual least for print; only names that are too long go below."""
    small = [
        (text.get_text(), text.get_size())
        for page in pages.values()
        for text in page.figure.axes[0].texts
        if text.get_size() < 6
    ]
    spelled = " ".join(NAMES)
    for words, size in small:
        assert size > 4.5, words
        assert all(part.strip(",…") in spelled for part in words.split() if "…" not in part), words


@pytest.mark.parametrize(("size", "width", "height"), [("A4", 210, 297), ("Letter", 215.9, 279.4)])
def test_the_pdf_has_its_size_and_its_fonts(plans, tmp_path, size, width, height):
    """ISO 216 and 8½ × 11 in."""
    for make, expected in zip(KINDS.values(), ((width, height), (height, width)), strict=True):
        path = paper.save(make(plans["alone"], size), tmp_path / "sheet.pdf", "Sheet")
        (page,) = pypdfium2.PdfDocument(path)
        assert page.get_size() == pytest.approx(np.array(expected) * MILLIMETRE, abs=0.01)
        assert b"/FontFile2" in path.read_bytes()
        assert b"/Type3" not in path.read_bytes()


def test_there_is_one_page_for_each_rack(club):
    plan = plan_session(club, 4)
    assert len(sheets.session_cards(plan)) == len(sheets.observation_sheets(plan)) == 4


def test_ink_is_black_and_grey_only(printed):
    for document in (printed("class", "cards"), printed("six", "observation")):
        pixels = document[0].render(scale=1).to_numpy()[..., :3].astype(int)
        assert np.ptp(pixels, axis=-1).max() == 0
        assert 0.5 < (pixels > 250).mean() < 0.99, "mostly paper, but not empty"


def test_equal_plans_give_equal_bytes(plans, tmp_path):
    first, again, other = (
        paper.save(sheets.session_cards(plans[name]), tmp_path / "cards.pdf", "Cards").read_bytes()
        for name in ("alone", "alone", "six")
    )
    assert first == again != other


def test_every_page_carries_the_caution_and_every_card_how_to_fail(pages):
    for (plan, kind, _), page in pages.items():
        told = " ".join(text.get_text() for text in page.figure.axes[0].texts)
        assert sheets.CAUTION in told, plan
        two, one = sheets.FAILING[-1], sheets.ALONE
        last = (one, two) if plan == "alone" else (two, one)
        for line in (*sheets.CHECKS, *sheets.FAILING[:-1], last[0]) * (kind == "cards"):
            assert line in told, (plan, line)
        assert last[1] not in told, plan


@pytest.mark.parametrize("people", [1, 2, 3, 4, 5])
def test_the_last_step_names_as_many_spotters_as_there_are(club, people):
    plan = plan_session(Roster(club.people[:people]), 1)
    spotters = {len(round.turn.spotters) for round in plan.stations[0].rounds}
    (page,) = sheets.session_cards(plan)
    told = " ".join(text.get_text() for text in page.figure.axes[0].texts)
    assert ("Two spotters lift together" in told) == (spotters == {2}) == (people > 3)
    assert ("One spotter: safety bars only; nobody lifts the bar out" in told) == (spotters == {1})


@pytest.mark.parametrize(
    "part", ["Stop on pain", "spotters", "Light loads", "licensed professional", "local codes"]
)
def test_what_the_caution_must_say(part):
    assert part in sheets.CAUTION


def test_a_card_holds_the_whole_plan_of_its_rack(plans, printed):
    plan, document = plans["class"], printed("class", "cards")
    for number, (page, station) in enumerate(zip(document, plan.stations, strict=True), start=1):
        told = words(page)
        assert told.startswith(f"Rack {number} ")
        for name in station.lifters:
            hooks, safety = plan.holes[name]
            row = f"{name} {hooks} · {100 * plan.rack.height(hooks):.0f} cm"
            free = plan.starts[name].low_bar
            for hole in safety.values() if free else (safety["high bar"],):
                row += f" {hole} · {100 * plan.rack.safety_height(hole):.0f} cm"
            assert row + ("" if free else " no low bar") in told
        for turn in station.rounds:
            place = f"{turn.start_min:g} {turn.turn.lifter} "
            held = turn.bar == "high bar" or plan.starts[turn.turn.lifter].low_bar
            place += "" if held else "no low bar "
            place += "move to " if turn.moved else ""
            place += f"{plan.holes[turn.turn.lifter].hooks} "
            place += "move to " if turn.safety_moved else ""
            place += f"{plan.holes[turn.turn.lifter].safety[turn.bar]} {turn.turn.coach} "
            place += f"{', '.join(turn.turn.spotters)} {turn.turn.recorder}"
            assert place in told
        assert told.index("High bar") < told.index("Low bar")
        for step in ("8 × 20 kg", "5 × 40 kg", "no more than 30 kg"):
            assert step in told


def test_both_moves_are_marked_alike_and_bold(plans):
    (page, *_) = sheets.session_cards(plans["class"])
    marked = [t for t in page.figure.axes[0].texts if t.get_text().startswith("move to")]
    (station, _) = plans["class"].stations
    assert station.moves and station.safety_moves
    assert len(marked) == station.moves + station.safety_moves
    assert {text.get_weight() for text in marked} == {"bold"}


def test_restricted_shoulders_and_missing_screening_are_marked(club):
    hurt = {"Elm": {"shoulder_restricted": True}, "Iris": {"goblet_squat": ()}}
    people = [replace(p, **hurt.get(p.name, {})) for p in club.people if p.name in "ElmIrisKale"]
    plan = plan_session(Roster(tuple(people)), 1)
    told = [t.get_text() for t in sheets.session_cards(plan)[0].figure.axes[0].texts]
    assert told.count(sheets.NO_LOW_BAR) == 1 + plan.passes
    words = " ".join(told)
    assert "empty bar; high bar (strap-held or padded) or goblet" in words
    assert words.count("not screened: no bar before both squats") == 1


def test_a_rack_in_inches_is_told_in_inches(club):
    plan = plan_session(Roster(club.people[:4]), 1, Rack.of("2 in"))
    told = " ".join(t.get_text() for t in sheets.session_cards(plan)[0].figure.axes[0].texts)
    assert "1 holds the bar 41 cm (16 in) above the floor; one every 2 in." in told
    assert "mm" not in told
    for hooks, _ in plan.holes.values():
        assert f"{hooks} · {100 * plan.rack.height(hooks):.0f} cm ({14 + 2 * hooks} in)" in told


def test_what_stops_the_set_stands_clear_of_the_rules(pages):
    for name, page in pages.items():
        (axes,) = page.figure.axes
        levels = np.array([extent(line)[1] for line in axes.lines])
        for text in axes.texts:
            if "STOP the set" in text.get_text():
                assert np.abs(levels - extent(text)[1]).min() > 0.5, name


def test_nobody_can_read_from_a_card_who_reported_pain(printed):
    told = words(printed("class", "cards")[1])
    assert "Olive coaches and records today" in told
    assert "pain" not in told.replace(sheets.CAUTION, "")


def test_rounds_that_do_not_fit_go_on_without_losing_one(plans, printed):
    (station,) = plans["crowd"].stations
    pages = [words(page) for page in printed("crowd", "cards")]
    assert len(pages) == 2
    assert all(page.startswith("Rack 1") for page in pages)
    for round in station.rounds:
        hooks = plans["crowd"].holes[round.turn.lifter].hooks
        row = re.compile(rf" {round.start_min:g} [^\d]+? (no low bar )?(move to )?{hooks} ")
        assert sum(bool(row.search(page)) for page in pages) == 1, round
    assert [page.count("Low bar") for page in pages] == [0, 1]


def test_faults_are_in_order_of_priority_with_what_to_look_for_and_to_say(printed):
    for page in printed("class", "observation"):
        told, place = words(page), 0
        for fault in faults.catalogue().values():
            for part in (fault.look_for[1:], faults.advice(fault.id).cue):
                assert part in told
            place = told.index(f"{fault.name} ", place)
        assert told.count("STOP the set") == sum(bool(f.stop) for f in faults.catalogue().values())
        assert all(f"{number} {tier}" in told for number, tier in faults.TIERS.items())


def test_every_lifter_has_boxes_for_three_sizes_and_the_first(plans):
    shown = {"class": [5, 4], "crowd": [6, 6], "six": [6], "alone": [1]}
    for name, plan in plans.items():
        for page, lifters in zip(sheets.observation_sheets(plan), shown[name], strict=True):
            ticks = [p for p in page.figure.axes[0].patches if p.get_facecolor() == (1, 1, 1, 1)]
            assert len(ticks) == 4 * lifters * len(faults.catalogue())


def test_a_page_says_in_words_what_it_holds(plans):
    card, observed = (
        kind(plans["class"])[0] for kind in (sheets.session_cards, sheets.observation_sheets)
    )
    assert repr(card) == (
        "Card of rack 1: Ginger, Nettle, Birch, Dill, Sage; hooks in hole 17, 18; "
        "20 rounds of 5 minutes, high bar first, then low bar."
    )
    assert "14 faults in order of priority" in repr(observed)
    bundle = card._repr_mimebundle_()
    assert bundle["text/plain"] == repr(card) and f'alt="{card.alt}"' in bundle["text/html"]


def test_another_paper_is_refused(plans):
    with pytest.raises(ValueError, match='the paper is "A5"; choose one of A4, Letter'):
        sheets.session_cards(plans["alone"], "A5")
