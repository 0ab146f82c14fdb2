"""Explorers and clips as data beside a page: all that they can show.

A page without a kernel computes nothing. For every preset, every choice and
every slider an explorer's pictures and words are made here, once. They
travel as text in a script, because a page opened from a folder may load
scripts and nothing else.
"""

from __future__ import annotations

import json
import zlib
from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from itertools import product
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.show.clips import Playing
from squatlab.show.controls import Choice, Slider, Values
from squatlab.show.explorer import Explorer
from squatlab.show.sweep import GONE, Sweep

RESET = "Reset"
"""The preset that is the start."""

EVERY = 2
"""A stored clip has every second frame of the film, 30 a second
[teaching-value]: half the bytes, and a squat still moves smoothly."""


COARSER = 4
"""A stored clip's coordinates are this much coarser than a sweep's: to 1/4 of a picture
unit, about a quarter of a pixel [teaching-value]."""

MOST_STEPS = 24
"""A stored slider has no more even steps [teaching-value]; those of the start and
of the presets come on top."""


class Stored(NamedTuple):
    """Hold what a page needs of something that moves, as JSON.

    ``pieces`` are compressed; what refers to them does so by number, so
    that what is shown twice is kept once.
    """

    head: dict[str, Any]
    pieces: list[str]

    def script(self, name: str) -> str:
        """Return the script that hands it to the page."""
        text = json.dumps(self.head | {"pieces": self.pieces}, separators=(",", ":"))
        return f"squatlabBook.keep({json.dumps(name)}, {text});\n"


class Pieces:
    """Gather compressed pieces, each content once."""

    def __init__(self) -> None:
        self.texts: list[str] = []
        self._known: dict[str, int] = {}

    def add(self, head: Mapping[str, Any], bodies: Iterable[bytes]) -> int:
        """Return the number of a piece: a header in JSON, and bytes behind it."""
        text = piece(head, bodies)
        if text not in self._known:
            self._known[text] = len(self.texts)
            self.texts.append(text)
        return self._known[text]


def piece(head: Mapping[str, Any], bodies: Iterable[bytes]) -> str:
    """Return a header and bytes, compressed, as text."""
    words = json.dumps(head, separators=(",", ":")).encode()
    raw = len(words).to_bytes(4, "little") + words + b"".join(bodies)
    return b64encode(zlib.compress(raw, 9)).decode()


# ---- sweeps


def packed(sweep: Sweep) -> tuple[dict[str, Any], bytes]:
    """Return a sweep's header and bytes, as the page's script undoes them."""
    head, body = sweep.packed()
    return head, _smoothed(head, body)


def _smoothed(head: dict[str, Any], body: bytes) -> bytes:
    """Return columns as differences of differences: movement is smooth, they are near 0."""
    parts, start = [], 0
    for structure in head["structures"]:
        columns = _columns(structure, body, start)
        parts.append(np.diff(columns, axis=1, prepend=np.int16(0)).astype("<i2").tobytes())
        start += columns.nbytes
    return b"".join([*parts, body[start:]])


def _columns(structure: Mapping[str, Any], body: bytes, start: int) -> NDArray[np.int16]:
    shape = len(structure["moves"]), structure["count"]
    columns = np.frombuffer(body, "<i2", shape[0] * shape[1], start)
    return columns.reshape(shape)


# ---- clips


