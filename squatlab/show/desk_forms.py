"""The forms of the instructor's notebooks I0 and I1: a roster, a session, a day, marks.

Each says what is missing step by step, and gives immutable values for the
functions that its notebook calls.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from pathlib import Path
from typing import Any, NamedTuple

from squatlab import tables, units
from squatlab.gym.plates import PlateSet
from squatlab.gym.rack import Rack
from squatlab.gym.roster import Roster, read_roster
from squatlab.gym.session import LOAD, plan_session
from squatlab.lessons.timetable import timetable
from squatlab.show.desk import DeskForm, DeskPart, FormStep
from squatlab.show.form_fields import DEMO, Chosen, Field, FileField, Ticked, TypedNumber, TypedText


class RosterForm(DeskForm):
    """Ask who comes; ``values`` is the roster."""

    def __init__(self) -> None:
        self._file = FileField("Roster", {"roster.csv": DEMO / "roster.csv"}, (".csv",))
        self._leave_out = Ticked("Leave out rows that are wrong, and say which")
        step = FormStep(
            "Who comes?", {"file": self._file, "leave_out": self._leave_out}, self._people
        )
        super().__init__("Roster", [step])

    def _people(self) -> str:
        return str(self._values())

    def _values(self) -> Roster:
        return read_roster(self._file.value, leave_out=self._leave_out.value)


class SessionSettings(NamedTuple):
    """Hold what a session is planned with, beside its roster."""

    racks: int
    rack: Rack
    block_minutes: float
    passes: int
    plates: PlateSet
    load: float


class SessionForm(DeskForm):
    """Ask for racks, minutes and plates; ``values`` are `SessionSettings`.

    ``people`` gives the roster they are for. ``minutes`` is how long a block
    lasts at first.
    """

    def __init__(self, people: DeskPart, minutes: float = 50) -> None:
        self._people = people
        usual, unit = units.either("50 mm", "2 in"), units.either("kg", "lb")
        usual_rack, suggestion = Rack.of(usual), self._suggestion()
        self._suggested = str(suggestion)
        racks = {
            "racks": TypedNumber("How many racks", "", suggestion, 1, 60, whole=True),
            "spacing": Chosen("A hole every", [(name, name) for name in _spacings()], usual),
            "first_hole": TypedNumber(
                "Lowest hole, bar at", units.FLOOR_HEIGHT, usual_rack.first_hole_m, 0.05, 2.0
            ),
            "holes": TypedNumber("Holes", "", usual_rack.holes, 1, 200, whole=True),
        }
        clock = {
            "minutes": TypedNumber("Minutes of a block", "min", minutes, 1, 480),
            "passes": TypedNumber("Lifts of each in it", "", 2, 1, 20, whole=True),
        }
        bar = {
            "plates": Chosen("Plates", (("kilograms", "kg"), ("pounds", "lb")), unit),
            "load": TypedNumber("Heaviest of the day", units.MASS, None, 5, 400, needed=False),
        }
        steps = [
            FormStep("Racks, as you measured them", racks, self._check_rack),
            FormStep("Bar", bar, self._check_bar),
            FormStep("Time", clock, self._check_clock),
        ]
        super().__init__("Session", steps)
        people.on_change(self._other_people)
        self.fields["spacing"].control.observe(self._other_rack, "value")

    def _other_rack(self, change: Any) -> None:
        """Suggest lowest hole and holes of another rack, unless somebody typed their own."""
        before, now = Rack.of(change["old"]), Rack.of(change["new"])
        hole, holes = self.fields["first_hole"].control, self.fields["holes"].control
        words = units.FLOOR_HEIGHT.words
        if hole.value == words(before.first_hole_m):
            hole.value = words(now.first_hole_m)
        if holes.value == str(before.holes):
            holes.value = str(now.holes)

    def _other_people(self) -> None:
        """Suggest racks for other people, unless somebody chose how many there are."""
        racks = self.fields["racks"].control
        if racks.value == self._suggested:
            try:
                self._suggested = racks.value = str(self._suggestion())
            except ValueError:
                pass  # no roster to suggest for: the step that reads it says why
        self._changed()

    def _suggestion(self) -> int:
        """Return racks for five people at each, or fewer."""
        return max(1, ceil(self._lifting() / 5))

    def _lifting(self) -> int:
        """Return how many of the roster lift."""
        return sum(person.lifts for person in self._people.values.people)

    def _rack(self) -> Rack:
        """Return the rack as its fields describe it."""
        fields = self.fields
        usual = Rack.of(fields["spacing"].value)
        return replace(usual, first_hole_m=fields["first_hole"].value, holes=fields["holes"].value)

    def _check_rack(self) -> str:
        rack, racks = self._rack(), self.fields["racks"].value
        words = units.FLOOR_HEIGHT.words
        return (
            f"{racks} racks; hooks hold the bar from {words(rack.first_hole_m)} to "
            f"{words(rack.top_m)}, a hole every {rack.step}."
        )

    def _check_clock(self) -> str:
        if not all(step.complete for step in self.steps[:2]):
            raise ValueError("racks and bar come first")
        plan = plan_session(self._people.values, *self._values())
        hooks = sum(station.moves for station in plan.stations)
        safety = sum(station.safety_moves for station in plan.stations)
        return (
            f"Rounds of {plan.round_minutes:g} min for {self._lifting()} people who lift; "
            f"hooks move {hooks} times in all, safety bars {safety}."
        )

    def _check_bar(self) -> str:
        plates, load = self._plates_and_load()
        return f"{plates.load(load)}."

    def _plates_and_load(self) -> tuple[PlateSet, float]:
        """Return plates, and the heaviest of the day in their unit: what can be loaded."""
        plates, load_kg = PlateSet.of(self.fields["plates"].value), self.fields["load"].value
        if load_kg is None:
            return plates, LOAD[plates.unit]
        unit_kg = {"kg": 1.0, "lb": units.POUND}[plates.unit]
        return plates, round(load_kg / unit_kg, 2)

    def _values(self) -> SessionSettings:
        fields = self.fields
        plates, load = self._plates_and_load()
        return SessionSettings(
            fields["racks"].value,
            self._rack(),
            fields["minutes"].value,
            fields["passes"].value,
            plates,
            load,
        )


def _spacings() -> list[str]:
    """Return the hole spacings of common racks, as racks.csv names them."""
    return [row["name"] for row in tables.read("racks") if row["quantity"] == "spacing"]


class DaySettings(NamedTuple):
    """Hold when a half-day begins and how long it lasts, as `timetable` takes them."""

    start: str
    minutes: float


class DayForm(DeskForm):
    """Ask for the clock of the half-day; ``values`` are `DaySettings`."""

    def __init__(self) -> None:
        fields: dict[str, Field] = {
            "start": TypedText("Begins at", "09:00"),
            "minutes": TypedNumber("Minutes in all", "min", 240, 60, 600),
        }
        super().__init__("Half-day", [FormStep("When is it?", fields, self._check_day)])

    def _check_day(self) -> str:
        day = timetable(*self._values())
        blocks = sum(slot.minutes for slot in day.slots if slot.kind == "rounds")
        return f"{blocks} of {self.fields['minutes'].value:g} minutes are at the racks."

    def _values(self) -> DaySettings:
        return DaySettings(self.fields["start"].value, self.fields["minutes"].value)


class MarkForm(DeskForm):
    """Ask for the marks typed from observation sheets; ``values`` is their file."""

    def __init__(self) -> None:
        demo = {"observations.csv": DEMO / "observations.csv"}
        self._file = FileField("Observations", demo, (".csv",))
        step = FormStep("What was seen?", {"file": self._file}, lambda: f"{self._file.value.name}.")
        super().__init__("Observations", [step])

    def _values(self) -> Path:
        return self._file.value
