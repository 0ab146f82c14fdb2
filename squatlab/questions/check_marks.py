"""How the checks of the notebooks were answered: kept line by line, with the work."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from squatlab.questions import files, line_files
from squatlab.questions.asking import TRIES

HEAD = {"what": "squatlab checks", "version": files.VERSION}


class CheckMark(NamedTuple):
    """Hold how one check ended.

    ``check`` and ``seed`` name its question, ``right`` says whether the
    answer was found, after so many ``tries``. ``occasion`` is "" for a
    check of a notebook.
    """

    check: str
    seed: int
    right: bool
    tries: int
    occasion: str = ""

    @property
    def at_once(self) -> bool:
        """Return whether the first answer was right."""
        return self.right and self.tries == 1


def _mark(entry: line_files.Entry | None) -> CheckMark | None:
    """Return what an entry says, or None for one that was changed or has another shape."""
    try:
        mark = CheckMark(*(entry[name] for name in CheckMark._fields))
    except (KeyError, TypeError):
        return None
    words = all(isinstance(each, str) for each in (mark.check, mark.occasion))
    numbers = type(mark.seed) is int and type(mark.tries) is int and 0 <= mark.tries <= TRIES
    return mark if words and numbers and isinstance(mark.right, bool) else None


class CheckMarks:
    """Keep marks in a file; opening it again goes on from there.

    The file is begun with the first mark. ``damaged`` counts lines that
    were changed since and are left out. Raises ValueError for a file of
    another kind.
    """

    def __init__(self, path: str | Path, clock: Callable[[], datetime] = files.now) -> None:
        self.path, self._clock = Path(path), clock

    def all(self) -> tuple[CheckMark, ...]:
        """Return every mark, in the order in which they were earned.

        Read anew each time: every notebook that is open adds to the file.
        """
        return tuple(mark for mark in self._read() if mark)

    @property
    def damaged(self) -> int:
        """Return how many lines were changed since and are left out."""
        return sum(mark is None for mark in self._read())

    def _read(self) -> list[CheckMark | None]:
        """Return the mark of each line, None for one that was changed."""
        if not self.path.exists():
            return []
        try:
            return [_mark(entry) for entry in line_files.begin(self.path, HEAD).entries]
        except line_files.AnotherFile:
            raise ValueError(
                f"{self.path.name} holds no checks and was left as it is; move it elsewhere"
            ) from None

    def put(self, mark: CheckMark) -> datetime:
        """Save a mark and return when; it is on the disk then.

        Raises OSError that says what to do if it could not be saved.
        """
        moment = self._clock()
        line_files.begin(self.path, HEAD)
        line_files.append(self.path, mark._asdict() | {"at": files.stamp(moment)})
        return moment