def clip_piece(clip: Playing) -> tuple[dict[str, Any], list[bytes]]:
    """Return a clip's header and bytes, every second frame of it."""
    shown = dict(clip.shown)
    panels, bodies, start = [], [], 0
    for panel in shown["panels"]:
        kept = dict(panel)
        for part in ("figure", "lines"):
            size = panel[part]["bytes"]
            head, body = _thinned(panel[part], clip.film_data[start : start + size])
            start += size
            kept[part] = head
            bodies.append(body)
        panels.append(kept)
    last = (shown["frames"] - 1) // EVERY
    shown |= {
        "frames": last + 1,
        "rate": shown["rate"] / EVERY,
        "sentence": shown["sentence"].replace(
            f"{shown['frames']} frames", f"{last + 1} of its {shown['frames']} frames"
        ),
        "phase": shown["phase"][::EVERY],
        "bottoms": [min(frame // EVERY, last) for frame in shown["bottoms"]],
        "marks": [one | {"frame": min(one["frame"] // EVERY, last)} for one in shown["marks"]],
        "panels": panels,
    }
    return shown, bodies


def _thinned(head: dict[str, Any], body: bytes) -> tuple[dict[str, Any], bytes]:
    """Return one view's sweep over time with every second frame."""
    (structure,) = head["structures"]
    places = np.cumsum(_columns(structure, body, 0), axis=1, dtype=np.int16)[:, ::EVERY]
    coarse = np.where(places == GONE, GONE, np.rint(places / COARSER)).astype(np.int16)
    steps = np.diff(coarse, axis=1, prepend=np.int16(0)).astype("<i2").tobytes()
    words = [index if len(index) == 1 else index[::EVERY] for index in structure["words"]]
    count = len(range(0, structure["count"], EVERY))
    # A text that stood in left-out frames alone has one place now, and is sent as such.
    thin = structure | {
        "count": count,
        "words": words,
        "first": [
            value if value == GONE else round(value / COARSER) for value in structure["first"]
        ],
    }
    head = head | {
        "unit": head["unit"] // COARSER,
        "structures": [thin],
        "structure": head["structure"][::EVERY],
        "row": list(range(count)),
        "alt": head["alt"][::EVERY] if len(head["alt"]) > 1 else head["alt"],
        "bytes": len(steps),
    }
    return head, _smoothed(head, steps)


def stored_clip(clip: Playing) -> Stored:
    """Return a clip as a page keeps it."""
    pieces = Pieces()
    start = {"frame": clip.frame // EVERY, "view": clip.view, "lines": clip.lines}
    number = pieces.add(*clip_piece(clip))
    return Stored({"kind": "clip", "film": number, "start": start}, pieces.texts)


# ---- explorers


def stored_explorer(
    explorer: Explorer,
    fewer: Mapping[str, Sequence[float]] | None = None,
    most: int = MOST_STEPS,
    together: Sequence[str] = (),
) -> Stored:
    """Return all that an explorer can show, from every preset and choice.

    One slider moves at a time, through ``most`` of its steps, or through
    those in ``fewer``. The sliders in ``together`` move at once: every combination
    of their steps is kept. Raises KeyError for a slider that is not there.
    """
    steps = _steps(explorer, fewer or {}, most)
    choices = {
        name: control
        for name, control in explorer.controls.items()
        if isinstance(control, Choice) and not control.turns
    }
    pieces, stations, known = Pieces(), {}, {}
    explorer.reset()
    start = explorer.values()
    spec = dict(explorer.spec)
    # Every preset with every choice is a station: from there a slider moves.
    for chosen in product(*([value for _, value in one.options] for one in choices.values())):
        for preset in [RESET, *explorer.presets]:
            _enter(explorer, dict(zip(choices, chosen, strict=True)), preset)
            values = tuple(explorer.values().values())
            if values not in known:  # a preset of choices alone is the start with these choices
                at = steps if not together else {name: steps[name] for name in together}
                known[values] = pieces.add(*_station(explorer, at, pieces, bool(together), start))
            stations["|".join([preset, *chosen])] = known[values]
    presets = {
        name: {key: value for key, value in wanted.items() if key in choices}
        for name, wanted in {RESET: {}, **explorer.presets}.items()
    }
    controls = [
        one | ({"at": list(steps[one["name"]])} if one["kind"] == "slider" else {})
        for one in spec["controls"]
    ]
    head = {
        "kind": "explorer",
        "spec": spec | {"controls": controls},
        "choices": {name: start[name] for name in choices},
        "presets": presets,
        "stations": stations,
        "together": list(together),
    }
    return Stored(head, pieces.texts)


def _steps(
    explorer: Explorer, fewer: Mapping[str, Sequence[float]], most: int
) -> dict[str, tuple[float, ...]]:
    sliders = {
        name: control for name, control in explorer.controls.items() if isinstance(control, Slider)
    }
    for name in fewer:
        if name not in sliders:
            raise KeyError(f"no slider {name!r}; there are {', '.join(sliders)}")
    return {
        name: tuple(fewer[name]) if name in fewer else _kept_steps(explorer, name, most)
        for name, control in sliders.items()
    }


def _kept_steps(explorer: Explorer, name: str, most: int) -> tuple[float, ...]:
    """Return evenly chosen steps of a slider, the start's and the presets' among them."""
    control = explorer.controls[name]
    every = control.positions
    stride = -(-len(every) // most)
    named = {control.value, *(one[name] for one in explorer.presets.values() if name in one)}
    return tuple(sorted({*every[::stride].tolist(), every[-1].item(), *map(float, named)}))


def _enter(explorer: Explorer, chosen: Values, preset: str) -> None:
    """Make the choices from the start, then press a preset, which leaves them as they are."""
    explorer.reset()
    for name, value in chosen.items():
        setattr(explorer, name, value)
    if preset != RESET:
        wanted = explorer.presets[preset]
        explorer.set({name: value for name, value in wanted.items() if name not in chosen})


def _station(
    explorer: Explorer,
    steps: Mapping[str, Sequence[float]],
    pieces: Pieces,
    grid: bool,
    start: Values,
) -> tuple[dict[str, Any], list[bytes]]:
    """Return what is seen at a station, and where each slider leads from there."""
    values, before = explorer.values(), explorer.posture
    described = {one["name"]: one for one in explorer.spec["controls"]}
    rest = [packed(sweep) for sweep in explorer.sweeps]
    bodies = [body for _, body in rest]
    words, sweeps = {}, {}
    moved = _moved(explorer, steps, values, start, grid)
    for name, control in explorer.controls.items():
        if isinstance(control, Slider):
            texts = [control.words(value, values) for value in steps.get(name, ())]
            words[name] = {
                "texts": texts,
                "text": control.words(values[name], values),
                "enabled": described[name]["enabled"] and (name in moved or grid),
            }
    for name, at in moved.items():
        shown = explorer.subject.every(values, at, before)
        heads = [packed(sweep) for sweep in shown.sweeps]
        bodies += [body for _, body in heads]
        sweeps[name] = {"panes": [head for head, _ in heads], "sentences": shown.sentences}
    head = {
        "values": values,
        "words": words,
        "sentence": explorer.sentence,
        "panes": [head for head, _ in rest],
        "sweeps": sweeps,
    }
    if isinstance(explorer, Playing):
        head |= _films(explorer, moved, pieces)
    return head, bodies


GRID = "grid"
"""The name of the sweep of all sliders that move together, the last one fastest."""


def _moved(
    explorer: Explorer,
    steps: Mapping[str, Sequence[float]],
    values: Values,
    start: Values,
    grid: bool,
) -> dict[str, dict[str, Sequence[float]]]:
    """Return by the name of a sweep which sliders move in it, and where to."""
    if grid:
        corners = np.meshgrid(*steps.values(), indexing="ij")
        return {GRID: {name: at.ravel() for name, at in zip(steps, corners, strict=True)}}
    moved = {
        name: {name: at} for name, at in steps.items() if explorer.controls[name].enabled(values)
    }
    # Films are large: only the first slider leads on from everywhere, the others from the start.
    if isinstance(explorer, Playing):
        first = next(iter(moved))
        if values[first] != start[first]:
            moved = {first: moved[first]}
    return moved


def _films(
    explorer: Explorer, moved: Mapping[str, Mapping[str, Sequence[float]]], pieces: Pieces
) -> dict[str, Any]:
    """Return the numbers of the films at a station and at each slider's steps."""
    values = explorer.values()
    films = {"film": _film(explorer, pieces), "films": {}}
    for name in moved:
        numbers = []
        for value in moved[name][name]:
            setattr(explorer, name, value)
            numbers.append(_film(explorer, pieces))
        setattr(explorer, name, values[name])
        films["films"][name] = numbers
    return films


def _film(explorer: Playing, pieces: Pieces) -> dict[str, int]:
    """Return the number of the film that is shown now, and its frame that shows most."""
    shown, bodies = clip_piece(explorer)
    frames = [mark["frame"] for mark in shown["marks"]] or [explorer.frame // EVERY]
    return {"piece": pieces.add(shown, bodies), "frame": frames[0]}
