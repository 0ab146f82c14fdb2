"""The hall of a served exam: what a candidate and the certifier may ask, and the answers.

It knows nothing of pages and requests. Time, answers and incidents are the
records': whatever is told to anybody was read from them or written to them
before. Writers wait in one line, readers in another, so that no page waits
for a database that another page has locked.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from datetime import datetime
from functools import partial
from typing import Any, NamedTuple, TypeVar

from squatlab.exam.forms import FormKey
from squatlab.exam.marking import mark
from squatlab.exam.notices import notices
from squatlab.exam.package import Package, shown
from squatlab.exam.records import (
    Opening,
    Records,
    RecordsError,
    credited,
    incidents,
    known_by,
    note_incident,
    openings,
    served,
    standing,
)

Returned = TypeVar("Returned")

STALE_S = 15.0
"""How old what the certifier sees may be if another program changes the records."""


class Clipped(NamedTuple):
    """Hold the pictures of one lift, and how to put them together."""

    head: dict[str, Any]
    sheets: tuple[bytes, ...]


class Hall:
    """Serve one form to those who were given it; `open` makes one.

    ``words`` names the candidates with whom lifts in words were agreed.
    Every method that a page causes is asynchronous; the work itself is
    done in threads.
    """

    def __init__(
        self, package: Package, key: FormKey, records: Records, words: Iterable[str] = ()
    ) -> None:
        package.check(key)
        self.package, self.form, self.key, self.records = package, package.form, key, records
        self.words = frozenset(words)
        self._writing = ThreadPoolExecutor(1, "exam writer")
        self._reading = ThreadPoolExecutor(3, "exam reader")
        self._openings: dict[int, Opening] = {}
        self._sittings: dict[int, served.ServedSitting] = {}
        self._seen: dict[int, str] = {}
        self._read_at = ""

    async def start(self) -> None:
        """Sign the records and look up who has begun."""
        await self._write(self.records.sign)
        await self.refresh()

    async def stop(self) -> None:
        """Sign the records; sittings that run go on when the hall opens again."""
        await self._write(self.records.sign)
        self._writing.shutdown()
        self._reading.shutdown()

    async def refresh(self) -> None:
        """Read who was given the form, and where everybody stands."""

        def read() -> tuple[dict[int, Opening], dict[int, served.ServedSitting]]:
            opened = {
                opening_read.number: opening_read
                for opening_read in openings(self.records, self.form.id)
            }
            return opened, {number: served.sitting(self.records, number) for number in opened}

        known = dict(self._sittings)
        opened, sittings = await self._read(read)
        self._openings |= opened
        for number, state in sittings.items():
            # What came in while this was read is newer than it.
            if self._sittings.get(number) is known.get(number):
                self._sittings[number] = state
        self._read_at = self.records.now

    async def enter(self, candidate: str, code: str) -> Opening | None:
        """Return the opening that a code proves, None for a wrong one."""
        opening = await self._read(known_by, self.records, self.form.id, candidate, code)
        if opening is not None:
            self._openings[opening.number] = opening
            await self._look(opening.number)
        return opening

    async def page(self, opening: int) -> dict[str, Any]:
        """Return what the candidate's page shows now: a notice or the questions' places.

        A sitting whose time is over is handed in first.
        """
        state = await self._current(opening)
        if state.begun and not state.running and not state.handed_in:
            await self._end_if_over(opening)
            state = self._sittings[opening]
        if not state.begun:
            shows = self._before(opening)
        elif state.running:
            shows = self._during(state)
        else:
            shows = self._after(state)
        shows |= {"form": self.form.id, "candidate": self._openings[opening].candidate}
        return {"page": shows, "answers": state.answers, "message": self._welcome(state)}

    async def begin(self, opening: int) -> None:
        """Start the clock, once."""
        self._sittings[opening] = await self._write(served.begin, self.records, opening)

    async def save(self, opening: int, item: str, given: Any) -> str:
        """Save an answer; return when. ValueError or RecordsError say why not."""
        question = self.package.questions.get(item)
        if question is None:
            raise ValueError("the form has no such question")
        answer = None if given is None else question.how.check(question, given)
        at = await self._write(served.save, self.records, opening, self.form, item, answer)
        answers = dict(self._sittings[opening].answers)
        if answer is None:
            answers.pop(item, None)
        else:
            answers[item] = answer
        self._sittings[opening] = self._sittings[opening]._replace(answers=answers)
        return at

    async def end(self, opening: int) -> str:
        """Hand in what was saved; return the receipt. Ending again changes nothing."""
        handed = await self._write(served.end, self.records, opening, self.form)
        await self._look(opening)
        return handed.receipt

    async def _end_if_over(self, opening: int) -> None:
        """Hand in what was saved, unless the sitting was extended meanwhile."""
        await self._write(served.end_if_over, self.records, opening, self.form)
        await self._look(opening)

    async def question(self, opening: int, item: str) -> dict[str, Any]:
        """Return one question, while the clock runs; RecordsError before and after."""
        await self._must_run(opening)
        question = self.package.questions.get(item)
        if question is None:
            raise ValueError("the form has no such question")
        account = question.account if self._openings[opening].candidate in self.words else None
        return {
            "item": item,
            "control": question.how.control,
            "prompt": question.text,
            "unit": question.unit,
            "lift": question.clip is not None,
            "options": [[option, shown(option)] for option in question.options],
            "text": account and asdict(account),
        }

    async def clip(self, opening: int, item: str) -> Clipped:
        """Return the pictures of one question's lift, while the clock runs."""
        await self._must_run(opening)
        if item not in self.package.questions or self.package.questions[item].clip is None:
            raise ValueError("this question shows no lift")
        clip = await self._read(self.package.clip, item)
        head = asdict(clip) | {"sheets": [len(sheet) for sheet in clip.sheets]}
        return Clipped(head, clip.sheets)

    async def end_what_is_over(self) -> None:
        """Hand in the sittings whose time is over, as they stand at their end."""
        now = self.records.now
        for opening, state in list(self._sittings.items()):
            if state.begun and not state.handed_in and state.ends and state.ends < now:
                await self._end_if_over(opening)

    async def overview(self) -> dict[str, Any]:
        """Return what the certifier sees: everybody with state, time left and incidents."""
        if _seconds(self._read_at, self.records.now) > STALE_S:
            await self.refresh()
        rows = []
        for number, opening in sorted(
            self._openings.items(), key=lambda numbered: numbered[1].candidate
        ):
            state = self._sittings[number]
            noted = await self._read(incidents, self.records, number)
            rows.append(
                {
                    "opening": number,
                    "candidate": opening.candidate,
                    "minutes": opening.minutes,
                    "factor": opening.time_factor,
                    "state": _state_of(state),
                    "begun": state.begun,
                    "ends": state.ends,
                    "handed_in": state.handed_in,
                    "answered": len(state.answers),
                    "of": len(self.form.items),
                    "seen": self._seen.get(number, ""),
                    "incidents": [incident._asdict() for incident in noted],
                }
            )
        return {"form": self.form.id, "now": self.records.now, "rows": rows}

    async def incident(
        self, opening: int, event: str, why: str, minutes: float | None, by: str
    ) -> None:
        """Extend a sitting, close it, or note something, with the reason."""
        if opening not in self._openings:
            raise RecordsError("this form was not given in that opening")
        await self._write(note_incident, self.records, opening, event, why, minutes, by)
        await self._look(opening)
        if event == "closed" and self._sittings[opening].begun:
            await self.end(opening)

    async def results(self) -> list[dict[str, Any]]:
        """Return scores, once nobody sits any more; RecordsError before.

        They are computed here and written nowhere: ``squatlab mark`` does that.
        """
        running = [o for o in self._openings if self._sittings[o].running]
        if running:
            names = ", ".join(self._openings[number].candidate for number in running)
            raise RecordsError(f"results come after the end; still sitting: {names}")

        return await self._read(self._results)

    def knows(self, opening: int) -> bool:
        """Return whether this form was given in an opening."""
        return opening in self._openings

    def answers(self, opening: int) -> dict[str, Any]:
        """Return what is saved, as it was read or written last."""
        return self._sittings[opening].answers

    def seen(self, opening: int) -> None:
        """Note that a candidate's page was heard of now."""
        self._seen[opening] = self.records.now

    async def _must_run(self, opening: int) -> None:
        """Raise RecordsError unless the candidate's clock runs."""
        state = await self._current(opening)
        if not state.begun:
            raise RecordsError("not started yet: press Begin first, which starts the clock")
        if not state.running:
            raise RecordsError(f"the sitting ended at {state.handed_in or state.ends}")

    async def _current(self, opening: int) -> served.ServedSitting:
        """Return where a sitting stands, read now."""
        await self._look(opening)
        return self._sittings[opening]

    async def _look(self, opening: int) -> None:
        """Read where a sitting stands, and remember it.

        Read again if something was saved meanwhile: what was read may be from
        before, and an answer would be missing on the page.
        """
        while True:
            known = self._sittings.get(opening)
            state = await self._read(served.sitting, self.records, opening)
            if self._sittings.get(opening) is known:
                self._sittings[opening] = state
                return

    async def _read(self, work: Callable[..., Returned], *given: Any) -> Returned:
        """Do work that reads, in a thread: the page's loop never waits for the disk."""
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._reading, partial(work, *given))

    async def _write(self, work: Callable[..., Returned], *given: Any) -> Returned:
        """Do work that writes, in the one thread of writers: they come one by one."""
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._writing, partial(work, *given))

    def _results(self) -> list[dict[str, Any]]:
        """Mark what stands in the records, with the lifts that rulings credit."""
        given = standing(self.records, self.form).sheets
        marks = mark(self.form, self.key, given, credited(self.records, self.form.id))
        lifts = len(marks.lifts) + marks.gift
        rows = zip(marks.candidates, marks.score.tolist(), marks.passed.tolist(), strict=True)
        return [
            {"candidate": who, "score": score, "of": lifts, "passed": passed}
            for who, score, passed in rows
        ]

    def _before(self, opening: int) -> dict[str, Any]:
        """Return the notice before a sitting."""
        given = self._openings[opening]
        lifts = sum(question.clip is not None for question in self.package.questions.values())
        time = "without a limit"
        if given.minutes is not None:
            agreed = given.time_factor != 1
            time = f"{given.minutes:.0f} minutes from Begin" + (
                f": {given.time_factor:g} times the usual, as agreed" if agreed else ""
            )
        count = len(self.form.items)
        facts = (("Questions", f"{count}, of which {lifts} show a lift"), ("Time", time))
        return {
            "title": "Before you begin",
            "facts": facts,
            "notes": notices("served before"),
            "button": ("Begin", "begin"),
        }

    def _during(self, state: served.ServedSitting) -> dict[str, Any]:
        """Return the places of the questions, and when the sitting ends."""
        begun = datetime.fromisoformat(state.begun)
        places = [{"item": item} for item in self.form.items]
        if not state.ends:
            return {
                "questions": places,
                "minutes": 0,
                "until": 0.0,
                "begun": f"{begun.astimezone():%H:%M}",
                "ends": "without a limit",
            }
        ends = datetime.fromisoformat(state.ends)
        return {
            "questions": places,
            "minutes": round((ends - begun).total_seconds() / 60),
            "until": ends.timestamp(),
            "begun": f"{begun.astimezone():%H:%M}",
            "ends": f"{ends.astimezone():%H:%M}",
        }

    def _after(self, state: served.ServedSitting) -> dict[str, Any]:
        """Return the notice after a sitting."""
        left = [n for n, item in enumerate(self.form.items, 1) if item not in state.answers]
        numbers = "; without an answer: " + ", ".join(map(str, left)) if left else ""
        total = len(self.form.items)
        ended = datetime.fromisoformat(state.handed_in or state.ends)
        facts = (
            ("Ended", f"{ended.astimezone():%Y-%m-%d %H:%M:%S}"),
            ("Answered", f"{total - len(left)} of {total}{numbers}"),
            ("Receipt", state.receipt or "none: ask your certifier"),
        )
        return {
            "title": "Handed in",
            "facts": facts,
            "notes": notices("served after"),
            "button": (),
        }

    def _welcome(self, state: served.ServedSitting) -> str:
        """Return what is said when a page opens."""
        if not state.begun:
            return "Not started: the clock starts when you press Begin."
        if not state.running:
            return "Handed in. Note the receipt down."
        count = len(state.answers)
        return f"{count} answers are saved." if count else "Nothing is answered yet."


def _state_of(state: served.ServedSitting) -> str:
    """Return where a sitting stands, in the words of the desk."""
    if state.handed_in:
        return "ended"
    if not state.begun:
        return "not started"
    return "sitting" if state.running else "time over"


def _seconds(start: str, end: str) -> float:
    """Return the seconds between two times, infinite from ""."""
    if not start:
        return float("inf")
    return (datetime.fromisoformat(end) - datetime.fromisoformat(start)).total_seconds()
