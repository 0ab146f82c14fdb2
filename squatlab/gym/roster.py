"""Who comes to the session: a CSV file, read with an eye on mistakes."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from squatlab import tables
from squatlab.gym.units import KILOGRAMS, METRES, kilograms, metres
from squatlab.lifter import Lifter

REQUIRED = ("name", "height", "height_unit")
LENGTHS = ("sternum_height", "thigh_length", "shank_length", "trunk_length")
SCREENS = ("bodyweight_squat", "goblet_squat")
OPTIONAL = (
    "mass", "mass_unit", *LENGTHS, "length_unit", "experience", "shoulder_restricted", *SCREENS,
    "notes",
)  # fmt: skip

EXPERIENCE = ("new", "some", "experienced")
FINDINGS = (
    "good", "pain", "lumbar_rounding", "short_depth", "knee_valgus", "heel_lift", "lateral_shift",
)  # fmt: skip

PLAUSIBLE = {
    "height": (1.2, 2.3),
    "mass": (30.0, 250.0),
    "sternum_height": (0.8, 1.9),
    "thigh_length": (0.25, 0.65),
    "shank_length": (0.25, 0.65),
    "trunk_length": (0.30, 0.75),
}
"""What a person can measure, m and kg [teaching-value]."""

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
    sternum_height_m: float | None = None
    thigh_length_m: float | None = None
    shank_length_m: float | None = None
    trunk_length_m: float | None = None
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
        mass = self.mass_kg or BODY_MASS_INDEX * self.stature_m**2
        measured = {
            name: value
            for name in ("thigh", "shank", "trunk")
            if (value := getattr(self, f"{name}_length_m")) is not None
        }
        return Lifter.from_lengths(
            self.stature_m, mass, **{f"{name}_m": value for name, value in measured.items()}
        )


@dataclass(frozen=True)
class Roster:
    """Hold the people that could be read, and the words about the rest."""

    people: tuple[Person, ...]
    problems: tuple[str, ...] = ()

    def __str__(self) -> str:
        lines = [f"{len(self.people)} people", *self.problems]
        return "\n".join(lines)


def read_roster(path: str | Path, leave_out: bool = False) -> Roster:
    """Read a roster from a CSV file with the columns named above.

    ``name``, ``height`` and ``height_unit`` are needed; heights, masses
    and other lengths each have a unit column, so one roster may hold cm
    beside feet and inches. Raises ValueError that lists every mistake by
    row and column; with ``leave_out`` those rows are left out instead and
    the mistakes kept in ``problems``.
    """
    path = Path(path)
    rows = _rows(path)
    people: list[Person] = []
    problems: list[str] = []
    seen: dict[str, int] = {}
    for number, row in rows:
        reader = _Row(number, row)
        person = reader.person()
        key = person.name.casefold() if person else ""
        if key and key in seen:
            reader.refuse(
                "name",
                f"“{person.name}” is already in row {seen[key]}; give one of them another alias",
            )
        if reader.problems:
            problems += reader.problems
        else:
            seen[key] = number
            people.append(person)
    if not people:
        problems.append("no row can be used; a roster needs at least one person")
    if problems and not (leave_out and people):
        raise ValueError(f"{path.name}: " + "\n".join(problems))
    return Roster(tuple(people), tuple(problems))


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    """Return (row number, cells by column) or say what is wrong with the file."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError(
            f"{path.name} is not UTF-8 text; save the sheet as “CSV UTF-8” and read it again"
        ) from None
    first = text.partition("\n")[0]
    if not first.strip():
        raise ValueError(f"{path.name} has no heading; the first row names the columns")
    delimiter = ";" if first.count(";") > first.count(",") else ","
    table = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    heading = [cell.strip().lower().replace(" ", "_") for cell in next(table)]
    _check_heading(path.name, heading)
    rows = []
    for number, cells in enumerate(table, start=2):
        if any(cell.strip() for cell in cells):
            row = dict(zip(heading, (cell.strip() for cell in cells), strict=False))
            if len(cells) > len(heading):
                row["…"] = delimiter.join(cells[len(heading) :])
            rows.append((number, row))
    return rows


