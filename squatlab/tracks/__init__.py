"""Recorded points over time: held, read, checked, written; no truth in them."""

from __future__ import annotations

from squatlab.tracks.points import TracksError
from squatlab.tracks.recorded import Tracks, receive

__all__ = ["Tracks", "TracksError", "receive"]
