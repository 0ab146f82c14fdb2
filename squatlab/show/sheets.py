"""The printed sheets of a practice session: a card for each rack, and what to look for.

`gym.session` plans, `paper` has pages in millimetres; I1 and `squatlab session`
print these.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import cycle
from math import ceil
from typing import NamedTuple

import numpy as np

from squatlab import faults, units
from squatlab.gym.screening import NOT_SCREENED
from squatlab.gym.session import Round, Session, Station
from squatlab.show.paper import BLACK, GREY, LEADING, POINT, SHADE, Page, width_mm, wrapped

CAUTION = (
    "Lifting can hurt. No safety bars and no spotters: no set. Light loads while learning. Stop on "
    "pain. No diagnosis: pain, injury and medical conditions are for a licensed professional. The "
    "facility's rules and local codes come first. The numbers teach and do not prescribe."
)

CHECKS = (
    "Safety bars in this lifter's hole, both sides alike",
    "Each spotter in place; the word to fail agreed",
    "Plates alike on both sides, collars on",
    "Hooks in this lifter's hole; feet flat under the bar",
)
"""Before every set [common-practice]."""

FAILING = (
    "Say the word. Both hands stay on the bar.",
    "Sit straight down until the safety bars carry it. No twist, no folding over.",
    "Let go, sink lower, move forward out from under it.",
    "Strip both sides in turn before the bar goes up.",
    "Two spotters lift together, on one word, and stay on until it is racked.",
)
"""How to fail a repetition and clear the bar [common-practice]."""

ALONE = (
    "One spotter: safety bars only; nobody lifts the bar out; the bar is left on them and stripped."
)
"""The last step where fewer than two spot [common-practice]."""

NO_LOW_BAR = "no low bar"
"""Marks, in the low-bar block, whose shoulders must not hold one."""

HEADING, ROW, LEAST_ROW = 4.4, 6.6, 4.6
"""Height of a table's heading, of its rows and of a row at least, mm."""

FOOT = 49.0
"""Room at the foot of a card for checks, failing and caution, mm."""

PEOPLE = {
    "": 7,
    " ": 31,
    "hooks: hole · height": 33,
    "safety, high bar": 28,
    "safety, low bar": 28,
    "start with": 0,
}
ROUNDS = {
    "min": 9,
    "lifter": 27,
    "": 19,
    "hooks": 21,
    "safety": 21,
    "coaches": 25,
    "spots": 0,
    "records": 25,
    "done": 10,
}
"""Columns of both tables and their widths, mm; 0 takes what is left."""

LIFTERS = 6
"""Lifters on one observation sheet."""

NAMES, BOX, TIER, TALLER = 46.0, 5.4, 4.2, 1.3
"""Width of the faults' names and of one box to tick, height of a tier's
heading, mm; how much taller the row of a fault is that stops the set."""


def session_cards(session: Session, paper: str = "A4") -> tuple[Page, ...]:
    """Return the card of each rack: who, which holes, who does what when.

    One page a rack; only where the rounds of a large group do not fit,
    they go on on another. Nothing on it tells who reported pain.
    ``paper`` is "A4" or "Letter".
    """
    cards: list[Page] = []
    for number, station in enumerate(session.stations, start=1):
        cards += _cards(session, station, number, paper)
    return tuple(cards)


