"""The command line, and a working copy that loses nothing."""

from __future__ import annotations

import json
import re
import shlex
import socket
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import nbformat
import pytest
from jupyter_server.services.kernels.connection.base import BaseKernelWebsocketConnection
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from nbformat.sign import NotebookNotary

import squatlab
from squatlab import course, installation, server, tables, units
from squatlab.__main__ import Parser, _parser, main
from squatlab.commands.open_command import lab_arguments
from squatlab.notebook_trust import trust


def test_version(capsys):
    with pytest.raises(SystemExit, match="0"):
        main(["--version"])
    assert capsys.readouterr().out.strip() == f"squatlab {squatlab.__version__}"


def test_it_runs_as_a_module():
    run = subprocess.run(
        [sys.executable, "-m", "squatlab", "--version"], capture_output=True, text=True, check=True
    )
    assert run.stdout.startswith("squatlab ")


KERNEL_WORKS = installation.InstalledPart("kernel", True, "starts")


def test_check_says_what_works(capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(installation, "kernel", lambda: KERNEL_WORKS)
    assert main(["check"]) == 0
    said = capsys.readouterr().out
    assert f"squatlab {squatlab.__version__}" in said
    assert str(tables.folder("data")) in said
    assert f"{tmp_path / 'squatlab-course'}; squatlab open will make it" in said
    assert "ok   kernel: starts" in said
    assert said.endswith("The course can run.\n")


def test_check_finds_the_working_copy(tmp_path):
    course.working_copy(tmp_path)
    assert str(installation.your_work(tmp_path)).startswith(f"ok   your work: {tmp_path} (nothing")


def test_check_fails_when_the_kernel_does(capsys, monkeypatch):
    part = installation.InstalledPart("kernel", False, "no")
    monkeypatch.setattr(installation, "kernel", lambda: part)
    assert main(["check"]) == 1
    assert "FAIL kernel: no" in capsys.readouterr().out


def test_check_names_a_missing_package(monkeypatch):
    def version(name: str) -> str:
        if name == "sympy":
            raise installation.metadata.PackageNotFoundError(name)
        return "1"

    monkeypatch.setattr(installation.metadata, "version", version)
    assert str(installation.packages()) == "FAIL packages: sympy missing; run pip install sympy"


def test_check_says_that_squatlab_itself_is_not_installed(monkeypatch):
    def requires(name: str) -> list[str]:
        raise installation.metadata.PackageNotFoundError(name)

    monkeypatch.setattr(installation.metadata, "requires", requires)
    assert "squatlab is not installed; pip install ." in str(installation.packages())


def test_check_misses_a_notebook_or_a_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(installation.tables, "folder", lambda name: tmp_path)
    assert "no 00_start_here.ipynb in" in str(installation.came_along("notebooks", course.START))

    def missing(name: str) -> None:
        raise FileNotFoundError(f'the folder "{name}" is missing')

    monkeypatch.setattr(installation.tables, "folder", missing)
    assert str(installation.came_along("data", "*.csv")) == (
        'FAIL data: the folder "data" is missing'
    )


def test_check_without_a_browser_is_no_failure(monkeypatch):
    def none_at_all() -> None:
        raise installation.webbrowser.Error("no browser")

    monkeypatch.setattr(installation.webbrowser, "get", none_at_all)
    monkeypatch.setattr(installation.shutil, "which", lambda name: None)
    found = installation.browser()
    assert found.works
    assert "open the printed address" in found.words


def test_a_real_kernel_uses_this_squatlab():
    assert installation.kernel() == installation.InstalledPart(
        "kernel", True, "it starts and uses this squatlab"
    )


def test_a_kernel_with_another_squatlab_is_found_out(monkeypatch):
    monkeypatch.setattr(squatlab, "__version__", "99.0")
    assert str(installation.kernel()).startswith("FAIL kernel: it should use this squatlab, but")


def test_a_first_copy_has_every_notebook(tmp_path):
    copied = course.working_copy(tmp_path / "mine", instructor=True)
    originals = {p.name for p in tables.folder("notebooks").rglob("*.ipynb")}
    assert {name.split("/")[-1] for name in copied.new if name.endswith(".ipynb")} == originals
    assert "demo/roster.csv" in copied.new, "the example of a class, to try and to copy"
    assert (copied.folder / course.START).exists()
    assert course.working_copy(copied.folder).new == ()


def test_the_key_to_the_checks_comes_only_with_the_instructor_s_notebooks(tmp_path):
    mine = course.working_copy(tmp_path)
    assert not [name for name in mine.new if name.startswith("instructor/")]
    assert not (tmp_path / "instructor").exists()
    theirs = course.working_copy(tmp_path, instructor=True)
    assert {name[11:13] for name in theirs.new} == {"I0", "I1", "I2", "I3", "I4"}
    (tmp_path / theirs.new[0]).unlink()
    assert course.working_copy(tmp_path).new == theirs.new[:1], "and stay up to date from then on"


def test_open_keeps_the_units_with_the_copy(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(units._Choice, "system", None)
    monkeypatch.setattr("jupyterlab.labapp.LabApp.launch_instance", lambda arguments: None)
    for chosen in ("us", "metric"):
        assert main(["open", "--dir", str(tmp_path), "--no-browser", "--units", chosen]) == 0
        assert units.kept_in(tmp_path) == chosen
    assert main(["open", "--dir", str(tmp_path), "--no-browser"]) == 0
    assert units.kept_in(tmp_path) == "metric"


@pytest.fixture
def originals(tmp_path, monkeypatch):
    folder = tmp_path / "originals"
    folder.mkdir()
    (folder / course.START).write_text("first edition")
    monkeypatch.setattr(course.tables, "folder", lambda name: folder)
    return folder


def test_an_unchanged_notebook_is_brought_up_to_date(originals, tmp_path):
    mine = tmp_path / "mine"
    course.working_copy(mine)
    (originals / course.START).write_text("second edition")
    assert course.working_copy(mine).refreshed == (course.START,)
    assert (mine / course.START).read_text() == "second edition"


def test_a_changed_notebook_is_kept_and_the_new_one_put_beside_it(originals, tmp_path):
    mine = tmp_path / "mine"
    course.working_copy(mine)
    (mine / course.START).write_text("my answers")
    assert course.working_copy(mine).kept == ()
    (originals / course.START).write_text("second edition")
    copied = course.working_copy(mine)
    assert copied.kept == ((course.START, "00_start_here.new.ipynb"),)
    assert (mine / course.START).read_text() == "my answers"
    assert (mine / "00_start_here.new.ipynb").read_text() == "second edition"
    assert "kept as you changed it" in str(copied)
    assert course.working_copy(mine).kept == ()


def test_the_prose_of_a_working_copy_follows_the_units(originals, tmp_path):
    cells = [
        {"cell_type": "markdown", "source": ["A bar of\n", "60 kg."]},
        {"cell_type": "code", "source": ['print("60 kg")']},
    ]
    (originals / course.START).write_text(json.dumps({"cells": cells}))
    mine = tmp_path / "mine"

    def prose() -> str:
        text, code = json.loads((mine / course.START).read_text())["cells"]
        assert code == cells[1]
        return "".join(text["source"])

    course.working_copy(mine, system="us")
    assert prose() == "A bar of\n60 kg (132 lb)."
    assert course.working_copy(mine, system="metric").refreshed == (course.START,)
    assert prose() == "A bar of\n60 kg."
    (mine / course.START).write_text("my answers")
    assert course.working_copy(mine, system="us").kept == (), "no new edition, only other units"
    cells[0]["source"] = ["A bar of 100 kg."]
    (originals / course.START).write_text(json.dumps({"cells": cells}))
    assert course.working_copy(mine, system="us").kept == (
        (course.START, "00_start_here.new.ipynb"),
    )
    assert (mine / course.START).read_text() == "my answers"


def test_a_changed_notebook_beside_a_changed_one_is_kept_too(originals, tmp_path):
    mine = tmp_path / "mine"
    course.working_copy(mine)
    (mine / course.START).write_text("my answers")
    (originals / course.START).write_text("second edition")
    course.working_copy(mine)
    (mine / "00_start_here.new.ipynb").write_text("more of my answers")
    (originals / course.START).write_text("third edition")
    assert course.working_copy(mine).kept == ((course.START, "00_start_here.new.new.ipynb"),)
    assert (mine / "00_start_here.new.ipynb").read_text() == "more of my answers"
    assert (mine / "00_start_here.new.new.ipynb").read_text() == "third edition"


def test_an_unchanged_notebook_beside_a_changed_one_is_brought_up_to_date(originals, tmp_path):
    mine = tmp_path / "mine"
    course.working_copy(mine)
    (mine / course.START).write_text("my answers")
    for edition in ("second edition", "third edition"):
        (originals / course.START).write_text(edition)
        assert course.working_copy(mine).kept == ((course.START, "00_start_here.new.ipynb"),)
    assert (mine / "00_start_here.new.ipynb").read_text() == "third edition"


def test_a_changed_demo_file_is_kept_as_notebooks_are(originals, tmp_path):
    mine = tmp_path / "mine"
    (originals / "demo").mkdir()
    (originals / "demo" / "roster.csv").write_text("first edition")
    course.working_copy(mine)
    (mine / "demo" / "roster.csv").write_text("my class")
    (originals / "demo" / "roster.csv").write_text("second edition")
    assert course.working_copy(mine).kept == (("demo/roster.csv", "demo/roster.new.csv"),)
    assert (mine / "demo" / "roster.csv").read_text() == "my class"
    assert (mine / "demo" / "roster.new.csv").read_text() == "second edition"


def test_an_incomplete_course_is_explained(originals, tmp_path, capsys):
    (originals / course.START).unlink()
    assert main(["open", "--dir", str(tmp_path / "mine")]) == 2
    assert "00_start_here.ipynb is missing from" in capsys.readouterr().err


def test_a_lost_record_never_costs_work(originals, tmp_path):
    mine = tmp_path / "mine"
    course.working_copy(mine)
    (mine / course.START).write_text("my answers")
    (mine / course.RECORD).write_text("{broken")
    assert [name for name, _ in course.working_copy(mine).kept] == [course.START]
    assert (mine / course.START).read_text() == "my answers"


def test_a_file_in_the_way_is_explained(tmp_path, capsys):
    (tmp_path / "taken").write_text("")
    assert main(["open", "--dir", str(tmp_path / "taken"), "--no-browser"]) == 2
    assert "is a file; choose another folder with --dir" in capsys.readouterr().err


def test_a_folder_of_other_files_is_not_copied_into(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("jupyterlab.labapp.LabApp.launch_instance", lambda arguments: None)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "my.csv").write_text("1")
    assert main(["open", "--dir", "data", "--no-browser"]) == 2
    suggested = Path("data") / "squatlab-course"
    assert f"such as --dir {suggested}" in capsys.readouterr().err
    assert [path.name for path in (tmp_path / "data").iterdir()] == ["my.csv"]


@pytest.mark.parametrize("before", ["nothing", "an empty folder", "an older copy", "half a copy"])
def test_a_new_folder_and_a_working_copy_are_opened(originals, tmp_path, monkeypatch, before):
    mine, launched = tmp_path / "mine", []
    monkeypatch.setattr("jupyterlab.labapp.LabApp.launch_instance", launched.append)
    monkeypatch.setattr("squatlab.notebook_trust.trust", lambda copied: None)
    if before == "an empty folder":
        mine.mkdir()
    elif before == "an older copy":
        course.working_copy(mine)
        (mine / "notes.txt").write_text("mine")
    elif before == "half a copy":
        (originals / "later.ipynb").write_text("")
        with monkeypatch.context() as broken:
            broken.setattr(course, "_place", _broken_off)
            with pytest.raises(KeyboardInterrupt):
                course.working_copy(mine)
        assert (mine / course.START).exists()
    assert main(["open", "--dir", str(mine)]) == 0
    assert len(launched) == 1 and (mine / course.START).read_text() == "first edition"


def _broken_off(original, folder, name, copied, system):
    (folder / name).write_bytes(original.read_bytes())
    raise KeyboardInterrupt


def test_an_impossible_port_is_explained(capsys):
    assert main(["open", "--port", "99999"]) == 2
    assert "it must lie between 1 and 65535" in capsys.readouterr().err


def test_a_port_in_use_is_explained(capsys):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert main(["open", "--port", str(port)]) == 2
    assert f"port {port} cannot be used" in capsys.readouterr().err


def test_lab_starts_on_the_first_notebook_without_delay_and_news(tmp_path):
    arguments = lab_arguments(tmp_path, 9000, browser=False)
    assert {
        f"--ServerApp.root_dir={tmp_path}",
        "--ServerApp.port=9000",
        "--LabApp.news_url=None",
        "--ServerApp.kernel_websocket_connection_class=squatlab.server.PromptConnection",
        "--no-browser",
    } <= set(arguments)
    assert not any(
        "port" in part or "no-browser" in part for part in lab_arguments(tmp_path, None, True)
    )


def test_each_folder_has_a_workspace_of_its_own(tmp_path):
    """Tabs of another course folder would come up in a shared one."""
    ours, again, other = (
        next(part for part in lab_arguments(folder, None, True) if "default_url" in part)
        for folder in (tmp_path / "a", tmp_path / "a", tmp_path / "b")
    )
    assert ours == again != other
    address = (
        r"--LabApp\.default_url=/lab/workspaces/squatlab-[0-9a-f]{8}/tree/00_start_here\.ipynb"
    )
    assert re.fullmatch(address, ours) and re.fullmatch(address, other)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("opne", """'opne' (choose from 'open', """),
        ("opne", """; did you mean "open"?"""),
        ("review x.csv --laod 60", """unrecognized arguments: --laod 60; did you mean "--load"?"""),
        ("review x.csv --laod 60", "usage: squatlab review"),
        ("review x.csv --view sdie", """; did you mean "side"?"""),
        ("review x.csv --fps sixty", "argument --fps: 'sixty' is no number, such as 60"),
        ("review x.csv --load sixty", "argument --load: “sixty” is no number; write one, such as"),
        (
            "form spring --secrets x",
            """--secret; --secrets is no option; did you mean "--secret"?""",
        ),
        ("records verify", "“verify” is what to do; the records come first: squatlab records rec"),
        ("rep --seed 2.5", "argument --seed: '2.5' is no whole number, such as 2"),
        ("rep --seed -1", "argument --seed: -1 is below 0; give a whole number, such as 2"),
        ("demo --seed -1", "argument --seed: -1 is below 0"),
        ("check everything", "unrecognized arguments: everything"),
        ("review x.csv --xyz", "unrecognized arguments: --xyz"),
    ],
)
def test_wrong_use_is_told_what_was_meant(typed, said, capsys):
    with pytest.raises(SystemExit, match="2"):
        main(typed.split())
    assert said in re.sub(r"choose from open, ", "choose from 'open', ", capsys.readouterr().err)


