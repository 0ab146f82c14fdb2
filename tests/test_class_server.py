"""A class server as class_server.md sets it up, with an instructor and a trainee."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import pytest
from traitlets.config import PyFileConfigLoader

from squatlab import tables
from squatlab.__main__ import main
from squatlab.exam.records import Records, place
from tests import class_server, postgresql
from tests.class_server import Kernel, Person

GUIDE = class_server.CONFIG.with_name("class_server.md").read_text(encoding="utf-8")
WRITE = """from squatlab.exam.records import Records, enrol_coach
records = Records()
enrol_coach(records, "K1", by="A. Judge")
records.close()"""


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    """The records' URL: a PostgreSQL database where there is a server, else a file."""
    with ExitStack() as stack:
        if postgresql.MISSING:
            yield str(tmp_path_factory.mktemp("records") / "records.sqlite")
        else:
            yield postgresql.database(stack.enter_context(postgresql.running()))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Where the hub runs."""
    return tmp_path_factory.mktemp("hub")


@pytest.fixture(scope="module")
def people(folder, shared):
    """An instructor and a trainee, logged in, each with a kernel."""
    if class_server.MISSING:
        missing = pytest.fail if os.environ.get("SQUATLAB_REQUIRE_HUB") else pytest.skip
        missing(f"no class server: {class_server.MISSING}")
    with class_server.running(folder, ["ina"], shared) as address:
        people = Person(address, "ina"), Person(address, "tom")
        with ThreadPoolExecutor() as at_once:
            list(at_once.map(Person.log_in, people))
        kernels = [Kernel(person) for person in people]
        yield {person.name: pair for person, *pair in zip(people, people, kernels, strict=True)}
        for kernel in kernels:
            kernel.close()


@pytest.fixture
def ina(people):
    """The instructor and her kernel."""
    return people["ina"]


@pytest.fixture
def tom(people):
    """The trainee and his kernel."""
    return people["tom"]


def test_each_has_a_working_copy_of_the_whole_course(people, folder):
    originals = tables.folder("notebooks")
    notebooks = {path.relative_to(originals) for path in originals.rglob("*.ipynb")}
    for name, (person, kernel) in people.items():
        mine = folder / "homes" / name / "squatlab-course"
        # The key to the checks is in the instructor's notebooks, which a trainee does not get.
        theirs = {path for path in notebooks if name == "ina" or path.parts[0] != "instructor"}
        assert {path.relative_to(mine) for path in mine.rglob("*.ipynb")} == theirs
        assert (mine / "demo" / "roster.csv").is_file()
        assert Path(kernel.run("print(end=__import__('os').getcwd())")) == mine.parent
        assert "00_start_here.ipynb" in person.web.get(f"{person.address}/hub/spawn").url


def test_nobody_gets_into_another_persons_server(ina, tom):
    assert tom[0].get("api/contents/squatlab-course").ok
    assert tom[0].get("/ina/api/contents/squatlab-course").status_code == 403
    assert ina[0].get("/tom/api/contents/squatlab-course").status_code == 403


def test_a_notebook_is_run_and_a_slider_moves_the_picture(tom):
    person, kernel = tom
    kernel.run_notebook(person.get(f"api/contents/{class_server.NOTEBOOK}").json()["content"])
    shown = {kernel.move("load", load) for load in (40, 60, 80)}
    assert len(shown) == 3
    assert all("moment" in words or "hip" in words for words in shown)
    sweep = kernel.focus("depth")
    # As far above level as below it, lever arms and lean are alike.
    assert len(sweep) == 91 and len(set(sweep)) > 55


def test_small_messages_go_at_once(people, folder):
    log = (folder / "hub.log").read_text(encoding="utf-8")
    assert log.count("squatlab.server | extension was successfully loaded") == len(people)
    assert "websocket_ping_timeout" not in log, "a warning that says nothing to anybody"


def test_an_instructor_writes_into_the_shared_records(ina, shared):
    ina[1].run(WRITE)
    records = Records(shared)
    assert records.verify() == ()
    assert records.head().startswith("1:"), "a coach"
    records.close()


def test_a_trainee_is_not_told_where_the_records_are(tom, shared):
    """The URL holds the database's password."""
    assert shared not in tom[1].run("import os; print(dict(os.environ))")
    seen = tom[1].run("from squatlab.exam.records import place; print(place())")
    assert seen == "records.sqlite\n"


