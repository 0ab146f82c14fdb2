"""Practice without end: watch a lift, say what is wrong, be told at once."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from pathlib import Path
from threading import RLock
from typing import Any
from zlib import crc32

from ipywidgets import HTML, Box, Checkbox, Dropdown, HBox, IntText, Layout, RadioButtons, VBox

from squatlab import faults
from squatlab.norms import norm_in_words, norms_of
from squatlab.questions import item_bank
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import case
from squatlab.questions.files import identifier
from squatlab.questions.items import worded
from squatlab.questions.kinds import NOTHING
from squatlab.questions.practice_progress import LABELS, Answered, Progress, difficulty
from squatlab.questions.real_cases import RealCases
from squatlab.show.clips import Clip, clip
from squatlab.show.confusions import Confusions
from squatlab.show.controls import Repair, button
from squatlab.show.frame_row import FrameRow

CELL = "practice"
"""The row of data/blueprint.csv that cases come from."""

CLIP_PX = {"page": 380, "projector": 620}
"""Height of the clip, with the questions beside it, pixels."""

LONGEST = 1_000_000
"""Case numbers are below this, so that they can be noted down and typed."""

BETWEEN_REAL = 3
"""So many computed cases come between two real lifters [teaching-value]."""


class Practice(VBox):
    """Ask about one case after another; make one by `practice`.

    ``case`` is the one that is shown, ``progress`` what was answered, ``said``
    the last message. ``ticks`` (by fault id, and `NOTHING`), ``first``,
    ``cue``, ``submit``, ``next``, ``number``, ``show``, ``real`` and
    ``show_real`` are its controls.
    """

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
        self._lock, self._quiet, self.said = RLock(), False, ""
        self._head, self._status, self._result, self._map = (HTML() for _ in range(4))
        for told in (self._head, self._status, self._result, self._map):
            told.add_class("squatlab-sentence")
        self._clip = Box(layout=Layout(max_width="100%"))
        self.ticks = {
            label: Checkbox(
                False,
                description=worded(label),
                indent=False,
                layout=Layout(width="auto", height="auto", min_height="21px", margin="0"),
            )
            for label in LABELS
        }
        self.first, self.cue = (
            RadioButtons(
                description=words,
                value=None,
                style={"description_width": "72px"},
                layout=Layout(width="auto", margin="0 0 4px 2px", display="none"),
            )
            for words in ("Fix first", "Say")
        )
        self.submit = button("Submit", lambda: self._safely(self._submit))
        self.next = button("Next case", lambda: self._safely(self._next))
        self.number = IntText(
            1,
            description="Case number",
            style={"description_width": "initial"},
            layout=Layout(width="190px"),
        )
        self.show = button("Show this case", lambda: self._safely(self._ask_for_number))
        self.real = Dropdown(
            options=tuple(self._real),
            description="Real lifter",
            style={"description_width": "initial"},
            layout=Layout(width="190px"),
        )
        self.show_real = button("Show this lifter", lambda: self._safely(self._ask_for_real))
        real_row = HBox([self.real, self.show_real], layout=Layout(align_items="center"))
        real_row.layout.display = None if self._real else "none"
        self._repair = Repair()
        watch = VBox([self._clip])
        self._asked = VBox([self._tiers(), self.first, self.cue])
        judge = VBox(
            [
                self._asked,
                HBox([self.submit, self.next], layout=Layout(align_items="center")),
                self._status,
                self._result,
                HBox([self.number, self.show], layout=Layout(align_items="center")),
                real_row,
            ]
        )
        watch.add_class("squatlab-watch")
        judge.add_class("squatlab-judge")
        case_box = Box([watch, judge])
        case_box.add_class("squatlab-case")
        super().__init__([self._head, case_box, self._map, self._repair])
        self.add_class("squatlab")
        if size == "projector":
            self.add_class("squatlab-projector")
        for label, tick in self.ticks.items():
            tick.observe(lambda change, label=label: self._ticked(label, change.new), "value")
        self.first.observe(lambda _: self._offer_cues(), "value")
        self.show_case(seed)

    def _tiers(self) -> Box:
        """Return the boxes to tick, tier by tier."""
        groups = []
        for tier, words in faults.TIERS.items():
            ids = [one.id for one in faults.catalogue().values() if one.tier == tier]
            head = HTML(f"<i>{tier} {words}</i>", layout=Layout(margin="0 2px"))
            groups.append([head, *(self.ticks[name] for name in ids)])
        groups[-1].append(self.ticks[NOTHING])
        boxes = [VBox(group, layout=Layout(width="auto")) for group in groups]
        tiers = Box(boxes)
        tiers.add_class("squatlab-tiers")
        return tiers

    def show_case(self, seed: int | str | None = None) -> None:
        """Show a case by its number, a real lifter's by its id.

        Left out, one that leans to what was confused, and now and then a
        real lifter who was not shown yet.
        """
        with self._lock:
            if seed is None:
                seed = self._next_real() or self.progress.next_seed(cell(CELL), self._start)
            computed = not isinstance(seed, str)
            self.case = case(cell(CELL), int(seed)) if computed else self._real[seed]
            self.marked = None
            self._asked.layout.display = None
            for tick in self.ticks.values():
                tick.value = False
            if computed:
                self.number.value = self.case.seed
            else:
                self.real.value = seed
            self._offer_faults()
            self._play(self._clip_of_case(blind=True))
            self._head.value = (
                f"<p><b>{escape(self.case.title)}.</b> {escape(self.case.lifter)} Progress is kept "
                f"in {escape(str(self.progress.path))}.{escape(self._damage())}</p>"
            )
            self._result.value = ""
            self._say(f"{self.case.title}: watch, then tick what you see, or nothing to fix.")
            self._map.value = Confusions(self.progress).html

    def _next_real(self) -> str | None:
        """Return the real lifter whose turn it is, or None."""
        if self.progress.computed_in_a_row < BETWEEN_REAL:
            return None
        done = {one.seed for one in self.progress.answered} | self._passed_over
        return next((name for name in self._real if name not in done), None)

    def _clip_of_case(self, **shown: Any) -> Clip:
        """Return a clip of the case at this page's size."""
        height = CLIP_PX.get(self._size, 0)
        return clip(*self.case.shots, size=self._size, height=height, **self.case.declared, **shown)

    def _next(self) -> None:
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
        self.show_case()
        self._say(left + self.said)

    def _ask_for_number(self) -> None:
        if not 1 <= self.number.value <= LONGEST:
            raise ValueError(f"Case numbers start at 1 and end at {LONGEST}.")
        self.show_case(self.number.value)

    def _ask_for_real(self) -> None:
        self.show_case(self.real.value)

    def _play(self, playing: Clip) -> None:
        self._clip.children = (playing,)

    def _ticked(self, label: str, on: bool) -> None:
        """Keep "nothing to fix" and faults apart; offer what is ticked."""
        with self._lock:
            against = [other for other in LABELS if (other == NOTHING) != (label == NOTHING)]
            for other in against if on else ():
                self.ticks[other].value = False
            self._offer_faults()

    def _offer_faults(self) -> None:
        there = [label for label in self.named() if label != NOTHING]
        # For a moment the first of new options is chosen: no reason to offer its cues.
        self._quiet = True
        if len(self.first.options) == 1 and not self.cue.value:
            self.first.value = None  # with a second one, the first is no choice of the trainee's
        _offer(self.first, [(worded(label), label) for label in there])
        if len(there) == 1:
            self.first.value = there[0]
        self._quiet = False
        self._offer_cues()

    def _damage(self) -> str:
        """Return what is wrong with the files of progress and real lifters, or nothing."""
        aside, lost = self.progress.set_aside, len(self.progress.damaged)
        words = f" It was damaged; the old one is kept as {aside.name}." if aside else ""
        words += f" {lost} of its lines were changed and are left out." if lost else ""
        not_shown = (f" Not shown: {reason}." for reason in self._not_shown.values())
        return words + "".join(not_shown)

    def _offer_cues(self) -> None:
        with self._lock:
            if self._quiet:
                return
            found = item_bank.cues(self.first.value) if self.first.value else ()
            # By their words, so that the place says nothing about what fits.
            _offer(self.cue, sorted((one.words, one.words) for one in found))

    def named(self) -> tuple[str, ...]:
        """Return what is ticked, in the catalogue's order."""
        return tuple(label for label, tick in self.ticks.items() if tick.value)

    def _submit(self) -> None:
        with self._lock:
            if problem := self._missing():
                self._say(problem)
                return
            answer, known = self._answered(), {one.seed for one in self.progress.answered}
            saved = "Not counted: you have had this case before."
            if self.case.reference not in known:
                saved = f"Saved {self.progress.put(answer).astimezone():%H:%M:%S}."
            self.marked = answer
            self._show_answer()
            self._asked.layout.display = "none"  # the reasons take the place of the questions
            first, *more = self.verdict()
            self._result.value = "".join(f"<p>{escape(line)}</p>" for line in more)
            self._map.value = Confusions(self.progress).html
            self._say(f"{first} {saved} The clip shows what was measured.")

    def _missing(self) -> str:
        if self.marked:
            return "This case is marked. Go on with “Next case”."
        if not self.named():
            return "Not marked yet: tick what you see, or “nothing to fix”."
        if NOTHING not in self.named() and not (self.first.value and self.cue.value):
            return "Not marked yet: choose the one to fix first, and what you say."
        return ""

    def _answered(self) -> Answered:
        first, fits = self.first.value or NOTHING, None
        if first != NOTHING:
            fits = _cue(first, self.cue.value).accepted
        there = self.case.there or (NOTHING,)
        return Answered(
            self.case.reference, self.case.first, first, there, self.named(), fits, self.case.margin
        )

    def _show_answer(self) -> None:
        """Draw the measured lines of what is there, from where it shows most."""
        answer = self._clip_of_case(findings=self.case.findings, lines=True)
        shown, most = answer.film.footage, self.case.telling
        answer.frame = shown.bottoms[0]
        if most and most.worst:
            answer.frame = shown.frame_of(most.view, most.worst)
        self._play(answer)

    def verdict(self) -> list[str]:
        """Return what there is to say about the answer, line by line."""
        right, said = self.case.first, self.marked
        lines = [
            f"Right: {worded(right)}."
            if said.first == right
            else f"Not “{worded(said.first)}”: the answer is “{worded(right)}”."
        ]
        if self.case.ranking.stop:
            lines.append("The set is stopped and unloaded before any coaching.")
        for words, labels in (
            ("Seen", [label for label in said.ticked if label in said.there]),
            ("Missed", [label for label in said.there if label not in said.ticked]),
            ("Not there", [label for label in said.ticked if label not in said.there]),
        ):
            if labels:
                lines.append(f"{words}: {_listed(labels)}.")
        if said.cue is not None:
            given = _cue(said.first, self.cue.value)
            fits = "fits" if said.cue else "does not fit"
            lines.append(f"Your cue {fits} “{worded(said.first)}”: {given.why}")
        lines.append(f"Why: {self.case.why}")
        lines += [
            f"People measured, {worded(fault)}: {norm_in_words(fault)}."
            for fault in self.case.there
            if norms_of(fault)
        ]
        if self.case.margin is not None:
            lines.append(
                f"A case that is {difficulty(self.case.margin)} to judge: a change of "
                f"{self.case.margin:.1f} in severity would alter the answer."
            )
        return lines

    def _say(self, words: str) -> None:
        self.said = words
        self._status.value = f'<p role="status"><b>{escape(words)}</b></p>'

    def _safely(self, do: Any, *given: Any) -> None:
        """Do what a button asks; kernels log errors where nobody looks, so they are shown."""
        try:
            do(*given)
        except Exception as error:
            self._say(str(error))

    def __repr__(self) -> str:
        title = self.case.title[0].lower() + self.case.title[1:]
        return f"Practice: {title}. {self.case.lifter} {self.said}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Show frames of the case to readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        bundle["text/plain"] = repr(self)
        bundle["text/html"] = FrameRow(self._clip.children[0].film).html
        return bundle


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


def _offer(choice: RadioButtons, options: list[tuple[str, str]]) -> None:
    """Offer options with nothing chosen, but for what was chosen before and still is there."""
    if choice.options == tuple(options):
        return
    kept = choice.value if choice.value in [value for _, value in options] else None
    with choice.hold_sync():
        choice.options = options
        choice.value = kept
        choice.layout.display = None if options else "none"


def _cue(fault: str, words: str) -> item_bank.Cue:
    return next(one for one in item_bank.cues(fault) if one.words == words)


def _listed(labels: Iterable[str]) -> str:
    return ", ".join(worded(label) for label in labels)
