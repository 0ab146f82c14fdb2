"""``squatlab open`` and ``squatlab check``: the course in JupyterLab."""

from __future__ import annotations

import argparse
import os
import socket
from pathlib import Path
from zlib import crc32

from squatlab import course, installation, storage, tables, units
from squatlab.commands.loading import load
from squatlab.commands.options import add_examples

COURSE = Path("squatlab-course")
"""The working copy, unless --dir names another."""


def add_open(opening: argparse.ArgumentParser) -> None:
    """Give ``open`` its options."""
    opening.description = (
        "Copy the course's notebooks into a folder of yours, or bring an older copy up to date, "
        "and open them in JupyterLab. What you changed is never overwritten."
    )
    add_examples(opening, "squatlab open", "squatlab open --dir my-course --units us")
    where = opening.add_mutually_exclusive_group()
    where.add_argument(
        "--dir",
        type=Path,
        default=COURSE,
        metavar="FOLDER",
        help="where your working copy is, or is to be made (default: ./squatlab-course)",
    )
    where.add_argument(
        "--in-place", action="store_true", help="open the originals themselves (for developers)"
    )
    opening.add_argument(
        "--instructor",
        action="store_true",
        help="the instructor's notebooks too, and with them the key to the checks",
    )
    opening.add_argument(
        "--units",
        choices=tuple(units.SYSTEMS),
        help="metric or us, in what you read and set; kept with the working copy",
    )
    opening.add_argument("--no-browser", action="store_true", help="only print the address")
    opening.add_argument(
        "--port", type=int, help="port of this machine to use (default: the first free from 8888)"
    )
    opening.set_defaults(run=_open)


def add_check(checking: argparse.ArgumentParser) -> None:
    """Give ``check`` its options."""
    checking.description = (
        "Look at packages, folders, kernel and browser, and say what works and what does not. "
        "Exit codes: 0 the course can run, 1 it cannot yet."
    )
    add_examples(checking, "squatlab check")
    checking.add_argument(
        "--dir",
        type=Path,
        default=COURSE,
        metavar="FOLDER",
        help="where your working copy is (default: ./squatlab-course)",
    )
    checking.set_defaults(run=_check)


def _open(options: argparse.Namespace) -> int:
    """Run JupyterLab on notebook 00 until it is stopped."""
    if options.port is not None:
        _must_be_free(options.port)
    if options.in_place:
        if options.units:  # for this time alone: the originals keep nobody's choice
            os.environ[units.VARIABLE] = options.units
        folder = tables.folder("notebooks")
    else:
        _must_not_be_anothers(options.dir)
        place = Path(os.path.realpath(options.dir))
        copied = course.working_copy(place, options.instructor, options.units)
        load("squatlab.notebook_trust:trust")(copied)
        print(copied)
        folder = copied.folder
        if options.units:
            units.keep(options.units, folder)
    where = "at the address below" if options.no_browser else "in your browser"
    print(f"JupyterLab starts; in half a minute at most the course opens {where}.")
    print("Keep this window open; Ctrl+C in it stops the course.", flush=True)

    lab = load("jupyterlab.labapp:LabApp")
    lab.launch_instance(lab_arguments(folder, options.port, not options.no_browser))
    return 0


def _must_not_be_anothers(folder: Path) -> None:
    """Refuse a folder with files in it that no working copy was made in."""
    holds_files = folder.is_dir() and any(
        not storage.is_leftover(path) for path in folder.iterdir()
    )
    if holds_files and not (folder / course.RECORD).exists():
        raise ValueError(
            f"{folder} holds files that are not the course's; "
            f"give a new folder, such as --dir {folder / COURSE}"
        )


def _must_be_free(port: int) -> None:
    """Raise ValueError for a port that JupyterLab could not serve on."""
    if not 1 <= port <= 65535:
        raise ValueError(f"--port is {port}; it must lie between 1 and 65535")
    with socket.socket() as trial:
        # Without this a port that was in use seconds ago would count as taken.
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, os.name != "nt")
        try:
            trial.bind(("127.0.0.1", port))
        except OSError as error:
            raise ValueError(
                f"port {port} cannot be used ({error.strerror}); "
                "leave --port out and the first free one is taken"
            ) from None


def lab_arguments(folder: Path, port: int | None, browser: bool) -> list[str]:
    """Return what JupyterLab is started with on a folder of notebooks.

    A workspace for each folder keeps other folders' tabs away. The news
    pop-up and the delay on small messages are switched off here too,
    for a squatlab that was not installed into this environment.
    """
    workspace = f"squatlab-{crc32(os.fsencode(folder)):08x}"
    arguments = [
        f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/lab/workspaces/{workspace}/tree/{course.START}",
        "--LabApp.news_url=None",
        "--ServerApp.kernel_websocket_connection_class=squatlab.server.PromptConnection",
    ]
    if port is not None:
        arguments += [f"--ServerApp.port={port}", "--ServerApp.port_retries=0"]
    if not browser:
        arguments.append("--no-browser")
    if getattr(os, "geteuid", lambda: 1)() == 0:
        arguments.append("--allow-root")  # as in a container; it still serves this machine only
    return arguments


def _check(options: argparse.Namespace) -> int:
    """Print what is there and what works; 1 if the course cannot run."""
    findings = installation.findings(options.dir)
    print(*findings, sep="\n")
    works = all(finding.works for finding in findings)
    print("The course can run." if works else "The course cannot run yet: see FAIL above.")
    return 0 if works else 1
