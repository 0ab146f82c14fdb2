"""Say in plain words whether everything that the course needs works here."""

from __future__ import annotations

import shutil
import sys
import tempfile
import webbrowser
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement

import squatlab
from squatlab import course, tables

BROWSERS = ("chromium", "google-chrome", "firefox", "microsoft-edge")
"""Programs to look for where the system names no browser of its own."""

GREETING = "import squatlab; print(squatlab.__version__, squatlab.Bar.low(60).mass_kg)"


@dataclass(frozen=True)
class InstalledPart:
    """One thing that was looked at, and whether the course can run with it."""

    name: str
    works: bool
    words: str

    def __str__(self) -> str:
        return f"{'ok  ' if self.works else 'FAIL'} {self.name}: {self.words}"


def findings(work: Path) -> tuple[InstalledPart, ...]:
    """Look at packages, folders, kernel and browser, in that order.

    ``work`` is the folder of the working copy. Starts a kernel, which
    takes some seconds.
    """
    return (
        python_and_squatlab(),
        packages(),
        came_along("data", "*.csv"),
        came_along("notebooks", course.START),
        your_work(work),
        kernel(),
        browser(),
    )


def python_and_squatlab() -> InstalledPart:
    """Say which squatlab runs in which Python."""
    here = Path(squatlab.__file__).parent
    words = f"squatlab {squatlab.__version__} in {here}, Python {sys.version.split()[0]}"
    return InstalledPart("versions", True, words)


def packages() -> InstalledPart:
    """Say which releases of the packages that squatlab needs are there."""
    try:
        wanted = metadata.requires("squatlab") or []
    except metadata.PackageNotFoundError:
        return InstalledPart(
            "packages", False, "squatlab is not installed; pip install . in its folder"
        )
    # Some packages are wanted on some machines only, or for tests.
    needs = [need for need in map(Requirement, wanted) if not need.marker or need.marker.evaluate()]
    names = [need.name for need in needs]
    there, missing = [], []
    for name in sorted(names):
        try:
            there.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            missing.append(name)
    if missing:
        words = f"{', '.join(missing)} missing; run pip install {' '.join(missing)}"
        return InstalledPart("packages", False, words)
    return InstalledPart("packages", True, ", ".join(there))


def came_along(name: str, pattern: str) -> InstalledPart:
    """Say where the folder "data" or "notebooks" is, if it is complete."""
    try:
        place = tables.folder(name)
    except FileNotFoundError as error:
        return InstalledPart(name, False, str(error))
    if not any(place.glob(pattern)):
        return InstalledPart(name, False, f"no {pattern} in {place}; install squatlab again")
    return InstalledPart(name, True, str(place))


def your_work(work: Path) -> InstalledPart:
    """Say where notebooks are kept once changed, and that nothing leaves."""
    state = "" if (work / course.RECORD).exists() else "; squatlab open will make it"
    return InstalledPart("your work", True, f"{work.resolve()}{state} (nothing is sent anywhere)")


def kernel() -> InstalledPart:
    """Start a kernel, have it use squatlab, and say what it answered."""
    # Not at the top: without it, the other lines can still say what is missing.
    from jupyter_client.manager import start_new_kernel

    messages: list[str] = []
    with tempfile.TemporaryFile() as log:  # the kernel's own words matter only if it fails
        try:
            manager, client = start_new_kernel(startup_timeout=60, stderr=log)
        except Exception as error:  # whatever stops a kernel is the answer to the question
            log.seek(0)
            last = log.read().decode(errors="replace").strip().rpartition("\n")[2]
            return InstalledPart("kernel", False, f"it does not start: {error} {last}".strip())
        try:
            client.execute_interactive(
                GREETING, timeout=60, output_hook=lambda message: messages.append(_text(message))
            )
        except TimeoutError:
            messages.append("nothing within 60 s")
        finally:
            client.stop_channels()
            manager.shutdown_kernel(now=True)
    if "".join(messages).strip() != f"{squatlab.__version__} 60.0":
        words = f'it should use this squatlab, but says "{"".join(messages).strip()}"'
        return InstalledPart("kernel", False, words)
    return InstalledPart("kernel", True, "it starts and uses this squatlab")


def _text(message: dict) -> str:
    """Return what a kernel's message says."""
    return message["content"].get("text") or message["content"].get("evalue") or ""


def browser() -> InstalledPart:
    """Say which browser would open; none is no failure, the address works."""
    try:
        name = getattr(webbrowser.get(), "name", "the system's own")
    except webbrowser.Error:
        name = next(filter(shutil.which, BROWSERS), None)
    return InstalledPart(
        "browser", True, name or "none found; open the printed address in one yourself"
    )
