"""Explorers on pages without a kernel: what each shows, stored beside it.

From every preset one slider at a time can be moved; its positions are
all there. A page needs `SCRIPT` once and, for each explorer, `living`.
"""

from __future__ import annotations

import json
import zlib
from base64 import b64encode
from typing import Any

from squatlab.show import controls as ctl
from squatlab.show.controls import Slider, Values
from squatlab.show.explorer import Explorer
from squatlab.show.scripts import EXPLORER, script
from squatlab.show.sweep import Sweep

START = "Reset"
"""The preset that is shown at first: everything as it begins."""

SCRIPT = f"(() => {{\n{script(*EXPLORER, 'page_link.js')}\n}})();"
"""What draws explorers on a page, to be put into a classic script."""

STYLE = script("explorer.css", "clip.css")
"""How explorers look on a page."""


def living(explorer: Explorer) -> str:
    """Return an explorer as an element of a page and the data that move it.

    Choices that change what is computed are left out: they stand as they
    do at the start, or as a preset sets them.
    """
    document, columns = stored(explorer)
    words = json.dumps(document, separators=(",", ":"), ensure_ascii=False).encode()
    # How long the words are, the words, and behind them the columns of all sweeps.
    raw = len(words).to_bytes(4, "little") + words + columns
    data = b64encode(zlib.compress(raw, 9)).decode()
    place = "document.currentScript.previousElementSibling"
    return f"<div></div><script>squatlab.explore({place}, '{data}');</script>"


def stored(explorer: Explorer) -> tuple[dict[str, Any], bytes]:
    """Return everything an explorer can show from each of its presets.

    A document for JSON, and the columns of its sweeps: each header says
    where its own start and how many bytes they are.
    """
    spec = dict(explorer.spec)
    spec["controls"] = [c for c in spec["controls"] if c["kind"] == "slider" or c["turns"]]
    start, columns = explorer.values(), bytearray()
    presets = {START: {}} | explorer.presets
    states = {name: _state(explorer, start | preset, columns) for name, preset in presets.items()}
    return {"spec": spec, "states": states}, bytes(columns)


def _state(explorer: Explorer, values: Values, columns: bytearray) -> dict[str, Any]:
    """Return what is shown at rest, and every position of every slider from there."""
    subject, state = explorer.subject, explorer.subject.build(values)
    shown = subject.one(values, state, None)
    sliders = {name: c for name, c in explorer.controls.items() if isinstance(c, Slider)}
    picture = {
        "values": values,
        "sentence": shown.sentences[0],
        "panes": _kept(shown.sweeps, columns),
        "texts": {name: control.words(values[name], values) for name, control in sliders.items()},
    }
    sweeps = {}
    for name, control in sliders.items():
        if control.enabled(values):
            at = control.positions.tolist()
            sweeps[name] = [
                {"panes": _kept(piece.sweeps, columns), "sentences": piece.sentences}
                for piece in subject.pieces(values, name, at, state)
            ]
    return {"picture": picture, "sweeps": sweeps, "controls": ctl.sent(sliders, values)}


def _kept(sweeps: list[Sweep], columns: bytearray) -> list[dict[str, Any]]:
    """Put sweeps' columns behind the others; return their headers."""
    heads = []
    for sweep in sweeps:
        head, body = sweep.packed()
        heads.append(head | {"start": len(columns)})
        columns += body
    return heads
