"""Cases of real lifters: an instructor's own recordings with a key that coaches agreed on.

Each is one file in a folder of the instructor's: joint positions without a
name, what was declared of them, what the coaches said, and the lifter's
consent, without which nothing is kept and after which nothing is shown.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from squatlab import faults, storage, tables, units
from squatlab.lifter import Lifter
from squatlab.norms import norm_in_words, norms_of
from squatlab.questions import files, line_files
from squatlab.questions.items import worded
from squatlab.questions.kinds import NOTHING
from squatlab.review import ErrorModel, Finding, Findings, Ranking, measure, prioritise
from squatlab.review.perspective import Standpoint
from squatlab.spreadsheet import read_rows
from squatlab.tracks import Tracks

KIND = "real case"
"""What each file says it is."""

CONSENTS = "consents.jsonl"
"""Beside the cases: who asked whom for which case, and what was withdrawn."""

CONSENTS_HEAD = {"what": "squatlab consents", "version": files.VERSION}

GIVEN_BY = {
    "lifter": "the lifter",
    "guardian": "the lifter's guardian, and the lifter agreed",
}
"""Who can consent: for a minor a guardian signs, and the young person agrees."""

AGREED = "agreed"
"""Stands for a coach's id in the row of what all agreed on after looking together."""

DECIMALS = {"m": 5, "px": 2}
"""So exactly positions are kept: a hundredth of a millimetre, or of a pixel."""

COACH_COLUMNS = ("coach_id", "there", "first")
"""The columns of the file with what coaches said."""


class Consent(NamedTuple):
    """Hold who consented to trainees seeing the positions in practice.

    ``given_by`` is a key of `GIVEN_BY`; ``asked_by`` is the id of who asked,
    ``asked_on`` the day, ``delete_on`` the day on which the case goes.
    """

    given_by: str
    asked_by: str
    asked_on: date
    delete_on: date

    def __str__(self) -> str:
        return (
            f"consent of {GIVEN_BY[self.given_by]}, asked by {self.asked_by} on {self.asked_on}; "
            f"to be deleted on {self.delete_on}"
        )


def consent(
    given_by: str | None,
    asked_by: str | None,
    asked_on: date | None,
    delete_on: date | None,
    today: date,
) -> Consent:
    """Return a lifter's consent, checked.

    Raises ValueError that says what is missing and what to do first.
    """
    lacking = [
        words
        for given, words in (
            (given_by, f"who consented ({' or '.join(GIVEN_BY)})"),
            (asked_by, "who asked"),
            (asked_on, "on which day"),
            (delete_on, "when the recording is deleted"),
        )
        if not given
    ]
    if lacking:
        raise ValueError(
            f"no consent is stated: {', '.join(lacking)}. Nothing was kept. First ask the lifter, "
            "in writing, whether trainees may see these positions in practice, and until which "
            "day; no is a full answer. Notebook I4 says what to ask"
        )
    if given_by not in GIVEN_BY:
        raise ValueError(
            f"consent is by “{files.harmless(given_by)}”; it is by {' or '.join(GIVEN_BY)}: an "
            "adult lifter alone, for a minor a guardian and the young person together"
        )
    if asked_on > today:
        raise ValueError(f"the lifter was asked on {asked_on}, which is still to come")
    if delete_on <= today:
        raise ValueError(
            f"the consent ends on {delete_on}, and today is {today}: delete the recording, or ask "
            "the lifter again"
        )
    return Consent(given_by, files.identifier("id of who asked", asked_by), asked_on, delete_on)


class CoachAnswer(NamedTuple):
    """Hold what one coach said alone: what is there, and the first to fix."""

    there: tuple[str, ...]
    first: str


