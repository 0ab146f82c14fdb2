"""Drive the course in Chromium, as ``squatlab open`` serves it."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE_S = 90
"""How long anything may take on a slow, busy machine before it counts as broken."""

NOTEBOOK_PATIENCE_S = 600
"""How long a whole notebook may take there: I2 draws two exam forms."""

LOOK_EVERY_MS = 100
"""How often to look whether a notebook is open or has run. By default Playwright looks at every
frame, for which the page is painted sixty times a second."""

CODE_CELLS = """window.jupyterapp.shell.currentWidget.content.widgets
  .filter(cell => cell.model.type === 'code' && cell.model.sharedModel.source.trim())"""
OUTPUTS = "cell => [...Array(cell.model.outputs.length).keys()].map(i => cell.model.outputs.get(i))"
ERRORS = f"""() => {CODE_CELLS}.flatMap({OUTPUTS}).filter(output => output.type === 'error')
  .map(output => output.toJSON().ename + ': ' + output.toJSON().evalue)"""
WIDGETS = f"""() => {CODE_CELLS}.flatMap({OUTPUTS})
  .filter(output => 'application/vnd.jupyter.widget-view+json' in output.data).length"""
DRAWN = f"""() => ({WIDGETS})() === document.querySelectorAll('.jp-OutputArea-output'
  + ' :is(.squatlab, .squatlab-explorer, .squatlab-clip, .squatlab-check, .squatlab-sitting,'
  + ' .squatlab-judged, .widget-text)'
  + ':not(.squatlab *, .squatlab-explorer *, .squatlab-judged *)').length"""
CONNECTED = """name => { const widget = window.jupyterapp && window.jupyterapp.shell.currentWidget;
  return widget && widget.context && widget.context.path === name && widget.context.isReady
    && widget.sessionContext.isReady
    && widget.sessionContext.session?.kernel?.connectionStatus === 'connected'; }"""
DONE = f"""() => ({ERRORS})().length > 0 || {CODE_CELLS}.every(
  cell => cell.model.executionState === 'idle' && cell.model.executionCount > 0)"""


WHOLE_WINDOW = """() => { const {shell, commands} = window.jupyterapp;
  const shown = shell.currentWidget.content;
  shown.notebookConfig = {...shown.notebookConfig, windowingMode: 'none'};
  if (!shell.leftCollapsed) return commands.execute('application:toggle-left-area'); }"""
"""Every cell laid out, and no sidebar beside them."""

TURN_TO = """async name => {
  const {shell, commands} = window.jupyterapp, before = shell.currentWidget;
  const ended = before?.sessionContext?.shutdown().catch(() => null);
  if (before?.context?.path === name) {
    await ended;  // or its kernel would be found and used again
    before.dispose();
  }
  await commands.execute('docmanager:open', {path: name});
  before?.dispose(); }"""
"""A kernel takes longer to end than the next one to begin."""

LEAVE = """async () => { const shown = window.jupyterapp.shell.currentWidget;
  await Promise.race([new Promise(resolve => setTimeout(resolve, 5000)),
    shown?.sessionContext?.shutdown()]).catch(() => null);
  shown?.dispose(); }"""


def free_port() -> int:
    """Return a port that nobody uses."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def server(
    folder: Path, scratch: Path, python: str | Path = sys.executable, *options: str
) -> Iterator[str]:
    """Run ``squatlab open`` on a folder with settings of its own; yield the address."""
    port, config = free_port(), scratch / "jupyter_config_dir"
    config.mkdir(parents=True)
    (scratch / "tmpdir").mkdir()  # notebook 11 keeps its trial there, from one time to the next
    # No password on this machine's own address. Exposed, so that the tests can ask the
    # application, rather than the look of the page, whether it is ready.
    (config / "jupyter_server_config.json").write_text('{"IdentityProvider": {"token": ""}}')
    (config / "jupyter_lab_config.json").write_text('{"LabApp": {"expose_app_in_browser": true}}')
    places = {
        name: str(scratch / name.lower())
        for name in (
            "JUPYTER_CONFIG_DIR",
            "JUPYTER_DATA_DIR",
            "JUPYTER_RUNTIME_DIR",
            "IPYTHONDIR",
            "JUPYTERLAB_WORKSPACES_DIR",
            "JUPYTERLAB_SETTINGS_DIR",
            "TMPDIR",
        )
    }
    command = [
        str(python),
        "-m",
        "squatlab",
        "open",
        "--no-browser",
        "--dir",
        str(folder),
        "--port",
        str(port),
        *options,
    ]
    address = f"http://127.0.0.1:{port}"
    with open(scratch / "lab.log", "w", encoding="utf-8") as log:
        process = subprocess.Popen(
            command, env=os.environ | places, stdin=subprocess.DEVNULL, stdout=log, stderr=log
        )
        try:
            _wait_for(address, process, scratch / "lab.log")
            yield address
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _wait_for(address: str, process: subprocess.Popen, log: Path) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline and process.poll() is None:
        try:
            urllib.request.urlopen(f"{address}/api/status", timeout=1).close()
            return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError(f"JupyterLab did not start:\n{log.read_text(encoding='utf-8')[-3000:]}")


