"""Say on a terminal that long work goes on."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_line(what: str, after_s: float = 2.0, every_s: float = 1.0) -> Iterator[None]:
    """Write what is being done to stderr, once it has taken a while.

    The seconds since the start are counted on, in one line. Nothing is
    written where nobody watches: to a file or another program.
    """
    if not sys.stderr.isatty():
        yield
        return
    done = threading.Event()
    teller = threading.Thread(target=_tell, args=(what, after_s, every_s, done), daemon=True)
    teller.start()
    try:
        yield
    finally:
        done.set()
        teller.join()


BAR_WIDTH = 30


def progress_bar(what: str) -> Callable[[int, int], None]:
    """Return what draws a bar on stderr, of how much is done of how much.

    Nothing is drawn where nobody watches: to a file or another program.
    """

    def draw(done: int, whole: int) -> None:
        if sys.stderr.isatty():
            filled = "#" * (BAR_WIDTH * done // whole)
            bar = f"[{filled:.<{BAR_WIDTH}}] {done} of {whole}"
            end = "\n" if done == whole else ""
            print(f"\r{what}: {bar}", end=end, file=sys.stderr, flush=True)

    return draw


def _tell(what: str, after_s: float, every_s: float, done: threading.Event) -> None:
    begun = time.monotonic()
    if done.wait(after_s):
        return
    while True:
        seconds = time.monotonic() - begun
        print(f"\r{what}: {seconds:.0f} s", end="", file=sys.stderr, flush=True)
        if done.wait(every_s):
            break
    print(file=sys.stderr)
