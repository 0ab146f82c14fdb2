"""Clips: a film that plays in the page, frame by frame if wanted."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import chain, pairwise
from pathlib import Path
from typing import Any

import anywidget
import numpy as np
import traitlets

from squatlab.faults import fault
from squatlab.lifter import Lifter
from squatlab.show.explorer import ALONE
from squatlab.show.film import Film, film
from squatlab.show.footage import Footage, footage
from squatlab.show.frame_row import FrameRow
from squatlab.show.moving import Moving, Trail, spots
from squatlab.show.primitives import Text
from squatlab.show.views import HEIGHT

UNIT = 32
"""Parts of a picture unit that are told apart: 16 bits reach from −1024 to 1024."""

LOST = -32768
"""Sent for a point that was not seen."""

STILL, HELD = 0.04, 0.01
"""So near standing and the lowest point, in parts of the way, it counts as
there [teaching-value]."""


def script(player: Path) -> str:
    """Return a player's JavaScript, with what every clip shares before it."""
    shared = Path(__file__).with_name("playing.js")
    return "\n".join(part.read_text("utf-8") for part in (shared, player))


class Clip(anywidget.AnyWidget):
    """Play a film, with keys and buttons; never by itself, and once through.

    ``frame``, ``view`` ("side", "front", "both") and ``lines`` may be read
    and set. Make one by `clip`.
    """

    _esm = script(Path(__file__).with_name("player.js"))
    _css = Path(__file__).with_name("player.css")
    shown = traitlets.Dict().tag(sync=True)
    data = traitlets.Bytes().tag(sync=True)
    frame = traitlets.Int(0).tag(sync=True)
    view = traitlets.Unicode("both").tag(sync=True)
    lines = traitlets.Bool(False).tag(sync=True)

    def __init__(self, film: Film, marks: Mapping[str, int], size: str, **state: Any) -> None:
        if size not in ALONE:
            raise ValueError(f'size is {size!r}; choose "page" or "projector"')
        width, height = ALONE[size]
        shown, data = _sent(film, marks)
        shown |= {"size": size, "width": width, "height": height}
        self.film = film
        super().__init__(shown=shown, data=data, **state)

    def show(self, film: Film, marks: Mapping[str, int]) -> None:
        """Play another film of the same views, from the frame that is shown."""
        shown, data = _sent(film, marks)
        self.film = film
        with self.hold_sync():
            self.shown, self.data = self.shown | shown, data

    @traitlets.validate("view")
    def _known_view(self, proposal: Any) -> str:
        self.film.scene(0, proposal.value)
        return proposal.value

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
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Any = None,
) -> Clip:
    """Return a clip of a repetition, or of tracks of the side and the front.

    ``findings`` (one or many, of the tracks shown or of a repetition's own)
    bring their marks and their lines; ``marks`` names frames. ``blind``
    says and measures nothing that gives a fault away. ``lines`` shows the
    measured lines from the start; ``size`` is "page" or "projector".
    ``lifter``, ``bar_kg`` and ``camera`` are declared as to
    `squatlab.review.measure`, so that both read the same numbers.
    Raises ValueError.
    """
    found = [one for one in ([findings] if hasattr(findings, "fault") else findings)
             if one.present == "yes"]  # fmt: skip
    if found and blind:
        raise ValueError("a blind clip shows no findings; leave out findings or blind")
    # Tracks in space have a repetition's own frames, those of a phone have not.
    if any(one.view != "3d" for one in found) and hasattr(shots[0], "points"):
        raise ValueError(
            "findings count the frames of the tracks they were found in; show those tracks"
        )
    shown = footage(*shots, lifter=lifter, bar_kg=bar_kg, camera=camera)
    wanted = tuple(dict.fromkeys(chain(*(fault(one.fault).lines for one in found))))
    marks = dict(marks or {}) | _marks(shown, found)
    return Clip(film(shown, wanted, blind), marks, size, lines=lines and not blind, view=view)


def _marks(shown: Footage, found: list[Any]) -> dict[str, int]:
    """Return where findings are: of a single one also where it begins and ends."""
    moments = ("first", "worst", "last") if len(found) == 1 else ("worst",)
    return {
        f"{fault(one.fault).name}: {moment}": shown.frame_of(one.view, getattr(one, moment))
        for one in found
        for moment in moments
        if getattr(one, moment) is not None
    }


def phases(shown: Footage) -> list[str]:
    """Return which part of its repetition each frame (time,) is, in words."""
    height, found = shown.views[0].places["pelvis"].imag, shown.repetitions
    if not found:
        return [""] * height.size
    frames, between = np.arange(height.size), [(a.end + b.start) // 2 for a, b in pairwise(found)]
    which = np.searchsorted(between, frames)
    bottom = np.array(shown.bottoms)[which]
    way = (height - height[bottom]) / (np.nanmax(height) - height[bottom])
    names = np.select(
        [way >= 1 - STILL, way <= HELD, frames < bottom], ["standing", "lowest point", "down"], "up"
    )
    if len(found) == 1:
        return names.tolist()
    return [f"rep {w + 1} of {len(found)} {name}" for w, name in zip(which, names, strict=True)]


def _sent(film: Film, marks: Mapping[str, int]) -> tuple[dict[str, Any], bytes]:
    """Return what the player is sent: how things look, and where, as 16-bit rows."""
    count = film.footage.time.size
    for words, frame in marks.items():
        if not 0 <= frame < count:
            raise ValueError(f'the mark "{words}" is at frame {frame}; there are {count}')
    words, columns = _indexed(phases(film.footage))
    parts, columns = [], [columns]
    for number, panel in enumerate(film.panels):
        for lines, group in ((False, panel.always), (True, panel.measured)):
            for moving in group:
                part, rows = _part(moving, count)
                parts.append(part | {"panel": number, "lines": lines})
                columns += rows
    shown = {
        "frames": count, "rate": film.footage.rate, "phases": words, "parts": parts, "unit": UNIT,
        "bottoms": film.footage.bottoms, "sentence": film.sentence, "tall": HEIGHT,
        "panels": [{"name": p.name, "left": p.left, "width": p.width} for p in film.panels],
        "measured": any(panel.measured for panel in film.panels),
        "marks": [{"words": words, "frame": frame} for words, frame in marks.items()],
    }  # fmt: skip
    return shown, np.stack(columns, axis=1).astype("<i2").tobytes()


def _indexed(words: str | list[str]) -> tuple[list[str], np.ndarray]:
    different, index = np.unique(words, return_inverse=True)
    return different.tolist(), index.ravel()


def _part(moving: Moving, count: int) -> tuple[dict[str, Any], list[np.ndarray]]:
    """Return how a primitive looks and its columns (time,): x, y of each point, words."""
    places = spots(moving)
    look = {k: v for k, v in moving._asdict().items() if k not in ("points", "centre", "at")}
    part = look | {"kind": type(moving).__name__.lower(), "count": len(places)}
    rows = np.empty((2 * len(places), count))
    for n, place in enumerate(places):
        rows[2 * n], rows[2 * n + 1] = place.real, place.imag
    rows = np.where(np.isnan(rows), LOST, np.clip(np.rint(rows * UNIT), LOST + 1, -LOST - 1))
    columns = list(rows)
    if isinstance(moving, Text):
        part["words"], index = _indexed(moving.words)
        columns.append(np.broadcast_to(index, count))
    elif isinstance(moving, Trail):
        part |= {"dash": "", "smooth": False, "arrow": False}
    return part, columns
