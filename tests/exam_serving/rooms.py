"""A small exam and those who use its pages without a browser: honest or not."""

from __future__ import annotations

import asyncio
import hashlib
import http.client
import json
import os
import re
import signal
import ssl
import struct
import subprocess
import sys
import threading
from contextlib import contextmanager
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image

from squatlab.exam.build import draw
from squatlab.exam.package import Package
from squatlab.exam.records import Records, open_form
from squatlab.exam.secret import Secret
from squatlab.exam.serving.hall import Hall
from squatlab.exam.serving.web import Door, serve
from squatlab.questions.blueprint import cell
from squatlab.questions.question import PictureBox, PicturePanel, Pictures

SECRET = Secret(hashlib.sha256(b"a form to serve").digest())
CELLS = ("first_clean", "number", "choice_safety", "choice_bar")
MINUTES = 20.0
CERTIFIER = "A. Judge"


def grey(case, camera_seed: int) -> Pictures:
    """Stand in for the renderer: one grey picture."""
    buffer = BytesIO()
    Image.new("RGB", (6, 2), "#888888").save(buffer, "webp", lossless=True)
    panels = (PicturePanel("side", 0, 0, 6, 2),)
    return Pictures(
        (buffer.getvalue(),),
        (PictureBox(0, 0, 6, 2),),
        8,
        6,
        2,
        (0,) * 10,
        30.0,
        panels,
        3,
        "A view.",
    )


def pack(folder: Path, cut: float | None = None, lifts: int = 1):
    """Return a packed form of so many lifts and three other questions."""
    counts = {name: lifts if name == "first_clean" else 1 for name in CELLS}
    cells = [replace(cell(name), count=count) for name, count in counts.items()]
    return draw(SECRET, "spring", cells, certify=False, minutes=MINUTES, cut=cut).pack(folder, grey)


class Candidate:
    """Ask as a candidate's page does; ``cookie`` is their place.

    ``tls`` says whose certificates are believed, None for plain http.
    """

    def __init__(self, port: int, prefix: str = "/", tls: ssl.SSLContext | None = None) -> None:
        self.port, self.prefix, self.cookie, self.tls = port, prefix, "", tls
        self.headers: dict[str, str] = {}

    def request(
        self, method: str, path: str, body: Any = None, headers: dict[str, str] | None = None
    ) -> tuple[int, Any]:
        """Send a request as it is; return status and JSON (or bytes)."""
        sent = {
            "Content-Type": "application/json",
            "X-Squatlab-Exam": "1",
            "Origin": f"http{'s' if self.tls else ''}://127.0.0.1:{self.port}",
        }
        if self.cookie:
            sent["Cookie"] = self.cookie
        sent |= headers or {}
        sent = {name: value for name, value in sent.items() if value is not None}
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        if self.tls:
            line = http.client.HTTPSConnection("127.0.0.1", self.port, timeout=30, context=self.tls)
        try:
            data = body if isinstance(body, bytes | None) else json.dumps(body).encode()
            line.request(method, self.prefix + path, data, sent)
            answer = line.getresponse()
            content = answer.read()
            self.headers = {name.lower(): value for name, value in answer.getheaders()}
            for name, value in answer.getheaders():
                if name.lower() == "set-cookie":
                    self.cookie = value.partition(";")[0]
        finally:
            line.close()
        if self.headers.get("content-type", "").startswith("application/json"):
            return answer.status, json.loads(content)
        return answer.status, content

    def enter(self, candidate: str, code: str) -> int:
        """Type a code; return the status."""
        return self.request("POST", "enter", {"candidate": candidate, "code": code})[0]

    def ask(self, do: str, **more: Any) -> tuple[int, dict[str, Any]]:
        """Ask as the page does; return the status and all messages as one."""
        status, told = self.request("POST", "ask", {"do": do, "number": 1} | more)
        merged = dict(told)
        for message in told.get("messages", ()):
            merged |= message
        return status, merged

    def lift(self, item: str) -> tuple[int, Any]:
        """Return the pictures of a lift: head and sheets."""
        status, content = self.request("GET", f"lift/{item}")
        if status != 200:
            return status, content
        (length,) = struct.unpack(">I", content[:4])
        head, at, sheets = json.loads(content[4 : 4 + length]), 4 + length, []
        for size in head["sheets"]:
            sheets.append(content[at : at + size])
            at += size
        assert at == len(content)
        return status, (head, sheets)


class Certifier(Candidate):
    """Ask as the certifier's desk does."""

    def come(self, key: str) -> int:
        """Open the desk with the printed key."""
        return self.request("GET", f"desk?key={key}")[0]

    def do(self, what: str, **more: Any) -> dict[str, Any]:
        """Do something at the desk; return what it shows."""
        status, told = self.request("POST", "desk", {"do": what} | more)
        assert status == 200, told
        return told


@contextmanager
def hall(package: Package, key, records: Records, words=(), prefix: str = "/"):
    """Serve in this process, so that a test can turn the clock; yield hall, door, port."""
    opened, ready, stop = Hall(package, key, records, words), threading.Event(), None
    door, found = Door.open(CERTIFIER, prefix=prefix), {}

    async def run() -> None:
        nonlocal stop
        stop = asyncio.Event()
        served = await serve(opened, door, 0, "127.0.0.1")
        found["port"] = served.port
        found["loop"] = asyncio.get_running_loop()
        ready.set()
        await stop.wait()
        await served.stop()

    thread = threading.Thread(target=asyncio.run, args=(run(),))
    thread.start()
    assert ready.wait(30)
    try:
        yield opened, door, found["port"]
    finally:
        found["loop"].call_soon_threadsafe(stop.set)
        thread.join(30)


class Program:
    """Run ``squatlab serve-exam`` itself, to be killed in the middle."""

    def __init__(self, package: Path, key: Path, records: Path | str, *more: str) -> None:
        command = [
            sys.executable,
            "-m",
            "squatlab",
            "serve-exam",
            str(package),
            str(key),
            "--records",
            str(records),
            "--by",
            CERTIFIER,
            "--port",
            "0",
            *more,
        ]
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONWARNINGS": "error"},
        )
        told = [self.process.stdout.readline() for _ in range(3)]
        assert len(told) == 3 and told[2], self.process.stderr.read()
        self.port = int(re.search(r":(\d+)/", told[0])[1])
        self.desk_key = re.search(r"key=(\S+)", told[1])[1]

    def end(self, how: int = signal.SIGTERM) -> str:
        """Send a signal and wait; return what else was printed."""
        self.process.send_signal(how)
        out, problem = self.process.communicate(timeout=30)
        return out + problem


def opened(records: Records, packed, names=("R01", "R02", "R03"), factor: float = 1.0):
    """Give the form to candidates; return their codes and openings."""
    return {
        who: open_form(records, packed.form, packed.key, who, factor if who == "R02" else 1.0)
        for who in names
    }