def test_the_words_of_newer_pythons_are_understood(capsys):
    """Python 3.12.8 and 3.13 name the choices without quotation marks."""
    with pytest.raises(SystemExit, match="2"):
        Parser(prog="x").error("argument c: invalid choice: 'opne' (choose from open, check)")
    assert capsys.readouterr().err.endswith("""(choose from open, check); did you mean "open"?\n""")


ALWAYS_NEW = {"form", "demo"}
"""These refuse in every case: forms may have been sat, and a demo wants an empty folder."""


def commands(parser, name=""):
    """Yield every command's name and its options."""
    parser.complete()
    inner = [action for action in parser._actions if isinstance(action.choices, dict)]
    for action in inner:
        for word, one in action.choices.items():
            yield from commands(one, f"{name} {word}".strip())
    if not inner:
        yield name, {option for action in parser._actions for option in action.option_strings}


def test_every_command_that_writes_where_it_is_told_replaces_nothing_unless_told():
    """What each says and does is tested where the command is; here, that none is forgotten."""
    writing = {
        n: options for n, options in commands(_parser()) if options & {"-o", "--pdf", "--figure"}
    }
    assert {"rep", "review", "records gradebook", "badge give", "demo"} <= set(writing)
    assert {name for name, options in writing.items() if "--replace" not in options} == ALWAYS_NEW


