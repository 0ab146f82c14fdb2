"""The command line: ``squatlab open`` and ``squatlab check``."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import webbrowser
from importlib.metadata import version
from pathlib import Path

import squatlab
from squatlab import course, tables

SHOWN_VERSIONS = ("jupyterlab", "ipywidgets", "anywidget", "numpy", "scipy", "matplotlib", "sympy")


def main(arguments: list[str] | None = None) -> int:
    """Run a command; return 0, 1 if a check failed, 2 for wrong use."""
    options = _parser().parse_args(arguments)
    try:
        return options.run(options)
    except (OSError, ValueError) as error:
        print(f"squatlab: {error}", file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="squatlab",
        description="A course kit for teaching the high-bar and low-bar back squat.",
        epilog="Numbers here teach and do not prescribe; set safety bars or spotters first.",
    )
    parser.add_argument("--version", action="version", version=f"squatlab {squatlab.__version__}")
    commands = parser.add_subparsers(required=True, metavar="command")

    opening = commands.add_parser("open", help="open the course in JupyterLab")
    where = opening.add_mutually_exclusive_group()
    where.add_argument(
        "--dir", type=Path, default=Path("squatlab-course"), metavar="FOLDER",
        help="where your working copy is, or is to be made (default: ./squatlab-course)",
    )  # fmt: skip
    where.add_argument(
        "--in-place", action="store_true", help="open the originals themselves (for developers)"
    )
    opening.add_argument("--no-browser", action="store_true", help="only print the address")
    opening.add_argument("--port", type=int, default=8888, help="port to try first (default: 8888)")
    opening.set_defaults(run=_open)

    checking = commands.add_parser("check", help="say whether everything the course needs works")
    checking.set_defaults(run=_check)
    return parser


def _open(options: argparse.Namespace) -> int:
    """Start JupyterLab on notebook 00 and stay until it is stopped."""
    if not 1 <= options.port <= 65535:
        raise ValueError(f"--port is {options.port}; it must lie between 1 and 65535")
    if options.in_place:
        folder = tables.folder("notebooks")
    else:
        copied = course.working_copy(options.dir.resolve())
        print(copied, flush=True)
        folder = copied.folder
    return subprocess.call(lab_command(folder, options.port, not options.no_browser))


def lab_command(folder: Path, port: int, browser: bool) -> list[str]:
    """Return the command that starts JupyterLab on a folder's first notebook."""
    command = [
        sys.executable, "-m", "jupyterlab",
        f"--ServerApp.root_dir={folder}",
        f"--ServerApp.port={port}",
        f"--LabApp.default_url=/lab/tree/{course.START}",
        "--ServerApp.kernel_websocket_connection_class=squatlab.server.PromptConnection",
    ]  # fmt: skip
    if not browser:
        command.append("--no-browser")
    if getattr(os, "geteuid", lambda: 1)() == 0:
        command.append("--allow-root")
    return command


def _check(_: argparse.Namespace) -> int:
    """Print what is there and what works; 1 if the course cannot run."""
    print(f"squatlab {squatlab.__version__}, Python {sys.version.split()[0]}")
    print("  " + ", ".join(f"{name} {version(name)}" for name in SHOWN_VERSIONS))
    print(f"  data: {tables.folder('data')}")
    print(f"  notebooks: {tables.folder('notebooks')}")
    print(f"  your work: {Path('squatlab-course').resolve()} (nothing is sent anywhere)")
    answer = kernel_answer()
    print(f"  kernel: {'starts and computes' if answer == '42' else 'does NOT work: ' + answer}")
    print(f"  browser: {browser_name() or 'none found; open the printed address yourself'}")
    return 0 if answer == "42" else 1


def kernel_answer() -> str:
    """Start a kernel, have it compute 6 × 7, and return what it printed."""
    from jupyter_client.manager import start_new_kernel

    try:
        manager, client = start_new_kernel(startup_timeout=60)
    except Exception as error:  # whatever stops a kernel is the answer to the question
        return f"{type(error).__name__}: {error}"
    printed = []
    try:
        client.execute_interactive(
            "print(6 * 7)", timeout=60,
            output_hook=lambda message: printed.append(message["content"].get("text", "")),
        )  # fmt: skip
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)
    return "".join(printed).strip()


def browser_name() -> str | None:
    """Return the browser that would open, or None."""
    try:
        return getattr(webbrowser.get(), "name", "default browser")
    except webbrowser.Error:
        return None


if __name__ == "__main__":
    sys.exit(main())
