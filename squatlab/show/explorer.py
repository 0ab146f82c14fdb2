"""An explorer: controls, pictures that follow them, and one sentence.

The functions in `explorers`, `motion_explorers`, `fault_explorers` and
`rack_picture` make one of a `Subject` (what is shown) and controls. The
browser asks for all positions of the slider that has the focus, paints them
by itself while it moves (`exploring.js`), and tells the values at rest.
"""

from __future__ import annotations

import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from threading import RLock
from typing import Any, NamedTuple

import anywidget
import numpy as np
import traitlets

from squatlab import units
from squatlab.show import controls as ctl
from squatlab.show.controls import Choice, Control, Slider, Values
from squatlab.show.moving import Moving
from squatlab.show.picture import Scene
from squatlab.show.run_page import to_run
from squatlab.show.scene import notice
from squatlab.show.scripts import EXPLORER, script
from squatlab.show.sweep import Sweep, still, sweep_of
from squatlab.show.views import HEIGHT

SCALE = {"page": 0.93, "projector": 1.35}
"""Pixels for a picture unit: the least text, 13 units, is then 12 pixels on a page."""

FIRST_S, NEXT_S = 0.025, 0.06
"""How long positions are drawn one by one before those that are ready are sent, s: the first soon,
the others in larger pieces, as each costs its way to the browser [teaching-value]."""

ANSWER_S = 0.15
"""How long one question is answered, s: what is asked meanwhile waits [teaching-value]."""

RUN = to_run("For sliders")
"""Stands above an explorer's stored picture: the sliders are there once the cell is run."""

VIEW = "view"
"""The control that turns the lifter and changes nothing else."""


class Pane(NamedTuple):
    """Say what one picture of an explorer shows.

    ``draw`` gets the values, what was built of them and the state before
    the present control moved, and returns the picture. ``stage``, of a
    chart, is what stays. ``views`` names the views in which it is shown,
    none for all; ``in_clip`` has it shown in the explorer's clip.
    """

    label: str
    draw: Callable[[Values, Any, Any], Any]
    width: float
    height: float = HEIGHT
    views: tuple[str, ...] = ()
    stage: tuple[Moving, ...] = ()
    in_clip: bool = False


class Shown(NamedTuple):
    """Hold the pictures of some positions, pane by pane, and their sentences."""

    sweeps: list[Sweep]
    sentences: list[str]


class ShownState(NamedTuple):
    """Hold a state and what is shown of it, or the error in its place."""

    state: Any
    shown: Shown
    error: Exception | None = None


def positions(values: Values) -> list[Values]:
    """Return the values at each position where some are arrays; none where none is."""
    moved = {name: value.tolist() for name, value in values.items() if np.ndim(value)}
    if not moved:
        return []
    rows = zip(*moved.values(), strict=True)
    return [values | dict(zip(moved, row, strict=True)) for row in rows]


class Subject(ABC):
    """Say what an explorer shows of its controls' values.

    ``build`` turns values into a state (a posture, a ranking), each pane's
    ``draw`` makes a picture of it and ``describe`` its sentence.
    """

    def __init__(
        self,
        build: Callable[[Values], Any],
        panes: Sequence[Pane],
        describe: Callable[[Values, Any], Any],
    ) -> None:
        self.build, self.panes, self.describe = build, tuple(panes), describe

    @abstractmethod
    def one(self, values: Values, state: Any, before: Any) -> Shown:
        """Return the pictures and the sentence of one state."""

    @abstractmethod
    def pieces(
        self, values: Values, name: str, at: Sequence[float], before: Any
    ) -> Iterator[Shown]:
        """Yield the pictures with a control at each of ``at``, the first soon."""

    @abstractmethod
    def every(self, values: Values, moved: Mapping[str, Sequence[float]], before: Any) -> Shown:
        """Return the pictures at every position of ``moved``: values by name."""


