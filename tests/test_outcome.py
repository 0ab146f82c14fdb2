"""How commands end: no traceback, no error that looks like a finding, nothing that acts."""

from __future__ import annotations

import errno
import os
import re
import signal
import subprocess
import sys
import time

import pytest

from squatlab import storage
from squatlab.__main__ import main
from squatlab.commands import outcome, rep_command
from squatlab.commands.workers import Workers

COMMAND = [sys.executable, "-m", "squatlab"]


def fails_with(monkeypatch, error):
    def fail(options):
        raise error

    monkeypatch.setattr(rep_command, "_synthesised", fail)


@pytest.mark.parametrize("error", [KeyError("knee"), OverflowError(), RuntimeError("no\x1b[2J")])
def test_an_unforeseen_error_is_no_finding_and_its_details_are_kept(
    error, monkeypatch, capsys, tmp_path
):
    monkeypatch.setattr(outcome.tempfile, "gettempdir", lambda: str(tmp_path))
    fails_with(monkeypatch, error)
    assert main(["rep"]) == 4
    out, err = capsys.readouterr()
    assert out == "" and "Traceback" not in err and len(err.splitlines()) == 1
    (details,) = tmp_path.iterdir()
    assert details.name in err
    assert "Traceback" in details.read_text() and type(error).__name__ in details.read_text()


def test_where_no_details_can_be_kept_the_error_is_named(monkeypatch, capsys, tmp_path):
    monkeypatch.setattr(outcome.tempfile, "gettempdir", lambda: str(tmp_path / "nowhere"))
    fails_with(monkeypatch, KeyError("knee"))
    assert main(["rep"]) == 4
    assert "not foreseen (KeyError): 'knee'. Nothing was decided" in capsys.readouterr().err


def test_an_error_of_the_disk_is_said_without_its_number(monkeypatch, capsys):
    fails_with(monkeypatch, OSError(errno.ENOSPC, "a.csv was not written"))
    assert main(["rep"]) == 2 and capsys.readouterr().err == "squatlab: a.csv was not written\n"
    fails_with(monkeypatch, FileNotFoundError(errno.ENOENT, "No such file", "a.csv"))
    assert main(["rep"]) == 2 and capsys.readouterr().err == "squatlab: a.csv: No such file\n"


def test_memory_that_runs_out_is_said(monkeypatch, capsys, tmp_path):
    monkeypatch.setattr(outcome.tempfile, "gettempdir", lambda: str(tmp_path))
    fails_with(monkeypatch, MemoryError())
    assert main(["rep"]) == 4 and "not enough memory" in capsys.readouterr().err


def test_ctrl_c_is_one_line(monkeypatch, capsys):
    fails_with(monkeypatch, KeyboardInterrupt())
    assert main(["rep"]) == 130
    assert capsys.readouterr().err == "squatlab: interrupted; every file is as it was or complete\n"


@pytest.fixture
def interruptible():
    """Let what a test starts hear Ctrl-C, also where the tests run in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.skipif(os.name != "posix", reason="signals are POSIX's")
@pytest.mark.parametrize("after_s", [0.0, 0.1, 0.4, 1.2, 2.5])
def test_ctrl_c_at_any_moment_of_a_long_command(after_s, tmp_path, interruptible):
    """From where main begins; before that, Python and its packages are starting."""
    code = "import sys; from squatlab.__main__ import main; print('up', flush=True); main(['book', "
    run = subprocess.Popen(
        [sys.executable, "-c", f"{code} '-o', {str(tmp_path / 'book')!r}])"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert run.stdout.readline() == "up\n"
    time.sleep(after_s + 0.02)
    run.send_signal(signal.SIGINT)
    _, err = run.communicate(timeout=60)
    assert err.endswith("squatlab: interrupted; every file is as it was or complete\n")
    assert "Traceback" not in err


# Twenty pieces of work for two processes; each says when it begins, and takes half a second.
# Written in one go: `print` writes the line's end by itself where Python does not buffer.
SHARED_WORK = """
import os
import time
from squatlab.commands import outcome
from squatlab.commands.workers import Workers

def piece(number):
    os.write(1, b"began\\n")
    time.sleep(0.5)

def command():
    with Workers(2) as pool:
        list(pool.map(piece, range(20)))

if __name__ == "__main__":
    raise SystemExit(outcome.exit_code(command))
