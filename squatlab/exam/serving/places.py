"""Who sits where: one live place a candidate, and how often one may ask or try.

A place is a signed cookie. It says which opening it belongs to and when it
was given; the newest place of an opening is the live one, so whoever types
the code on another device moves there. Nothing is kept: after a restart the
same signatures hold.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field

PLACE = re.compile(r"(\d{1,12})\.(\d{1,16})\.([0-9a-f]{16})\.([0-9a-f]{64})")
"""A cookie: the opening, when the place was given (ms), a random part, the signature."""

REQUESTS_A_SECOND, REQUESTS_AT_ONCE = 4.0, 40.0
"""What one candidate's page may ask for [teaching-value]: a page asks twice a question."""

TRIES, TRIES_AGAIN_S = 5, 60.0
"""Wrong codes for one candidate from one address before a pause, and how long it lasts
[teaching-value]. The code has 54 random bits: this is against noise."""

TRIES_AN_ADDRESS = 60
"""Wrong codes from one address before a pause: a room often shares one."""

MOST_REMEMBERED = 10_000
"""Names and addresses whose tries are counted; more are forgotten, oldest first."""


class Moved(Exception):
    """Say that a place was given up: the candidate went on at another one."""


@dataclass
class Bucket:
    """Count what one asker may still ask: so many at once, and so many a second."""

    left: float
    at: float

    def take(self, now: float, rate: float, most: float) -> bool:
        """Take one; return whether there was one."""
        self.left = min(most, self.left + rate * (now - self.at))
        self.at = now
        if self.left < 1:
            return False
        self.left -= 1
        return True


@dataclass
class PlaceKeeper:
    """Give places and know them again; ``key`` signs them.

    ``clock`` gives seconds that do not fall.
    """

    key: bytes
    clock: Callable[[], float] = time.time
    _live: dict[int, int] = field(default_factory=dict)
    _asked: dict[int, Bucket] = field(default_factory=dict)
    _tried: dict[str, list[float]] = field(default_factory=dict)

    def give(self, opening: int) -> str:
        """Return a new place, as a cookie; every earlier one of the opening is given up."""
        given = max(int(1000 * self.clock()), self._live.get(opening, 0) + 1)
        self._live[opening] = given
        body = f"{opening}.{given}.{secrets.token_hex(8)}"
        return f"{body}.{self._sign(body)}"

    def opening(self, cookie: str) -> int | None:
        """Return whose place a cookie is, None for no place of this exam.

        Raises `Moved` if a newer place of the same opening is known.
        """
        match = PLACE.fullmatch(cookie or "")
        if not match:
            return None
        body, _, signature = cookie.rpartition(".")
        if not hmac.compare_digest(self._sign(body), signature):
            return None
        opening, given = int(match[1]), int(match[2])
        # An older place was given up when its candidate went on elsewhere. After a restart the
        # first that asks counts until a newer one does.
        if given < self._live.get(opening, 0):
            raise Moved
        self._live[opening] = given
        return opening

    def may_ask(self, opening: int) -> bool:
        """Return whether a candidate's page may ask now; counts it."""
        now = self.clock()
        bucket = self._asked.setdefault(opening, Bucket(REQUESTS_AT_ONCE, now))
        return bucket.take(now, REQUESTS_A_SECOND, REQUESTS_AT_ONCE)

    def must_wait_s(self, candidate: str, address: str) -> float:
        """Return how many seconds to wait before another code is looked at, 0 for none."""
        waits = 0.0
        for name, most in zip(
            self._counted(candidate, address), (TRIES, TRIES_AN_ADDRESS), strict=True
        ):
            recent = self._recent(name)
            if len(recent) >= most:
                waits = max(waits, recent[-most] + TRIES_AGAIN_S - self.clock())
        return waits

    def failed(self, candidate: str, address: str) -> None:
        """Count a wrong code."""
        for name in self._counted(candidate, address):
            self._tried[name] = [*self._recent(name), self.clock()]
            if len(self._tried) > MOST_REMEMBERED:
                self._tried.pop(next(iter(self._tried)))

    def _counted(self, candidate: str, address: str) -> tuple[str, str]:
        """Return what tries are counted by: a candidate at an address, and the address.

        By the candidate alone, anybody's wrong codes would keep them out.
        """
        return f"{candidate} at {address}", f"at {address}"

    def _recent(self, name: str) -> list[float]:
        """Return when wrong codes were tried of late, s."""
        since = self.clock() - TRIES_AGAIN_S
        return [moment for moment in self._tried.get(name, ()) if moment > since]

    def _sign(self, body: str) -> str:
        """Return the signature of a place: whoever lacks the key can make none."""
        return hmac.new(self.key, body.encode(), hashlib.sha256).hexdigest()
