"""The forms of the instructor's notebooks: a roster, a session, a day, own footage.

Each says what is missing step by step, and gives immutable values for the
functions that its notebook calls.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from squatlab import tables, units
from squatlab.adapters import format_of, read
from squatlab.gym.plates import PlateSet
from squatlab.gym.rack import Rack
from squatlab.gym.roster import Roster, read_roster
from squatlab.gym.session import LOAD, plan_session
from squatlab.lessons.timetable import timetable
from squatlab.lifter import Lifter
from squatlab.review.perspective import PLATE_OUTSIDE_M
from squatlab.show.desk import (
    NO_FILE,
    Chosen,
    DayField,
    DeskForm,
    DeskPart,
    Field,
    FileField,
    FormStep,
    Ticked,
    TypedNumber,
    TypedText,
)
from squatlab.spreadsheet import read_rows
from squatlab.tracks import Tracks

DEMO = tables.folder("data") / "demo"
"""The files of the invented rowing club."""


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
        spacings = [(row["name"], row["name"]) for row in _spacings()]
        usual = "2 in" if units.chosen() == units.US else "50 mm"
        usual_rack, suggestion = Rack.of(usual), self._suggestion()
        self._suggested = str(suggestion)
        unit = "lb" if units.chosen() == units.US else "kg"
        racks = {
            "racks": TypedNumber("How many racks", "", suggestion, 1, 60, whole=True),
            "spacing": Chosen("A hole every", spacings, usual),
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
        self.fields["spacing"].control.observe(lambda change: self._other_rack(change), "value")

    def _other_rack(self, change: Any) -> None:
        """Suggest lowest hole and holes of another rack, unless somebody typed their own."""
        before, now = Rack.of(change["old"]), Rack.of(change["new"])
        hole, holes = (self.fields[name].control for name in ("first_hole", "holes"))
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
        return max(1, -(-self._lifting() // 5))

    def _lifting(self) -> int:
        return sum(person.lifts for person in self._people.values.people)

    def _rack(self) -> Rack:
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
        size = {"kg": 1.0, "lb": units.POUND}[plates.unit]
        return plates, round(load_kg / size, 2)

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


def _spacings() -> list[dict[str, str]]:
    return [row for row in tables.read("racks") if row["quantity"] == "spacing"]


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


class CameraPlace(NamedTuple):
    """Say where the camera stood, m: from the lifter's middle, above the floor."""

    distance_m: float
    height_m: float


class OwnFilm(NamedTuple):
    """Hold what was filmed and what is declared of it, as `measure` takes it.

    ``files`` are those that were read, ``tracks`` what is in them, scaled where
    a scale is known; ``delete_on`` is the day in the consent.
    """

    files: tuple[Path, ...]
    tracks: tuple[Tracks, ...]
    lifter: Lifter | None
    bar_kg: float | None
    camera: CameraPlace | None
    delete_on: date | None

    @property
    def declared(self) -> dict[str, Any]:
        """Return what is declared, by the names that `measure` and `clip` take."""
        return {"lifter": self.lifter, "bar_kg": self.bar_kg, "camera": self.camera}


COLLAR_M = tables.value("limits", name="bar", quantity="between_collars_greatest") / 2
PLATE_NEARER_M = round(COLLAR_M + PLATE_OUTSIDE_M, 2)
"""The middle of the near plate is this far nearer to a camera at the side, m."""

PLATE, BESIDE, THIGH, GIVEN, UNKNOWN = "plate", "beside", "thigh", "given", "unknown"
SCALES = (
    ("the plate, as it hangs", PLATE),
    ("the plate, as if beside the lifter", BESIDE),
    ("a taped thigh", THIGH),
    ("pixels per metre", GIVEN),
    ("not known: no distances", UNKNOWN),
)
"""What tells how large things are in a film."""

VIEWS = (
    ("the side", "side"),
    ("an angle between", "oblique"),
    ("space: motion capture", "3d"),
)
LENGTH_UNITS = (("pixels", "px"), ("metres", "m"), ("centimetres", "cm"), ("millimetres", "mm"))

FILMS = (".csv", ".json", ".c3d")


