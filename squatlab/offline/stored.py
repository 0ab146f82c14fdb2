"""Explorers and clips as data beside a page: all that they can show.

A page without a kernel computes nothing. For every preset, every choice and
every slider an explorer's pictures and words are made here, once. They
travel as text in a script, because a page opened from a folder may load
scripts and nothing else. `cells` finds what is to be stored, `stored.js`
reads it in the page.

Words used here: a *station* is a preset with a choice, from where one slider
moves at a time; a *piece* is a header and numbers, compressed, as text.
"""

from __future__ import annotations

import json
import zlib
from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from itertools import product
from math import ceil
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.offline.joined import joined
from squatlab.show.clips import Playing
from squatlab.show.controls import Choice, Slider, Values
from squatlab.show.explorer import Explorer
from squatlab.show.moving import Moving, placed_at, spots
from squatlab.show.primitives import Disc, Text
from squatlab.show.sweep import GONE, Sweep, whole

RESET = "Reset"
"""The preset that is the start."""

EVERY = 2
"""A stored clip has every second frame of the film, 30 a second
[teaching-value]: half the bytes, and a squat still moves smoothly."""

COARSER = 8
"""A stored clip's coordinates are this much coarser than a sweep's: to 1/2 of a picture
unit, off by a quarter of a pixel at most [teaching-value]."""

EIGHTHS = 2
"""A stored explorer's coordinates are this much coarser than a sweep's: to 1/8 of a picture
unit, off by 1/16 at most, which nobody sees [teaching-value]."""

MOST_STEPS = 24
"""A stored slider has no more even steps [teaching-value]; those of the start and
of the presets come on top."""


class Stored(NamedTuple):
    """Hold what a page needs of something that moves, as JSON.

    ``pieces`` are compressed; what refers to them does so by number, so
    that what is shown twice is kept once. ``looks`` is the number of the
    piece with the looks of all parts.
    """

    head: dict[str, Any]
    pieces: list[str]
    looks: int | None = None

    def script(self, name: str) -> str:
        """Return the script that hands it to the page."""
        whole = self.head | {"looks": self.looks, "pieces": self.pieces}
        text = json.dumps(whole, separators=(",", ":"))
        return f"squatlabBook.keep({json.dumps(name)}, {text});\n"


