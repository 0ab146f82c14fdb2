"""The half-day: what is when, what to project, to ask, to answer, and to do on the floor."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from html import escape
from textwrap import fill
from typing import Any

from squatlab import tables
from squatlab.gym import Session
from squatlab.gym.session import Round
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

    @property
    def lines(self) -> list[tuple[str, str]]:
        """Return what happens in order: what kind of line it is, and its words."""
        lines = [
            ("safety", self.safety),
            ("read" if self.kind == "before" else "project", self.show),
            ("ask", self.ask),
            ("right", self.right),
        ]
        for answer, reply in self.wrong:
            lines += [("wrong", answer), ("say", reply)]
        lines.append(("do", self.do))
        return [(word, text) for word, text in lines if text]

    def __repr__(self) -> str:
        head = f"{self.start or 'home':6}{self.title}, {self.minutes} min [{self.source}]"
        layout = {"initial_indent": " " * 6, "subsequent_indent": " " * 14}
        filled = [
            fill(f"{word:8}{text}", 92, break_on_hyphens=False, **layout)
            for word, text in self.lines
        ]
        return "\n".join([head, *filled])

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        """Return the words, and a table that is as wide as its page."""
        start, title = escape(self.start or "home"), escape(self.title)
        head = f"<b>{start} {title}</b>, {self.minutes} min [{escape(self.source)}]"
        return {"text/plain": repr(self), "text/html": f"<p>{head}</p>{_table(self.lines)}"}


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

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        """Return the words, and a table that is as wide as its page."""
        rows = [
            (slot.start or "home", f"{slot.minutes}\N{NO-BREAK SPACE}min", slot.title, slot.show)
            for slot in self.slots
        ]
        return {"text/plain": repr(self), "text/html": _table(rows)}


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
    slots, elapsed_min = [], 0.0
    for row in rows:
        lasts_min = int(row["minutes"]) * (share if row["kind"] == "rounds" else 1)
        if row["kind"] == "before":
            slots.append(_slot(row, "", round(lasts_min)))
            continue
        # Starts and ends are rounded, not lengths, so that the lengths add up to the day.
        start_min = round(elapsed_min)
        elapsed_min += lasts_min
        at = clock + timedelta(minutes=start_min)
        slots.append(_slot(row, f"{at:%H:%M}", round(elapsed_min) - start_min))
    return Timetable(tuple(slots))


def floor_times(day: Timetable, plan: Session, shown: int = 3) -> str:
    """Return when the first rounds of a plan are, on the day's clock.

    The minutes of a plan's cards count both blocks through, while the day
    has talk and a break between them.
    """
    rounds = plan.stations[0].rounds
    most_at_a_rack = max(len(station.lifters) for station in plan.stations)
    each_min = round(day["racks"].minutes / most_at_a_rack, 1)
    low = next(turn for turn in rounds if turn.bar == "low bar")
    lines = [
        f"{day['racks'].start}, rack it and fail it: {each_min:g} min for each person at the "
        "fullest rack"
    ]
    lines += [f"{day['high'].start}, {_on_the_card(turn)}: {turn.turn}" for turn in rounds[:shown]]
    lines.append(f"{day['low'].start}, {_on_the_card(low)}: {low.bar}, {low.turn}")
    return "\n".join(lines)


def _on_the_card(turn: Round) -> str:
    """Return from which minute on a round stands on the cards."""
    return f"minute {round(turn.start_min, 1):g} on the card"


def _slot(row: dict[str, str], start: str, minutes: int) -> Slot:
    """Return a row of the timetable with its answers, the first of which is right."""
    answer_rows = [one for one in tables.read("class_answers") if one["slot"] == row["slot"]]
    answers = [(_filled(one["answer"]), _filled(one["reply"])) for one in answer_rows]
    show = (
        row["notebook"],
        row["section"] and f"“{row['section']}”",
        row["press"] and f"press {row['press']}",
        row["projected"] and f"{row['projected']} min",
    )
    source = "; answers: ".join([row["source"], *(one["source"] for one in answer_rows[:1])])
    return Slot(
        row["slot"],
        row["title"],
        row["kind"],
        start,
        minutes,
        ", ".join(filter(None, show)),
        _filled(row["ask"]),
        answers[0][0] if answers else "",
        tuple(answers[1:]),
        _filled(row["do"]),
        _filled(row["safety"]),
        source,
    )


def _table(rows: Iterable[tuple[str, ...]]) -> str:
    """Return rows of words as an HTML table."""
    cells = (f"<td>{'</td><td>'.join(map(escape, row))}</td>" for row in rows)
    return f'<table class="squatlab-rows"><tr>{"</tr><tr>".join(cells)}</tr></table>'


def _filled(text: str) -> str:
    """Return words with the computed numbers in them, a capital first."""
    words = text.format_map(figures())
    return words[:1].upper() + words[1:]
