"""What holds for every test: the same on every machine, and nobody's own settings."""

from __future__ import annotations

import gc
import importlib.metadata
import os
import sqlite3
import tempfile

import pytest
from hypothesis import settings

from tests.browser import lab

# No deadline: a busy machine is no fault. The same examples every time: a red run can be repeated.
settings.register_profile("squatlab", deadline=None, derandomize=True)
settings.load_profile("squatlab")


def pytest_addoption(parser):
    """Let the fuzzers of tests/fuzz run for an hour instead of a minute."""
    parser.addoption("--long-fuzz", action="store_true", help="tens of thousands of cases")


def pytest_configure(config):
    """Keep the tester's own Jupyter and IPython settings out of every kernel."""
    place = tempfile.TemporaryDirectory(prefix="squatlab-tests-", ignore_cleanup_errors=True)
    config.add_cleanup(place.cleanup)
    for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR"):
        folder = os.path.join(place.name, name.lower())
        os.mkdir(folder)
        os.environ[name] = folder


@pytest.hookimpl(trylast=True)  # what -k leaves out is out by then
def pytest_collection_modifyitems(config, items):
    """Run a notebook once: where it is run in the browser, and compared there, not by nbval too."""
    if lab.CHROMIUM is None:
        return
    in_browser = {
        item.callspec.params["notebook"]
        for item in items
        if getattr(item, "originalname", "") == "test_every_cell_shows_what_is_kept"
    }
    notebooks = config.rootpath / "notebooks"
    twice = [
        item
        for item in items
        if item.path.is_relative_to(notebooks)
        and item.path.relative_to(notebooks).as_posix() in in_browser
    ]
    config.hook.pytest_deselected(items=twice)
    items[:] = [item for item in items if item not in twice]


@pytest.hookimpl(trylast=True)
def pytest_collection_finish():
    """Do not look for garbage, again and again, among modules and tests that stay to the end.

    In tests/exam and tests/review 12 s of 155 were spent so.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000)  # new objects before the young are looked through; 700 by itself


@pytest.fixture(scope="session", autouse=True)
def nothing_waits_for_the_disk():
    """Let SQLite, in this process, leave it to the system when its files come to the disk.

    What is kept outlasts a killed program all the same, only not a power cut, which no test makes.
    Of 46 s in tests/exam/test_rulings.py 28 s were such waits.
    """

    import sqlalchemy  # not for the process that only hands out the tests

    def quick(connection, _) -> None:
        if isinstance(connection, sqlite3.Connection):
            connection.execute("PRAGMA synchronous=OFF").close()

    sqlalchemy.event.listen(sqlalchemy.Engine, "connect", quick)
    yield
    sqlalchemy.event.remove(sqlalchemy.Engine, "connect", quick)


@pytest.fixture(scope="session", autouse=True)
def fonts_without_their_layout():
    """Leave tables that a PDF has no use for, in this process, out of fonts before all else.

    They say which letters join and how far they keep apart, which matplotlib has decided by then.
    To cut them down to the letters of a page was two thirds of the time that a PDF took.
    """
    from fontTools.subset import Options

    with pytest.MonkeyPatch.context() as patch:
        tables = [*Options._drop_tables_default, "GDEF", "GPOS", "GSUB"]
        patch.setattr(Options, "_drop_tables_default", tables)
        yield


@pytest.fixture
def pages_undrawn():
    """Write PDFs without drawing their pages, which takes a second each and which few tests read.

    Gives the patch: a test that reads one undoes it.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("squatlab.show.paper.pdf", lambda pages, title: b"%PDF of " + title.encode())
        yield patch


@pytest.fixture(scope="session")
def jump():
    """A counter-movement jump in a laboratory: data file of the package biomdp 0.11.2 (MIT)."""
    pytest.importorskip("ezc3d", reason="ezc3d is not installed: C3D files cannot be read")
    try:
        files = importlib.metadata.files("biomdp") or ()
    except importlib.metadata.PackageNotFoundError:
        pytest.skip("the package biomdp with its C3D file is absent: pip install --no-deps biomdp")
    return next(str(f.locate()) for f in files if f.name.endswith("CMJ_kinem_kinet_emg.c3d"))
