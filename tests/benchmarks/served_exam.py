"""How a served exam bears a full hall: ``python tests/benchmarks/served_exam.py``.

Serves a small form to 200 simulated candidates on this machine's loopback, on
SQLite and, where there is a server, on PostgreSQL. Each gives an answer every
few seconds, four times as often as people do; in the middle the program is
killed (SIGKILL) and started again. Nothing that a page was told is saved may
be lost, nobody may have two hand-ins, and 95 of 100 answers may take 100 ms.
Beside it stands a page without a database, asked by the same clients: on a
busy machine compare with that.
"""

from __future__ import annotations

import asyncio
import json
import os
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import numpy as np
from tornado.httpclient import AsyncHTTPClient, HTTPClientError, HTTPRequest

sys.path.insert(0, str(Path(__file__).parents[2]))

from squatlab.exam.records import Records, hand_ins, open_form, served
from tests import postgresql
from tests.exam_serving.rooms import CERTIFIER, Program, pack

PEOPLE, ANSWERS = 200, 8
THINK_S = (12.0, 30.0)
LIMIT_MS = 100.0
"""What 95 of 100 answers may take."""


class Timed(NamedTuple):
    """Hold how long requests took, s: answers saved, and pages without a database."""

    saves: list[float]
    pages: list[float]


class Person:
    """Sit the exam over HTTP and remember what was said to be saved."""

    def __init__(self, client: AsyncHTTPClient, port: int, slip, seed: int) -> None:
        self.client, self.port, self.slip = client, port, slip
        self.rng, self.cookie = np.random.default_rng(seed), ""
        self.told: dict[str, object] = {}
        self.retries = 0

    async def post(self, path: str, body: dict) -> dict:
        """Send until it is answered; a server that was killed is started again."""
        headers = {
            "Content-Type": "application/json",
            "X-Squatlab-Exam": "1",
            "Cookie": self.cookie,
        }
        while True:
            asked = HTTPRequest(
                f"http://127.0.0.1:{self.port}/{path}",
                "POST",
                headers,
                json.dumps(body),
                request_timeout=60,
                connect_timeout=60,
            )
            try:
                answer = await self.client.fetch(asked)
            except HTTPClientError as problem:
                if problem.code in (401, 403, 409):
                    raise
                self.retries += 1
            except OSError:
                self.retries += 1
            else:
                if cookie := answer.headers.get("Set-Cookie"):
                    self.cookie = cookie.partition(";")[0]
                return json.loads(answer.body)
            await asyncio.sleep(0.5 + float(self.rng.random()))

    async def sit(self, items: dict[str, tuple[str, ...]], timed: Timed) -> None:
        """Enter, begin, answer, look at a page without a database now and then, hand in."""
        await asyncio.sleep(float(self.rng.uniform(0, THINK_S[1])))
        await self.post("enter", {"candidate": self.slip.candidate, "code": self.slip.code})
        await self.post("ask", {"do": "begin"})
        names = list(items)
        for _ in range(ANSWERS):
            await asyncio.sleep(float(self.rng.uniform(*THINK_S)))
            item = names[int(self.rng.integers(len(names)))]
            options = items[item]
            given = options[int(self.rng.integers(len(options)))]
            tries, start = self.retries, time.perf_counter()
            told = await self.post(
                "ask", {"do": "answer", "item": item, "answer": given, "number": 1}
            )
            took = time.perf_counter() - start
            if told["messages"][-1].get("said", "").startswith("NOT SAVED"):
                raise AssertionError(told)
            self.told[item] = given
            if self.retries == tries:
                timed.saves.append(took)
            start = time.perf_counter()
            try:
                await self.client.fetch(f"http://127.0.0.1:{self.port}/")
                timed.pages.append(time.perf_counter() - start)
            except (HTTPClientError, OSError):
                pass  # the program is just being started again
        await self.post("ask", {"do": "hand in"})


def main(only: str = "") -> None:
    """Measure both kinds of records, or the one that is named."""
    problems = []
    for name, place in _places():
        if only in ("", name):
            with place as where, tempfile.TemporaryDirectory() as folder:
                problems += _run(name, where, Path(folder))
    if problems:
        sys.exit("\n".join(problems))


def _places() -> Iterator[tuple[str, object]]:
    yield "SQLite", _file()
    if postgresql.MISSING:
        print(f"PostgreSQL: not measured, {postgresql.MISSING}")
    else:
        yield "PostgreSQL", _database()


@contextmanager
def _file() -> Iterator[str]:
    with tempfile.TemporaryDirectory() as folder:
        yield str(Path(folder) / "records.sqlite")


@contextmanager
def _database() -> Iterator[str]:
    with postgresql.running() as server:
        yield postgresql.database(server)


def _run(name: str, where: str, folder: Path) -> list[str]:
    """Sit one exam; print how it went and return what is wrong with it."""
    os.environ["SQUATLAB_SIGNING_KEY"] = str(folder / "signing.json")
    packed = pack(folder)
    records = Records(where, CERTIFIER)
    slips = [open_form(records, packed.form, packed.key, f"C{n:03}") for n in range(PEOPLE)]
    items = {i: entry.options for i, entry in packed.key.entries.items() if entry.options}
    timed = Timed([], [])
    people = asyncio.run(_exam(packed, where, slips, items, timed))
    lost = [
        p.slip.candidate
        for p in people
        if served.sitting(records, p.slip.opening).answers != p.told
    ]
    handed = [one.candidate for one in hand_ins(records, packed.form.id)]
    altered = records.verify()
    records.close()
    p50, p95 = 1000 * np.percentile(timed.saves, [50, 95])
    page95 = 1000 * np.percentile(timed.pages, 95)
    print(
        f"{name}: {PEOPLE} candidates, {len(timed.saves)} answers timed, killed once "
        f"({sum(p.retries for p in people)} requests repeated): an answer takes {p50:.0f} ms, "
        f"95 of 100 at most {p95:.0f} ms; a page without a database {page95:.0f} ms; "
        f"lost {len(lost)}, hand-ins {len(handed)} of {len(set(handed))} people, "
        f"chain {'whole' if not altered else altered[0]}",
        flush=True,
    )
    problems = []
    if lost or len(handed) != PEOPLE or len(set(handed)) != PEOPLE:
        problems.append(f"{name}: lost or doubled: {lost[:5]}")
    if p95 > LIMIT_MS:
        problems.append(f"{name}: too slow (limit {LIMIT_MS:.0f} ms; see the page beside it)")
    return problems


async def _exam(packed, where, slips, items, timed) -> list[Person]:
    program = Program(packed.package, packed.key_file, where)
    port = program.port
    AsyncHTTPClient.configure("tornado.simple_httpclient.SimpleAsyncHTTPClient", max_clients=500)
    client = AsyncHTTPClient()
    people = [Person(client, port, slip, n) for n, slip in enumerate(slips)]
    sitting = asyncio.gather(*(person.sit(items, timed) for person in people))
    await asyncio.sleep(0.5 * ANSWERS * sum(THINK_S) / 2)
    program.process.send_signal(signal.SIGKILL)
    await asyncio.to_thread(program.process.wait)
    program = await asyncio.to_thread(
        Program, packed.package, packed.key_file, where, "--port", str(port)
    )
    await sitting
    await asyncio.to_thread(program.end)
    return people


if __name__ == "__main__":
    main(*sys.argv[1:2])
