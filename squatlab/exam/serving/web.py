"""The pages and requests of a served exam: who may ask what, over which headers.

A request of a candidate counts with their place's cookie, from this page's own
origin, small, and not too often. The certifier's page has a key of its own.
"""

from __future__ import annotations

import hmac
import json
import logging
import secrets
import ssl
import struct
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from tornado.httpserver import HTTPServer
from tornado.ioloop import PeriodicCallback
from tornado.netutil import bind_sockets
from tornado.web import Application, HTTPError, RequestHandler

from squatlab.exam.codes import same
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.ledger import RecordsUnwritten
from squatlab.exam.serving.hall import Hall
from squatlab.exam.serving.places import Moved, PlaceKeeper
from squatlab.show.scripts import PLAYING, script

PLACE, DESK = "squatlab_place", "squatlab_desk"
"""The cookies of a candidate's place and of the certifier's desk."""

LONGEST_REQUEST = 16_000
"""Bytes of a request's body: an answer has a few hundred [teaching-value]."""

LONGEST_TYPED, LONGEST_REASON = 80, 500
"""Signs that are read of a typed id or code, and of a certifier's reason."""

OWN_HEADER = "X-Squatlab-Exam"
"""Only a page of this origin can set it: others would have to be allowed first."""

LOCAL = ("localhost", "127.0.0.1", "::1")

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
"""What every answer carries: nothing from elsewhere, in no frame, kept in no cache."""

FOLDER = Path(__file__).parent

log = logging.getLogger("squatlab.exam")


@dataclass(frozen=True)
class Door:
    """Say how a served exam is reached, and who writes as its certifier.

    ``names`` are host names, beside the loopback ones, by which browsers
    may ask for it; ``prefix`` is where its pages begin, ``desk_key`` opens
    the certifier's page. ``proxied`` if a proxy on this machine stands
    before it, as JupyterHub's does: then that says who asks, and whether
    by https.
    """

    by: str
    names: tuple[str, ...] = ()
    prefix: str = "/"
    tls: bool = False
    desk_key: str = ""
    proxied: bool = False

    @classmethod
    def open(
        cls,
        by: str,
        names: Iterable[str] = (),
        prefix: str = "/",
        tls: bool = False,
        proxied: bool = False,
    ) -> Door:
        """Return a door with a fresh key to the certifier's page."""
        prefix = "/" + "/".join(filter(None, prefix.split("/")))
        prefix = prefix if prefix.endswith("/") else prefix + "/"
        return cls(by, tuple(names), prefix, tls, secrets.token_urlsafe(24), proxied)


class ServedPage(RequestHandler):
    """Share what every request is held to: host, headers, size, origin."""

    def initialize(self, hall: Hall, door: Door, places: PlaceKeeper) -> None:
        """Take what the application is about."""
        self.hall, self.door, self.places = hall, door, places

    def set_default_headers(self) -> None:
        """Set what keeps a page to itself."""
        for name, value in HEADERS.items():
            self.set_header(name, value)
        self.clear_header("Server")

    def prepare(self) -> None:
        """Refuse a request for another host, or from another page."""
        if self.door.tls:
            self.set_header("Strict-Transport-Security", "max-age=86400")
        host = urlsplit(f"//{self.request.host}").hostname or ""
        # Against DNS rebinding: a page elsewhere may give its own name the address of this
        # machine, and would then be of the same origin. It cannot give it one of our names.
        if host not in (*LOCAL, *self.door.names):
            raise HTTPError(421, reason="Misdirected Request")
        if self.request.method == "POST":
            self._own_page()

    def _own_page(self) -> None:
        """Raise 403 unless a request came from a page of this server."""
        # A page of another site could send a request with the candidate's cookie: hand in for
        # them, say. Browsers say where a request is from (Origin, Sec-Fetch-Site); older ones
        # leave it out, but none lets a foreign page set a header of its own, or send JSON,
        # without asking this server first, which allows nobody.
        headers = self.request.headers
        origin = headers.get("Origin")
        is_own = (
            (origin is None or urlsplit(origin).netloc == self.request.host)
            and headers.get("Sec-Fetch-Site") in (None, "same-origin")
            and headers.get(OWN_HEADER) == "1"
            and headers.get("Content-Type", "").partition(";")[0] == "application/json"
        )
        if not is_own:
            raise HTTPError(403, reason="Not from this page")

    def body(self) -> dict[str, Any]:
        """Return the request's JSON object; 400 for anything else."""
        try:
            given = json.loads(self.request.body)
        except (ValueError, RecursionError):
            given = None
        if not isinstance(given, dict):
            raise HTTPError(400, reason="Not a JSON object")
        return given

    def reply(self, **content: Any) -> None:
        """Write a JSON object, with the time by which clocks are compared."""
        self.set_header("Content-Type", "application/json")
        self.finish(json.dumps(content | {"now": self.places.clock()}))

    def give_cookie(self, name: str, value: str) -> None:
        """Set a cookie that scripts cannot read and other sites cannot send."""
        self.set_cookie(
            name,
            value,
            path=self.door.prefix,
            httponly=True,
            secure=self.door.tls or self.request.protocol == "https",
            samesite="Strict",
        )

    def write_error(self, status_code: int, **_: Any) -> None:
        """Say a refusal in one line, and nothing of the program."""
        self.set_header("Content-Type", "application/json")
        self.finish(json.dumps({"problem": self._reason}))


