"""What holds for every test: the same on every machine, and nobody's own settings."""

from __future__ import annotations

import os
import tempfile

from hypothesis import settings

# No deadline: a busy machine is no fault. The same examples every time: a red run can be repeated.
settings.register_profile("squatlab", deadline=None, derandomize=True)
settings.load_profile("squatlab")


def pytest_configure(config):
    """Keep the tester's own Jupyter and IPython settings out of every kernel."""
    place = tempfile.TemporaryDirectory(prefix="squatlab-tests-", ignore_cleanup_errors=True)
    config.add_cleanup(place.cleanup)
    for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR"):
        folder = os.path.join(place.name, name.lower())
        os.mkdir(folder)
        os.environ[name] = folder