class Together(Subject):
    """Draw all positions of a control in one computation on arrays.

    ``build`` accepts an array for one of the values; ``draw`` returns a
    `Sweep` of the state, ``describe`` a sentence or one for each position.
    ``first`` positions make the first piece: enough for a few keys, and
    soon there [teaching-value].
    """

    def __init__(
        self,
        build: Callable[[Values], Any],
        panes: Sequence[Pane],
        describe: Callable[[Values, Any], Any],
        first: int = 16,
    ) -> None:
        super().__init__(build, panes, describe)
        self.first = first

    def one(self, values: Values, state: Any, before: Any) -> Shown:
        """Return the pictures and the sentence of one state."""
        sweeps = [pane.draw(values, state, before) for pane in self.panes]
        return Shown(sweeps, [self.describe(values, state)])

    def pieces(
        self, values: Values, name: str, at: Sequence[float], before: Any
    ) -> Iterator[Shown]:
        """Yield the pictures at the first few of ``at``, then at all others."""
        for piece in (at[: self.first], at[self.first :]):
            if piece:
                yield self.every(values, {name: piece}, before)

    def every(self, values: Values, moved: Mapping[str, Sequence[float]], before: Any) -> Shown:
        """Return the pictures at every position of ``moved``, all computed at once."""
        swept = values | {name: np.asarray(at, float) for name, at in moved.items()}
        count = len(next(iter(moved.values())))
        state = self.build(swept)
        sweeps = [pane.draw(swept, state, before).repeated(count) for pane in self.panes]
        sentence = self.describe(swept, state)
        return Shown(sweeps, [sentence] * count if isinstance(sentence, str) else sentence)


class OneByOne(Subject):
    """Draw position after position until time is up, at least one.

    ``draw`` returns a `Scene` of the state, ``describe`` its sentence.
    """

    def one(self, values: Values, state: Any, before: Any) -> Shown:
        """Return the pictures and the sentence of one state."""
        scenes = [pane.draw(values, state, before) for pane in self.panes]
        return Shown([sweep_of([scene]) for scene in scenes], [self.describe(values, state)])

    def pieces(
        self, values: Values, name: str, at: Sequence[float], before: Any
    ) -> Iterator[Shown]:
        """Yield the pictures that were ready when time was up, then the next."""
        allowed = FIRST_S
        while at:
            shown = self._until(time.monotonic() + allowed, values, {name: at}, before)
            yield shown
            at, allowed = at[len(shown.sentences) :], NEXT_S

    def every(self, values: Values, moved: Mapping[str, Sequence[float]], before: Any) -> Shown:
        """Return the pictures at every position of ``moved``, however long it takes."""
        return self._until(np.inf, values, moved, before)

    def _until(
        self, until: float, values: Values, moved: Mapping[str, Sequence[float]], before: Any
    ) -> Shown:
        """Return pictures at the first positions of ``moved``, at least at one."""
        scenes, sentences = [], []
        for at in zip(*moved.values(), strict=True):
            now = values | dict(zip(moved, at, strict=True))
            state = self.build(now)
            scenes.append([pane.draw(now, state, before) for pane in self.panes])
            sentences.append(self.describe(now, state))
            if time.monotonic() > until:
                break
        return Shown([sweep_of(column) for column in zip(*scenes, strict=True)], sentences)


