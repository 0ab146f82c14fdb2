"""The form of notebook I4 that keeps a real lifter's recording as a practice case."""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

from ipywidgets import HBox, Layout

from squatlab.questions.real_cases import (
    GIVEN_BY,
    CoachKey,
    Consent,
    LiftDeclared,
    RealCases,
    consent,
    read_coach_key,
)
from squatlab.show.controls import StatusLine, button
from squatlab.show.desk import DeskForm, DeskPart, FormStep
from squatlab.show.form_fields import DEMO, Chosen, DayField, FileField, TypedText

NOT_SAID = ("not said yet", "")


class CaseToKeep(NamedTuple):
    """Hold a case's id and folder, the coaches' key and the lifter's consent."""

    name: str
    folder: Path
    key: CoachKey
    consent: Consent


class CaseForm(DeskForm):
    """Ask for the coaches' key and the lifter's consent; a button keeps the case.

    ``lift`` gives the `squatlab.show.footage_form.OwnFilm`, with the day on
    which it is deleted. ``values`` is a `CaseToKeep`, ``message`` what came of
    the button.
    """

    def __init__(self, lift: DeskPart) -> None:
        self._lift, self.message = lift, ""
        coaches = {"coaches.csv": DEMO / "coaches.csv"}
        self._coaches = FileField("What coaches saw", coaches, (".csv",))
        givers = [NOT_SAID, *((words, name) for name, words in GIVEN_BY.items())]
        asked = {
            "given_by": Chosen("Who consented", givers),
            "asked_by": TypedText("Asked by (an id)", "", needed=False),
            "asked_on": DayField("Asked on"),
        }
        place = {
            "name": TypedText("Id of the case", "K-01"),
            "folder": TypedText("Folder", "real_cases"),
        }
        steps = [
            FormStep("5 · The coaches' key", {"coaches": self._coaches}, self._check_key),
            FormStep("6 · Consent to show it in practice", asked, self._check_consent),
            FormStep("7 · Where it is kept", place, self._check_place),
        ]
        self.keep = button("Keep it for practice", self._keep)
        self._status = StatusLine()
        row = HBox([self.keep], layout=Layout(align_items="center"))
        super().__init__("A case for practice", steps, [row, self._status])
        lift.on_change(self._changed)

    def _key(self) -> CoachKey:
        return read_coach_key(self._coaches.value)

    def _check_key(self) -> str:
        """Return how far the coaches agree; the club's coaches saw the club's lifter alone."""
        key = self._key()
        is_own_film = any(DEMO not in film.parents for film in self._lift.values.files)
        if is_own_film and DEMO in self._coaches.value.parents:
            raise ValueError(
                "coaches.csv is what coaches saw of the invented lifter: add the file of what "
                "they saw of yours"
            )
        return key.agreement

    def _consent(self) -> Consent:
        fields = self.fields
        return consent(
            fields["given_by"].value,
            fields["asked_by"].value,
            fields["asked_on"].value,
            self._lift.values.delete_on,
            self._cases().today,
        )

    def _check_consent(self) -> str:
        return f"There is {self._consent()}."

    def _cases(self) -> RealCases:
        return RealCases(self.fields["folder"].value)

    def _check_place(self) -> str:
        """Return which cases the folder has already."""
        folder = self.fields["folder"].value
        there = ", ".join(self._cases().ids) or "no case yet"
        return f"In {folder}: {there}. Put that folder beside notebook 10 of your trainees."

    def _values(self) -> CaseToKeep:
        name, folder = self.fields["name"].value, Path(self.fields["folder"].value)
        return CaseToKeep(name, folder, self._key(), self._consent())

    def _keep(self) -> None:
        """Keep the case, and say so, or what is missing."""
        with self._lock:
            try:
                asked, film = self.values, self._lift.values
                lift_declared = LiftDeclared.of(**film.declared)
                cases = RealCases(asked.folder)
                case = cases.keep(asked.name, film.tracks, lift_declared, asked.key, asked.consent)
                self.message = f"Kept {asked.folder / asked.name}.json. {case.why}"
                self._check()  # the last step says which cases there are
            except (ValueError, OSError) as problem:
                self.message = str(problem)
            self._status.say(self.message)

    def _kept_html(self) -> str:
        html: Any = super()._kept_html()
        return f"{html}<p>In JupyterLab a button keeps it, once nothing is missing.</p>"
