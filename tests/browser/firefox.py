"""A window of Firefox, driven over WebDriver BiDi, which any recent one speaks by itself.

Playwright's own Firefox is another build, and its BiDi asks for more than an
ESR of Debian knows; what a test of the book needs is three commands.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import tempfile
import time
from typing import Any

import websocket

PATH = shutil.which("firefox-esr") or shutil.which("firefox")
"""Where Firefox is, None where it is not."""

PATIENCE_S = 30


class Firefox:
    """Open one page at a time; `complaints` are what its console said.

    The protocol: https://www.w3.org/TR/webdriver-bidi/.
    """

    def __enter__(self) -> Firefox:
        self.complaints: list[str] = []
        self._count = 0
        self._profile = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        self._process = subprocess.Popen(
            [PATH, "--headless", "--profile", self._profile.name, "--remote-debugging-port", "0"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        said = (re.search(r"BiDi listening on (ws://\S+)", line) for line in self._process.stderr)
        address = next(found[1] for found in said if found)
        self._socket = websocket.create_connection(
            f"{address}/session", timeout=PATIENCE_S, suppress_origin=True
        )
        self._ask("session.new", capabilities={})
        self._ask("session.subscribe", events=["log.entryAdded"])
        self._page = self._ask("browsingContext.getTree")["contexts"][0]["context"]
        return self

    def __exit__(self, *_: Any) -> None:
        self._socket.close()
        self._process.terminate()
        self._process.wait(PATIENCE_S)
        self._process.stderr.close()
        self._profile.cleanup()

    def goto(self, address: str) -> None:
        """Open a page and wait until it is loaded."""
        self._ask("browsingContext.navigate", context=self._page, url=address, wait="complete")

    def run(self, function: str) -> Any:
        """Return what a JavaScript function without arguments returns."""
        answer = self._ask(
            "script.callFunction",
            functionDeclaration=f"async () => JSON.stringify(await ({function})() ?? null)",
            target={"context": self._page},
            awaitPromise=True,
        )
        if answer["type"] == "exception":
            raise RuntimeError(answer["exceptionDetails"]["text"])
        return json.loads(answer["result"]["value"])

    def wait_for(self, function: str) -> None:
        """Wait until a JavaScript function returns true. Raises TimeoutError."""
        until = time.monotonic() + PATIENCE_S
        while not self.run(function):
            if time.monotonic() > until:
                raise TimeoutError(function)
            time.sleep(0.02)

    def press(self, key: str) -> None:
        """Press a key, by its code point in WebDriver."""
        keys = [{"type": kind, "value": key} for kind in ("keyDown", "keyUp")]
        source = {"type": "key", "id": "keys", "actions": keys}
        self._ask("input.performActions", context=self._page, actions=[source])

    def _ask(self, method: str, **params: Any) -> dict[str, Any]:
        self._count += 1
        self._socket.send(json.dumps({"id": self._count, "method": method, "params": params}))
        while True:
            heard = json.loads(self._socket.recv())
            if heard.get("method") == "log.entryAdded":
                self.complaints.append(str(heard["params"].get("text")))
            if heard.get("id") == self._count:
                if heard["type"] == "error":
                    raise RuntimeError(f"{method}: {heard['message']}")
                return heard["result"]
