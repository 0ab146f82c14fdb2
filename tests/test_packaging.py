"""What travels in the wheel; and a copy installed from it, which needs nothing else of ours."""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
import sysconfig
import tomllib
import venv
import zipfile
from pathlib import Path
from urllib.request import urlopen

import pytest
from packaging.version import Version

import squatlab
from squatlab.exam.records import Records
from tests.browser import lab

ROOT = Path(__file__).parents[1]
LEFT_OUT = {"__pycache__", ".ipynb_checkpoints"}
IGNORED = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
LEFT_BEHIND = tuple(line for line in IGNORED if line.startswith("notebooks/"))
"""Where the notebooks write when they are run in their own folder."""

WITNESS = """
import os, sys

def hook(event, given):
    if event in ("open", "os.listdir", "os.scandir") and isinstance(given[0], (str, bytes)):
        path = os.path.realpath(os.fsdecode(given[0])) + os.sep
        if path.startswith({root!r}) and not path.startswith({prefix!r}):
            os.write(2, f"read from the checkout: {{path}}".encode())
            os._exit(99)

sys.addaudithook(hook)
"""
"""Ends any Python of the installed copy, kernels too, that looks into this checkout."""

SMALL = {"first_head": "2", "number": "1", "choice_bar": "1"}
"""Cells of a blueprint, and how many items each has, for a demo that takes seconds."""


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The wheel's file, built from this checkout without the network."""
    place = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(place)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (built,) = place.glob("squatlab-*.whl")
    return built


@pytest.fixture
def wheel(built):
    """The wheel, opened."""
    with zipfile.ZipFile(built) as opened:
        yield opened


@pytest.fixture(scope="module")
def python(built, tmp_path_factory):
    """The Python of an environment where squatlab is the wheel's, the other packages ours.

    To install those anew would take a minute and the network.
    """
    folder = tmp_path_factory.mktemp("installed")
    venv.create(folder)
    paths = {"base": folder, "platbase": folder}
    python = Path(sysconfig.get_path("scripts", "venv", paths)) / "python"
    install = ["install", "-q", "--no-deps", "--no-index", built]
    subprocess.run([sys.executable, "-m", "pip", "--python", python, *install], check=True)
    # A folder that a .pth file names is searched, but its own .pth files are not read: the
    # editable link to this checkout stays out.
    packages = Path(sysconfig.get_path("purelib", "venv", paths))
    ours = sysconfig.get_path("purelib")
    (packages / "ours.pth").write_text(f"{ours}\nimport witness\n", encoding="utf-8")
    root, prefix = (os.path.join(os.path.realpath(place), "") for place in (ROOT, sys.prefix))
    (packages / "witness.py").write_text(WITNESS.format(root=root, prefix=prefix), encoding="utf-8")
    return python


@pytest.fixture
def installed(python, tmp_path, monkeypatch):
    """Return what runs the installed command in an empty folder and gives what it printed."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PYTHONPATH", raising=False)

    def run(*arguments: str, code: int = 0) -> str:
        done = subprocess.run(
            [python.with_name("squatlab"), *arguments], capture_output=True, encoding="utf-8"
        )
        assert done.returncode == code, done.stderr
        return done.stdout

    return run


@pytest.fixture
def home(python, installed):
    """The folder of the installed package."""
    code = "import squatlab; print(squatlab.__file__)"
    return Path(subprocess.check_output([python, "-c", code], encoding="utf-8")).parent


def files(folder: str) -> set[str]:
    return {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / folder).rglob("*")
        if path.is_file()
        and not LEFT_OUT & set(path.parts)
        and not path.relative_to(ROOT).as_posix().startswith(LEFT_BEHIND)
    }


def test_the_oldest_packages_that_passed_are_those_declared():
    """lower_bounds.txt is an environment in which the tests passed; DEVELOPERS.md repeats it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"].values()
    declared = (
        re.split("[>=]=", one.partition(";")[0])
        for some in (project["dependencies"], *extras)
        for one in some
    )
    text = (ROOT / "tests" / "lower_bounds.txt").read_text(encoding="utf-8")
    passed = dict(re.findall(r"^(\S+)==(\S+)$", text, re.MULTILINE))
    wrong = [name for name, bound in declared if Version(passed.get(name, "0")) != Version(bound)]
    assert not wrong, "run the tests with the bounds that you mean, then write down both"


def test_the_wheel_holds_everything_and_nothing_else(wheel):
    inside = {name for name in wheel.namelist() if name.startswith("squatlab/")}
    travelling = {f"squatlab/{name}" for name in files("data") | files("notebooks")}
    assert inside == files("squatlab") | travelling


