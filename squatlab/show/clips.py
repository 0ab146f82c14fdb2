"""Clips: a film that plays in the page, frame by frame if wanted.

`film` draws it, `clip.js` plays it; `Playing` is also what an explorer with
a clip is (`fault_explorers`).
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import chain, pairwise
from typing import Any

import anywidget
import numpy as np
import traitlets

from squatlab.faults import fault
from squatlab.lifter import Lifter
from squatlab.show.film import Film, film
from squatlab.show.footage import Footage, footage
from squatlab.show.frame_row import FrameRow
from squatlab.show.scripts import CLIP, script
from squatlab.show.views import HEIGHT

CLIP_PX = {"page": (980, 490), "projector": (1400, 720)}
"""Greatest width and height of a clip, pixels: with its controls it fits a laptop's screen."""

STILL, HELD = 0.04, 0.01
"""So near standing and the lowest point, in parts of the way, it counts as
there [teaching-value]."""


class Playing(anywidget.AnyWidget):
    """A widget that holds a film: a sweep over time for each of its views.

    ``frame``, ``view`` ("side", "front", "both") and ``lines`` may be read
    and set.
    """

    shown = traitlets.Dict().tag(sync=True)
    film_data = traitlets.Bytes().tag(sync=True)
    frame = traitlets.Int(0).tag(sync=True)
    view = traitlets.Unicode("both").tag(sync=True)
    lines = traitlets.Bool(False).tag(sync=True)

    def play(self, film: Film, marks: Mapping[str, int], size: str, height: int = 0) -> None:
        """Play a film, from the frame that is shown.

        ``height`` in pixels, 0 for the usual.
        """
        width, usual = CLIP_PX[size]
        shown, data = _sent(film, marks)
        self.film = film
        with self.hold_sync():
            self.shown = shown | {"size": size, "width": width, "height": height or usual}
            self.film_data = data

    @traitlets.validate("view")
    def _known_view(self, proposal: Any) -> str:
        """Return the view. Raises ValueError for one that was not filmed."""
        self.film.scene(0, proposal.value)
        return proposal.value


class Clip(Playing):
    """Play a film, with keys and buttons; never by itself, and once through.

    Make one by `clip`.
    """

    _esm = script(*CLIP, "clip_widget.js")
    _css = script("clip.css", "notebook.css")

    def __init__(
        self, film: Film, marks: Mapping[str, int], size: str, height: int = 0, **state: Any
    ) -> None:
        if size not in CLIP_PX:
            raise ValueError(f'size is {size!r}; choose "page" or "projector"')
        self.film = film
        super().__init__(**state)
        self.play(film, marks, size, height)

    def __repr__(self) -> str:
        return f"Clip: {self.film.sentence}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Add a row of frames for readers without a kernel."""
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        bundle["text/html"] = FrameRow(self.film, self.lines).html
        return bundle, *more


def clip(
    *shots: Any,
    findings: Any = (),
    marks: Mapping[str, int] | None = None,
    blind: bool = False,
    lines: bool = False,
    view: str = "both",
    size: str = "page",
    height: int = 0,
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Any = None,
) -> Clip:
    """Return a clip of a repetition, or of tracks of the side and the front.

    ``findings`` (one or many, of the tracks shown or of a repetition's own)
    bring their marks and their lines; ``marks`` names frames. ``blind``
    says and measures nothing that gives a fault away. ``lines`` shows the
    measured lines from the start; ``size`` is "page" or "projector",
    ``height`` the picture's in pixels, 0 for the usual.
    ``lifter``, ``bar_kg`` and ``camera`` are declared as to
    `squatlab.review.measure`, so that both read the same numbers.
    Raises ValueError.
    """
    several = [findings] if hasattr(findings, "fault") else findings
    present = [finding for finding in several if finding.present == "yes"]
    if present and blind:
        raise ValueError("a blind clip shows no findings; leave out findings or blind")
    # Tracks in space have a repetition's own frames, those of a phone have not.
    if any(finding.view != "3d" for finding in present) and hasattr(shots[0], "points"):
        raise ValueError(
            "findings count the frames of the tracks they were found in; show those tracks"
        )
    shown = footage(*shots, lifter=lifter, bar_kg=bar_kg, camera=camera)
    wanted = tuple(dict.fromkeys(chain(*(fault(finding.fault).lines for finding in present))))
    marks = dict(marks or {}) | _marks(shown, present)
    return Clip(
        film(shown, wanted, blind), marks, size, height, lines=lines and not blind, view=view
    )


def _marks(shown: Footage, findings: list[Any]) -> dict[str, int]:
    """Return where findings are: of a single one also where it begins and ends."""
    moments = ("first", "worst", "last") if len(findings) == 1 else ("worst",)
    marks = {}
    for finding in findings:
        name = fault(finding.fault).name
        for moment in moments:
            frame = getattr(finding, moment)
            if frame is not None:
                marks[f"{name}: {moment}"] = shown.frame_of(finding.view, frame)
    return marks


def phases(shown: Footage) -> list[str]:
    """Return which part of its repetition each frame (time,) is, in words."""
    height, repetitions = shown.views[0].places["pelvis"].imag, shown.repetitions
    if not repetitions:
        return [""] * height.size
    frames = np.arange(height.size)
    # A frame belongs to the repetition before or after, whichever is nearer.
    between = [(one.end + after.start) // 2 for one, after in pairwise(repetitions)]
    which = np.searchsorted(between, frames)
    bottom = np.array(shown.bottoms)[which]
    # Height of the hips (frame,): 0 at the lowest point of its repetition, 1 standing.
    height_share = (height - height[bottom]) / (np.nanmax(height) - height[bottom])
    names = np.select(
        [height_share >= 1 - STILL, height_share <= HELD, frames < bottom],
        ["standing", "lowest point", "down"],
        "up",
    )
    if len(repetitions) == 1:
        return names.tolist()
    return [
        f"rep {number + 1} of {len(repetitions)} {name}"
        for number, name in zip(which, names, strict=True)
    ]


def _sent(film: Film, marks: Mapping[str, int]) -> tuple[dict[str, Any], bytes]:
    """Return what the player is sent: each view's sweeps, and what is said of the time."""
    shown = film.footage
    for words, frame in marks.items():
        if not 0 <= frame < shown.time.size:
            raise ValueError(f'the mark "{words}" is at frame {frame}; there are {shown.time.size}')
    # Words of phases are sent once, and for each frame which.
    named, phase = np.unique(phases(shown), return_inverse=True)
    panels, body = [], []
    for panel in film.panels:
        figure, lines = film.sweeps(panel)
        figure_head, figure_bytes = figure.packed()
        lines_head, lines_bytes = lines.packed()
        body += figure_bytes, lines_bytes
        panels.append(
            {
                "name": panel.name,
                "left": panel.left,
                "width": panel.width,
                "figure": figure_head,
                "lines": lines_head,
            }
        )
    sent = {
        "frames": shown.time.size,
        "rate": shown.rate,
        "tall": HEIGHT,
        "panels": panels,
        # Where one view has room, it is the first on which something is measured.
        "narrow": next((panel.name for panel in film.panels if panel.lines), film.panels[0].name),
        "phases": named.tolist(),
        "phase": phase.ravel().tolist(),
        "bottoms": shown.bottoms,
        "sentences": {**film.one_view, "both": film.sentence},
        "measured": any(panel.measured for panel in film.panels),
        "marks": [{"words": words, "frame": frame} for words, frame in marks.items()],
    }
    return sent, b"".join(body)