class Front(ServedPage):
    """Show the candidate's page, which is the same for everybody."""

    def get(self) -> None:
        """Return the page."""
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish((FOLDER / "place.html").read_bytes())


class File(ServedPage):
    """Give the few files that the pages are made of."""

    NAMES = {
        "place.js": "text/javascript",
        "desk.js": "text/javascript",
        "sitting.js": "text/javascript",
        "served.css": "text/css",
        "sitting.css": "text/css",
    }

    def get(self, name: str) -> None:
        """Return a file by its name."""
        if name not in self.NAMES:
            raise HTTPError(404)
        screens = FOLDER.parent / "screens"
        self.set_header("Content-Type", f"{self.NAMES[name]}; charset=utf-8")
        if name == "sitting.js":
            self.finish(script(*PLAYING, screens / name))
        else:
            self.finish(((screens if name == "sitting.css" else FOLDER) / name).read_bytes())


class Enter(ServedPage):
    """Take a candidate's code, and give them the one live place."""

    async def post(self) -> None:
        """Set the place's cookie for a right code; say how to go on for a wrong one."""
        given = self.body()
        # Without the blanks around it: each way to type one id would have tries of its own.
        candidate = str(given.get("candidate", "")).strip()[:LONGEST_TYPED]
        code = str(given.get("code", ""))[:LONGEST_TYPED]
        address = self.request.remote_ip or ""
        if (wait := self.places.must_wait_s(candidate, address)) > 0:
            self.set_status(429)
            self.set_header("Retry-After", str(int(wait) + 1))
            return self.reply(problem=f"Too many wrong codes: wait {int(wait) + 1} seconds.")
        opening = await self.hall.enter(candidate, code)
        if opening is None:
            self.places.failed(candidate, address)
            self.set_status(403)
            return self.reply(
                problem="Candidate and code do not belong together: look at your slip, or ask the "
                "certifier."
            )
        self.give_cookie(PLACE, self.places.give(opening.number))
        self.hall.seen(opening.number)
        self.reply(entered=opening.candidate)


class AtPlace(ServedPage):
    """Share what a request from a candidate's place is held to."""

    def opening(self) -> int:
        """Return whose place it is; 401 for none, 409 if they moved, 429 if too often."""
        try:
            opening = self.places.opening(self.get_cookie(PLACE, ""))
        except Moved:
            raise HTTPError(409, reason="This exam goes on at another device") from None
        if opening is None or not self.hall.knows(opening):
            raise HTTPError(401, reason="Type your code first")
        if not self.places.may_ask(opening):
            raise HTTPError(429, reason="Too many requests: wait a few seconds")
        self.hall.seen(opening)
        return opening


class Ask(AtPlace):
    """Answer what a candidate's page asks for."""

    async def post(self) -> None:
        """Do it, and say what came of it; a refusal is words, with the page as it stands."""
        opening, given = self.opening(), self.body()
        what, item = given.get("do"), str(given.get("item", ""))
        messages: list[dict[str, Any]] = []
        done, message = True, ""
        try:
            if what == "begin":
                await self.hall.begin(opening)
            elif what == "answer":
                at = await self.hall.save(opening, item, given.get("answer"))
                message = f"Saved {datetime.fromisoformat(at).astimezone():%H:%M:%S}"
            elif what == "hand in":
                await self.hall.end(opening)
            elif what == "question":
                messages.append({"item": item, "question": await self.hall.question(opening, item)})
            elif what != "page":
                raise HTTPError(400, reason="Nothing that can be asked")
        except RecordsUnwritten as problem:
            log.error("%s", problem)
            done, message = False, "NOT SAVED: the records cannot be written; tell the certifier."
        except (RecordsError, ValueError) as problem:
            done, message = False, f"NOT SAVED: {problem}"
            if what == "question":
                messages.append({"item": item, "problem": str(problem)})
        if what == "answer" and done:
            # Nothing else changed: the page need not be read again for every answer.
            state = {"answers": self.hall.answers(opening), "message": message}
        else:
            state = await self.hall.page(opening)
            state["message"] = message or state["message"]
            messages.append(
                {"page": state["page"], "answers": state["answers"], "message": state["message"]}
            )
        if isinstance(given.get("number"), int):
            messages.append(
                {
                    "number": given["number"],
                    "done": done,
                    "message": state["message"],
                    "answers": state["answers"],
                }
            )
        self.reply(messages=messages)


