"""What a notebook keeps of a widget for whoever has no kernel."""

from __future__ import annotations

import re
from base64 import b64decode


def drawn(html: str) -> str | bytes:
    """Return the picture of an image element that stands for something that moves."""
    return all_drawn(html)[0]


def all_drawn(html: str) -> list[str | bytes]:
    """Return every picture that stands for something that moves, from left to right."""
    found = re.findall(r'<img class="squatlab-still" src="data:image/([^;]*);base64,([^"]*)"', html)
    return [
        b64decode(data).decode() if kind == "svg+xml" else b64decode(data) for kind, data in found
    ]