@pytest.fixture
def read(tmp_path, monkeypatch):
    """Return what reads the configuration with a site's own lines, as the hub does."""
    for name in ("SQUATLAB_SITE", "SQUATLAB_TRIAL", "SQUATLAB_RECORDS"):
        monkeypatch.delenv(name, raising=False)

    def read(site: str | None):
        if site is not None:
            (tmp_path / "site.py").write_text(site, encoding="utf-8")
            monkeypatch.setenv("SQUATLAB_SITE", str(tmp_path / "site.py"))
        return PyFileConfigLoader(str(class_server.CONFIG)).load_config()

    return read


@pytest.mark.parametrize(
    ("site", "words"),
    [
        (None, "say who may log in: set SQUATLAB_SITE"),
        ("c.Spawner.mem_limit = '2G'", "say who may log in: set SQUATLAB_SITE"),
        ("c.JupyterHub.authenticator_class = 'dummy'", "authenticator_class is dummy, which"),
        (
            "c.JupyterHub.authenticator_class = 'pam'\nc.JupyterHub.spawner_class = 'simple'",
            "spawner_class is simple, which keeps nobody out of other people's work",
        ),
    ],
    ids=["no site's file", "a site that does not say", "no password", "one account for all"],
)
def test_it_does_not_start_unsafe(read, site, words):
    with pytest.raises(ValueError, match=words):
        read(site)


def test_a_trial_may_be_unsafe_but_somebody_must_log_in(read, monkeypatch):
    monkeypatch.setenv("SQUATLAB_TRIAL", "1")
    assert read("c.JupyterHub.authenticator_class = 'dummy'")
    with pytest.raises(ValueError, match="say who may log in"):
        read("c.JupyterHub.spawner_class = 'simple'")


def test_a_sites_file_that_is_not_there_is_no_empty_one(read, monkeypatch):
    monkeypatch.setenv("SQUATLAB_SITE", "nowhere.py")
    with pytest.raises(FileNotFoundError, match=r"nowhere\.py"):
        read(None)


def test_the_site_has_the_last_word_and_the_guide_the_same_numbers(read):
    example = GUIDE.split("```python\n")[1].split("```")[0]
    chosen = read(example)
    assert chosen.JupyterHub.authenticator_class == "pam"
    assert chosen.JupyterHub.bind_url == "http://127.0.0.1:8000"
    assert chosen.Spawner.mem_limit in GUIDE
    idle = [one for one in chosen.Spawner.args if "timeout" in one]
    assert [one.rpartition("=")[2] for one in idle] == ["7200"] * 3
    assert "two hours" in GUIDE
    assert read(f"{example}\nc.Spawner.mem_limit = '2G'").Spawner.mem_limit == "2G"


def test_one_variable_names_the_records(monkeypatch, tmp_path, capsys):
    monkeypatch.delenv("SQUATLAB_RECORDS", raising=False)
    assert place() == place("-") == "records.sqlite"
    monkeypatch.setenv("SQUATLAB_RECORDS", str(tmp_path / "shared.sqlite"))
    assert place("-") == str(tmp_path / "shared.sqlite")
    assert place("mine.sqlite") == "mine.sqlite"
    Records().close()
    assert (tmp_path / "shared.sqlite").exists()
    assert main(["records", "-", "verify"]) == 0
    assert "Nothing was altered." in capsys.readouterr().out