def test_the_servers_settings_are_put_where_jupyter_looks(wheel):
    places = {name.partition(".data/data/")[2]: name for name in wheel.namelist()}
    server = json.loads(wheel.read(places["etc/jupyter/jupyter_server_config.d/squatlab.json"]))
    assert server == {"ServerApp": {"jpserver_extensions": {"squatlab.server": True}}}
    # In overrides.d, one file a package, so that nobody's own overrides.json is replaced.
    settings = json.loads(
        wheel.read(places["share/jupyter/lab/settings/overrides.d/squatlab.json"])
    )
    assert settings["@jupyterlab/apputils-extension:notification"]["fetchNews"] == "false"


def test_an_installed_squatlab_is_announced_to_jupyter():
    """Editable or not, installing it is all that a class server needs."""
    enabled = Path(sys.prefix, "etc", "jupyter", "jupyter_server_config.d", "squatlab.json")
    assert json.loads(enabled.read_text(encoding="utf-8")) == json.loads(
        (ROOT / "squatlab" / "jupyter" / "squatlab.json").read_text(encoding="utf-8")
    )


@pytest.mark.parametrize("look", ["open({!r})", "import os; os.listdir(os.path.dirname({!r}))"])
def test_looking_into_the_checkout_would_be_seen(python, look):
    code = look.format(str(ROOT / "README.md"))
    done = subprocess.run([python, "-c", code], capture_output=True, encoding="utf-8")
    assert done.returncode == 99
    assert done.stderr.startswith("read from the checkout")


def test_an_installed_copy_knows_itself(installed, home, python):
    assert home.is_relative_to(python.parents[1])
    assert installed("--version") == f"squatlab {squatlab.__version__}\n"
    said = installed("check")
    assert f"squatlab {squatlab.__version__} in {home}, Python" in said
    assert f"ok   data: {home / 'data'}\nok   notebooks: {home / 'notebooks'}\n" in said
    assert "ok   kernel: it starts and uses this squatlab" in said
    assert said.endswith("The course can run.\n")


def test_an_installed_copy_serves_the_whole_course(installed, python, tmp_path, monkeypatch):
    # JupyterLab's own pages are no part of the wheel.
    monkeypatch.setenv("JUPYTERLAB_DIR", str(Path(sys.prefix, "share", "jupyter", "lab")))
    course = tmp_path / "course"
    with lab.server(course, tmp_path / "lab", python, "--instructor") as address:
        page = urlopen(f"{address}/lab/tree/00_start_here.ipynb").read().decode()
        served = json.load(urlopen(f"{address}/api/contents/instructor"))["content"]
    assert "jupyter-config-data" in page
    copied = {path.relative_to(course).as_posix() for path in course.rglob("*.*")}
    notebooks = {name.removeprefix("notebooks/") for name in files("notebooks")}
    demo = {name.removeprefix("data/") for name in files("data/demo")}
    assert copied == {*notebooks, *demo, ".squatlab-copied.json"}
    assert {one["path"] for one in served} == {n for n in notebooks if n.startswith("instructor/")}


def test_an_installed_copy_reviews_what_it_wrote(installed, tmp_path):
    installed("rep", "--fault", "knee_valgus=12", "--fault", "heel_lift=2")
    assert {path.name for path in tmp_path.glob("*.csv")} == {"squat-side.csv", "squat-front.csv"}
    declared = ("--load", "60", "--stature", "1.75", "--mass", "75")
    said = installed("review", "squat-side.csv", "squat-front.csv", *declared, "--json", code=1)
    found = {one["fault"] for one in json.loads(said)["findings"] if one["present"] == "yes"}
    assert {"knee_valgus", "heel_lift"} <= found


def test_an_installed_copy_plans_the_first_of_the_demo_class(installed, home, tmp_path):
    """Not all of it: how long a plan takes is how many sheets there are."""
    roster = (home / "data" / "demo" / "roster.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "first.csv").write_text("\n".join(roster[:5]), encoding="utf-8")
    said = installed("session", "first.csv", "--racks", "2")
    assert said.startswith("Rack 1: ")
    written = {path.name for path in (tmp_path / "session").iterdir() if path.stat().st_size}
    assert written == {"plan.csv", "cards.pdf", "observation.pdf"}


def test_an_installed_copy_runs_the_demo_exam(installed, home, tmp_path, monkeypatch):
    """With fewer lifts in its own tables: so it is seen to read those."""
    with_counts(home / "data" / "blueprint.csv", "cell", "count", SMALL, others="0")
    with_counts(home / "data" / "exam_policy.csv", "name", "value", {"cases_to_certify": "2"})
    assert "form spring: 24 sat, " in installed("demo")
    records = Records(tmp_path / "demo" / "records.sqlite")
    assert records.verify() == ()
    records.close()
    for name in ("report.pdf", "certificates.pdf"):
        assert (tmp_path / "demo" / "reports" / "spring" / name).stat().st_size
    assert "Nothing was altered." in installed("records", "demo/records.sqlite", "verify")


def with_counts(
    path: Path, key: str, column: str, new: dict[str, str], others: str | None = None
) -> None:
    """Change a column of a table, by key; ``others`` is what the other rows get, if anything."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row[column] = new.get(row[key], others or row[column])
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
