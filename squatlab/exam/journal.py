"""Answers kept on disk one by one, so that a crash loses none."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from squatlab.exam import files
from squatlab.exam.answers import Given, Sheet, possible
from squatlab.exam.forms import Form


class Journal:
    """Keep a candidate's answers on disk, each before it counts as saved.

    Opening the same path again, after any crash, brings back every answer
    that was saved; half a line at the end is cut off. ``damaged`` lists the
    lines (from 1) that were changed since and are not used. Raises
    ValueError if the file belongs to another form or candidate.
    """

    def __init__(
        self,
        path: str | Path,
        form: Form,
        candidate: str,
        clock: Callable[[], datetime] = files.now,
    ) -> None:
        self.path, self.form, self._clock = Path(path), form, clock
        self.candidate = files.identifier("candidate", candidate)
        self.answers: dict[str, Given] = {}
        self.handed_in = ""
        self.damaged: tuple[int, ...] = ()
        head = {
            "what": "squatlab exam journal", "version": files.VERSION, "form": form.id,
            "seal": form.seal, "candidate": candidate,
        }  # fmt: skip
        kept = self.path.read_bytes() if self.path.exists() else b""
        whole = kept[: kept.rfind(b"\n") + 1]
        if not whole:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            files.write_whole(self.path, _line(head), mode=0o600)
            return
        if len(whole) < len(kept):
            # Otherwise the next answer would be glued to the torn one, and lost with it.
            os.truncate(self.path, len(whole))
        lines = [_entry(line) for line in whole.splitlines()]
        if lines[0] != head:
            raise ValueError(
                f"{self.path.name} was not begun by candidate {candidate} for form {form.id}; "
                "choose another folder, or the candidate id and form it was begun with"
            )
        self.damaged = tuple(n for n, entry in enumerate(lines, 1) if entry is None)
        for entry in lines[1:]:
            if entry and "item" in entry:
                self.answers[entry["item"]] = entry["answer"]
            elif entry:
                self.handed_in = entry["handed_in"]

    def put(self, item: str, answer: Given) -> None:
        """Save an answer; when this returns, it is on the disk.

        A later answer to the same item takes its place. Raises ValueError
        for what is no item or no answer and after handing in, OSError if it
        could not be saved: then the earlier answer still stands.
        """
        if item not in self.form.items:
            raise ValueError(f"form {self.form.id} has no item {item!r}")
        if self.handed_in:
            raise ValueError(f"handed in at {self.handed_in}: answers can no longer be changed")
        possible(item, answer)
        self._append({"item": item, "answer": answer, "at": files.stamp(self._clock())})
        self.answers[item] = answer

    def hand_in(self, path: str | Path) -> Sheet:
        """Write the hand-in file and close the journal.

        Calling it again, say after a crash, writes the same file again.
        """
        # The time goes to the journal first: from here on nothing can change, whatever happens.
        if not self.handed_in:
            moment = files.stamp(self._clock())
            self._append({"handed_in": moment})
            self.handed_in = moment
        sheet = Sheet(
            self.form.id, self.form.seal, self.candidate, dict(self.answers), self.handed_in
        )
        sheet.write(path)
        return sheet

    def _append(self, entry: dict[str, object]) -> None:
        descriptor = os.open(self.path, os.O_WRONLY | os.O_APPEND)
        before = os.fstat(descriptor).st_size
        try:
            line = _line(entry).encode()
            while line:  # a full disk may take a part of it first
                line = line[os.write(descriptor, line) :]
            os.fsync(descriptor)
        except OSError as problem:
            os.ftruncate(descriptor, before)
            raise OSError(
                problem.errno,
                f"this answer was NOT saved ({problem.strerror}); the earlier ones are safe. Make "
                "room on the disk, then answer again",
            ) from problem
        finally:
            os.close(descriptor)


def _line(entry: dict[str, object]) -> str:
    return files.canonical([entry, files.fingerprint(entry)[:16]]) + "\n"


def _entry(line: bytes) -> dict | None:
    """Return a line's entry, or None if the line was changed."""
    try:
        entry, check = json.loads(line)
        return entry if files.fingerprint(entry)[:16] == check else None
    except (ValueError, TypeError, RecursionError):
        return None
