"""Processes that share a command's work, and stop with it."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any


class Workers(ProcessPoolExecutor):
    """Work in several processes; Ctrl-C or an error leaves undone what is not begun.

    As `ProcessPoolExecutor`, which would first do all that it was given,
    and whose processes would each print a traceback of their own.
    """

    def submit(self, *work: Any, **named: Any) -> Future:
        """Give them work; as `ProcessPoolExecutor.submit`, which starts the processes."""
        # A terminal sends Ctrl-C to every process: what they inherit leaves it to the command.
        with _interrupted_later():
            return super().submit(*work, **named)

    def __exit__(self, error: type[BaseException] | None, *_: object) -> None:
        # Waiting for what they have in hand takes seconds, and a second Ctrl-C would leave them
        # behind. They are not killed: Python 3.11 may then wait for ever for their results.
        with _interrupted_later():
            self.shutdown(cancel_futures=error is not None)


@contextmanager
def _interrupted_later() -> Iterator[None]:
    """Keep Ctrl-C waiting, here and in processes started meanwhile; not on Windows."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