@dataclass(frozen=True)
class CoachKey:
    """Hold what coaches agreed on: ``there``, ``first``, and what each said alone.

    ``answers`` go by the coach's id. ``together`` tells whether they agreed
    only after looking together.
    """

    there: tuple[str, ...]
    first: str
    answers: Mapping[str, CoachAnswer]
    together: bool

    @property
    def agreement(self) -> str:
        """Return how many coaches said so alone, in words."""
        coaches = self.answers.values()
        same = sum(one.first == self.first for one in coaches)
        words = f"{same} of {len(coaches)} coaches, each alone, named “{worded(self.first)}” first"
        if self.there:
            seen = [
                f"“{worded(fault)}” {sum(fault in one.there for one in coaches)}"
                for fault in self.there
            ]
            words += f"; ticked: {', '.join(seen)}"
        return f"{words}. They agreed after looking together." if self.together else f"{words}."


def read_coach_key(path: str | Path) -> CoachKey:
    """Read what coaches said of one lift: columns coach_id, there, first.

    A row a coach, each written before seeing another's; ``there`` lists
    faults between + signs, or says nothing. A row whose coach_id is
    "agreed" says what they agreed on after looking together; without it
    the key is what more of them said than `data/exam_policy.csv` asks.
    Raises ValueError that names the row.
    """
    name, answers = Path(path).name, {}
    for number, row in read_rows(path, COACH_COLUMNS):
        coach = row["coach_id"].casefold() if row["coach_id"].casefold() == AGREED else None
        coach = coach or files.identifier(f"coach in row {number}", row["coach_id"])
        if coach in answers:
            raise ValueError(f"{name}, row {number}: {coach} has answered above; keep one row each")
        answers[coach] = _coach_answer(f"{name}, row {number}", row["there"], row["first"])
    agreed = answers.pop(AGREED, None)
    try:
        return _coach_key(answers, agreed)
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from None


def _coach_answer(where: str, there: str, first: str) -> CoachAnswer:
    """Return a typed answer; ValueError says where and what to write."""
    ids = {NOTHING: NOTHING, "nothing to fix": NOTHING}
    ids |= {one.name.casefold(): one.id for one in faults.catalogue().values()}
    ids |= {one: one for one in faults.catalogue()}

    def meant(typed: str) -> str:
        label = ids.get(typed.strip().casefold())
        if label is None:
            raise ValueError(
                f"{where}: “{files.harmless(typed.strip())}” is no fault"
                f"{tables.closest(typed, ids) or '.'} Write ids or names of faults with + between "
                f"them, or {NOTHING}: squatlab rep --list names all"
            )
        return label

    labels = {meant(one) for one in re.split("[+,;]", there) if one.strip()}
    main = meant(first)
    # In the catalogue's order, as everywhere.
    listed = tuple(one for one in faults.catalogue() if one in labels)
    if main not in (listed or (NOTHING,)) or (NOTHING in labels and listed):
        raise ValueError(
            f"{where}: “{worded(main)}” is first, but there is "
            f"{' + '.join([*listed, *labels & {NOTHING}]) or 'nothing'}; the first is one of those "
            f"that are there, and {NOTHING} stands alone"
        )
    return CoachAnswer(listed, main)


def _coach_key(answers: Mapping[str, CoachAnswer], agreed: CoachAnswer | None) -> CoachKey:
    """Return the key that answers give; ValueError says why they give none."""
    fewest, share = (
        tables.value("exam_policy", name=name) for name in ("review_coaches", "review_agreement")
    )
    if len(answers) < fewest:
        raise ValueError(
            f"{len(answers)} coach{'es' * (len(answers) != 1)} answered; a key needs {fewest:g} at "
            "least, each with the clip alone"
        )
    if agreed is not None:
        return CoachKey(agreed.there, agreed.first, answers, True)
    enough = share * len(answers)
    firsts = Counter(one.first for one in answers.values())
    seen = Counter(fault for one in answers.values() for fault in one.there)
    first, count = firsts.most_common(1)[0]
    if count <= enough:
        votes = "; ".join(f"{coach}: {worded(one.first)}" for coach, one in answers.items())
        raise ValueError(
            f"the coaches do not agree on the first to fix ({votes}). Look at the lift together; "
            f"then add a row whose coach_id is {AGREED}, or leave this lift out"
        )
    there = tuple(fault for fault in faults.catalogue() if seen[fault] > enough)
    return CoachKey(there, first, answers, False)


