"""The form of I4: films of one squat, and what they do not say of themselves.

`questions.real_cases` keeps what it gives as a case, `case_form` asks for the rest.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from squatlab import tables, units
from squatlab.adapters import format_of, read
from squatlab.lifter import Lifter
from squatlab.review.perspective import PLATE_OUTSIDE_M
from squatlab.show.desk import DeskForm, FormStep
from squatlab.show.form_fields import DEMO, NO_FILE, Chosen, DayField, FileField, TypedNumber
from squatlab.spreadsheet import read_rows
from squatlab.tracks import Tracks


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


class FilmRead(NamedTuple):
    """Hold what was read of a film, and with which file, time of it and fields."""

    request: tuple[Any, ...]
    tracks: Tracks


def _film_field(label: str, demo: str) -> FileField:
    """Return a field for a film, with one of the invented club to choose."""
    return FileField(label, {demo: DEMO / "footage" / demo}, FILMS, needed=False)


class FootageForm(DeskForm):
    """Ask for films of one squat and what they do not say; ``values`` is a `OwnFilm`."""

    def __init__(self) -> None:
        self._names = FileField("Table of labels", {}, (".csv",), needed=False)
        self._films_read: dict[str, FilmRead] = {}
        files = {
            "side": _film_field("Side film", "laurel-side.csv"),
            "front": _film_field("Front film", "laurel-front.json"),
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
            no_films = {}
            for name in ("side", "front"):
                path = self.fields[name].value
                if path is not None and DEMO in path.parents:
                    no_films[name] = NO_FILE
            self._quiet = True
            for field in self.fields.values():
                if isinstance(field, TypedNumber) and not field.needed:
                    field.forget_start()
            self._quiet = False
            self.fill(**no_films)
            return
        super()._changed()

    def _tracks_of(self, name: str) -> Tracks | None:
        """Return one film as its file and the form say, unscaled."""
        fields = self.fields
        path = fields[name].value
        if path is None:
            return None
        file_format = format_of(path)
        view = fields["side_view"].value if name == "side" else "front"
        rate = fields[f"{name}_rate"].value
        if rate is None and file_format.suffixes and ".json" in file_format.suffixes:
            which = "First" if name == "side" else "Front"
            raise ValueError(
                f"{which} frame rate: files of key points do not say it; look it up in the film's "
                "properties"
            )
        # Of what is filled in, a format takes what its files do not say themselves.
        says_view = "view" in file_format.fixed or view == "3d"
        declared = {
            "view": None if says_view else view,
            "rate": rate,
            "units": fields["units"].value,
            "person": fields["person"].value,
            "points": self._points() or None,
        }
        declared = {key: value for key, value in declared.items() if key in file_format.takes}
        # Read again only when something about this film has changed.
        request = path, path.stat().st_mtime_ns, tuple(map(str, declared.items()))
        if name not in self._films_read or self._films_read[name].request != request:
            self._films_read[name] = FilmRead(request, read(path, **declared))
        return self._films_read[name].tracks

    def _points(self) -> dict[str, str]:
        """Return our points' names by the labels of the file, as far as a table says."""
        path = self._names.value
        if path is None:
            return {}
        return {row["label"]: row["point"] for _, row in read_rows(path, ("point", "label"))}

    def _unscaled(self) -> dict[str, Tracks]:
        """Return the films that were chosen, by field. Raises ValueError for none."""
        films = {}
        for name in ("side", "front"):
            tracks = self._tracks_of(name)
            if tracks is not None:
                films[name] = tracks
        if not films:
            raise ValueError("choose a film of the side, of the front, or both")
        return films

    def _check_files(self) -> str:
        return "\n".join(map(str, self._unscaled().values()))

    def _scaled(self) -> dict[str, Tracks]:
        """Return the films with their scales, as far as they are known."""
        place = self._camera()
        return {
            name: self._with_scale(tracks, self.fields[f"{name}_scale"].value, place)
            for name, tracks in self._unscaled().items()
        }

    def _with_scale(self, tracks: Tracks, how: str, place: CameraPlace | None) -> Tracks:
        """Return a film scaled in one of `SCALES`. Raises ValueError if that needs more."""
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
        """Return where the camera stood, None if it is not declared."""
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
        """Return the lifter, None if no build is declared."""
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
            raise ValueError(
                "Delete on: give the day, from the consent, on which film and files are deleted"
            )
        return f"Delete film, files and sheet on {day}." if day else "Nobody was filmed."

    def _files(self) -> tuple[Path, ...]:
        """Return the files that were chosen."""
        chosen = self.fields["side"].value, self.fields["front"].value
        return tuple(path for path in chosen if path is not None)

    def _is_demo(self) -> bool:
        """Return whether every film that is chosen is the invented club's."""
        return all(DEMO in path.parents for path in self._files())

    def _values(self) -> OwnFilm:
        return OwnFilm(
            files=self._files(),
            tracks=tuple(self._scaled().values()),
            lifter=self._lifter(),
            bar_kg=self.fields["load"].value,
            camera=self._camera(),
            delete_on=self.fields["delete_on"].value,
        )
