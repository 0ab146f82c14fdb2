"""Records to write into: a file, and a real PostgreSQL server where Debian's packages are."""

from __future__ import annotations

import os

import pytest

from squatlab.exam import codes
from squatlab.exam.records import Records
from tests import postgresql
from tests.exam import invented_class

STRETCH = codes.STRETCH


@pytest.fixture(scope="package", autouse=True)
def codes_cost_nothing():
    """Let a code be tried in no time: it takes 10 ms against whoever tries them all."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(codes, "STRETCH", STRETCH | {"n": 2})
        yield


@pytest.fixture
def codes_as_they_are(monkeypatch):
    """Let a code cost what it costs elsewhere, such as in another process."""
    monkeypatch.setattr(codes, "STRETCH", STRETCH)


@pytest.fixture(scope="session")
def server():
    """The URL of a PostgreSQL server."""
    if postgresql.MISSING:
        missing = pytest.fail if os.environ.get("SQUATLAB_REQUIRE_POSTGRESQL") else pytest.skip
        missing(postgresql.MISSING)
    with postgresql.running() as url:
        yield url


@pytest.fixture(params=["file", "postgresql"])
def where(request, tmp_path):
    """Where empty records may be made: a path, then a URL."""
    if request.param == "file":
        return str(tmp_path / "records.sqlite")
    return postgresql.database(request.getfixturevalue("server"))


@pytest.fixture
def records(where):
    """Empty records."""
    kept = Records(where, "T. Test")
    yield kept
    kept.close()


@pytest.fixture(scope="session")
def form_and_key():
    """A form of 30 lifts and ten other items, and its key."""
    return invented_class.form_and_key()