class Explorer(anywidget.AnyWidget):
    """Show what follows from controls, at once: pictures and a sentence.

    Every control is a trait of its name, in the units it shows, to be
    read, set, observed and linked like those of any widget. ``posture``
    is what the values make; values alone determine it. The state before
    the present control began to move stays as a faint outline. ``settle``
    gets the values and the name of a control that was moved, and returns
    values that change with it. ``size`` is "page" or "projector".
    """

    _esm = script(*EXPLORER, "explorer_widget.js")
    _css = script("explorer.css", "clip.css", "notebook.css")
    spec = traitlets.Dict().tag(sync=True)
    picture = traitlets.Dict().tag(sync=True)
    data = traitlets.Bytes().tag(sync=True)

    def __init__(
        self,
        subject: Subject,
        controls: Mapping[str, Control],
        presets: Mapping[str, Values],
        size: str = "page",
        settle: Callable[[Values, str], Values] | None = None,
    ) -> None:
        if size not in SCALE:
            raise ValueError(f'size is {size!r}; choose "page" or "projector"')
        self.subject, self.controls, self.presets = subject, dict(controls), dict(presets)
        self.posture: Any = None
        self.sentence = ""
        self.error: Exception | None = None
        self._size, self._settle = size, settle
        self._system = units.chosen()
        self._before: Any = None
        self._moving: str | None = None
        self._version = self._heard = 0
        self._quiet, self._lock = False, RLock()
        self.add_traits(**{name: _trait(control) for name, control in self.controls.items()})
        super().__init__()
        self._start = self.values()
        self.observe(self._changed, list(self.controls))
        self.on_msg(self._received)
        self._refresh()

    def values(self) -> Values:
        """Return what every control is set to."""
        return {name: getattr(self, name) for name in self.controls}

    def set(self, wanted: Values) -> None:
        """Set every slider to its start and these on top, in one step.

        What is chosen stays as it is, unless named; so does a slider that
        belongs to a choice. Raises KeyError for a control that does not
        exist.
        """
        sliders = {
            name: self._start[name]
            for name, control in self.controls.items()
            if isinstance(control, Slider) and control.only_with is None
        }
        self._put(sliders | wanted, None)

    def press(self, preset: str) -> None:
        """Do what a preset's button does. Raises KeyError for an unknown one."""
        self.set(self.presets[preset])

    def reset(self) -> None:
        """Go back to the start; the outline goes too."""
        with self._lock, units.written_in(self._system):
            self._put(self._start, None)
            self._before, self._moving = None, None
            self._refresh()

    def _put(self, values: Values, moving: str | None) -> None:
        """Set several controls, then show them at once."""
        with self._lock, units.written_in(self._system):
            self._quiet = True
            try:
                for name, value in values.items():
                    if name not in self.controls:
                        raise KeyError(f"no control {name!r}; there are {', '.join(self.controls)}")
                    setattr(self, name, value)
            finally:
                self._quiet = False
            self._moved(moving)

    def _changed(self, change: Any) -> None:
        """Show what follows from a control that was set from outside."""
        if not self._quiet and not _turns(self.controls[change["name"]]):
            self._put({}, change["name"])

    def _moved(self, name: str | None) -> None:
        """Settle what changes with a control, note that it moves, and show it."""
        if name is not None and self._settle:
            self._quiet = True
            for other, value in self._settle(self.values(), name).items():
                setattr(self, other, value)
            self._quiet = False
        self._begin(name)
        self._refresh()

    def _begin(self, name: str | None) -> None:
        """Note which control moves now; the outline stays where it was while one does."""
        if name is None or name != self._moving:
            self._before, self._moving = self.posture, name
            self._version += 1

    def _received(self, _: Any, message: dict[str, Any], __: Any) -> None:
        """Do what the browser asks: a sweep, values at rest, a preset.

        In the units in which the explorer was made, whatever was chosen since.
        """
        with self._lock, units.written_in(self._system):
            kind = message["kind"]
            if kind == "ask":
                self._sweep(message["name"], message["want"])
                return
            self._heard = message["count"]
            if kind == "set":
                name = next(iter(message["values"]))
                self._put(message["values"], name)
            elif message["preset"] == "Reset":
                self.reset()
            else:
                self.press(message["preset"])

    def _sweep(self, name: str, want: list[int]) -> None:
        """Send the pictures of a control's positions, piece by piece, until time is up."""
        self._begin(name)
        at, values = self.controls[name].positions[want].tolist(), self.values()
        until = time.monotonic() + ANSWER_S
        pieces = self.subject.pieces(values, name, at, self._before)
        sent, more = 0, True
        while more:
            try:
                shown = next(pieces)
            except Exception:
                # One position is at fault: the next is sent alone, with its error as picture if
                # it is the one, and the browser asks for the rest again.
                shown, until = self._shown(values | {name: at[sent]}).shown, 0.0
            index = want[sent : sent + len(shown.sentences)]
            sent += len(index)
            more = sent < len(want) and time.monotonic() < until
            heads, buffers = _packed(shown.sweeps)
            message = {
                "kind": "sweep",
                "name": name,
                "version": self._version,
                "index": index,
                "panes": heads,
                "sentences": shown.sentences,
                "more": more,
            }
            self.send(message, buffers)

    def _shown(self, values: Values) -> ShownState:
        """Return state and pictures of one set of values.

        Kernels log a callback's error where nobody looks, so it is shown.
        """
        try:
            state = self.subject.build(values)
            return ShownState(state, self.subject.one(values, state, self._before))
        except Exception as error:
            sweeps = [
                still(notice(str(error), pane.width), (0.0, 0.0, pane.width, pane.height))
                for pane in self.subject.panes
            ]
            return ShownState(None, Shown(sweeps, [f"Cannot be drawn: {error}"]), error)

    def _refresh(self) -> None:
        """Show what the values are now."""
        values = self.values()
        now = self._shown(values)
        self.error = now.error
        if now.error is None:
            self.posture = now.state
        self._sweeps, self.sentence = now.shown.sweeps, now.shown.sentences[0]
        heads, buffers = _packed(self._sweeps)
        texts = {
            name: control.words(values[name], values)
            for name, control in self.controls.items()
            if isinstance(control, Slider)
        }
        picture = {
            "values": values,
            "texts": texts,
            "panes": heads,
            "sentence": self.sentence,
            "version": self._version,
            "count": self._heard,
        }
        with self.hold_sync():
            self.spec = self._described(values)
            self.picture, self.data = picture, b"".join(buffers)

    def _described(self, values: Values) -> dict[str, Any]:
        """Return what the browser needs to know of controls and panes."""
        panes = [
            {
                "label": pane.label,
                "width": pane.width,
                "views": pane.views,
                "stage": _stage(pane),
                "in_clip": pane.in_clip,
            }
            for pane in self.subject.panes
        ]
        return {
            "controls": ctl.sent(self.controls, values),
            "presets": [*self.presets, "Reset"],
            "panes": panes,
            "size": self._size,
            "scale": SCALE[self._size],
        }

    @property
    def sweeps(self) -> list[Sweep]:
        """Return what every pane shows, sweeps of one position."""
        return list(self._sweeps)

    def scene(self) -> Scene:
        """Return what is shown as one picture, without charts."""
        view = self.values().get(VIEW)
        scenes = [
            sweep.scene(0)
            for pane, sweep in zip(self.subject.panes, self._sweeps, strict=True)
            if not (pane.stage or pane.in_clip) and (not pane.views or view in pane.views)
        ]
        first, *others = scenes
        for other in others:
            first = first.beside(other)
        return replace(first, alt=first.alt or self.sentence)

    def __repr__(self) -> str:
        return f"Explorer: {self.sentence}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Add a picture for readers without a kernel."""
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        bundle["text/plain"], bundle["text/html"] = repr(self), RUN + self._kept()
        return bundle, *more

    def _kept(self) -> str:
        """Return the picture for readers without a kernel, as elements of a page."""
        return self.scene().html(still=True)


