"""What holds for every test: the same on every machine, and nobody's own settings."""

from __future__ import annotations

import importlib.metadata
import os
import tempfile

import pytest
from hypothesis import settings

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