class LiftDeclared(NamedTuple):
    """Hold what is declared of a recording, None for what is not; SI."""

    stature_m: float | None = None
    mass_kg: float | None = None
    bar_kg: float | None = None
    distance_m: float | None = None
    height_m: float | None = None
    placement: float | None = None

    @classmethod
    def of(
        cls,
        lifter: Lifter | None = None,
        bar_kg: float | None = None,
        camera: Any = None,
        placement: float | None = None,
    ) -> LiftDeclared:
        """Return what was declared as `squatlab.review.measure` takes it.

        ``placement`` is that of `squatlab.review.ErrorModel`.
        """
        body = (None, None) if lifter is None else (lifter.stature_m, lifter.mass_kg)
        place = (None, None) if camera is None else (camera.distance_m, camera.height_m)
        return cls(*body, bar_kg, *place, placement)

    @property
    def arguments(self) -> dict[str, Any]:
        """Return it by the names that `measure` and `clip` take."""
        lifter = camera = None
        if self.stature_m is not None:
            lifter = Lifter.from_stature(self.stature_m, self.mass_kg)
        if self.distance_m is not None:
            camera = Standpoint(self.distance_m, self.height_m, True)
        return {"lifter": lifter, "bar_kg": self.bar_kg, "camera": camera}


@dataclass(frozen=True, eq=False)
class RealCase:
    """Hold one real lifter's recording with its key; `RealCases` gives them.

    ``shots`` are its tracks without names, notes or file names. The key is
    the coaches'; ``findings`` are what the review reads, and may differ.
    """

    id: str
    shots: tuple[Tracks, ...]
    said: LiftDeclared
    key: CoachKey
    consent: Consent

    @property
    def reference(self) -> str:
        """Return what the case is asked for by."""
        return self.id

    @property
    def title(self) -> str:
        """Return what it is called on the page."""
        return f"Real lifter, case {self.id}"

    @property
    def lifter(self) -> str:
        """Return who lifts what, and what this case is, in words."""
        body, bar = "A real lifter", "of load unknown"
        if self.said.stature_m is not None:
            stature, mass = units.STATURE.words(self.said.stature_m), self.said.mass_kg
            body += f" of {stature} and {units.MASS.words(mass)}"
        if self.said.bar_kg is not None:
            bar = (
                f"with {units.MASS.words(self.said.bar_kg)}" if self.said.bar_kg else "without bar"
            )
        return f"{body}, {bar}, filmed with consent. The key is what coaches agreed on."

    @property
    def declared(self) -> dict[str, Any]:
        """Return what is declared, by the names that `measure` and `clip` take."""
        return self.said.arguments

    @property
    def there(self) -> tuple[str, ...]:
        """Return the faults that the coaches say are there."""
        return self.key.there

    @property
    def first(self) -> str:
        """Return what the coaches fix first, or `NOTHING`."""
        return self.key.first

    @cached_property
    def findings(self) -> Findings:
        """Return what the review reads of the recording."""
        errors = ErrorModel(placement=self.said.placement)
        return measure(*self.shots, errors=errors, **self.declared)

    @cached_property
    def ranking(self) -> Ranking:
        """Return the review's own order."""
        return prioritise(self.findings, loaded=self.said.bar_kg != 0)

    @property
    def margin(self) -> None:
        """Return None: how hard a real lift is to judge is not computed."""

    @property
    def readings(self) -> list[str]:
        """Return the open norms of what is there; `why` has what was measured."""
        return [
            f"People measured, {worded(fault)}: {norm_in_words(fault)}."
            for fault in self.there
            if norms_of(fault)
        ]

    @property
    def telling(self) -> Finding | None:
        """Return the finding on which the first fault shows, if the review has it."""
        if self.first == NOTHING:
            return None
        finding = self.findings[self.first]
        return finding if finding.present == "yes" else None

    @property
    def why(self) -> str:
        """Return the coaches' agreement, what was measured, and where the two differ."""
        return " ".join([f"The coaches' key: {self.key.agreement}", *self._measured()])

    def _measured(self) -> Iterator[str]:
        """Yield the sentences on what was measured, and on where the coaches differ."""
        there = set(self.there)
        for fault in self.there:
            yield f"Measured: {_reading(self.findings[fault])}."
        differ = [
            f"the coaches see “{worded(fault)}”, the review does not"
            for fault in self.there
            if self.findings[fault].present == "no"
        ]
        differ += [
            f"the review reads {_reading(finding)}, the coaches do not call it"
            for finding in self.findings.present()
            if finding.fault not in there
        ]
        named = self.ranking.named or (NOTHING,)
        if self.first not in named:
            differ.append(
                f"the coaches fix “{worded(self.first)}” first, the review "
                f"{' or '.join(f'“{worded(one)}”' for one in named)}"
            )
        if differ:
            yield f"Coaches and review differ: {'; '.join(differ)}. The key is the coaches'."
        else:
            yield "Coaches and review do not differ."