def _check_heading(file: str, heading: list[str]) -> None:
    for column in heading:
        if column not in REQUIRED + OPTIONAL:
            raise ValueError(
                f"{file}: the column “{column}” is not known"
                f"{tables.closest(column, REQUIRED + OPTIONAL)} There may be "
                f"{', '.join(REQUIRED + OPTIONAL)}"
            )
        if heading.count(column) > 1:
            raise ValueError(f"{file} has the column “{column}” twice; delete one")
    for column in REQUIRED:
        if column not in heading:
            raise ValueError(f"{file} has no column “{column}”; needed are {', '.join(REQUIRED)}")


class _Row:
    """Read one row cell by cell and collect what is wrong with it."""

    def __init__(self, number: int, cells: dict[str, str]) -> None:
        self.number, self.cells = number, cells
        self.problems: list[str] = []

    def refuse(self, column: str, words: str) -> None:
        self.problems.append(f"row {self.number}, column {column}: {words}")

    def person(self) -> Person | None:
        """Return the person, or None with the reasons in ``problems``."""
        if "…" in self.cells:
            self.refuse("after the last", "more cells than columns; put quotes around a comma")
        if not self.cells.get("name"):
            self.refuse("name", "is empty; give a name or an alias")
        if not self.cells.get("height"):
            self.refuse("height", "is empty; measure it, or leave the person out")
        height = self.measure("height", "height_unit", METRES, metres, "m")
        mass = self.measure("mass", "mass_unit", KILOGRAMS, kilograms, "kg")
        lengths = {
            f"{name}_m": self.measure(name, "length_unit", METRES, metres, "m") for name in LENGTHS
        }
        experience = self.choice("experience", EXPERIENCE) or "new"
        shoulder = self.choice("shoulder_restricted", ("yes", "no"))
        screens = {name: self.findings(name) for name in SCREENS}
        if self.problems:
            return None
        person = Person(
            self.cells["name"], height, self.number, mass, **lengths,
            experience=experience, shoulder_restricted=shoulder and shoulder == "yes", **screens,
        )  # fmt: skip
        self._check_proportions(person)
        return person

    def _check_proportions(self, person: Person) -> None:
        """Refuse measurements that do not belong to one body."""
        low, high = STERNUM_SHARE
        sternum = person.sternum_height_m
        if sternum is not None and not low <= sternum / person.stature_m <= high:
            self.refuse(
                "sternum_height",
                f"is {sternum / person.stature_m:.2f} of the height; {low} to {high} is possible: "
                "measure both again",
            )
        try:
            person.lifter()
        except ValueError as error:
            self.refuse("thigh, shank or trunk_length", str(error))

    def measure(
        self,
        column: str,
        unit_column: str,
        units: dict[str, float],
        read: Callable[[str, str | None], float],
        si: str,
    ) -> float | None:
        """Return a length or mass in SI, None where the cell is empty."""
        text, unit = self.cells.get(column, ""), self.cells.get(unit_column, "")
        if not text:
            return None
        if not unit:
            self.refuse(unit_column, f"is empty; choose one of {', '.join(units)}")
            return None
        try:
            value = read(text, unit)
        except ValueError as error:
            self.refuse(column, str(error))
            return None
        low, high = PLAUSIBLE[column]
        if low <= value <= high:
            return value
        words = f"“{text}” {unit} is {value:.4g} {si}; {low:g} to {high:g} {si} is possible"
        fitting = [other for other in units if _fits(read, text, other, low, high)]
        hint = f"; should {unit_column} be {' or '.join(fitting)}?" if fitting else ""
        self.refuse(column, words + hint)
        return None

    def choice(self, column: str, allowed: tuple[str, ...]) -> str | None:
        """Return the lower-case word of a cell, None where it is empty."""
        word = self.cells.get(column, "").lower()
        if word and word not in allowed:
            self.refuse(column, f"“{word}” is not one of {', '.join(allowed)}")
        return word or None

    def findings(self, column: str) -> tuple[str, ...]:
        """Return the findings of a cell, which are parted by semicolons or +."""
        text = self.cells.get(column, "").lower().replace("+", ";")
        words = tuple(word.strip().replace(" ", "_") for word in text.split(";") if word.strip())
        for word in words:
            if word not in FINDINGS:
                self.refuse(column, f"“{word}” is not one of {', '.join(FINDINGS)}")
        if "good" in words and len(words) > 1:
            self.refuse(column, "says good and names a finding; keep one of them")
        return words


def _fits(
    read: Callable[[str, str | None], float], text: str, unit: str, low: float, high: float
) -> bool:
    try:
        return low <= read(text, unit) <= high
    except ValueError:
        return False