def helped(parser):
    """Yield every parser: of each command, and of what a command's name is followed by."""
    parser.complete()
    yield parser
    for action in parser._actions:
        for inner in (action.choices or {}).values() if isinstance(action.choices, dict) else ():
            yield from helped(inner)


def test_every_help_says_what_happens_and_shows_commands_that_are_understood():
    commands = [each for each in helped(_parser()) if each.prog != "squatlab"]
    assert len(commands) > 40
    for command in commands:
        text = command.format_help()
        assert command.description, command.prog
        if command.prog == "squatlab badge":
            continue  # its two parts show theirs
        examples = re.findall(r"^  (squatlab .*)$", text, re.MULTILINE)
        assert examples, command.prog
        for example in examples:
            options = _parser().parse_args(shlex.split(example)[1:])
            assert callable(options.run), example
        for action in command._actions:
            assert action.help or isinstance(action.choices, dict), (
                f"{command.prog}: {action.metavar or action.dest}"
            )


@pytest.mark.parametrize(
    ("given", "chosen"),
    [
        (ZMQChannelsWebsocketConnection, server.PromptConnection),
        (BaseKernelWebsocketConnection, None),
    ],
    ids=["the stock connection", "another, as behind a gateway"],
)
def test_the_server_extension_exchanges_only_the_stock_connection(given, chosen):
    app = SimpleNamespace(
        kernel_websocket_connection_class=given, web_app=SimpleNamespace(settings={})
    )
    server._load_jupyter_server_extension(app)
    assert app.web_app.settings.get("kernel_websocket_connection_class") is chosen


def test_the_connection_switches_the_delay_off(monkeypatch):
    monkeypatch.setattr(ZMQChannelsWebsocketConnection, "connect", lambda self: "connected")
    said = []
    handler = SimpleNamespace(set_nodelay=said.append)
    assert server.PromptConnection.connect(SimpleConnection(handler)) == "connected"
    assert said == [True]


class SimpleConnection(server.PromptConnection):
    """A connection without a kernel."""

    websocket_handler = None

    def __init__(self, handler: object) -> None:
        self.websocket_handler = handler


def test_a_fresh_copy_is_trusted_and_a_changed_one_is_not(tmp_path):
    """Jupyter shows stored pictures of a notebook only if it trusts it."""
    copied = course.working_copy(tmp_path / "mine")
    trust(copied)
    notebook = nbformat.read(copied.folder / course.START, as_version=4)
    assert NotebookNotary().check_signature(notebook)
    notebook.cells[1].source += "\nprint('changed')"
    assert not NotebookNotary().check_signature(notebook)


def test_the_command_alone_shows_what_there_is(capsys):
    assert main([]) == 2
    shown = capsys.readouterr().out
    assert "usage: squatlab" in shown and "serve-exam" in shown
