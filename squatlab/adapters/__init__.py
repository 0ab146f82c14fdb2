"""Recorded positions in open formats: CSV, motion capture as C3D, COCO key points as JSON."""

from __future__ import annotations

from squatlab.adapters.registry import contents, format_of, read

__all__ = ["contents", "format_of", "read"]
