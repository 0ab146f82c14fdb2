"""What squatlab asks of a format of recorded positions: how to know, list and read it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from squatlab.tracks import Tracks
from squatlab.tracks.naming import likely_name


class Listing(NamedTuple):
    """Hold what a file has before it is read: length, labels, share seen.

    ``seen`` has one share, 0 to 1, for each label; nan is not known.
    """

    about: str
    labels: Sequence[str]
    seen: Sequence[float]


@dataclass(frozen=True)
class Format:
    """Describe one kind of file.

    A file is of this kind if its name ends in one of ``suffixes``, or, with
    any other ending, if ``begins_like`` says so of its first bytes.
    ``read`` takes the path and the keywords in ``takes``; ``fixed`` are
    keywords that every such file decides itself, with their value.
    ``meaning`` says what a label means to us, or returns it unchanged.
    """

    name: str
    suffixes: tuple[str, ...]
    begins_like: Callable[[bytes], bool]
    listing: Callable[[Path], Listing]
    read: Callable[..., Tracks]
    takes: frozenset[str]
    fixed: Mapping[str, Any] = field(default_factory=dict)
    meaning: Callable[[str], str] = likely_name
