"""The printed sheets of a practice session: a card for each rack, and what to look for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import cycle

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
    return tuple(
        page
        for number, station in enumerate(session.stations, start=1)
        for page in _cards(session, station, number, paper)
    )


def _cards(session: Session, station: Station, number: int, paper: str) -> Iterator[Page]:
    items: list[str | Round] = []
    for round in station.rounds:
        if not items or round.bar != items[-1].bar:
            items.append(round.bar)
        items.append(round)
    while items:
        page = Page(paper, alt=_told(session, station, number))
        y = page.head(f"Rack {number}", "Date", "Instructor")
        if items[0] == station.rounds[0].bar:
            y = _ramp(page, _people(page, y, session, station), session)
        space = page.bottom - FOOT - y - HEADING
        fitting = int(space // LEAST_ROW)
        if fitting < len(items):
            # Rather a whole block on the next page than the beginning of one on this.
            starts = [place for place in range(1, fitting) if isinstance(items[place], str)]
            fitting = (starts or [fitting])[-1]
        taken, items = items[:fitting], items[fitting:]
        _rounds(page, y, min(ROW, space / len(taken)), taken, session)
        _foot(page, all(len(round.turn.spotters) > 1 for round in station.rounds))
        yield page


def _told(session: Session, station: Station, number: int) -> str:
    holes = sorted({session.holes[name].hooks for name in station.lifters})
    return (
        f"Card of rack {number}: {', '.join(station.lifters)}; hooks in hole "
        f"{', '.join(map(str, holes))}; {len(station.rounds)} rounds of "
        f"{session.round_minutes:.3g} minutes, high bar first, then low bar."
    )


def _people(page: Page, y: float, session: Session, station: Station) -> float:
    """Write who is at this rack, in order, and which holes they need."""
    rack, first = session.rack, session.rack.told(session.rack.first_hole_m)
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
    for place, name in enumerate(station.lifters):
        (hooks, safety), begin = session.holes[name], session.starts[name]
        high, low = (f"{hole} · {rack.told(rack.safety_height(hole))}" for hole in safety.values())
        words, missing = f"{begin.start_with}; {begin.bar}", begin.bar == NOT_SCREENED
        words = words.removesuffix("; usual grip").removesuffix(" in both blocks; no low bar")
        cells = (
            str(place + 1),
            name,
            f"{hooks} · {rack.told(rack.height(hooks))}",
            high,
            low if begin.low_bar else NO_LOW_BAR,
            NOT_SCREENED if missing else words,
        )
        bold = (1, 2, 5) if missing else (1, 2)
        y = page.row(y, ROW, PEOPLE.values(), cells, bold=bold, fill=(SHADE, "none")[place % 2])
    for name in station.others:
        y = page.row(y, ROW, PEOPLE.values(), ("", name, *[""] * 3, "coaches and records today"))
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
    y = page.row(y, HEADING, ROUNDS.values(), ROUNDS, 7, colour=GREY)
    page.rule(page.left, y, page.right)
    size, fills = min(9.0, 1.75 * height), cycle((SHADE, "none"))
    for item in items:
        if isinstance(item, str):
            y = page.row(y, height, (0,), (item.capitalize(),), size + 1, (0,))
            page.rule(page.left, y, page.right, 0.4)
            fills = cycle((SHADE, "none"))
            continue
        turn, (hooks, safety) = item.turn, session.holes[item.turn.lifter]
        held = item.bar != "low bar" or session.starts[turn.lifter].low_bar
        cells = (
            f"{item.start_min:g}",
            turn.lifter,
            "" if held else NO_LOW_BAR,
            f"{'move to ' * item.moved}{hooks}",
            f"{'move to ' * item.safety_moved}{safety[item.bar]}",
            turn.coach,
            ", ".join(turn.spotters),
            turn.recorder,
            "",
        )
        bold = (1, 2, *(3,) * item.moved, *(4,) * item.safety_moved)
        y = page.row(y, height, ROUNDS.values(), cells, size, bold, next(fills))
        page.box(page.right - 7, y - height / 2 - 1.5, 3, 3, "white", 0.6)
    page.rule(page.left, y, page.right)


def _foot(page: Page, two: bool) -> None:
    """Write checks, how to fail, and the caution: they are on every card."""
    middle = (page.left + page.right) / 2 - 14
    top = page.bottom - FOOT + 5
    y = page.words(page.left, top, "Before every set", 10, bold=True) + 0.8
    for check in CHECKS:
        page.box(page.left, y, 2.8, 2.8, line=0.6)
        y = page.paragraph(page.left + 4.5, y, middle - page.left - 8, check, 8) + 1
    y = page.words(middle, top, "If a repetition fails", 10, bold=True) + 0.8
    for number, step in enumerate(FAILING if two else (*FAILING[:-1], ALONE), start=1):
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
    return tuple(
        _observation(Page(paper, landscape=True), number, tuple(lifters))
        for number, station in enumerate(session.stations, start=1)
        for lifters in np.array_split(station.lifters, -(-len(station.lifters) // LIFTERS))
    )


def _observation(page: Page, number: int, lifters: tuple[str, ...]) -> Page:
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


def _fault(
    page: Page, y: float, height: float, fault: faults.Fault, right: float, size: float
) -> None:
    """Write one fault: its name and sizes, what to look for, what to say."""
    middle, width = page.left + NAMES, right - page.left - NAMES - 3
    sizes = " / ".join(units.limit_of_table(limit, fault.unit) for limit in fault.thresholds)
    unit = units.unit_of_table(fault.unit)
    unit = unit if unit == "°" else f" {unit}"
    view = {"any": "either view"}.get(fault.view, fault.view)
    fits = min(8.0, (NAMES - 3) / width_mm(fault.name, 1.0, bold=True))
    label = [(fault.name, fits, True, BLACK), (f"{view} · {sizes}{unit}", 6.5, False, GREY)]
    if fault.stop:
        label.append((f"{fault.stop}: STOP the set, unload", 6.5, True, BLACK))
    # The last line needs no room below it.
    tall = (sum(points for _, points, *_ in label) - 2.0) * LEADING * POINT
    shrunk = min(1.0, (height - 0.8) / tall)
    line = y + (height - shrunk * tall) / 2 + 0.4
    for text, points, bold, colour in label:
        line = page.words(page.left + 1, line, text, shrunk * points, bold, colour=colour)
    look, cue = fault.look_for, f"Say: {faults.advice(fault.id).cue}"
    lines = len(wrapped(look, width, size)) + len(wrapped(cue, width, size, bold=True))
    line = y + (height - lines * size * LEADING * POINT) / 2 + 0.4
    line = page.paragraph(middle, line, width, look[0].upper() + look[1:], size)
    page.paragraph(middle, line, width, cue, size, bold=True)
