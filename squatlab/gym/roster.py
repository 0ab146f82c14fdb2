"""Who comes to the session: a CSV file, read with an eye on mistakes."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from squatlab import faults
from squatlab.lifter import Lifter
from squatlab.questions.typed_numbers import (
    LENGTH,
    LENGTHS,
    MASS,
    MASSES,
    is_bare,
    kilograms,
    metres,
)
from squatlab.spreadsheet import REST, read_rows, unit_of

REQUIRED = ("name", "height")
SCREENS = ("bodyweight_squat", "goblet_squat")
OPTIONAL = (
    "height_unit",
    "mass",
    "mass_unit",
    "sternum_height",
    "thigh_length",
    "shank_length",
    "trunk_length",
    "length_unit",
    "experience",
    "shoulder_restricted",
    *SCREENS,
    "notes",
)

EXPERIENCE = ("new", "some", "experienced")
SCREENED_FAULTS = ("lumbar_rounding", "short_depth", "knee_valgus", "heel_lift", "lateral_shift")
FINDINGS = ("good", "pain", *SCREENED_FAULTS)

OTHER_HEADINGS = {
    "weight": "mass",
    "body_mass": "mass",
    "body_weight": "mass",
    "bodyweight": "mass",
    "weight_unit": "mass_unit",
    "stature": "height",
    "student": "name",
    "athlete": "name",
}
"""What sheets of other makes call a column."""


class RosterRowsError(ValueError):
    """Say what is wrong with rows of a roster, where the other rows will do."""


class MeasuredColumn(NamedTuple):
    """Say what a column measures: field of `Person`, column of its unit, ends in SI."""

    field: str
    unit_column: str
    low: float
    high: float


MEASURED = {
    "height": MeasuredColumn("stature_m", "height_unit", 1.2, 2.3),
    "mass": MeasuredColumn("mass_kg", "mass_unit", 30.0, 250.0),
    "sternum_height": MeasuredColumn("sternum_m", "length_unit", 0.8, 1.9),
    "thigh_length": MeasuredColumn("thigh_m", "length_unit", 0.25, 0.65),
    "shank_length": MeasuredColumn("shank_m", "length_unit", 0.25, 0.65),
    "trunk_length": MeasuredColumn("trunk_m", "length_unit", 0.30, 0.75),
}
"""What is measured on a person; the ends are what is possible [teaching-value]."""

STERNUM_SHARE = (0.70, 0.84)
"""Height of the middle of the breastbone, of stature [teaching-value]."""

BODY_MASS_INDEX = 24.0
"""Stands in for an unknown mass, kg/m² [teaching-value]: of the rack's
heights only the lean depends on it, by about a degree."""


@dataclass(frozen=True)
class Person:
    """Hold one row of a roster in SI units; None or () is not known.

    ``row`` is the row of the file, the heading being row 1. Screening
    results are findings in the order written, or ("good",).
    """

    name: str
    stature_m: float
    row: int = 0
    mass_kg: float | None = None
    sternum_m: float | None = None
    thigh_m: float | None = None
    shank_m: float | None = None
    trunk_m: float | None = None
    experience: str = "new"
    shoulder_restricted: bool | None = None
    bodyweight_squat: tuple[str, ...] = ()
    goblet_squat: tuple[str, ...] = ()

    @property
    def lifts(self) -> bool:
        """Return whether nothing was reported that keeps them off the bar."""
        return "pain" not in self.bodyweight_squat + self.goblet_squat

    def lifter(self) -> Lifter:
        """Return the lifter of this height with what was measured."""
        lengths = {name: getattr(self, name) for name in ("thigh_m", "shank_m", "trunk_m")}
        lengths = {name: value for name, value in lengths.items() if value is not None}
        mass = self.mass_kg or BODY_MASS_INDEX * self.stature_m**2
        return Lifter.from_lengths(self.stature_m, mass, **lengths)


@dataclass(frozen=True)
class Roster:
    """Hold the people that could be read, and the words about the rest."""

    people: tuple[Person, ...]
    problems: tuple[str, ...] = ()

    def __str__(self) -> str:
        many = "people" if len(self.people) > 1 else "person"
        return "\n".join([f"{len(self.people)} {many}", *self.problems])


def read_roster(path: str | Path, leave_out: bool = False) -> Roster:
    """Read a roster from a CSV file with the columns named above.

    ``name`` and ``height`` are needed. A cell brings its unit (5'9",
    165 lb), or the row's unit column or the heading says it (“Weight
    (lb)”), so one roster may hold cm beside feet and inches. Raises
    RosterRowsError that lists every mistake by row and column; with
    ``leave_out`` those rows are left out instead and the mistakes kept
    in ``problems``. ValueError if no row can be used.
    """
    people: dict[str, Person] = {}
    problems: list[str] = []
    for number, cells in read_rows(path, REQUIRED, OPTIONAL, OTHER_HEADINGS, MEASURED):
        row = _Row(number, cells)
        person = row.person()
        if person is not None:
            earlier = people.setdefault(person.name.casefold(), person)
            if earlier is not person:
                row.refuse(
                    "name",
                    f"“{person.name}” is already in row {earlier.row}; "
                    "give one of them another name",
                )
        problems += row.problems
    if not people:
        problems.append("no row can be used; a roster needs at least one person")
    if problems and not (leave_out and people):
        refusal = RosterRowsError if people else ValueError
        raise refusal(f"{Path(path).name}: " + "\n".join(problems))
    return Roster(tuple(people.values()), tuple(problems))


class _Row:
    """Read one row cell by cell and collect what is wrong with it."""

    def __init__(self, number: int, cells: dict[str, str]) -> None:
        self.number, self.cells = number, cells
        self.problems: list[str] = []

    def refuse(self, column: str, words: str) -> None:
        """Note what is wrong with a cell."""
        self.problems.append(f"row {self.number}, column {column}: {words}")

    def person(self) -> Person | None:
        """Return the person, or None with the reasons in ``problems``."""
        if REST in self.cells:
            self.refuse(REST, "more cells than columns; put quotes around a comma")
        if not self.cells["name"]:
            self.refuse("name", "is empty; give a name or an alias")
        if not self.cells["height"]:
            self.refuse("height", "is empty; measure it, or leave the person out")
        measured = {kind.field: self.measure(column) for column, kind in MEASURED.items()}
        experience = self.choice("experience", EXPERIENCE) or "new"
        shoulder = {"yes": True, "no": False}.get(self.choice("shoulder_restricted", ("yes", "no")))
        screens = {column: self.findings(column) for column in SCREENS}
        if self.problems:
            return None
        person = Person(
            self.cells["name"],
            row=self.number,
            experience=experience,
            shoulder_restricted=shoulder,
            **measured,
            **screens,
        )
        if person.sternum_m:
            low, high = STERNUM_SHARE
            share = person.sternum_m / person.stature_m
            if not low <= share <= high:
                self.refuse(
                    "sternum_height",
                    f"is {share:.2f} of the height; {low} to {high} is possible: "
                    "measure both again",
                )
        try:
            person.lifter()
        except ValueError as error:
            self.refuse("thigh, shank or trunk_length", str(error))
        return None if self.problems else person

    def measure(self, column: str) -> float | None:
        """Return a length or mass in SI, None where the cell is empty."""
        _, unit_column, low, high = MEASURED[column]
        text = self.cells.get(column)
        unit = self.cells.get(unit_column) or None
        if unit is None and text and is_bare(text):
            unit = self.cells.get(unit_of(column))  # the heading's, for numbers without their own
        if column == "mass":
            si, units, example, read = "kg", MASSES, MASS, kilograms
        else:
            si, units, example, read = "m", LENGTHS, LENGTH, metres
        if not text:
            return None
        if unit is None and is_bare(text):
            self.refuse(
                unit_column, f"is empty; choose one of {', '.join(units)}, or write {example}"
            )
            return None
        try:
            value = read(text, unit)  # without a unit column: the one beside the number
        except ValueError as error:
            self.refuse(column, str(error))
            return None
        if low <= value <= high:
            return value
        # Perhaps the unit is wrong: those in which the number is possible are offered.
        fitting = []
        for other in units:
            with contextlib.suppress(ValueError):
                if other != unit and low <= read(text, other) <= high:
                    fitting.append(other)
        hint = f"; should {unit_column} be {' or '.join(fitting)}?" if fitting else ""
        typed = f"“{text}” {unit or ''}".rstrip()
        words = f"{typed} is {value:.4g} {si}; {low:g} to {high:g} {si} is possible"
        self.refuse(column, words + hint)
        return None

    def choice(self, column: str, allowed: tuple[str, ...]) -> str | None:
        """Return the lower-case word of a cell, None where it is empty."""
        word = self.cells.get(column, "").lower()
        word = {"y": "yes", "n": "no"}.get(word, word)
        if word and word not in allowed:
            self.refuse(column, f"“{word}” is not one of {', '.join(allowed)}")
        return word or None

    def findings(self, column: str) -> tuple[str, ...]:
        """Return the findings of a cell, which are parted by semicolons or +."""
        ids = _finding_ids()
        findings = []
        for typed in self.cells.get(column, "").replace("+", ";").split(";"):
            word = " ".join(typed.lower().replace("_", " ").split())
            if word in ids:
                findings.append(ids[word])
            elif word:
                allowed = ", ".join(_finding_words())
                self.refuse(column, f"“{typed.strip()}” is not one of {allowed}")
        if "good" in findings and len(findings) > 1:
            self.refuse(column, "says good and names a finding; keep one of them")
        return tuple(findings)


def _finding_words() -> list[str]:
    """Return what may stand in a screening column, as the observation sheets name it."""
    return ["good", "pain", *(faults.catalogue()[fault].name for fault in SCREENED_FAULTS)]


def _finding_ids() -> dict[str, str]:
    """Return each finding's id by the words people type: its name, or its id."""
    by_id = {finding.replace("_", " "): finding for finding in FINDINGS}
    return by_id | dict(zip(_finding_words(), FINDINGS, strict=True))