class Pieces:
    """Gather what is stored of one thing: compressed pieces, each content once.

    Structures of all its sweeps have their parts' looks in common.
    """

    def __init__(self) -> None:
        self.texts: list[str] = []
        self._known: dict[str, int] = {}
        self._looks: dict[str, int] = {}

    def add(self, head: Mapping[str, Any], bodies: Iterable[bytes] = ()) -> int:
        """Return the number of a piece: a header in JSON, and bytes behind it."""
        text = piece(head, bodies)
        if text not in self._known:
            self._known[text] = len(self.texts)
            self.texts.append(text)
        return self._known[text]

    def sweep(self, sweep: Sweep, coarser: int = 1) -> tuple[dict[str, Any], bytes]:
        """Return a sweep's header and bytes, as the page's script undoes them.

        The header is that of `squatlab.show.sweep.Sweep.sent` with the
        number of its looks in place of a structure's parts. Coordinates
        are ``coarser`` times as coarse as a sweep's.
        """
        head, body = sweep.sent()
        structures, steps, start = [], [], 0
        for structure in head["structures"]:
            numbers = len(structure["moves"]) * structure["count"]
            columns = np.frombuffer(body, "<i2", numbers, start)
            start += columns.nbytes
            table = _table(structure, columns.reshape(-1, structure["count"]))
            # What moves by less than a coarse step need not be kept as moving.
            coarse = _coarse(table, coarser)
            moves = np.flatnonzero((coarse != coarse[:, :1]).any(axis=1))
            steps += [coarse[:, 0], np.diff(coarse[moves], axis=1).ravel()]
            looks = json.dumps(structure["parts"], separators=(",", ":"))
            structures.append(
                {
                    "count": structure["count"],
                    "looks": self._looks.setdefault(looks, len(self._looks)),
                    "coordinates": len(coarse),
                    "moves": moves.tolist(),
                    "words": structure["words"],
                }
            )
        head |= {"unit": head["unit"] // coarser, "structures": structures}
        # Behind the columns are the cells of tiles, a byte each already.
        return head, small(np.concatenate(steps)) + body[start:]

    def stored(self, head: dict[str, Any]) -> Stored:
        """Return all pieces under a head."""
        looks = self.add({"looks": [json.loads(looks) for looks in self._looks]})
        return Stored(head, self.texts, looks)


def piece(head: Mapping[str, Any], bodies: Iterable[bytes]) -> str:
    """Return a header and bytes, compressed, as text."""
    words = json.dumps(head, separators=(",", ":"), ensure_ascii=False).encode()
    raw = len(words).to_bytes(4, "little") + words + b"".join(bodies)
    return b64encode(zlib.compress(raw, 9)).decode()


# ---- numbers


def _table(structure: Mapping[str, Any], steps: NDArray[np.int16]) -> NDArray[np.int16]:
    """Return every coordinate (coordinate, row) of a structure that was sent."""
    first = np.array(structure["first"], np.int16)
    table = np.repeat(first[:, None], structure["count"], axis=1)
    table[structure["moves"]] = np.cumsum(steps, axis=1, dtype=np.int16)
    return table


def _coarse(table: NDArray[np.int16], coarser: int) -> NDArray[np.int16]:
    """Return coordinates in steps so many times as large; what has no place has none."""
    return np.where(table == GONE, GONE, np.rint(table / coarser)).astype(np.int16)


LARGE = 255
"""Stands in the bytes of `small` for a number that has no room there."""


def small(numbers: NDArray[np.int16]) -> bytes:
    """Return 16-bit numbers, most of them near 0, a byte each where that is enough.

    0, −1, 1, −2, 2, … become 0, 1, 2, 3, 4, …; those from `LARGE` on follow
    behind, two bytes each. How many there are of all, the reader knows.
    """
    # Zigzag code: 2n for n ≥ 0, −2n − 1 below; n >> 15 is 0 or −1, all bits of the sign.
    folded = ((numbers << 1) ^ (numbers >> 15)).view(np.uint16)
    near = np.minimum(folded, LARGE).astype(np.uint8)
    return near.tobytes() + folded[folded >= LARGE].astype("<u2").tobytes()


# ---- clips


def clip_piece(clip: Playing, pieces: Pieces) -> int:
    """Return the number of the piece of a clip: every second frame of it."""
    shown = dict(clip.shown)
    panels, bodies = [], []
    for panel, film_panel in zip(shown["panels"], clip.film.panels, strict=True):
        stored_panel = dict(panel)
        for part, sweep in zip(("figure", "lines"), clip.film.sweeps(film_panel), strict=True):
            stored_panel[part], body = pieces.sweep(every_second(sweep), COARSER)
            bodies.append(body)
        panels.append(stored_panel)
    last = (shown["frames"] - 1) // EVERY
    shown |= {
        "frames": last + 1,
        "rate": shown["rate"] / EVERY,
        "sentences": sentences_of(shown),
        "phase": shown["phase"][::EVERY],
        "bottoms": [min(frame // EVERY, last) for frame in shown["bottoms"]],
        "marks": [mark | {"frame": min(mark["frame"] // EVERY, last)} for mark in shown["marks"]],
        "panels": panels,
    }
    return pieces.add(shown, bodies)


def sentences_of(shown: Mapping[str, Any]) -> dict[str, str]:
    """Return what is said of a clip's views, with how many of its frames are kept."""
    frames = shown["frames"]
    moments = (frames - 1) // EVERY + 1
    words, instead = f"{frames} frames", f"{moments} of its {frames} frames"
    return {view: sentence.replace(words, instead) for view, sentence in shown["sentences"].items()}


def every_second(sweep: Sweep) -> Sweep:
    """Return a film's sweep, of one structure, with every second frame."""
    (structure,) = sweep.structures
    count = len(range(0, structure.count, EVERY))
    parts = tuple(_thinned(part) for part in structure.parts)
    alt = sweep.alt[::EVERY] if len(sweep.alt) > 1 else sweep.alt
    return whole(parts, sweep.bounds, count, alt)


def _thinned(part: Moving) -> Moving:
    """Return a part with every second of its frames."""
    points = tuple(spot[::EVERY] if np.ndim(spot) else spot for spot in spots(part))
    thin = placed_at(part, points)
    if isinstance(thin, Text) and not isinstance(thin.words, str):
        return thin._replace(words=thin.words[::EVERY])
    if isinstance(thin, Disc) and np.ndim(thin.radius):
        return thin._replace(radius=thin.radius[::EVERY])
    return thin


def stored_clip(clip: Playing) -> Stored:
    """Return a clip as a page keeps it."""
    pieces = Pieces()
    start = {"frame": clip.frame // EVERY, "view": clip.view, "lines": clip.lines}
    return pieces.stored({"kind": "clip", "film": clip_piece(clip, pieces), "start": start})


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
    explorer.reset()
    start, spec = explorer.values(), dict(explorer.spec)
    pieces, gathered = Pieces(), _Gathered()
    # Every preset with every choice is a station: from there a slider moves. Its name is the
    # preset's and those of the choices; two that come to the same values share a number.
    moving = {name: steps[name] for name in together} if together else steps
    stations: dict[str, int] = {}
    number_of: dict[tuple, int] = {}
    options = [[value for _, value in choice.options] for choice in choices.values()]
    for chosen in product(*options):
        for preset in [RESET, *explorer.presets]:
            _enter(explorer, dict(zip(choices, chosen, strict=True)), preset)
            values = tuple(explorer.values().values())
            if values not in number_of:  # a preset of choices alone is the start with these
                number_of[values] = len(number_of)
                gathered.station(explorer, moving, pieces, bool(together), start)
            stations["|".join([preset, *chosen])] = number_of[values]
    chosen_by_preset: dict[str, Values] = {RESET: {}}
    for preset, wanted in explorer.presets.items():
        chosen_by_preset[preset] = {key: wanted[key] for key in wanted if key in choices}
    return pieces.stored(
        {
            "kind": "explorer",
            "spec": spec | {"panes": _panes(explorer), "controls": _controls(spec, steps)},
            "choices": {name: start[name] for name in choices},
            "presets": chosen_by_preset,
            "stations": stations,
            "together": list(together),
            "shown": gathered.added_to(pieces),
        }
    )


def _panes(explorer: Explorer) -> list[dict[str, Any]]:
    """Return what the page knows of each pane: what a browser is sent, and its height."""
    described = zip(explorer.spec["panes"], explorer.subject.panes, strict=True)
    return [sent | {"height": pane.height} for sent, pane in described]


def _controls(
    spec: Mapping[str, Any], steps: Mapping[str, Sequence[float]]
) -> list[dict[str, Any]]:
    """Return what the page knows of each control; of a slider only the steps that are kept."""
    controls = []
    for control in spec["controls"]:
        if control["kind"] == "slider":
            control = control | {"at": list(steps[control["name"]])}
        controls.append(control)
    return controls


def _steps(
    explorer: Explorer, fewer: Mapping[str, Sequence[float]], most: int
) -> dict[str, tuple[float, ...]]:
    """Return the steps of every slider that are kept, by name.

    Raises KeyError for a name in ``fewer`` that no slider has.
    """
    sliders = [name for name, control in explorer.controls.items() if isinstance(control, Slider)]
    for name in fewer:
        if name not in sliders:
            raise KeyError(f"no slider {name!r}; there are {', '.join(sliders)}")
    steps = {}
    for name in sliders:
        steps[name] = tuple(fewer[name]) if name in fewer else _even_steps(explorer, name, most)
    return steps


def _even_steps(explorer: Explorer, name: str, most: int) -> tuple[float, ...]:
    """Return evenly chosen steps of a slider, the start's and the presets' among them."""
    control = explorer.controls[name]
    every = control.positions
    steps = {*every[:: ceil(len(every) / most)].tolist(), every[-1].item(), float(control.value)}
    for preset in explorer.presets.values():
        if name in preset:
            steps.add(float(preset[name]))
    return tuple(sorted(steps))


def _enter(explorer: Explorer, chosen: Values, preset: str) -> None:
    """Make the choices from the start, then press a preset, which leaves them as they are."""
    explorer.reset()
    for name, value in chosen.items():
        setattr(explorer, name, value)
    if preset != RESET:
        wanted = explorer.presets[preset]
        explorer.set({name: value for name, value in wanted.items() if name not in chosen})


class _Gathered:
    """Gather the pictures of all stations and sweeps of an explorer."""

    def __init__(self) -> None:
        self._stations: list[dict[str, Any]] = []
        self._panes: list[list[Sweep]] = []
        self._count = 0

    def station(
        self,
        explorer: Explorer,
        steps: Mapping[str, Sequence[float]],
        pieces: Pieces,
        grid: bool,
        start: Values,
    ) -> None:
        """Add what is seen at a station, and where each slider leads from there."""
        values, before = explorer.values(), explorer.posture
        moved = _moved(explorer, steps, values, start, grid)
        words, sweeps = {}, {}
        for name, control in explorer.controls.items():
            if isinstance(control, Slider):
                words[name] = {
                    "texts": [control.words(value, values) for value in steps.get(name, ())],
                    "text": control.words(values[name], values),
                    "enabled": control.enabled(values) and (name in moved or grid),
                }
        rest = self._placed(explorer.sweeps)
        for name, at in moved.items():
            shown = explorer.subject.every(values, at, before)
            sweeps[name] = self._placed(shown.sweeps) | {"sentences": shown.sentences}
        station = {"values": values, "words": words, "sentence": explorer.sentence}
        station |= {"rest": rest, "sweeps": sweeps}
        if isinstance(explorer, Playing):
            station |= _films(explorer, moved, pieces)
        self._stations.append(station)

    def _placed(self, sweeps: Sequence[Sweep]) -> dict[str, Any]:
        """Add the panes' sweeps of some positions; return where they stand among all."""
        if not self._panes:
            self._panes = [[] for _ in sweeps]
        for pane, sweep in zip(self._panes, sweeps, strict=True):
            pane.append(sweep)
        place = {"from": self._count, "bounds": [sweep.bounds for sweep in sweeps]}
        self._count += len(sweeps[0])
        return place

    def added_to(self, pieces: Pieces) -> int:
        """Return the number of the piece that has it all."""
        packed = [pieces.sweep(joined(sweeps), EIGHTHS) for sweeps in self._panes]
        head = {"stations": self._stations, "panes": [head for head, _ in packed]}
        return pieces.add(head, [body for _, body in packed])


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
    at_rest, by_slider = _film(explorer, pieces), {}
    for name, at in moved.items():
        numbers = []
        for value in at[name]:
            setattr(explorer, name, value)
            numbers.append(_film(explorer, pieces))
        setattr(explorer, name, values[name])
        by_slider[name] = numbers
    return {"film": at_rest, "films": by_slider}


def _film(explorer: Playing, pieces: Pieces) -> dict[str, int]:
    """Return the number of the film that is shown now, and its frame that shows most."""
    shown = [mark["frame"] for mark in explorer.shown["marks"]]
    frame = shown[0] if shown else explorer.frame
    return {"piece": clip_piece(explorer, pieces), "frame": frame // EVERY}