def _reading(finding: Finding) -> str:
    """Return a fault with what was measured of it, ± included, or why it was not."""
    if finding.present == "cannot tell":
        return f"{finding.name}: cannot tell ({finding.reason})"
    return f"{finding.name} {finding.amount} {finding.interval} ({finding.answer})".replace(
        "  ", " "
    )


class RealCases:
    """Keep real lifters' cases in a folder: read, add, withdraw.

    A folder that is not there holds none. ``clock`` says when today is:
    from the day of its consent on, a case is not shown.
    """

    def __init__(self, folder: str | Path, clock: Callable[[], datetime] = files.now) -> None:
        self.folder, self._clock = Path(folder), clock

    @property
    def today(self) -> date:
        """Return the day on which consents are looked at."""
        return self._clock().date()

    @property
    def ids(self) -> tuple[str, ...]:
        """Return the ids of all files, those that cannot be shown too, in order."""
        return tuple(sorted(path.stem for path in self.folder.glob("*.json")))

    def shown(self) -> tuple[RealCase, ...]:
        """Return the cases that can be read and whose consent holds today."""
        found = []
        for name in self.ids:
            try:
                found.append(self.case(name))
            except (ValueError, OSError):
                continue
        return tuple(found)

    def refused(self) -> dict[str, str]:
        """Return why each of the others is not shown, by its id."""
        reasons = {}
        for name in self.ids:
            try:
                self.case(name)
            except (ValueError, OSError) as error:
                reasons[name] = str(error)
        return reasons

    def case(self, name: str) -> RealCase:
        """Return a case by its id.

        Raises ValueError for one that is not there, is damaged, or whose
        consent has ended.
        """
        path = self._path(name)
        if not path.exists():
            there = ", ".join(self.ids) or "none yet"
            raise ValueError(f"{self.folder} has no case {name}; there are: {there}")
        case = _unpacked(name, files.load(path, KIND))
        if case.consent.delete_on <= self.today:
            raise ValueError(
                f"the consent for {name} ended on {case.consent.delete_on}: delete it and every "
                f"copy (squatlab case {self.folder} withdraw {name} --by ID)"
            )
        return case

    def keep(
        self,
        name: str,
        shots: Sequence[Tracks],
        said: LiftDeclared,
        key: CoachKey,
        consent: Consent,
    ) -> RealCase:
        """Keep a recording with its key; return the case.

        Nothing of the lifter's name, the film or its labels is kept: tell
        ids only. Raises ValueError where the review cannot read it, and
        FileExistsError for an id that is taken.
        """
        path = self._path(name)
        case = RealCase(name, tuple(map(_anonymous, shots)), said, key, consent)
        _ = case.findings  # what the review refuses is no case
        content = files.wrapped(KIND, _packed(case))
        if len(content) > files.LARGEST:
            raise ValueError(
                f"{name} would be {len(content) / 1e6:.1f} MB, and {files.LARGEST / 1e6:g} MB is "
                "the most: cut the recording to a few repetitions"
            )
        if path.exists():
            raise FileExistsError(f"{path} is there already: choose another id, or withdraw it")
        self.folder.mkdir(parents=True, exist_ok=True)
        self._note("kept", name, consent.asked_by, _plain(consent))
        files.write_whole(path, content, storage.OWNER_ONLY)
        return case

    def withdraw(self, name: str, by: str) -> None:
        """Delete a case for good, and note who did and when.

        Raises ValueError for one that is not there.
        """
        path, by = self._path(name), files.identifier("id of who withdraws it", by)
        if not path.exists():
            raise ValueError(f"{self.folder} has no case {name}; there are: {', '.join(self.ids)}")
        path.unlink()
        self._note("withdrawn", name, by, {})

    def consents(self) -> tuple[line_files.Entry, ...]:
        """Return what was noted of consents, oldest first; changed lines are left out."""
        path = self.folder / CONSENTS
        if not path.exists():
            return ()
        return tuple(filter(None, line_files.begin(path, CONSENTS_HEAD).entries))

    def _note(self, event: str, name: str, by: str, more: dict[str, Any]) -> None:
        """Add an entry to the list of consents."""
        path = self.folder / CONSENTS
        line_files.begin(path, CONSENTS_HEAD)
        at = files.stamp(self._clock())
        line_files.append(path, {"event": event, "case": name, "by": by, "at": at, **more})

    def _path(self, name: str) -> Path:
        """Return the file of a case; ValueError for an id that cannot name one."""
        return self.folder / f"{files.identifier('case', name)}.json"