"""


@pytest.mark.skipif(os.name != "posix", reason="signals are POSIX's")
@pytest.mark.parametrize("how_often", [1, 3])
@pytest.mark.parametrize("started_by", ["fork", "spawn"])
def test_a_terminals_ctrl_c_stops_the_workers_too(how_often, started_by, tmp_path, interruptible):
    """A terminal sends it to every process; people press it again while they wait."""
    script = tmp_path / "command.py"
    method = (
        f"import multiprocessing\nmultiprocessing.set_start_method({started_by!r}, force=True)\n"
    )
    script.write_text(method + SHARED_WORK)
    run = subprocess.Popen(
        [sys.executable, script],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert run.stdout.readline() == "began\n"
    for _ in range(how_often):
        os.killpg(run.pid, signal.SIGINT)
        time.sleep(0.1)
    # Until its pipes close: no process is left behind.
    out, err = run.communicate(timeout=60)
    assert run.returncode == 130
    assert err == "squatlab: interrupted; every file is as it was or complete\n"
    # Two in hand and three in the queue may still be done.
    assert out.count("began") <= 6


@pytest.mark.parametrize(
    "command", ["demo", "book", "form spring --secret s.json --new-secret --practice"]
)
def test_a_folder_that_cannot_be_written_is_told_before_the_work(
    command, tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(Workers, "submit", lambda *work: pytest.fail("work was begun"))
    (tmp_path / "note.txt").write_text("no folder")
    assert main([*command.split(), "-o", "note.txt/new"]) == 2
    out, err = capsys.readouterr()
    assert out == "" and "note.txt is a file" in err
    monkeypatch.setattr(storage.os, "access", lambda place, mode: place != tmp_path)
    assert main([*command.split(), "-o", "new/inside"]) == 2
    out, err = capsys.readouterr()
    assert out == "" and f"nothing can be written in {tmp_path}: choose another folder" in err
    assert os.listdir() == ["note.txt"]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="only Linux has a full device")
@pytest.mark.parametrize("words", ["rep --list", "--help", "--version", "check --dir x"])
def test_an_output_that_is_full_is_wrong_use(words):
    with open("/dev/full", "w") as full:
        run = subprocess.run([*COMMAND, *words.split()], stdout=full, stderr=subprocess.PIPE)
        assert run.returncode == 2
        assert run.stderr == (
            b"squatlab: the output could not be written: No space left on device\n"
        )
        run = subprocess.run([*COMMAND, "review", "nowhere.csv"], stdout=full, stderr=full)
        assert run.returncode == 2


@pytest.mark.skipif(os.name != "posix", reason="the shell is POSIX's")
@pytest.mark.parametrize(
    ("shell", "code"),
    [("rep --list >&-", 0), ("rep --list 2>&-", 0), ("review no.csv >&- 2>&-", 2)],
)
def test_closed_outputs_change_no_answer(shell, code):
    words = f'"{sys.executable}" -m squatlab {shell}'
    assert subprocess.run(words, shell=True, capture_output=True).returncode == code


def test_a_closed_output_is_not_given_to_the_next_file(tmp_path):
    words = f'"{sys.executable}" -m squatlab rep --view 3d -o "{tmp_path}/lift.csv" >&- 2>&-'
    subprocess.run(words, shell=True, check=True)
    assert (tmp_path / "lift.csv").read_text().startswith("time_s,")


def test_no_control_characters_and_no_flood_from_somebody_elses_file(tmp_path, capsys):
    wild = tmp_path / "wild.csv"
    wild.write_text("time_s,hip_r_\x1b[31mx" + "\u202e" + "y" * 50_000 + "\n0,1\n")
    assert main(["review", str(wild)]) == 2
    err = capsys.readouterr().err
    assert len(err) < 2_000 and not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]", err)
    with pytest.raises(SystemExit, match="2"):
        main(["review", "--view", "x\x1b" * 20_000])
    err = capsys.readouterr().err
    assert len(err) < 4_000 and "\x1b" not in err


def test_long_lists_are_cut_and_the_rest_counted():
    words = outcome.shortened("\n".join(f"row {number}: wrong" for number in range(1000)))
    assert len(words) < 3_000 and words.endswith(" more lines")
    assert int(words.split()[-3]) + len(words.splitlines()) - 1 == 1000