class Lift(AtPlace):
    """Give the pictures of one question."""

    async def get(self, item: str) -> None:
        """Return a head (its length in 4 bytes, then JSON) and the sheets after it."""
        try:
            clip = await self.hall.clip(self.opening(), item)
        except (RecordsError, ValueError) as problem:
            self.set_status(403)
            return self.reply(problem=str(problem))
        head = json.dumps(clip.head).encode()
        self.set_header("Content-Type", "application/octet-stream")
        self.finish(b"".join((struct.pack(">I", len(head)), head, *clip.sheets)))


class DeskPage(ServedPage):
    """Show the certifier's page to whoever has its key."""

    def get(self) -> None:
        """Take the key from the address once, then know the certifier by a cookie."""
        key = self.get_query_argument("key", "")
        if key:
            if not same(key, self.door.desk_key):
                raise HTTPError(403, reason="This is not the key that was printed")
            self.give_cookie(DESK, key)
            # The key leaves the address line, where whoever looks on could read it.
            return self.redirect(f"{self.door.prefix}desk")
        self.known()
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish((FOLDER / "desk.html").read_bytes())

    def known(self) -> None:
        """Raise 403 for whoever is not the certifier."""
        if not same(self.get_cookie(DESK, ""), self.door.desk_key):
            raise HTTPError(403, reason="Open the address with the key that was printed")

    async def post(self) -> None:
        """Extend, close, note, or give results; then say how everybody stands."""
        self.known()
        given, problem, results = self.body(), "", None
        try:
            match given.get("do"):
                case "extended" | "closed" | "note" as event:
                    minutes = given.get("minutes") if event == "extended" else None
                    if minutes is not None and type(minutes) not in (int, float):
                        raise RecordsError("minutes are a number")
                    await self.hall.incident(
                        int(given.get("opening", -1)),
                        event,
                        str(given.get("why", ""))[:LONGEST_REASON],
                        minutes,
                        self.door.by,
                    )
                case "results":
                    results = await self.hall.results()
                case "state":
                    pass
                case _:
                    raise HTTPError(400, reason="Nothing that can be asked")
        except (RecordsError, RecordsUnwritten, ValueError, TypeError, OverflowError) as error:
            problem = str(error)
        overview = await self.hall.overview()
        self.reply(problem=problem, results=results, **{"overview": overview})


def application(hall: Hall, door: Door) -> Application:
    """Return the application: every page and request there is."""
    # From the key's salt, which only the certifier has: nobody else can sign a place, and after a
    # restart the places that were given still hold.
    key = hmac.digest(bytes.fromhex(hall.key.salt), b"places of a served exam", "sha256")
    about = {"hall": hall, "door": door, "places": PlaceKeeper(key)}
    at = door.prefix
    routes = [
        (at, Front, about),
        (rf"{at}files/([a-z]+\.(?:js|css))", File, about),
        (rf"{at}enter", Enter, about),
        (rf"{at}ask", Ask, about),
        (rf"{at}lift/([A-Za-z0-9_-]{{1,64}})", Lift, about),
        (rf"{at}desk", DeskPage, about),
    ]
    return Application(routes, log_function=_logged)


def _logged(handler: RequestHandler) -> None:
    """Log what went wrong in the program; never a code, a cookie or an answer."""
    if handler.get_status() >= 500:
        log.error("%d %s", handler.get_status(), handler.request.path)


@dataclass(frozen=True)
class OpenHall:
    """Hold a hall that is served: its port, and what `stop` has to stop."""

    hall: Hall
    server: HTTPServer
    watch: PeriodicCallback
    port: int

    async def stop(self) -> None:
        """Take no more requests, and sign the records; sittings go on another time."""
        self.watch.stop()
        self.server.stop()
        await self.server.close_all_connections()
        await self.hall.stop()


async def serve(
    hall: Hall, door: Door, port: int, host: str, certificate: ssl.SSLContext | None = None
) -> OpenHall:
    """Open the hall at a host and port, 0 for any free one."""
    await hall.start()
    server = HTTPServer(
        application(hall, door),
        ssl_options=certificate,
        xheaders=door.proxied,
        max_body_size=LONGEST_REQUEST,
        max_buffer_size=8 * LONGEST_REQUEST,
        idle_connection_timeout=120,
        body_timeout=20,
    )
    sockets = bind_sockets(port, host)
    server.add_sockets(sockets)
    watch = PeriodicCallback(partial(_watch, hall), 1000)
    watch.start()
    return OpenHall(hall, server, watch, sockets[0].getsockname()[1])


async def _watch(hall: Hall) -> None:
    """Hand in what is over, once a second; a database that fails is logged."""
    try:
        await hall.end_what_is_over()
    except RecordsUnwritten as problem:
        log.error("%s", problem)
