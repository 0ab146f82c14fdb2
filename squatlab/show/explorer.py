"""An explorer: controls, a picture that follows them, and one sentence."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isclose
from threading import RLock
from typing import Any

from ipywidgets import GridBox, HBox, Layout, VBox, Widget

from squatlab.mechanics.posture import Posture
from squatlab.show.controls import Slider, button, repair_for
from squatlab.show.display import Display
from squatlab.show.picture import Scene, img, svg
from squatlab.show.scene import MOMENTS, describe, lifter_picture, no_posture
from squatlab.show.views import FRONT, SIDE

Values = dict[str, Any]
"""The controls' values by name, in the units they show."""

ALONE = {"page": (980, 490), "projector": (1400, 720)}
"""Greatest width and height of a picture that stands alone, pixels: with
its controls it fits a laptop's screen."""

BESIDE = {"page": (400, 440), "projector": (600, 660)}
"""The same with a chart beside it, so that both are seen together."""

CHART = {"page": (432, 440), "projector": (657, 660)}
"""Width and height of that chart, pixels; a projector gets it enlarged."""

COLUMN = {"page": 390, "projector": 560}
"""Least width of a slider with its words, pixels."""

ONE_VIEW = 600
"""A picture wider than this, in its own units, leaves no room beside it."""

VIEW = "view"
"""The control that turns the lifter and changes nothing else."""


class Explorer(VBox):
    """Show one posture that follows its controls.

    ``build`` turns the controls' values into a posture; ``chart``, if
    given, turns values and posture into a chart with ``jpeg`` and
    ``alt``. The posture before the present control began to move stays
    as a faint outline. What cannot be is said in the picture's place.
    ``size`` is "page" or "projector".
    """

    def __init__(
        self,
        controls: Mapping[str, Widget],
        build: Callable[[Values], Posture],
        presets: Mapping[str, Values],
        chart: Callable[[Values, Posture], Any] | None = None,
        draw: Callable[[Values, Posture, Posture | None], Scene] | None = None,
        describe_as: Callable[[Values, Posture], str] | None = None,
        size: str = "page",
    ) -> None:
        if size not in ALONE:
            raise ValueError(f'size is {size!r}; choose "page" or "projector"')
        self.controls = dict(controls)
        self.posture: Posture | None = None
        self.error: Exception | None = None
        self._build, self._chart = build, chart
        self._size, self._wide = size, True
        self._draw = draw or (lambda _, posture, ghost: lifter_picture(posture, ghost))
        self._describe = describe_as or (lambda _, posture: describe(posture))
        self._ghost: Posture | None = None
        self._moving: str | None = None
        self._quiet = False
        self._lock = RLock()
        self._start = self.values()

        self._repair = repair_for(list(self.controls.values()))
        self.display = Display(chart_width=CHART[size][0] if chart else 0)
        self.presets = {
            name: button(name, lambda wanted=wanted: self.set(wanted))
            for name, wanted in presets.items()
        }
        self.presets["Reset"] = button("Reset", self.reset)
        sliders = [c for c in self.controls.values() if isinstance(c, Slider)]
        choices = [c for c in self.controls.values() if not isinstance(c, Slider)]
        columns = Layout(
            grid_template_columns=f"repeat(auto-fit, minmax({COLUMN[size]}px, 1fr))",
            grid_gap="0 20px", width="100%", max_width=f"{ALONE[size][0]}px",
        )  # fmt: skip
        row = Layout(flex_flow="row wrap", align_items="center")
        super().__init__(
            [
                GridBox(sliders, layout=columns),
                HBox([*choices, *self.presets.values()], layout=row),
                self.display,
                self._repair,
            ]
        )
        self.add_class("squatlab")
        if size == "projector":
            self.add_class("squatlab-projector")
        for name, control in self.controls.items():
            control.observe(lambda change, name=name: self._moved(name, change), "value")
        self._refresh()

    def values(self) -> Values:
        """Return what every control is set to."""
        return {name: control.value for name, control in self.controls.items()}

    def set(self, wanted: Values) -> None:
        """Set every slider to its start and these on top, in one step.

        Which buttons are pressed stays as it is, unless named. Raises
        KeyError for a control that does not exist.
        """
        sliders = {
            name: self._start[name]
            for name, control in self.controls.items()
            if isinstance(control, Slider)
        }
        with self._lock:
            self._quiet = True
            try:
                for name, value in (sliders | wanted).items():
                    self.controls[name].value = value
            finally:
                self._quiet = False
            self._moved(None)

    def reset(self) -> None:
        """Go back to the start; the outline goes too."""
        self.set(self._start)
        with self._lock:
            self._ghost, self._moving = None, None
            self._refresh()

    def _moved(self, name: str | None, change: Any = None) -> None:
        with self._lock:
            if self._quiet or (change and _same(change.new, change.old)):
                return
            # The outline stays where it was while one control is being moved.
            if name is None or name not in (self._moving, VIEW):
                self._ghost, self._moving = self.posture, name
            self._refresh()

    def _refresh(self) -> None:
        """Draw anew. Kernels log a callback's error where nobody looks, so it is shown."""
        values = self.values()
        try:
            posture = self._build(values)
            scene = self._draw(values, posture, self._ghost)
            shown = {"sentence": self._describe(values, posture)}
            if self._chart:
                chart = self._chart(values, posture)
                shown |= {"chart": chart.jpeg(), "alt": chart.alt}
            self.posture, self.error = posture, None
        except Exception as error:
            self.error, shown = error, {"sentence": f"Cannot be drawn: {error}"}
            panels = (SIDE, FRONT, MOMENTS) if self._wide else (SIDE, 0.0, 0.0)
            ghost = self._ghost if isinstance(self._ghost, Posture) else None
            scene = no_posture(str(error), ghost, panels)
        shown["picture"], shown["width"] = self._picture(scene)
        self.display.show(**shown)

    def _picture(self, scene: Scene) -> tuple[str, int]:
        """Return the picture as large as its place allows; a wide one takes a row of its own."""
        left, top, right, bottom = scene.bounds
        self._wide = self._chart is None or right - left > ONE_VIEW
        width, height = (ALONE if self._wide else BESIDE)[self._size]
        shown = min(width, height * (right - left) / (bottom - top))
        self._still = scene.alt, shown
        return svg(scene, shown), width

    @property
    def sentence(self) -> str:
        """Return what the picture shows, with its numbers."""
        return self.display.sentence

    def __repr__(self) -> str:
        return f"Explorer: {self.sentence}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Add a picture for readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        bundle["text/plain"] = repr(self)
        bundle["text/html"] = img(self.display.picture, *self._still, still=True)
        return bundle


def _same(new: Any, old: Any) -> bool:
    """Tell a slider that, once shown, hands back its value rounded from one that is moved."""
    return isinstance(new, float) and isclose(new, old, abs_tol=1e-9)
