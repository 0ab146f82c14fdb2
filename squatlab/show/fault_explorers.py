"""The explorers of notebooks 08 and 09: a fault of any size, and which comes first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache
from typing import Any

from squatlab.faults import TIERS, Fault, catalogue, fault
from squatlab.lessons.fault_cases import amount, read, squat, suppose
from squatlab.motion import Rep
from squatlab.review import Finding, Ranking, policies, prioritise
from squatlab.show import fault_scale
from squatlab.show.clips import Playing
from squatlab.show.controls import Choice, Control, Slider, Values, choice, slider
from squatlab.show.explorer import Explorer, OneByOne, Pane, Together, positions
from squatlab.show.film import Film, film, instants
from squatlab.show.footage import Footage, footage
from squatlab.show.frame_row import FrameRow
from squatlab.show.picture import Scene
from squatlab.show.ranking_picture import WIDTH, causes, ranking_scene, sentence
from squatlab.show.sweep import Sweep, sweep_of
from squatlab.show.views import FRONT, SIDE
from squatlab.units import cached_words

LEAST, MOST = 0.4, 3.2
"""From below slight to gross; what is larger no lifter can do in every fault."""

CLIP_PX = {"page": 480, "projector": 620}
"""Height of a clip that stands below its controls, pixels."""


ORDER_HEAD, ORDER_HEIGHT = 246.0, 632.0
"""Room for the one to fix and its advice, and for an order of five faults below it,
picture units."""


@dataclass(frozen=True, eq=False)
class Filmed:
    """Hold a squat with a fault, what was read of it, and what else.

    ``put_in`` is how much of the fault it has, in the fault's unit.
    """

    rep: Rep
    put_in: float
    finding: Finding
    others: tuple[Finding, ...]
    descent_s: float = 1.8

    @cached_property
    def footage(self) -> Footage:
        """Return the squat set on the floor, ready to be drawn."""
        return footage(self.rep)

    def on_film(self) -> tuple[Film, dict[str, int]]:
        """Return a film with the lines on which the fault is seen, and where most."""
        worst, last = self.finding.worst, self.rep.time.size - 1
        marks = {} if worst is None else {"shows most": min(worst, last)}
        lines = fault(self.finding.fault).lines
        return film(self.footage, lines, behind=_clean(self.descent_s)), marks

    def words(self) -> str:
        """Return what was put in, what was read, and what else was called."""
        finding = self.finding
        sizes = fault_scale.set_and_measured(self.put_in, finding)
        others = ", ".join(f"{other.name} ({other.size})" for other in self.others) or "nothing"
        why = f" Not possible: {self.rep.reason}." if self.rep.reason else ""
        return (
            f"{finding.name.capitalize()}: {sizes} ({finding.reason}). Also called: {others}. "
            f"Look for: {fault(finding.fault).look_for}{why}"
        )


Squats = Filmed | list[Filmed]
"""One squat, or that of each position."""

FEW = 3
"""Squats of the first piece: each is moved, filmed and read [teaching-value]."""


@lru_cache(maxsize=128)  # to and fro, a slider comes by the same ones
def _instant(filmed: Filmed, frame: int) -> Scene:
    """Return one frame of a squat's film with its lines."""
    film, _ = filmed.on_film()
    return film.scene(frame, "both", measured=True)


@cache
def _clean(descent_s: float) -> Footage:
    """Return the same lifter's clean squat, to be seen in step with a fault."""
    return footage(squat(descent_s))


class FilmedExplorer(Explorer, Playing):
    """Explore with a clip below the sentence.

    While a slider moves, the frame that is shown follows; at rest the
    clip holds the film of what the values are.
    """

    def __init__(self, build: Callable[[Values], Filmed], *given: Any) -> None:
        panes = (
            Pane("Sizes", _scale, fault_scale.WIDTH, fault_scale.HEIGHT),
            Pane("Clip", self._frame_of, SIDE + FRONT, in_clip=True),
        )

        def squats(values: Values) -> Squats:
            each = positions(values)
            return [build(position) for position in each] if each else build(values)

        def words(_: Values, now: Squats) -> str | list[str]:
            return now.words() if isinstance(now, Filmed) else [squat.words() for squat in now]

        super().__init__(Together(squats, panes, words, FEW), *given)
        self.lines = True

    def reset(self) -> None:
        """Go back to the start, the clip to its lowest point."""
        self.posture = None
        super().reset()

    def _frame_for(self, now: Filmed, before: Filmed | None) -> int:
        """Return the frame to look at: at first the lowest, another fault where it shows most."""
        if before is None:
            return now.rep.bottom
        if before.finding.fault != now.finding.fault:
            return now.finding.worst or now.rep.bottom
        return min(self.frame, now.rep.time.size - 1)

    def _frame_of(self, _: Values, now: Squats, __: Filmed | None) -> Sweep:
        """Return the frame to look at of one squat, or of that of each position."""
        if isinstance(now, Filmed):
            return sweep_of([_instant(now, self._frame_for(now, self.posture))])
        return instants(
            [squat.footage for squat in now],
            [self._frame_for(squat, self.posture) for squat in now],
            fault(now[0].finding.fault).lines,
            [_clean(squat.descent_s) for squat in now],
        )

    def _refresh(self) -> None:
        """Show what the values are now, and play its film."""
        before = self.posture
        super()._refresh()
        now: Filmed | None = self.posture
        if self.error or now is None or now is before:
            return
        with self.hold_sync():
            self.play(*now.on_film(), self._size, CLIP_PX[self._size])
            self.frame = self._frame_for(now, before)

    def _kept(self) -> str:
        return FrameRow(self.film, measured=True).html