def _cards(session: Session, station: Station, number: int, paper: str) -> Iterator[Page]:
    """Yield the pages of one rack's card; the first has its people and the load's steps."""
    # The rows of the table: a round, or the name of a bar as the heading of its block.
    rows: list[str | Round] = []
    bar = None
    for round in station.rounds:
        if round.bar != bar:
            bar = round.bar
            rows.append(bar)
        rows.append(round)
    is_first = True
    while rows:
        page = Page(paper, alt=_card_words(session, station, number))
        y = page.head(f"Rack {number}", "Date", "Instructor")
        if is_first:
            y = _ramp(page, _people(page, y, session, station), session)
            is_first = False
        space = page.bottom - FOOT - y - HEADING
        fitting = int(space // LEAST_ROW)
        if fitting < len(rows):
            # Rather a whole block on the next page than the beginning of one on this.
            blocks = [place for place in range(1, fitting) if isinstance(rows[place], str)]
            if blocks:
                fitting = blocks[-1]
        on_page, rows = rows[:fitting], rows[fitting:]
        _rounds(page, y, min(ROW, space / len(on_page)), on_page, session)
        _foot(page, all(len(round.turn.spotters) > 1 for round in station.rounds))
        yield page


def _card_words(session: Session, station: Station, number: int) -> str:
    """Return what is on a rack's card, in words."""
    holes = sorted({session.holes[name].hooks for name in station.lifters})
    return (
        f"Card of rack {number}: {', '.join(station.lifters)}; hooks in hole "
        f"{', '.join(map(str, holes))}; {len(station.rounds)} rounds of "
        f"{session.round_minutes:.3g} minutes, high bar first, then low bar."
    )


def _people(page: Page, y: float, session: Session, station: Station) -> float:
    """Write who is at this rack, in order, and which holes they need."""
    rack, first = session.rack, session.rack.height_words(session.rack.first_hole_m)
    y = page.paragraph(
        page.left,
        y,
        page.right - page.left,
        f"A new round every {session.round_minutes:g} minutes. Holes are counted from the lowest: "
        f"1 holds the bar {first} above the floor; one every {rack.step}.",
        8,
    )
    y = page.row(y + 1, HEADING, PEOPLE.values(), PEOPLE, 7, colour=GREY)
    page.rule(page.left, y, page.right)

    def safety_words(hole: int) -> str:
        return f"{hole} · {rack.height_words(rack.safety_height(hole))}"

    for place, name in enumerate(station.lifters):
        holes, begin = session.holes[name], session.starts[name]
        is_screened = begin.bar != NOT_SCREENED
        # What is usual, and what its own column says, is left out.
        begin_words = f"{begin.start_with}; {begin.bar}"
        begin_words = begin_words.removesuffix("; usual grip")
        begin_words = begin_words.removesuffix(" in both blocks; no low bar")
        cells = (
            str(place + 1),
            name,
            f"{holes.hooks} · {rack.height_words(rack.height(holes.hooks))}",
            safety_words(holes.safety["high bar"]),
            safety_words(holes.safety["low bar"]) if begin.low_bar else NO_LOW_BAR,
            begin_words if is_screened else NOT_SCREENED,
        )
        bold = (1, 2) if is_screened else (1, 2, 5)
        fill = "none" if place % 2 else SHADE
        y = page.row(y, ROW, PEOPLE.values(), cells, bold=bold, fill=fill)
    for name in station.others:
        cells = ("", name, "", "", "", "coaches and records today")
        y = page.row(y, ROW, PEOPLE.values(), cells)
    page.rule(page.left, y, page.right)
    return y + 4


def _ramp(page: Page, y: float, session: Session) -> float:
    """Write the sets from the empty bar to the day's load, as steps up."""
    page.words(page.left, y, "Load, step by step", 10, bold=True)
    x, y = page.left, y + 5
    wide = min(38.0, (page.right - page.left) / len(session.ramp))
    for place, (loading, repetitions) in enumerate(session.ramp):
        page.box(x, y, wide - 4, 9.6, SHADE if place % 2 == 0 else "none")
        load = f"{repetitions} × {loading.total:g} {loading.unit}"
        page.cell(x, y + 0.6, wide - 4, 5, load, 9, bold=True, anchor="center")
        side = " + ".join(f"{plate:g}" for plate in loading.side)
        side = f"{side} a side" if side else "empty bar"
        page.cell(x + 1, y + 5, wide - 6, 4, side, 7, anchor="center", colour=GREY)
        x += wide
        if place < len(session.ramp) - 1:
            page.cell(x - 4, y, 4, 9.6, "›", 11, anchor="center")
    most = session.strap_held
    page.paragraph(
        page.left,
        y + 11.2,
        page.right - page.left,
        f"Heavier is no duty: one step up only after a set that looked like the one before. "
        f"Strap-held or padded bar: no more than {most.total:g} {most.unit}.",
        8,
    )
    return y + 17


def _rounds(
    page: Page, y: float, height: float, items: Sequence[str | Round], session: Session
) -> None:
    """Write rounds, and the name of each bar before its block, in rows of a height, mm."""
    y = page.row(y, HEADING, ROUNDS.values(), ROUNDS, 7, colour=GREY)
    page.rule(page.left, y, page.right)
    size, fills = min(9.0, 1.75 * height), cycle((SHADE, "none"))
    for item in items:
        if isinstance(item, str):
            y = page.row(y, height, (0,), (item.capitalize(),), size + 1, (0,))
            page.rule(page.left, y, page.right, 0.4)
            fills = cycle((SHADE, "none"))
            continue
        turn, holes = item.turn, session.holes[item.turn.lifter]
        can_hold = item.bar != "low bar" or session.starts[turn.lifter].low_bar
        safety = holes.safety[item.bar]
        cells = (
            f"{item.start_min:g}",
            turn.lifter,
            "" if can_hold else NO_LOW_BAR,
            f"move to {holes.hooks}" if item.moved else f"{holes.hooks}",
            f"move to {safety}" if item.safety_moved else f"{safety}",
            turn.coach,
            ", ".join(turn.spotters),
            turn.recorder,
            "",
        )
        # The lifter, and what must be moved, are bold.
        bold = [1, 2]
        if item.moved:
            bold.append(3)
        if item.safety_moved:
            bold.append(4)
        y = page.row(y, height, ROUNDS.values(), cells, size, bold, next(fills))
        page.box(page.right - 7, y - height / 2 - 1.5, 3, 3, "white", 0.6)
    page.rule(page.left, y, page.right)


def _foot(page: Page, two_spot: bool) -> None:
    """Write checks, how to fail, and the caution: they are on every card."""
    middle = (page.left + page.right) / 2 - 14
    top = page.bottom - FOOT + 5
    y = page.words(page.left, top, "Before every set", 10, bold=True) + 0.8
    for check in CHECKS:
        page.box(page.left, y, 2.8, 2.8, line=0.6)
        y = page.paragraph(page.left + 4.5, y, middle - page.left - 8, check, 8) + 1
    y = page.words(middle, top, "If a repetition fails", 10, bold=True) + 0.8
    for number, step in enumerate(FAILING if two_spot else (*FAILING[:-1], ALONE), start=1):
        page.words(middle, y, f"{number}", 8, bold=True)
        y = page.paragraph(middle + 4.5, y, page.right - middle - 5, step, 8) + 0.4
    page.framed(CAUTION)


def observation_sheets(session: Session, paper: str = "A4") -> tuple[Page, ...]:
    """Return what to look for in each lifter, faults in order of priority.

    One page for each rack, more for more than six lifters. Boxes for
    slight, clear and gross, and for the one fault to fix first; typed as
    rows of observer, lifter, fault, size, first they can be counted by
    `squatlab.exam.observers`. ``paper`` is "A4" or "Letter".
    """
    sheets = []
    for number, station in enumerate(session.stations, start=1):
        # As evenly as it goes on as few pages as it takes.
        pages = ceil(len(station.lifters) / LIFTERS)
        for lifters in np.array_split(station.lifters, pages):
            sheets.append(_observation(Page(paper, landscape=True), number, tuple(lifters)))
    return tuple(sheets)


def _observation(page: Page, number: int, lifters: tuple[str, ...]) -> Page:
    """Write the faults as rows and four boxes for each lifter as columns; return the page."""
    page.alt = (
        f"Observation sheet of rack {number} for {', '.join(lifters)}: "
        f"{len(faults.catalogue())} faults in order of priority, each slight, clear or gross."
    )
    y = page.head(f"Rack {number}: what do you see?", "Date", "Observer", "High bar / low bar")
    first = page.right - 4 * BOX * len(lifters)
    below = page.paragraph(
        page.left,
        y,
        first - page.left - 6,
        "Watch alone, then compare. Tick the worst repetition: S slight, C clear, G gross, or "
        "nothing. Then write 1st at one thing for each lifter: what to fix first. What stops the "
        "set leads; "
        "then, of what is more than slight, the highest tier.",
        7.5,
        colour=GREY,
    )
    end = page.framed(CAUTION) - 3
    for place, name in enumerate(lifters):
        x = first + 4 * BOX * place
        if place % 2 == 0:
            page.box(x, y - 1, 4 * BOX, end - y + 1, SHADE, 0)
        page.cell(x + 0.5, y - 0.5, 4 * BOX - 1, 6, name, 9, bold=True, anchor="center")
        for step, head in enumerate(("S", "C", "G", "1st")):
            page.cell(x + BOX * step, y + 5.5, BOX, 3.5, head, 6.5, step == 3, "center")
    y = max(y + 9.5, below)
    rows = faults.catalogue().values()
    tiers = sorted({fault.tier for fault in rows})
    # What stops the set has a line more.
    height = (end - y - TIER * len(tiers)) / sum(TALLER if fault.stop else 1 for fault in rows)
    size = _largest(first - page.left - NAMES - 3, height - 1.2)
    for tier in tiers:
        page.rule(page.left, y, page.right, 1.2)
        page.cell(page.left, y, 80, TIER, f"{tier}  {faults.TIERS[tier]}", 7.5, bold=True)
        y += TIER
        for fault in (fault for fault in rows if fault.tier == tier):
            page.rule(page.left, y, page.right, 0.4)
            tall = height * (TALLER if fault.stop else 1)
            _fault(page, y, tall, fault, first, size)
            for step in range(4 * len(lifters)):
                side = min(BOX, height) - 1.6
                at = first + BOX * step + (BOX - side) / 2
                line = 1.3 if step % 4 == 3 else 0.6
                page.box(at, y + (tall - side) / 2, side, side, "white", line)
            y += tall
    page.rule(page.left, y, page.right, 1.2)
    return page


def _largest(width: float, height: float) -> float:
    """Return the largest type in which every fault's words fit into their row."""
    for size in (7.5, 7.0, 6.5, 6.0):
        most = max(
            len(wrapped(fault.look_for, width, size))
            + len(wrapped(f"Say: {faults.advice(fault.id).cue}", width, size, bold=True))
            for fault in faults.catalogue().values()
        )
        if most * size * LEADING * POINT <= height:
            break
    return size


class LabelLine(NamedTuple):
    """Hold one line of a fault's name and sizes, and how it is written."""

    words: str
    points: float
    bold: bool = False
    colour: str = BLACK


def _fault(
    page: Page, y: float, height: float, fault: faults.Fault, right: float, size: float
) -> None:
    """Write one fault: its name and sizes, what to look for, what to say."""
    middle, width = page.left + NAMES, right - page.left - NAMES - 3
    sizes = " / ".join(units.limit_of_table(limit, fault.unit) for limit in fault.thresholds)
    unit = units.unit_of_table(fault.unit)
    unit = unit if unit == "°" else f" {unit}"
    view = "either view" if fault.view == "any" else fault.view
    fitting = min(8.0, (NAMES - 3) / width_mm(fault.name, 1.0, bold=True))
    label = [
        LabelLine(fault.name, fitting, bold=True),
        LabelLine(f"{view} · {sizes}{unit}", 6.5, colour=GREY),
    ]
    if fault.stop:
        label.append(LabelLine(f"{fault.stop}: STOP the set, unload", 6.5, bold=True))
    # The last line needs no room below it, which is 2 points less in all.
    tall = (sum(line.points for line in label) - 2.0) * LEADING * POINT
    shrunk = min(1.0, (height - 0.8) / tall)
    line_y = y + (height - shrunk * tall) / 2 + 0.4
    for line in label:
        size_pt = shrunk * line.points
        line_y = page.words(
            page.left + 1, line_y, line.words, size_pt, line.bold, colour=line.colour
        )
    look, cue = fault.look_for, f"Say: {faults.advice(fault.id).cue}"
    lines = len(wrapped(look, width, size)) + len(wrapped(cue, width, size, bold=True))
    line_y = y + (height - lines * size * LEADING * POINT) / 2 + 0.4
    line_y = page.paragraph(middle, line_y, width, look[0].upper() + look[1:], size)
    page.paragraph(middle, line_y, width, cue, size, bold=True)
