"""``squatlab serve-exam``: a certifying sitting that this machine serves."""

from __future__ import annotations

import argparse
import asyncio
import errno
import ipaddress
import os
import signal
import ssl
import sys
from pathlib import Path
from typing import Any

from squatlab.commands.bookkeeping import ALL, add_sitting, print_head, there, there_form_and_key
from squatlab.commands.options import add_examples
from squatlab.exam.forms import FormKey
from squatlab.exam.package import Package
from squatlab.exam.records import Records
from squatlab.exam.serving.hall import Hall
from squatlab.exam.serving.web import Door, serve

LOOPBACK = "127.0.0.1"

PORT = 8642
"""Where the exam is served, unless --port names another."""

HUB_PREFIX = "JUPYTERHUB_SERVICE_PREFIX"
"""What JupyterHub tells a service: where it is, behind the hub's proxy."""

PLAIN = (
    "WARNING: without --certificate everything goes through the network as plain text, codes and "
    "answers included: whoever is on the same network can read them and sit in another's name. "
    "Use it on a network of your own that nobody else is on, or give a certificate."
)


def add_serve_exam(serving: argparse.ArgumentParser) -> None:
    """Give ``serve-exam`` its options."""
    serving.description = (
        "Serve a form to those to whom it was opened in the records (squatlab records "
        "RECORDS open). This machine begins, times and ends every sitting and keeps every answer. "
        "Stop it with Ctrl-C; started again, all sittings go on."
    )
    add_examples(
        serving,
        "squatlab serve-exam spring.zip spring.key.json --by NAME",
        "squatlab serve-exam spring.zip spring.key.json --host 192.168.1.20 "
        "--certificate room.pem --private-key room.key --by NAME",
    )
    add_sitting(serving)
    serving.add_argument(
        "--by", required=True, metavar="NAME", help="the certifier, for the records"
    )
    serving.add_argument(
        "--host",
        default=LOOPBACK,
        metavar="ADDRESS",
        help="an address of this machine by which a room reaches it (default: this machine alone)",
    )
    serving.add_argument("--port", type=int, default=PORT, metavar="N", help=f"default: {PORT}")
    serving.add_argument(
        "--name",
        action="append",
        default=[],
        metavar="HOST",
        help="a host name that browsers use for this machine; may be given again",
    )
    serving.add_argument(
        "--certificate", type=Path, metavar="PEM", help="serve by https, with this"
    )
    serving.add_argument("--private-key", type=Path, metavar="PEM", help="the certificate's key")
    serving.add_argument(
        "--words",
        nargs="+",
        default=[],
        metavar="CANDIDATE",
        help="who also gets every lift in words, as agreed with them; the form must have been made "
        "with --text",
    )
    serving.add_argument(
        "--prefix",
        default=os.environ.get(HUB_PREFIX, "/"),
        metavar="PATH",
        help="where its pages begin (default: what JupyterHub gives a service, else /)",
    )
    serving.set_defaults(run=_serve)


def _serve(options: argparse.Namespace) -> int:
    """Serve until Ctrl-C; sign the records at both ends."""
    there_form_and_key(options)
    if (options.certificate is None) is not (options.private_key is None):
        raise ValueError("give --certificate and --private-key together, or neither")
    tls = None
    if options.certificate:
        there(options.certificate, options.private_key)
        tls = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        tls.load_cert_chain(options.certificate, options.private_key)
    records = Records.existing(options.records, options.by)
    try:
        if wrong := records.wrong_clock:
            raise ValueError(
                f"{wrong}. Set the clock right; if the last step's time is the wrong one, give the "
                "forms anew in records of their own (--records)"
            )
        hall = Hall(Package.read(options.form), FormKey.read(options.key), records, options.words)
        names = tuple(dict.fromkeys([*options.name, *_addresses(options.host)]))
        proxied = bool(os.environ.get(HUB_PREFIX))
        door = Door.open(options.by, names, options.prefix, tls is not None, proxied)
        asyncio.run(_until_stopped(hall, door, options.host, options.port, tls))
        print_head(records)
    finally:
        records.close()
    return ALL


async def _until_stopped(hall: Any, door: Any, host: str, port: int, tls: Any) -> None:
    """Serve, print where, and stop at Ctrl-C or a signal to end."""
    try:
        opened = await serve(hall, door, port, host, tls)
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise ValueError(
                f"port {port} of {host} is taken: an exam may be served there already; stop it, or "
                "choose another with --port"
            ) from None
        if error.errno == errno.EADDRNOTAVAIL:
            raise ValueError(f"--host {host} is no address of this machine") from None
        raise
    kind = "https" if tls else "http"
    shown = host if host not in ("0.0.0.0", "::") else (door.names or ("localhost",))[0]
    address = f"{kind}://{shown}:{opened.port}{door.prefix}"
    if door.proxied:
        address = f"<the hub's address>{door.prefix}"
    if not _is_loopback(host) and not tls:
        print(PLAIN, file=sys.stderr, flush=True)
    print(f"Form {hall.form.id} is served. Candidates open  {address}")
    print(f"Your desk, for you alone:        {address}desk?key={door.desk_key}")
    print("Ctrl-C stops serving; sittings that run go on when you start it again.", flush=True)
    stopped = asyncio.Event()
    _set_when_stopped(stopped)
    await stopped.wait()
    await opened.stop()


def _set_when_stopped(stopped: asyncio.Event) -> None:
    """Set an event of the running loop at Ctrl-C or a signal to end."""
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        try:
            loop.add_signal_handler(number, stopped.set)
        except NotImplementedError:  # Windows: its loops leave signals to Python
            signal.signal(number, lambda *_: loop.call_soon_threadsafe(stopped.set))


def _is_loopback(host: str) -> bool:
    """Return whether an address is reached from this machine alone."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _addresses(host: str) -> list[str]:
    """Return by which hosts an address may be asked for, beside this machine's own names."""
    return [] if host in ("0.0.0.0", "::") else [host]