class FootageForm(DeskForm):
    """Ask for films of one squat and what they do not say; ``values`` is a `OwnFilm`."""

    def __init__(self) -> None:
        demo = DEMO / "footage"
        side, front = (
            FileField(words, {name: demo / name}, FILMS, needed=False)
            for words, name in (
                ("Side film", "laurel-side.csv"),
                ("Front film", "laurel-front.json"),
            )
        )
        self._names = FileField("Table of labels", {}, (".csv",), needed=False)
        self._read: dict[str, tuple[Any, Tracks]] = {}
        files = {
            "side": side,
            "front": front,
            "side_view": Chosen("First one shows", VIEWS, "side"),
            "units": Chosen("Its unit", LENGTH_UNITS, "px"),
            "side_rate": TypedNumber(
                "First frame rate", "frames per second", None, 1, 1000, needed=False
            ),
            "front_rate": TypedNumber(
                "Front frame rate", "frames per second", 30, 1, 1000, needed=False
            ),
            "person": TypedNumber("Person, by size", "", 1, 1, 20, whole=True),
            "names": self._names,
        }
        place = {
            "distance": TypedNumber("Camera to lifter", units.DISTANCE, 4.0, 1, 30, needed=False),
            "height": TypedNumber("Camera above floor", units.DISTANCE, 1.0, 0, 3, needed=False),
            "side_scale": Chosen("Scale, side", SCALES, PLATE),
            "front_scale": Chosen("Scale, front", SCALES, THIGH),
            "thigh": TypedNumber("Thigh, taped", units.READING, 0.405, 0.2, 0.7, needed=False),
            "pixels": TypedNumber("Pixels per metre", "", None, 1, 1e5, needed=False),
        }
        who = {
            "stature": TypedNumber("Lifter's height", units.STATURE, 1.66, 1.2, 2.3, needed=False),
            "mass": TypedNumber("Body mass", units.MASS, 61, 30, 250, needed=False),
            "load": TypedNumber("Bar with plates", units.MASS, 30, 0, 600, needed=False),
        }
        consent = {"delete_on": DayField("Delete on")}
        steps = [
            FormStep("1 · Files", files, self._check_files),
            FormStep("2 · Camera and scale", place, self._check_scale),
            FormStep("3 · Lifter and bar", who, self._check_lifter),
            FormStep("4 · Consent", consent, self._check_consent),
        ]
        self._of_club = True
        super().__init__("Own footage", steps)

    def _changed(self) -> None:
        """Leave nothing of the club's behind once a film is somebody's own."""
        if self._of_club and not self._quiet and not self._is_demo():
            self._of_club = False
            wanted: dict[str, Any] = {
                name: NO_FILE
                for name in ("side", "front")
                if DEMO in Path(self.fields[name].value or "").parents
            }
            for field in self.fields.values():
                if isinstance(field, TypedNumber) and not field.needed:
                    self._quiet = True
                    field.forget_start()
                    self._quiet = False
            self.fill(**wanted)
            return
        super()._changed()

    def _tracks_of(self, name: str) -> Tracks | None:
        """Return one film as its file and the form say, unscaled."""
        fields = self.fields
        path = fields[name].value
        if path is None:
            return None
        known = format_of(path)
        view = fields["side_view"].value if name == "side" else "front"
        rate = fields[f"{name}_rate"].value
        declared = {
            "view": view,
            "rate": rate,
            "units": fields["units"].value,
            "person": fields["person"].value,
            "points": self._points() or None,
        }
        if "view" in known.fixed or view == "3d":
            declared["view"] = None
        declared = {key: value for key, value in declared.items() if key in known.takes}
        if rate is None and known.suffixes and ".json" in known.suffixes:
            which = "First" if name == "side" else "Front"
            raise ValueError(
                f"{which} frame rate: files of key points do not say it; look it up in the film's "
                "properties"
            )
        wanted = path, path.stat().st_mtime_ns, tuple(map(str, declared.items()))
        # Read again only when something about this film has changed.
        if self._read.get(name, (None,))[0] != wanted:
            self._read[name] = wanted, read(path, **declared)
        return self._read[name][1]

    def _points(self) -> dict[str, str]:
        path = self._names.value
        if path is None:
            return {}
        return {row["label"]: row["point"] for _, row in read_rows(path, ("point", "label"))}

    def _unscaled(self) -> dict[str, Tracks]:
        films = {name: self._tracks_of(name) for name in ("side", "front")}
        films = {name: tracks for name, tracks in films.items() if tracks is not None}
        if not films:
            raise ValueError("choose a film of the side, of the front, or both")
        return films

    def _check_files(self) -> str:
        return "\n".join(map(str, self._unscaled().values()))

    def _scaled(self) -> dict[str, Tracks]:
        place = self._camera()
        return {
            name: self._with_scale(tracks, self.fields[f"{name}_scale"].value, place)
            for name, tracks in self._unscaled().items()
        }

    def _with_scale(self, tracks: Tracks, how: str, place: CameraPlace | None) -> Tracks:
        if how == UNKNOWN or tracks.units != "px":
            return tracks
        if how == BESIDE:
            return tracks.scaled_by()
        if how == PLATE:
            if place is None:
                raise ValueError(
                    "Camera to lifter: the plate hangs nearer to the camera; tape the distance"
                )
            return tracks.scaled_by(nearer_m=PLATE_NEARER_M, distance_m=place.distance_m)
        if how == THIGH:
            side = "r" if {"hip_r", "knee_r"} <= set(tracks.names) else "l"
            length = self.fields["thigh"].value
            if length is None:
                raise ValueError("Thigh, taped: is missing; tape it from hip to knee")
            return tracks.scaled_by(f"hip_{side}", f"knee_{side}", length_m=length)
        pixels = self.fields["pixels"].value
        if pixels is None:
            raise ValueError("Pixels per metre: is missing")
        return tracks.noting(f"The scale, {pixels:.1f} px/m, is declared.", scale_px_per_m=pixels)

    def _camera(self) -> CameraPlace | None:
        distance, height = self.fields["distance"].value, self.fields["height"].value
        if (distance is None) != (height is None):
            raise ValueError("give the camera's distance and its height, or neither")
        return None if distance is None else CameraPlace(distance, height)

    def _check_scale(self) -> str:
        if not self.steps[0].complete:
            raise ValueError("the files come first")
        scales = []
        for name, tracks in self._scaled().items():
            if tracks.units != "px":
                scale = "in metres already"
            elif tracks.scale_px_per_m:
                scale = f"{tracks.scale_px_per_m:.0f} px/m"
            else:
                scale = "no scale, so no distances"
            scales.append(f"{name}: {scale}")
        place = "declared" if self._camera() else "not declared: depth is less certain"
        return f"{'; '.join(scales)}. Camera {place}."

    def _lifter(self) -> Lifter | None:
        stature, mass = self.fields["stature"].value, self.fields["mass"].value
        if (stature is None) != (mass is None):
            raise ValueError("give the lifter's height and body mass, or neither")
        return None if stature is None else Lifter.from_stature(stature, mass)

    def _check_lifter(self) -> str:
        lifter, load = self._lifter(), self.fields["load"].value
        who = "build not declared" if lifter is None else "build declared"
        bar = "load not declared" if load is None else f"bar {units.MASS.words(load)}"
        return f"{who}, {bar}."

    def _check_consent(self) -> str:
        day = self.fields["delete_on"].value
        if day is None and not self._is_demo():
            raise ValueError("the day in the consent on which film and files are deleted")
        return f"Delete film, files and sheet on {day}." if day else "Nobody was filmed."

    def _is_demo(self) -> bool:
        chosen = (self.fields["side"].value, self.fields["front"].value)
        return all(path is None or DEMO in path.parents for path in chosen)

    def _values(self) -> OwnFilm:
        chosen = (self.fields[name].value for name in ("side", "front"))
        return OwnFilm(
            tuple(path for path in chosen if path is not None),
            tuple(self._scaled().values()),
            self._lifter(),
            self.fields["load"].value,
            self._camera(),
            self.fields["delete_on"].value,
        )
