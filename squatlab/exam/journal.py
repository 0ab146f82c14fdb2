"""Answers kept on disk one by one, so that a crash loses none."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from squatlab.exam import codes
from squatlab.exam.answers import Sheet, possible_answer
from squatlab.exam.forms import Form
from squatlab.questions import files, line_files
from squatlab.questions.kinds import Given


class Journal:
    """Keep a candidate's answers on disk, each before it counts as saved.

    Opening the same path again, after any crash, brings back every answer
    that was saved; half a line at the end is cut off. ``begun`` is when
    `begin` was called first, "" before. ``code`` is the candidate's, which
    proves the hand-in theirs; a trial has none. ``damaged`` lists the lines
    (from 1) that were changed since and are not used; ``set_aside`` is where
    a file with a damaged head was kept. Raises ValueError if the file belongs
    to another form or candidate, which is left as it is, or for a code that
    cannot be.
    """

    def __init__(
        self,
        path: str | Path,
        form: Form,
        candidate: str,
        clock: Callable[[], datetime] = files.now,
        code: str = "",
    ) -> None:
        self.path, self.form, self._clock = Path(path), form, clock
        if code and not codes.possible(code):
            raise ValueError(
                f"“{files.harmless(code)}” is no candidate's code: type the twelve signs of your "
                "slip, such as 7XKQ-M2PD-9RTA"
            )
        self._code, self.has_code = code, bool(code)
        self.candidate = files.identifier("candidate", candidate)
        self.set_aside: Path | None = None
        self._read()

    def _read(self) -> None:
        """Take over what is on the disk, put there by this window or by another."""
        head = {
            "what": "squatlab exam journal",
            "version": files.VERSION,
            "form": self.form.id,
            "seal": self.form.seal,
            "candidate": self.candidate,
        }
        try:
            entries, set_aside = line_files.begin(self.path, head)
        except line_files.AnotherFile:
            raise ValueError(
                f"{self.path.name} was not started by candidate {self.candidate} for form "
                f"{self.form.id}; choose another folder, or the candidate id and form it was "
                "started with"
            ) from None
        self.set_aside = set_aside or self.set_aside
        self.answers: dict[str, Given] = {}
        self.begun = self.handed_in = ""
        entries = [entry if entry is not None and self._fits(entry) else None for entry in entries]
        self.damaged = tuple(n for n, entry in enumerate(entries, 2) if entry is None)
        for entry in filter(None, entries):
            closed = entry.get("handed_in", "")
            # The first stands: to begin again would give more time. If its line was changed, the
            # next time that is known does, so that nobody gains by it.
            self.begun = self.begun or entry.get("begun") or entry.get("at", closed)
            self.handed_in = self.handed_in or closed
            if "item" in entry and not self.handed_in:
                self.answers[entry["item"]] = entry["answer"]

    def _fits(self, entry: line_files.Entry) -> bool:
        """Return whether an entry is one that a journal of this form holds."""
        times = [entry.get(name, "") for name in ("begun", "handed_in", "at")]
        if not all(isinstance(moment, str) for moment in times):
            return False
        if "item" not in entry:
            return True
        if entry["item"] not in self.form.items or "answer" not in entry:
            return False
        try:
            possible_answer(entry["item"], entry["answer"])
        except ValueError:
            return False
        return True

    def _read_again(self) -> None:
        """Take over what another window saved meanwhile.

        A file that was taken away is not begun anew: nothing more could be
        saved as this one's, and what is remembered is shown still.
        """
        if self.path.exists():
            self._read()

    def begin(self) -> None:
        """Start the clock, once: where it runs already, it runs on.

        Raises OSError if that could not be saved: then no time has begun.
        """
        self._read()  # it may have been begun in another window
        if not self.begun:
            moment = files.stamp(self._clock())
            line_files.append(self.path, {"begun": moment})
            self.begun = moment

    def put(self, item: str, answer: Given) -> None:
        """Save an answer; when this returns, it is on the disk.

        A later answer to the same item takes its place. Raises ValueError
        for what is no item or no answer, before `begin` and after handing
        in, OSError if it could not be saved: the earlier one still stands.
        """
        self._read_again()  # it may have been handed in in another window
        self._running()
        if item not in self.form.items:
            raise ValueError(f"form {self.form.id} has no item {item!r}")
        if self.handed_in:
            raise ValueError(f"handed in at {self.handed_in}: answers can no longer be changed")
        possible_answer(item, answer)
        line_files.append(
            self.path, {"item": item, "answer": answer, "at": files.stamp(self._clock())}
        )
        self.answers[item] = answer

    def hand_in(self, path: str | Path) -> Sheet:
        """Write the hand-in file, with all that any window saved, and close the journal.

        Calling it again, say after a crash, writes the same file again.
        """
        self._read_again()
        # The time goes to the journal first: from here on nothing can change, whatever happens.
        if not self.handed_in:
            self._running()
            moment = files.stamp(self._clock())
            line_files.append(self.path, {"handed_in": moment})
            self.handed_in = moment
        sheet = Sheet(
            self.form.id,
            self.form.seal,
            self.candidate,
            dict(self.answers),
            self.handed_in,
            self.begun,
        )
        if self._code:
            sheet = sheet.proven(self._code)
        sheet.write(path)
        return sheet

    def _running(self) -> None:
        """Raise ValueError before the clock was started."""
        if not self.begun:
            raise ValueError("not started yet: press Begin, which starts the clock, then answer")
