"""Practice without end: watch a lift, say what is wrong, be told at once."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from threading import RLock
from typing import Any
from zlib import crc32

import traitlets

from squatlab import faults
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import Case, case
from squatlab.questions.files import identifier
from squatlab.questions.items import worded
from squatlab.questions.kinds import NOTHING
from squatlab.questions.practice_checks import (
    FIRST,
    SPOT,
    WITHOUT_CUE,
    WITHOUT_SPOT,
    Marked,
    answered,
    cue_check,
    judgement,
    marked,
    reasons,
    stop_rule,
    tiers,
)
from squatlab.questions.practice_progress import LABELS, Progress
from squatlab.questions.question import VIEWS
from squatlab.questions.real_cases import RealCase, RealCases
from squatlab.review import Finding
from squatlab.show.check_form import spec
from squatlab.show.clips import Clip, Playing, clip
from squatlab.show.confusions import Confusions
from squatlab.show.frame_row import FrameRow
from squatlab.show.scripts import CLIP, script

CELL = "practice"
"""The row of data/blueprint.csv that cases come from."""

CLIP_PX = {"page": 380, "projector": 620}
"""Height of the clip, with the questions beside it, pixels."""

LONGEST = 1_000_000
"""Case numbers are below this, so that they can be noted down and typed."""

BETWEEN_REAL = 3
"""So many computed cases come between two real lifters [teaching-value]."""


WATCH = f"Watch, then tick what you see, or “{worded(NOTHING)}”."


class Practice(Playing):
    """Ask about one case after another; make one by `practice`.

    ``case`` is the one that is shown, ``progress`` what was answered,
    ``marked`` the answer to this case, None before. ``form`` is what every
    case asks, ``asked`` which case it is, ``said`` the last message,
    ``confusions`` the table below. Nothing of what is right goes to the
    page before an answer is marked.
    """

    _esm = script(*CLIP, "asking.js", "practising.js", "practice_widget.js")
    _css = script("clip.css", "judged.css")
    form = traitlets.Dict().tag(sync=True)
    asked = traitlets.Dict().tag(sync=True)
    said = traitlets.Dict().tag(sync=True)
    confusions = traitlets.Unicode().tag(sync=True)

    def __init__(
        self,
        progress: Progress,
        seed: int | None,
        start: int,
        size: str,
        real: RealCases,
    ) -> None:
        self.progress, self._start, self._size = progress, start, size
        self._real = {one.id: one for one in real.shown()}
        self._not_shown = real.refused()
        self._passed_over: set[str] = set()
        self._lock, self._count = RLock(), 0
        super().__init__(form=practice_form() | {"size": size, "real": list(self._real)})
        self.show_case(seed)
        self.on_msg(self._received)

    def show_case(self, reference: int | str | None = None, before: str = "") -> None:
        """Show a case by its number, a real lifter's by its id.

        Left out, one that focuses on what was confused, and now and then a
        real lifter who was not shown yet. ``before`` is said first. Raises
        ValueError for what no case has.
        """
        with self._lock:
            if reference is None:
                reference = self._next_real()
            if reference is None:
                reference = self.progress.next_seed(cell(CELL), self._start)
            self.case, self.marked = self._case(reference), None
            self._play(self._clip(blind=True))
            self._say(f"{before}{WATCH}")
            self.asked = {
                "reference": reference,
                "head": f"{self.case.title}. {self.case.lifter} Progress is kept in "
                f"{self.progress.path}.{self._damage()}",
                "count": self._count,  # the same case once more begins anew
            }
            self.confusions = Confusions(self.progress).html

    def _case(self, reference: int | str) -> Case | RealCase:
        """Return a case by its number or id; ValueError with those there are."""
        if isinstance(reference, str):
            if reference not in self._real:
                raise ValueError(f"There is no real lifter {reference} here.")
            return self._real[reference]
        if not 1 <= reference <= LONGEST:
            raise ValueError(f"Case numbers start at 1 and end at {LONGEST}.")
        return case(cell(CELL), int(reference))

    def _next_real(self) -> str | None:
        """Return the real lifter whose turn it is, or None."""
        if self.progress.computed_in_a_row < BETWEEN_REAL:
            return None
        done = {one.seed for one in self.progress.answered} | self._passed_over
        return next((name for name in self._real if name not in done), None)

    def next_case(self) -> None:
        """Show the next case; one left unanswered comes again only when asked for."""
        left = ""
        if not self.marked:
            # Otherwise the same one would come again.
            if isinstance(self.case.reference, str):
                self._passed_over.add(self.case.reference)
                asked_by = "id"
            else:
                self._start += 1
                asked_by = "number"
            left = f"{self.case.title} left unanswered; its {asked_by} brings it back. "
        self.show_case(before=left)

    def submit(
        self, ticked: Sequence[str] | None, first: str | None = None, cue: str | None = None
    ) -> None:
        """Mark an answer, in ids of faults and the words of a cue.

        Raises ValueError for one that is not whole, or that is not offered;
        nothing is marked then.
        """
        with self._lock:
            if self.marked:
                self._say("This case is marked. Go on with “Next case”.")
                return
            given = judgement(ticked, first, cue)
            marks = marked(self.case, given)
            answer = answered(self.case, given, marks)
            known = {one.seed for one in self.progress.answered}
            saved = "Not counted: you have had this case before."
            if self.case.reference not in known:
                saved = f"Saved {self.progress.put(answer).astimezone():%H:%M:%S}."
            self.marked = answer
            telling = self.case.telling
            if telling and self.view != "both" and faults.fault(telling.fault).view in VIEWS:
                self.view = faults.fault(telling.fault).view
            self._play(self._clip(findings=self.case.findings, lines=True), telling)
            self._say(f"{marks.first.text} {saved}", marks)
            self.confusions = Confusions(self.progress).html

    def _clip(self, **shown: Any) -> Clip:
        """Return a clip of the case at this page's size."""
        height = CLIP_PX.get(self._size, 0)
        return clip(*self.case.shots, size=self._size, height=height, **self.case.declared, **shown)

    def _play(self, playing: Clip, telling: Finding | None = None) -> None:
        """Play a clip's film in this page, with its lines or without.

        It stands where a finding shows most, or at the lowest point, if its
        lines are drawn; otherwise at the start.
        """
        with self.hold_sync():
            self.film, self.shown, self.film_data = playing.film, playing.shown, playing.film_data
        footage = playing.film.footage
        frame = footage.bottoms[0] if playing.lines else 0
        if telling and telling.worst is not None:
            frame = footage.frame_of(telling.view, telling.worst)
        # Afterwards: the page counts frames of the film that it has.
        self.frame, self.lines = frame, playing.lines

    def _damage(self) -> str:
        """Return what is wrong with the files of progress and real lifters, or nothing."""
        aside, lost = self.progress.set_aside, len(self.progress.damaged)
        words = f" It was damaged; the old one is kept as {aside.name}." if aside else ""
        words += f" {lost} of its lines were changed and are left out." if lost else ""
        return words + "".join(f" Not shown: {reason}." for reason in self._not_shown.values())

    def _say(self, words: str, marks: Marked | None = None) -> None:
        """Say something, beside the form or, with marks, in its place."""
        self._count += 1  # the same words twice are said twice
        said = {"words": words, "kind": "", "marked": None, "count": self._count}
        if marks:
            said["kind"] = "right" if marks.first.right else "wrong"
            said["marked"] = {
                "stop": stop_rule(self.case),
                "spot": marks.spot.text,
                "cue": marks.cue.text if marks.cue else "",
                "reasons": reasons(self.case),
            }
        self.said = said

    def _received(self, _: Any, message: dict[str, Any], __: Any) -> None:
        """Do what the page asks; kernels log errors where nobody looks, so they are shown."""
        try:
            if message["kind"] == "submit":
                first = FIRST.sent(message["first"])
                asked = cue_check(first).question if first in faults.catalogue() else None
                cue = asked.sent(message["cue"]) if asked else None
                self.submit(SPOT.sent(message["spot"]), first, cue)
            elif message["kind"] == "next":
                self.next_case()
            else:
                self.show_case(message["reference"])
        except Exception as error:
            self._say(str(error))

    def __repr__(self) -> str:
        title = self.case.title[0].lower() + self.case.title[1:]
        return f"Practice: {title}. {self.case.lifter} {self.said['words']}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Show frames of the case to readers without a kernel."""
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        words = {"text/plain": repr(self), "text/html": FrameRow(self.film).html}
        return bundle | words, *more


