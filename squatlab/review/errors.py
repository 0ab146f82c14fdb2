"""What a review raises: for people outside, and inside the room for one fault."""

from __future__ import annotations


class ReviewError(ValueError):
    """Say what was given, what is needed and what to do next."""


class CannotTell(Exception):
    """Say why a view cannot show a quantity or a fault; never leaves the room."""
