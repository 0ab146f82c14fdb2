"""Recorded points over time: held, read, checked, written; no truth in them."""

from __future__ import annotations

from squatlab.tracks.tracks import Tracks, TracksError

__all__ = ["Tracks", "TracksError"]
