"""A real PostgreSQL server, from Debian's packages or the tester's own."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import sqlalchemy

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl"))
GIVEN = os.environ.get("SQUATLAB_POSTGRESQL", "")
MISSING = (
    ""
    if GIVEN or PROGRAMS
    else (
        "no PostgreSQL server: install Debian's package postgresql, or set SQUATLAB_POSTGRESQL "
        "to the URL of a server on which databases may be created"
    )
)
NUMBERS = count()


@contextmanager
def running() -> Iterator[str]:
    """Yield a server's URL: the tester's own, or one started for this run."""
    if GIVEN:
        yield GIVEN
        return
    place = Path(tempfile.mkdtemp(prefix="squatlab-postgresql-"))
    # The server refuses to run as root.
    owner = {"user": "postgres"} if os.geteuid() == 0 else {}
    if owner:
        shutil.chown(place, "postgres")

    def run(program: str, *arguments: str) -> None:
        subprocess.run(
            [PROGRAMS[-1].with_name(program), "-D", place / "data", *arguments],
            check=True,
            stdout=subprocess.DEVNULL,
            cwd=place,
            **owner,
        )

    run("initdb", "-U", "squatlab", "-A", "trust", "-N", "-E", "UTF8")
    # Nothing of it must outlast the machine: it need not wait for the disk.
    quick = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"
    options = f"-k {place} -c listen_addresses= -c max_connections=80 {quick}"
    run("pg_ctl", "-w", "-l", str(place / "log"), "-o", options, "start")
    try:
        yield f"postgresql+pg8000://squatlab@/postgres?unix_sock={place}/.s.PGSQL.5432"
    finally:
        run("pg_ctl", "-m", "immediate", "stop")
        shutil.rmtree(place, ignore_errors=True)


def database(server: str) -> str:
    """Create an empty database on a server; return its URL."""
    url = sqlalchemy.make_url(server)
    name = f"squatlab_{os.getpid()}_{next(NUMBERS)}"
    engine = sqlalchemy.create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(sqlalchemy.text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return url.set(database=name).render_as_string(hide_password=False)
