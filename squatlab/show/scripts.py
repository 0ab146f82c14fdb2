"""The JavaScript of what is shown, from its files."""

from __future__ import annotations

from pathlib import Path

PLAYING = ("elements.js", "playing.js")
"""What every clip needs, whatever draws it: elements of a page, the time, keys."""

CLIP = (*PLAYING, "drawing.js", "clip.js", "clip_link.js")
"""A clip of sweeps, and what it hears from a widget's model."""

EXPLORER = (*CLIP, "exploring.js")
"""An explorer, which may hold a clip."""


def script(*files: str | Path) -> str:
    """Return files of JavaScript as one; a name alone is one of this folder's."""
    folder = Path(__file__).parent
    return "\n".join((folder / file).read_text("utf-8") for file in files)
