"""How every command ends: what it prints, what is said of an error, its exit code.

An exit code of 1 is a command's own finding. Whatever goes wrong has
another, so that no script takes an error for a result.
"""

from __future__ import annotations

import contextlib
import errno
import os
import platform
import re
import secrets
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import TextIO

import squatlab

WRONG_USE = 2
"""Wrong use, a file that cannot be read or written, an output that is full."""

UNFORESEEN = 4
"""An error that squatlab did not foresee; a file holds the details."""

INTERRUPTED = 130
"""Ctrl-C, as shells say of any tool: 128 + SIGINT."""

NOBODY_READS = 141
"""The end of the pipe, as shells say of any tool: 128 + SIGPIPE."""

LONGEST_LINE, LONGEST_MESSAGE = 600, 2_000
"""Characters of a message: more comes from somebody else's file."""

CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""What moves the cursor, changes colours or turns text round on a terminal."""


class OutputLost(Exception):
    """Say that standard output or error takes nothing more, and why."""

    def __init__(self, stream: TextIO, cause: OSError) -> None:
        super().__init__(cause.strerror or str(cause))
        self.stream, self.cause = stream, cause

    @property
    def nobody_reads(self) -> bool:
        """Return whether a reader has gone: no error, but the end of the work."""
        # Windows calls a closed pipe EINVAL.
        return self.cause.errno in (errno.EPIPE, errno.EINVAL)


class Plain:
    """Pass text on to a stream without control characters, which act on a terminal.

    Names and labels come from files that anybody may have made. A stream
    that fails raises `OutputLost`, which nobody takes for a fault in a file.
    ``may_return`` lets a line be written over, as progress does.
    """

    def __init__(self, stream: TextIO, may_return: bool = False) -> None:
        self._stream, self._may_return = stream, may_return

    def write(self, text: str) -> int:
        """Write text; return its length. Raises OutputLost."""
        plain = CONTROL.sub("\N{REPLACEMENT CHARACTER}", text)
        try:
            self._stream.write(plain if self._may_return else plain.replace("\r", " "))
        except OSError as problem:
            raise OutputLost(self._stream, problem) from problem
        return len(text)

    def flush(self) -> None:
        """Pass on what waits. Raises OutputLost."""
        try:
            self._stream.flush()
        except OSError as problem:
            raise OutputLost(self._stream, problem) from problem

    def __getattr__(self, name: str) -> object:
        return getattr(self._stream, name)


@contextlib.contextmanager
def plain_output() -> Iterator[None]:
    """Let everything that is printed meanwhile pass through `Plain`."""
    # A closed 1 or 2 would be given to the next file that is opened, and take what is printed.
    with contextlib.suppress(OSError):
        while (opened := os.open(os.devnull, os.O_RDWR)) <= 2:
            pass
        os.close(opened)
    streams = []
    for stream in (sys.stdout, sys.stderr):
        stream = stream or open(os.devnull, "w", encoding="utf-8")
        # Where degrees and minus signs cannot be written, a ? beats no answer at all.
        getattr(stream, "reconfigure", lambda errors: None)(errors="replace")
        streams.append(Plain(stream, may_return=stream is sys.stderr))
    with contextlib.redirect_stdout(streams[0]), contextlib.redirect_stderr(streams[1]):
        yield


def exit_code(run: Callable[[], int]) -> int:
    """Run a command and return its exit code, whatever happens.

    Says in a few words on standard error what went wrong. SystemExit, as
    the reading of the command line raises it, passes.
    """
    with plain_output():
        try:
            try:
                return run()
            finally:
                print(end="", flush=True)  # what is left would fail at exit, where nothing catches
        except OutputLost as lost:
            _silence(lost.stream)
            if lost.nobody_reads:
                return NOBODY_READS
            return _say(f"the output could not be written: {lost}", WRONG_USE)
        except KeyboardInterrupt:
            return _say("interrupted; every file is as it was or complete", INTERRUPTED)
        except OSError as error:
            return _say(disk_words(error), WRONG_USE)
        except ValueError as error:
            return _say(str(error), WRONG_USE)
        except Exception as error:  # whatever it is: no traceback, and no result
            return _say(_unforeseen(error), UNFORESEEN)


def disk_words(error: OSError) -> str:
    """Return an error of the disk as people read it: the file, and what is wrong."""
    words = error.strerror or str(error)
    return f"{error.filename}: {words}" if error.filename else words


def _say(words: str, code: int) -> int:
    """Write a short message to standard error if it takes one; return the code."""
    try:
        print(f"squatlab: {shortened(words)}", file=sys.stderr, flush=True)
    except OutputLost as lost:
        _silence(lost.stream)
    except KeyboardInterrupt:
        return INTERRUPTED
    return code


def shortened(words: str) -> str:
    """Return a message of bearable length: long lines and a long rest cut off."""
    lines = [
        line if len(line) <= LONGEST_LINE else f"{line[: LONGEST_LINE - 1]}…"
        for line in words.splitlines()
    ]
    shown_lines: list[str] = []
    for line in lines:
        if sum(map(len, shown_lines)) + len(line) > LONGEST_MESSAGE:
            return "\n".join([*shown_lines, f"… and {len(lines) - len(shown_lines)} more lines"])
        shown_lines.append(line)
    return "\n".join(shown_lines)


def _unforeseen(error: Exception) -> str:
    """Write the details of an error to a file; return what to tell of it."""
    if isinstance(error, MemoryError):
        what = "there is not enough memory for this; close other programs or give a smaller file"
    else:
        what = f"an error that was not foreseen ({type(error).__name__})"
    details = "\n".join(
        [
            f"squatlab {squatlab.__version__}, Python {platform.python_version()}, "
            f"{platform.platform()}",
            " ".join(map(repr, sys.argv)),
            "".join(traceback.format_exception(error)),
        ]
    )
    name = f"squatlab-error-{datetime.now():%Y%m%d-%H%M%S}-{secrets.token_hex(3)}.txt"
    path = Path(tempfile.gettempdir()) / name
    try:
        path.write_text(details, encoding="utf-8", errors="backslashreplace")
    except OSError:
        return f"{what}: {str(error)[:200]}. Nothing was decided; please report it"
    return (
        f"{what}. Nothing was decided. The details are in {path}; please report it with that file, "
        "after taking out names"
    )


def _silence(stream: TextIO) -> None:
    """Let a stream that fails swallow the rest: Python tries once more at its end."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