def write_notebook(path: Path, cells: Iterable[str]) -> None:
    """Write a notebook with these code cells."""
    made = [
        {
            "cell_type": "code",
            "execution_count": None,
            "id": f"cell{number}",
            "metadata": {},
            "outputs": [],
            "source": source,
        }
        for number, source in enumerate(cells)
    ]
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    whole = {"cells": made, "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5}
    path.write_text(json.dumps(whole), encoding="utf-8")


def open_notebook(page, address: str, name: str) -> None:
    """Open a notebook and wait until its kernel is connected."""
    page.goto(f"{address}/lab/tree/{name}?reset", wait_until="domcontentloaded")
    page.wait_for_function(CONNECTED, arg=name, timeout=PATIENCE_S * 1000, polling=LOOK_EVERY_MS)


def turn_to(page, name: str) -> None:
    """Open a notebook anew in the same window, which is faster than JupyterLab anew.

    The notebook that was shown is closed, unsaved, and its kernel ended.
    """
    page.evaluate(TURN_TO, name)
    page.wait_for_function(CONNECTED, arg=name, timeout=PATIENCE_S * 1000, polling=LOOK_EVERY_MS)


def leave(page) -> None:
    """Close the notebook that is shown, unsaved, and end its kernel; the window stays."""
    page.evaluate(LEAVE)


def run_all(page) -> None:
    """Run every cell and wait until all are done or one has failed."""
    # Not awaited inside the page: a dialogue would keep it waiting for ever.
    page.evaluate(
        "() => { for (const name of ['clear-all-cell-outputs', 'run-all-cells'])"
        " window.jupyterapp.commands.execute('notebook:' + name); }"
    )
    page.wait_for_function(DONE, timeout=NOTEBOOK_PATIENCE_S * 1000, polling=LOOK_EVERY_MS)


def close(page) -> None:
    """Close a window and end the kernel of its notebook, which would hold on to its memory."""
    if page.is_closed():
        return
    if page.evaluate("() => 'jupyterapp' in window"):
        leave(page)
    page.close()


def begin_exam(page):
    """Press Begin by keyboard, unless the clock runs; return the exam, at a question."""
    exam = page.get_by_role("group", name="Exam", exact=True)
    exam.get_by_role("heading").first.wait_for()
    begin = exam.get_by_role("button", name="Begin", exact=True)
    if begin.count():
        begin.press("Enter")
    exam.get_by_role("group", name="Questions").wait_for()
    return exam


def press_run(page) -> None:
    """Run every cell by the button at the top of the course's pages, as `run_all` does."""
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    shown = page.locator(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-MarkdownCell").first
    shown.get_by_role("button", name="Run this page").click()
    page.wait_for_function(DONE, timeout=NOTEBOOK_PATIENCE_S * 1000, polling=LOOK_EVERY_MS)


def errors(page) -> list[str]:
    """Return the errors in the outputs, as "Name: message"."""
    return page.evaluate(ERRORS)


def pop_ups(page) -> list[str]:
    """Return the words of every notification and dialogue on screen."""
    return page.locator(".Toastify__toast, .jp-Dialog").all_inner_texts()


def draw_all(page) -> None:
    """Scroll through the notebook: cells far from the window are not drawn before."""
    page.evaluate(
        "() => window.jupyterapp.shell.currentWidget.content.widgets"
        ".forEach(cell => cell.node.scrollIntoView())"
    )


def explorer_with(page, slider: str):
    """Return the explorer that has a slider of this name, scrolled into view."""
    draw_all(page)
    handle = page.get_by_role("slider", name=slider, exact=True).first
    handle.wait_for(state="attached", timeout=PATIENCE_S * 1000)
    handle.scroll_into_view_if_needed()
    has = page.get_by_role("slider", name=slider, exact=True)
    return page.locator(".squatlab-explorer").filter(has=has).first
