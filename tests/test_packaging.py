"""What travels in the wheel: the package, its tables, its notebooks, the server's settings."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LEFT_OUT = {"__pycache__", ".ipynb_checkpoints"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel, built from this checkout without the network."""
    place = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(place)],
        cwd=ROOT, check=True, capture_output=True,
    )  # fmt: skip
    (built,) = place.glob("squatlab-*.whl")
    with zipfile.ZipFile(built) as opened:
        yield opened


def files(folder: str) -> set[str]:
    return {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and not LEFT_OUT & set(path.parts)
    }


def test_the_wheel_holds_everything_and_nothing_else(wheel):
    inside = {name for name in wheel.namelist() if name.startswith("squatlab/")}
    travelling = {f"squatlab/{name}" for name in files("data") | files("notebooks")}
    assert inside == files("squatlab") | travelling


def test_the_servers_settings_are_put_where_jupyter_looks(wheel):
    places = {name.partition(".data/data/")[2]: name for name in wheel.namelist()}
    server = json.loads(wheel.read(places["etc/jupyter/jupyter_server_config.d/squatlab.json"]))
    assert server == {"ServerApp": {"jpserver_extensions": {"squatlab.server": True}}}
    # In overrides.d, one file a package, so that nobody's own overrides.json is replaced.
    lab = json.loads(wheel.read(places["share/jupyter/lab/settings/overrides.d/squatlab.json"]))
    assert lab["@jupyterlab/apputils-extension:notification"]["fetchNews"] == "false"


def test_an_installed_copy_finds_its_tables_and_notebooks(wheel, tmp_path):
    wheel.extractall(tmp_path)
    code = (
        "import squatlab; from squatlab import tables; "
        "print(tables.folder('data')); print(tables.folder('notebooks')); "
        "print(len(tables.sources()), squatlab.Bar.low(60).mass_kg)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, check=True, capture_output=True, text=True,
        env=os.environ | {"PYTHONPATH": str(tmp_path)},
    )  # fmt: skip
    data, notebooks, numbers = run.stdout.splitlines()
    assert Path(data) == tmp_path / "squatlab" / "data"
    assert Path(notebooks) == tmp_path / "squatlab" / "notebooks"
    assert int(numbers.split()[0]) > 0
    assert numbers.endswith(" 60.0")


def test_an_installed_squatlab_is_announced_to_jupyter():
    """Editable or not, installing it is all that a class server needs."""
    enabled = Path(sys.prefix, "etc", "jupyter", "jupyter_server_config.d", "squatlab.json")
    assert json.loads(enabled.read_text(encoding="utf-8")) == json.loads(
        (ROOT / "squatlab" / "jupyter" / "squatlab.json").read_text(encoding="utf-8")
    )
