"""Records to write into: a file, and a real PostgreSQL server where Debian's packages are."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from itertools import count
from pathlib import Path

import pytest
import sqlalchemy

from squatlab.exam.records import Records
from tests.exam import invented_class

NUMBERS = count()


@pytest.fixture(scope="session")
def server():
    """The URL of a PostgreSQL server: the tester's own, or one started for this run."""
    if given := os.environ.get("SQUATLAB_POSTGRESQL"):
        yield given
        return
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl"))
    if not programs:
        missing = pytest.fail if os.environ.get("SQUATLAB_REQUIRE_POSTGRESQL") else pytest.skip
        missing(
            "no PostgreSQL server: install Debian's package postgresql, or set SQUATLAB_POSTGRESQL "
            "to the URL of a server on which databases may be created"
        )
    place = Path(tempfile.mkdtemp(prefix="squatlab-postgresql-"))
    # The server refuses to run as root.
    owner = {"user": "postgres"} if os.geteuid() == 0 else {}
    if owner:
        shutil.chown(place, "postgres")

    def run(program: str, *arguments: str) -> None:
        subprocess.run(
            [programs[-1].with_name(program), "-D", place / "data", *arguments],
            check=True, stdout=subprocess.DEVNULL, cwd=place, **owner,
        )  # fmt: skip

    run("initdb", "-U", "squatlab", "-A", "trust", "-N", "-E", "UTF8")
    options = f"-k {place} -c listen_addresses= -c max_connections=80"
    run("pg_ctl", "-w", "-l", str(place / "log"), "-o", options, "start")
    try:
        yield f"postgresql+pg8000://squatlab@/postgres?unix_sock={place}/.s.PGSQL.5432"
    finally:
        run("pg_ctl", "-m", "immediate", "stop")
        shutil.rmtree(place, ignore_errors=True)


@pytest.fixture(params=["file", "postgresql"])
def where(request, tmp_path):
    """Where empty records may be made: a path, then a URL."""
    if request.param == "file":
        return str(tmp_path / "records.sqlite")
    url = sqlalchemy.make_url(request.getfixturevalue("server"))
    name = f"squatlab_{os.getpid()}_{next(NUMBERS)}"
    engine = sqlalchemy.create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(sqlalchemy.text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return url.set(database=name).render_as_string(hide_password=False)


@pytest.fixture
def records(where):
    """Empty records."""
    kept = Records(where)
    yield kept
    kept.close()


@pytest.fixture(scope="session")
def form_and_key():
    """A form of 30 lifts and ten other items, and its key."""
    return invented_class.form_and_key()