def _scale(_: Values, now: Squats, __: Filmed | None) -> Sweep:
    """Return the line of sizes of one squat, or of that of each position."""
    bounds = 0.0, 0.0, fault_scale.WIDTH, fault_scale.HEIGHT
    scenes = []
    for shown in [now] if isinstance(now, Filmed) else now:
        parts = fault_scale.line_of_sizes([shown.put_in], [shown.finding])
        scenes.append(Scene(tuple(parts), bounds, ""))
    return sweep_of(scenes)


@cached_words(None)
def severity_words(shown: Fault) -> dict[str, str]:
    """Return size and value in words for every severity, "0.0" and on."""
    words_by_severity = {}
    for tenth in range(round(10 * MOST) + 1):
        value = float(shown.value_at(tenth / 10))
        size = shown.size(value) or "no fault"
        words_by_severity[f"{tenth / 10:.1f}"] = f"{size}, {amount(shown, value)}"
    return words_by_severity


def _severity(
    label: str, value: float, low: float, step: float, fault_id: Callable[[Values], str]
) -> Slider:
    """Return a slider of a fault's severity, worded by size and amount.

    ``fault_id`` returns which fault it is of all values.
    """

    def words(severity: float, values: Values) -> str:
        return severity_words(fault(fault_id(values)))[f"{severity:.1f}"]

    return Slider(label, value, low, MOST, step, words)


def faults(size: str = "page") -> Explorer:
    """Explore what each fault looks like, and what two phones read of it.

    Choose a fault, its size and how long the descent takes; the clip
    follows, side and front, with its lines. ``size`` is "page" or
    "projector".
    """
    names = [
        (f"{fault.tier} {TIERS[fault.tier]}: {fault.name}", fault.id)
        for fault in catalogue().values()
    ]
    controls = {
        "fault": Choice("Fault", tuple(names), "knee_valgus", as_list=True),
        "severity": _severity("Size", 2.4, LEAST, 0.4, lambda values: values["fault"]),
        "descent": slider("Descent", 1.8, 1.4, 3.0, 0.2, " s"),
    }
    presets = {
        "Below slight": {"severity": 0.8},
        "Slight": {"severity": 1.6},
        "Clear": {"severity": 2.4},
        "Gross": {"severity": 3.2},
        "Heels up": {"fault": "heel_lift", "severity": 2.4},
        "Dropped": {"fault": "fast_descent", "severity": 2.4},
    }

    def build(values: Values) -> Filmed:
        return filmed(values["fault"], values["severity"], values["descent"])

    return FilmedExplorer(build, controls, presets, size)


@cached_words(128)
def filmed(name: str, severity: float, descent_s: float) -> Filmed:
    """Return a squat with one fault of a severity, and what two phones read of it."""
    fault_shown = fault(name)
    put_in = max(float(fault_shown.value_at(severity)), 0.0)
    rep = squat(descent_s, **{fault_shown.id: put_in})
    findings = read(rep)
    others = tuple(finding for finding in findings.present() if finding.fault != fault_shown.id)
    return Filmed(rep, put_in, findings[fault_shown.id], others, descent_s)


FIVE = {
    "knees_first": 1.4,
    "lumbar_rounding": 0.6,
    "knee_valgus": 2.6,
    "heel_lift": 2.2,
    "fast_descent": 3.0,
}
"""Five faults and how severe each is at first [teaching-value]."""


def first_to_fix(size: str = "page") -> Explorer:
    """Explore which of five faults is fixed first, and why.

    A slider for the severity of each, and the policy; the picture shows
    the order with its reasons, and faintly where each was before.
    """
    controls: dict[str, Control] = {
        name: _severity(fault(name).name.capitalize(), severity, 0, 0.2, lambda _, name=name: name)
        for name, severity in FIVE.items()
    }
    controls["policy"] = choice("Policy", tuple((name, name) for name in policies()))
    controls["load"] = choice("Bar", (("loaded", "bar"), ("bodyweight only", "none")))
    nothing = dict.fromkeys(FIVE, 0.0)
    presets = {
        "Stop": {"lumbar_rounding": 3.0},
        "Just short of stop": {"lumbar_rounding": 2.8},
        "Slight and clear": nothing | {"knees_first": 1.8, "fast_descent": 2.0},
        "Nothing": nothing,
    }

    def ranked(values: Values) -> Ranking:
        findings = suppose(**{name: values[name] for name in FIVE})
        return prioritise(findings, values["policy"], loaded=values["load"] == "bar")

    def picture(_: Values, ranking: Ranking, before: Ranking | None) -> Scene:
        scene = ranking_scene(ranking, before, ORDER_HEAD, notes=False)
        return replace(scene, bounds=(0.0, 0.0, WIDTH, ORDER_HEIGHT))

    panes = (Pane("Order", picture, WIDTH, ORDER_HEIGHT),)

    def words(_: Values, ranking: Ranking) -> str:
        return " ".join([sentence(ranking), *causes(ranking)])

    subject = OneByOne(ranked, panes, words)
    return Explorer(subject, controls, presets, size)
