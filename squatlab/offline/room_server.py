"""The book on the room's network: a small server, and a code for phones."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from io import StringIO
from pathlib import Path
from typing import Any

import segno

LOOPBACK, PORT = "127.0.0.1", 8000
"""Where a book is served unless told otherwise: to this computer alone."""

EVERY_ADDRESS = ("0.0.0.0", "::", "")
"""What a server listens by on all addresses; no browser opens them."""


class QuietHandler(SimpleHTTPRequestHandler):
    """Serve files of one folder, list none, and write no line for each."""

    def log_message(self, *_: Any) -> None:
        """Say nothing: the terminal shows the code for phones."""

    def list_directory(self, path: Any) -> None:
        """Refuse to list a folder without an index."""
        self.send_error(404)


def server(folder: Path, address: str, port: int = PORT) -> ThreadingHTTPServer:
    """Return a server of a folder, not yet running.

    Raises OSError that says which address or port cannot be had, and
    ValueError for one that no browser can open.
    """
    if address in EVERY_ADDRESS:
        raise ValueError(
            f"{address} stands for all addresses of this computer, and no phone can open it: give "
            "the one that phones in the room can reach, such as 192.168.1.20"
        )
    handler: Callable[..., Any] = partial(QuietHandler, directory=str(folder))
    try:
        return ThreadingHTTPServer((address, port), handler)
    except OSError as problem:
        raise OSError(
            problem.errno,
            f"cannot serve on {address}, port {port} ({problem.strerror or problem}); give an "
            "address of this computer, or another port with --port",
        ) from problem


def address_of(running: ThreadingHTTPServer) -> str:
    """Return what a browser opens."""
    host, port = running.server_address[:2]
    return f"http://{host}:{port}/"


def qr_code(text: str) -> str:
    """Return a QR code (ISO/IEC 18004) as lines for a terminal."""
    lines = StringIO()
    segno.make(text, micro=False).terminal(lines, compact=True)
    return lines.getvalue()


def serve(folder: Path, address: str, port: int = PORT) -> None:
    """Serve a folder until the command is stopped with Ctrl-C."""
    with server(folder, address, port) as running:
        where = address_of(running)
        if address != LOOPBACK:
            print(qr_code(where))
        print(f"The book is at {where}. Stop with Ctrl-C.", flush=True)
        try:
            running.serve_forever()
        except KeyboardInterrupt:
            print()
