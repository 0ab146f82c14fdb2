"""How a command may end, whatever it is given."""

from __future__ import annotations

import contextlib
import io
import re
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from squatlab.__main__ import main

SECONDS, WAITED = 30.0, 600.0
"""More seconds of computing, or of waiting on a busy machine, are called a hang."""

ACTS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")

FINDINGS = (0, 1, 3, 5)
"""What commands say by their exit code, as their help tells."""

LONGEST = 3_000
"""Characters of an error, usage included: more is somebody else's text."""


class Ending(NamedTuple):
    """Hold how a command ended."""

    code: int
    out: str
    err: str
    seconds: float
    waited: float


def run(*arguments: object) -> Ending:
    """Run a command in this process."""
    out, err = io.StringIO(), io.StringIO()
    began, computed = time.monotonic(), time.process_time()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = main([str(argument) for argument in arguments])
        except SystemExit as ended:
            code = ended.code
    computed, waited = time.process_time() - computed, time.monotonic() - began
    return Ending(code, out.getvalue(), err.getvalue(), computed, waited)


def wrong(ending: Ending) -> str:
    """Return what is wrong with how a command ended, or nothing."""
    if ending.code not in FINDINGS and ending.code != 2:
        found = re.search(r"squatlab-error-[\w-]+\.txt", ending.err)
        details = Path(tempfile.gettempdir(), found[0]).read_text() if found else ""
        return f"exit code {ending.code}: {ending.err}{details[-1500:]}"
    if ending.code == 2 and not ending.err.strip():
        return "exit code 2 without a word"
    if "Traceback" in ending.err + ending.out:
        return ending.err
    if len(ending.err) > LONGEST:
        return f"{len(ending.err)} characters of error: {ending.err[:200]}"
    if acts := ACTS.search(ending.err) or ACTS.search(ending.out):
        return f"a control character {acts[0]!r}"
    if ending.seconds > SECONDS or ending.waited > WAITED:
        return f"{ending.seconds:.0f} s of computing, {ending.waited:.0f} s in all"
    return ""
