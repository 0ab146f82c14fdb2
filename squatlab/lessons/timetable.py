"""The half-day: what is when, what to project, to ask, to answer, and to do on the floor."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from textwrap import fill

from squatlab import tables
from squatlab.lessons.class_figures import figures
from squatlab.ranges import within

LEAST_ROUNDS = 0.4
"""Of the minutes of the two blocks at the racks, what a shorter day leaves [teaching-value]."""


@dataclass(frozen=True, repr=False)
class Slot:
    """Hold a part of the day: when, how long, and what happens in it.

    ``kind`` is "before" (at home), "talk", "floor", "rounds" (a block of
    the rotation) or "break"; ``show`` says what to project and how long;
    ``wrong`` pairs the answers to expect with what to say to each.
    """

    name: str
    title: str
    kind: str
    start: str
    minutes: int
    show: str
    ask: str
    right: str
    wrong: tuple[tuple[str, str], ...]
    do: str
    safety: str
    source: str

    def __repr__(self) -> str:
        said = [pair for one, reply in self.wrong for pair in (("wrong", one), ("say", reply))]
        show = "read" if self.kind == "before" else "project"
        lines = [
            ("safety", self.safety),
            (show, self.show),
            ("ask", self.ask),
            ("right", self.right),
            *said,
            ("do", self.do),
        ]
        head = f"{self.start or 'home':6}{self.title}, {self.minutes} min [{self.source}]"
        layout = {"initial_indent": " " * 6, "subsequent_indent": " " * 14}
        told = [
            fill(f"{word:8}{text}", 92, break_on_hyphens=False, **layout)
            for word, text in lines
            if text
        ]
        return "\n".join([head, *told])


@dataclass(frozen=True, repr=False)
class Timetable:
    """Hold the slots in order, those at home first; ``day["break"]`` is one."""

    slots: tuple[Slot, ...]

    def __getitem__(self, name: str) -> Slot:
        found = {slot.name: slot for slot in self.slots}
        if name not in found:
            raise KeyError(f'no "{name}" in the day; there are {", ".join(found)}')
        return found[name]

    def __repr__(self) -> str:
        rows = (f"{s.start or 'home':6}{s.minutes:3} min  {s.title:26}{s.show}" for s in self.slots)
        return "\n".join(row.rstrip() for row in rows)


def timetable(start: str = "09:00", minutes: float = 240) -> Timetable:
    """Return the half-day of ``data/timetable.csv`` from a clock time on.

    What is said takes as long as it takes: a longer or shorter day
    changes only the two blocks at the racks. Raises ValueError for a
    time that is none, and for a day that leaves too little to them.
    """
    try:
        clock = datetime.strptime(start, "%H:%M")
    except ValueError:
        raise ValueError(f'the day starts at "{start}"; write it as "09:00" or "13:30"') from None
    rows = tables.read("timetable")
    rounds = sum(int(row["minutes"]) for row in rows if row["kind"] == "rounds")
    fixed = sum(int(row["minutes"]) for row in rows if row["kind"] not in ("rounds", "before"))
    least = fixed + LEAST_ROUNDS * rounds
    share = (within("minutes", minutes, least, 600, "minutes in all") - fixed) / rounds
    slots, gone = [], 0.0
    for row in rows:
        lasts = int(row["minutes"]) * (share if row["kind"] == "rounds" else 1)
        if row["kind"] == "before":
            slots.append(_slot(row, "", round(lasts)))
            continue
        at, gone = round(gone), gone + lasts  # ends are rounded, so that lengths add up
        slots.append(_slot(row, f"{clock + timedelta(minutes=at):%H:%M}", round(gone) - at))
    return Timetable(tuple(slots))


def _slot(row: dict[str, str], start: str, minutes: int) -> Slot:
    said = [one for one in tables.read("class_answers") if one["slot"] == row["slot"]]
    told = [(_filled(one["answer"]), _filled(one["reply"])) for one in said]
    show = (
        row["notebook"],
        row["section"] and f"“{row['section']}”",
        row["press"] and f"press {row['press']}",
        row["projected"] and f"{row['projected']} min",
    )
    source = "; answers: ".join([row["source"], *(one["source"] for one in said[:1])])
    return Slot(
        row["slot"],
        row["title"],
        row["kind"],
        start,
        minutes,
        ", ".join(filter(None, show)),
        _filled(row["ask"]),
        told[0][0] if told else "",
        tuple(told[1:]),
        _filled(row["do"]),
        _filled(row["safety"]),
        source,
    )


def _filled(text: str) -> str:
    """Return words with the computed numbers in them, a capital first."""
    words = text.format_map(figures())
    return words[:1].upper() + words[1:]