def _packed(sweeps: Iterable[Sweep]) -> tuple[list[dict[str, Any]], list[bytes]]:
    """Return headers and bytes of several sweeps."""
    packed = [sweep.packed() for sweep in sweeps]
    return [head for head, _ in packed], [body for _, body in packed]


def _stage(pane: Pane) -> dict[str, Any] | None:
    """Return what stays of a chart as a sweep of one: its header alone, as nothing moves."""
    if not pane.stage:
        return None
    return still(pane.stage, (0.0, 0.0, pane.width, pane.height)).sent()[0]


def _turns(control: Control) -> bool:
    """Return whether a control only turns the picture, which the browser does alone."""
    return isinstance(control, Choice) and control.turns


class _Moved(traitlets.Float):
    """A slider's value, at most as far as the slider goes."""

    def __init__(self, control: Slider) -> None:
        super().__init__(control.value)
        self._control = control

    def validate(self, obj: Any, value: Any) -> float:
        return self._control.checked(super().validate(obj, value))


class _Chosen(traitlets.Unicode):
    """A choice's value, one of its options."""

    def __init__(self, control: Choice) -> None:
        super().__init__(control.value)
        self._control = control

    def validate(self, obj: Any, value: Any) -> str:
        return self._control.checked(super().validate(obj, value))


def _trait(control: Control) -> traitlets.TraitType:
    """Return the trait that holds a control's value."""
    kind = _Moved if isinstance(control, Slider) else _Chosen
    return kind(control).tag(sync=True)