def _anonymous(tracks: Tracks) -> Tracks:
    """Return tracks without a source and notes, which may name a person, from 0 s."""
    decimals = DECIMALS[tracks.units]
    return Tracks(
        np.round(tracks.times - tracks.times[0], 6),
        np.round(tracks.positions, decimals),
        tracks.names,
        tracks.view,
        tracks.units,
        tracks.scale_px_per_m,
        tracks.rate,
    )


def _plain(consent: Consent) -> dict[str, str]:
    """Return a consent as text, days as year-month-day."""
    return {name: str(value) for name, value in consent._asdict().items()}


def _packed(case: RealCase) -> dict[str, Any]:
    """Return a case as plain data; what is not seen is null."""
    films = [
        {
            "view": shot.view,
            "units": shot.units,
            "scale_px_per_m": shot.scale_px_per_m,
            "rate_hz": shot.rate,
            "points": list(shot.names),
            "times": shot.times.tolist(),
            # JSON has no nan: what was not seen is null.
            "positions": np.where(
                np.isnan(shot.positions), None, shot.positions.astype(object)
            ).tolist(),
        }
        for shot in case.shots
    ]
    return {
        "id": case.id,
        "films": films,
        "declared": case.said._asdict(),
        "key": {"there": list(case.there), "first": case.first, "together": case.key.together},
        "coaches": {
            coach: {"there": list(said.there), "first": said.first}
            for coach, said in case.key.answers.items()
        },
        "consent": _plain(case.consent),
    }


def _unpacked(name: str, body: dict[str, Any]) -> RealCase:
    """Return the case that `_packed` wrote; ValueError for anything else."""
    try:
        shots = tuple(
            Tracks(
                np.array(one["times"], dtype=float),
                np.array(one["positions"], dtype=float),
                tuple(one["points"]),
                one["view"],
                one["units"],
                one["scale_px_per_m"],
                one["rate_hz"],
            )
            for one in body["films"]
        )
        answers = {
            coach: CoachAnswer(tuple(said["there"]), said["first"])
            for coach, said in body["coaches"].items()
        }
        key = body["key"]
        agreed = CoachKey(tuple(key["there"]), key["first"], answers, key["together"])
        given = body["consent"]
        stated = Consent(
            given["given_by"],
            given["asked_by"],
            asked_on=date.fromisoformat(given["asked_on"]),
            delete_on=date.fromisoformat(given["delete_on"]),
        )
        said = LiftDeclared(**body["declared"])
        known = {agreed.first, *agreed.there} <= {*faults.catalogue(), NOTHING}
    except (LookupError, TypeError, AttributeError) as problem:
        raise ValueError(f"{name}.json does not hold what a real case holds ({problem})") from None
    if not known or body["id"] != name or stated.given_by not in GIVEN_BY:
        raise ValueError(f"{name}.json was renamed, or is of another squatlab; ask for it again")
    return RealCase(name, shots, said, agreed, stated)