def practice_form() -> dict[str, Any]:
    """Return what every case asks, without a key, and the greatest case number."""
    return {
        "spot": spot_spec(),
        "first": spec(FIRST),
        "cues": {fault: spec(cue_check(fault).question) for fault in faults.catalogue()},
        "lacking": {"spot": WITHOUT_SPOT, "cue": WITHOUT_CUE},
        "most": LONGEST,
    }


def spot_spec() -> dict[str, Any]:
    """Return what is ticked: each label in its tier, and "nothing to fix" alone."""
    sent, listed = spec(SPOT), tiers()
    for label, option in zip(LABELS, sent["options"], strict=True):
        option |= {"group": listed[label], "alone": label == NOTHING}
    return sent


def practice(
    name: str = "me",
    seed: int | None = None,
    folder: str | Path = "practice",
    start: int | None = None,
    size: str = "page",
    real: str | Path = "real_cases",
) -> Practice:
    """Return a place to practise cases without end.

    Progress is kept in ``folder``, in a file of this ``name``, and goes on
    from there. ``seed`` is the number of the case to begin with; left out,
    the next for this trainee, of a row that begins with ``start``, or with
    the name. ``size`` is "page" or "projector". Real lifters come from the
    folder ``real`` that an instructor filled (`squatlab case`), if it is
    there. Raises ValueError for a name no file can have.
    """
    path = Path(folder) / f"{identifier('name', name)}.jsonl"
    start = crc32(name.encode()) if start is None else start
    return Practice(Progress(path), seed, start, size, RealCases(real))
