"""The explorers of notebooks 08 and 09: a fault of any size, and which comes first."""

from __future__ import annotations

from typing import Any, NamedTuple

from ipywidgets import Dropdown, Layout

from squatlab.faults import TIERS, Fault, catalogue, fault
from squatlab.lessons.fault_cases import amount, read, squat, suppose
from squatlab.motion import Rep
from squatlab.review import Finding, Ranking, policies, prioritise
from squatlab.show import fault_scale
from squatlab.show.clips import Clip
from squatlab.show.controls import choice, slider
from squatlab.show.explorer import Explorer, Values
from squatlab.show.film import Film, film
from squatlab.show.footage import footage
from squatlab.show.frame_row import FrameRow
from squatlab.show.lines import BELONGS
from squatlab.show.picture import Scene
from squatlab.show.ranking_picture import ranking_scene, sentence

LEAST, MOST = 0.4, 3.2
"""From below slight to gross; what is larger no lifter can do in every fault."""

CLIP_PX = {"page": 330, "projector": 560}
"""Height of a clip that stands below its controls, pixels."""


class Filmed(NamedTuple):
    """Hold a squat with a fault of some size, what was read of it, and what else."""

    rep: Rep
    size: float
    found: Finding
    others: tuple[Finding, ...]

    def on_film(self) -> tuple[Film, dict[str, int]]:
        """Return a film with the lines on which the fault is seen, and where most."""
        worst, last = self.found.worst, self.rep.time.size - 1
        marks = {} if worst is None else {"shows most": min(worst, last)}
        return film(footage(self.rep), BELONGS[self.found.fault]), marks

    def words(self) -> str:
        """Return what was put in, what was read, and what else was called."""
        called = ", ".join(f"{one.name} ({one.size})" for one in self.others) or "nothing"
        why = f" Not possible: {self.rep.reason}." if self.rep.reason else ""
        return (
            f"{self.found.name.capitalize()}: {fault_scale.told(self.size, self.found)} "
            f"({self.found.reason}). Else called: {called}. "
            f"Look for: {fault(self.found.fault).look_for}{why}"
        )


class FilmedExplorer(Explorer):
    """Explore with a clip that follows the controls, below their words."""

    def __init__(self, clip: Clip, *given: Any, **more: Any) -> None:
        self.clip, self._first = clip, clip.frame
        super().__init__(*given, **more)
        self.children = (*self.children[:-1], clip, self.children[-1])

    def reset(self) -> None:
        """Go back to the start, the clip to its first picture."""
        super().reset()
        self.clip.frame = self._first

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Show frames of the clip to readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        bundle["text/html"] = FrameRow(self.clip.film, measured=True).html
        return bundle


def said(of: Fault) -> dict[str, str]:
    """Return for every severity of a slider its size and its value in words."""
    found = {}
    for tenth in range(round(10 * MOST) + 1):
        value = float(of.value_at(tenth / 10))
        found[f"{tenth / 10:.1f}"] = f"{of.size(value) or 'no fault'}, {amount(of, value)}"
    return found


def faults(size: str = "page") -> Explorer:
    """Explore what each fault looks like, and what two phones read of it.

    Choose a fault, its size and how long the descent takes; the clip
    follows, side and front, with its lines. ``size`` is "page" or
    "projector".
    """
    names = [(f"{one.tier} {TIERS[one.tier]}: {one.name}", one.id) for one in catalogue().values()]
    controls = {
        "fault": Dropdown(options=names, value="knee_valgus", description="Fault",
                          layout=Layout(width="400px")),
        "size": slider("Size", 2.4, LEAST, MOST, 0.1, "", said=said(fault("knee_valgus"))),
        "descent": slider("Descent", 1.8, 1.4, 3.0, 0.1, " s"),
    }  # fmt: skip
    presets = {"Below slight": {"size": 0.6}, "Slight": {"size": 1.4}, "Clear": {"size": 2.4},
               "Gross": {"size": 3.1}, "Heels up": {"fault": "heel_lift", "size": 2.4},
               "Dropped": {"fault": "fast_descent", "size": 2.6}}  # fmt: skip

    def made(values: Values) -> Filmed:
        of = fault(values["fault"])
        put_in = max(float(of.value_at(values["size"])), 0.0)
        rep = squat(values["descent"], **{of.id: put_in})
        found = read(rep)
        others = tuple(one for one in found.present() if one.fault != of.id)
        return Filmed(rep, put_in, found[of.id], others)

    first = made({name: control.value for name, control in controls.items()})
    clip = Clip(*first.on_film(), size, lines=True, frame=first.rep.bottom)
    clip.shown = clip.shown | {"height": CLIP_PX[size]}

    def drawn(_: Values, now: Filmed, before: Filmed | None) -> Scene:
        clip.show(*now.on_film())
        if before and before.found.fault != now.found.fault:
            clip.frame = now.found.worst or now.rep.bottom
        parts = fault_scale.line_of_sizes([now.size], [now.found])
        bounds = 0.0, 0.0, fault_scale.WIDTH, fault_scale.HEIGHT
        return Scene(tuple(parts), bounds, now.words())

    shown = FilmedExplorer(clip, controls, made, presets, draw=drawn, size=size,
                           describe_as=lambda _, now: now.words())  # fmt: skip

    def renamed(change: Any) -> None:
        shown._repair.words = shown._repair.words | {"Size": ["", "", "", said(fault(change.new))]}

    controls["fault"].observe(renamed, "value")
    return shown


FIVE = {
    "knees_first": 1.4, "lumbar_rounding": 0.6, "knee_valgus": 2.6, "heel_lift": 2.2,
    "fast_descent": 3.0,
}  # fmt: skip
"""Five faults and how severe each is at first."""


def first_to_fix(size: str = "page") -> Explorer:
    """Explore which of five faults is fixed first, and why.

    A slider for the severity of each, and the policy; the picture shows
    the order with its reasons, and faintly where each was before.
    """
    controls: dict[str, Any] = {
        name: slider(fault(name).name.capitalize(), severity, 0, MOST, 0.2, "",
                     said=said(fault(name)))
        for name, severity in FIVE.items()
    }  # fmt: skip
    for control in controls.values():
        control.style.description_width = "150px"
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
        found = suppose(**{name: values[name] for name in FIVE})
        return prioritise(found, values["policy"], loaded=values["load"] == "bar")

    return Explorer(
        controls, ranked, presets, size=size, describe_as=lambda _, ranking: sentence(ranking),
        draw=lambda _, ranking, before: ranking_scene(ranking, before),
    )  # fmt: skip
