"""Serve the course to a class by JupyterHub; class_server.md beside this file says how.

Who may log in, and how servers are started, is for the site to say, in a file of the same kind
that SQUATLAB_SITE names. It is read last and may change anything that is set here.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

from squatlab.commands.open_command import COURSE
from squatlab.course import START

IDLE_S = 2 * 60 * 60
"""A server that nobody has used for so long is stopped, and its memory free [teaching-value]."""

MEMORY = "1G"
"""What one person may use; an open notebook of the course takes a third [teaching-value]."""

INSTRUCTORS = "instructors"
"""The hub's group whose members are told where the records of exams are, and who get the
instructor's notebooks."""

UNSAFE = {"authenticator_class": "dummy", "spawner_class": "simple"}
"""What lets anybody in, or runs everybody's notebooks as one account: for trials alone."""


def instructor(spawner: Any) -> str:
    """Return a word for an instructor's server, nothing for others."""
    user = spawner.user
    return "yes" if user.admin or any(group.name == INSTRUCTORS for group in user.groups) else ""


def records(spawner: Any) -> str:
    """Return the records' URL for an instructor's server, nothing for others.

    It has the password, so a trainee who had it could write themselves a
    certificate.
    """
    return os.environ.get("SQUATLAB_RECORDS", "") if instructor(spawner) else ""


def objection(chosen: Any, trial: bool) -> str:
    """Return why not to start with what the site has chosen, or ""."""
    if "authenticator_class" not in chosen:
        return (
            "say who may log in: set SQUATLAB_SITE to a file with a line such as "
            'c.JupyterHub.authenticator_class = "pam"; class_server.md shows one'
        )
    for name, word in UNSAFE.items():
        if word in str(chosen.get(name, "")).lower() and not trial:
            return (
                f"{name} is {chosen[name]}, which keeps nobody out of other people's work; choose "
                "your site's own (only where nothing matters, SQUATLAB_TRIAL=1 allows it)"
            )
    return ""


c = get_config()  # noqa: F821  JupyterHub gives it to its configuration

# This machine only: the site's own web server stands before it, with its certificate.
c.JupyterHub.bind_url = "http://127.0.0.1:8000"
c.Spawner.cmd = [sys.executable, "-m", "jupyterhub.singleuser"]
c.Spawner.args = [
    # First the kernels, even with a forgotten page still open, then the empty server.
    f"--MappingKernelManager.cull_idle_timeout={IDLE_S}",
    "--MappingKernelManager.cull_connected=True",
    f"--TerminalManager.cull_inactive_timeout={IDLE_S}",
    f"--ServerApp.shutdown_no_activity_timeout={IDLE_S}",
]
# The server's own part of squatlab makes the working copy there, as the user it belongs to.
c.Spawner.environment = {
    "SQUATLAB_COURSE": str(COURSE),
    "SQUATLAB_INSTRUCTOR": instructor,
    "SQUATLAB_RECORDS": records,
}
c.Spawner.default_url = f"/lab/tree/{COURSE}/{START}"
c.Spawner.mem_limit = MEMORY

if site := os.environ.get("SQUATLAB_SITE", ""):
    load_subconfig(str(Path(site).resolve(strict=True)))  # noqa: F821  as get_config
if problem := objection(c.JupyterHub, os.environ.get("SQUATLAB_TRIAL") == "1"):
    raise ValueError(problem)
