"""Run a class server on this machine and be its users: log in, run a notebook, move a slider."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

import requests
import websocket

import squatlab
from tests.browser.lab import PATIENCE_S, free_port

CONFIG = Path(squatlab.__file__).parent / "jupyter" / "jupyterhub_config.py"
NOTEBOOK = "squatlab-course/02_lever_arms.ipynb"
MISSING = " and ".join(
    [
        f"{name} is not installed ({how})"
        for name, there, how in (
            ("jupyterhub", find_spec("jupyterhub"), "pip install jupyterhub"),
            (
                "configurable-http-proxy",
                shutil.which("configurable-http-proxy"),
                "npm install -g configurable-http-proxy",
            ),
        )
        if not there
    ]
)
"""Why no class server can be run here, or ""."""

SITE = """
c.JupyterHub.authenticator_class = "dummy"
c.JupyterHub.spawner_class = "simple"
c.SimpleLocalProcessSpawner.home_dir_template = "{homes}/{{username}}"
c.JupyterHub.load_groups = {{"instructors": {{"users": {instructors!r}}}}}
c.JupyterHub.bind_url = "http://127.0.0.1:{ports[0]}"
c.JupyterHub.hub_bind_url = "http://127.0.0.1:{ports[1]}"
c.ConfigurableHTTPProxy.api_url = "http://127.0.0.1:{ports[2]}"
c.Spawner.start_timeout = c.Spawner.http_timeout = {patience}
if {root}:
    c.Spawner.args.append("--allow-root")
"""
"""A site's own file, for trials: no password, one account, other ports."""


@contextmanager
def running(
    folder: Path, instructors: list[str], records: str = "", more: str = ""
) -> Iterator[str]:
    """Run the hub in a folder; yield its address. What it says goes to hub.log there.

    ``more`` are further lines of the site's own file.
    """
    ports = [free_port() for _ in range(3)]
    site = folder / "site.py"
    site.write_text(
        SITE.format(
            homes=folder / "homes",
            instructors=instructors,
            ports=ports,
            patience=PATIENCE_S,
            root=getattr(os, "geteuid", lambda: 1)() == 0,
        )
        + more,
        encoding="utf-8",
    )
    own = {"SQUATLAB_SITE": str(site), "SQUATLAB_TRIAL": "1", "SQUATLAB_RECORDS": records}
    with open(folder / "hub.log", "w", encoding="utf-8") as log:
        hub = subprocess.Popen(
            [sys.executable, "-m", "jupyterhub", "-f", str(CONFIG)],
            cwd=folder,
            env=os.environ | own,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
        )
        try:
            address = f"http://127.0.0.1:{ports[0]}"
            _until(lambda: _answers(f"{address}/hub/health") or hub.poll() is not None)
            if hub.poll() is not None:
                raise RuntimeError((folder / "hub.log").read_text(encoding="utf-8")[-3000:])
            yield address
        finally:
            hub.terminate()  # it stops the proxy and its users' servers
            try:
                hub.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                hub.kill()


def _answers(url: str) -> bool:
    try:
        return requests.get(url, timeout=5).ok
    except requests.RequestException:
        return False


def _until(done) -> None:
    deadline = time.monotonic() + 3 * PATIENCE_S
    while not done():
        if time.monotonic() > deadline:
            raise TimeoutError("the class server took too long")
        time.sleep(0.2)


class Person:
    """Somebody who uses the class server, as their browser would."""

    def __init__(self, address: str, name: str) -> None:
        self.address, self.name, self.web = address, name, requests.Session()
        self.home = f"{address}/user/{name}"

    def log_in(self) -> None:
        """Log in, have a server started and wait until it answers."""
        form = self.web.get(f"{self.address}/hub/login").text
        xsrf = re.search(r'name="_xsrf" value="([^"]+)"', form)[1]
        given = {"username": self.name, "password": "trial", "_xsrf": xsrf}
        self.web.post(f"{self.address}/hub/login?next=/hub/spawn", given).raise_for_status()
        _until(lambda: self.web.get(f"{self.home}/lab").url.startswith(f"{self.home}/lab"))

    def get(self, path: str) -> requests.Response:
        """Ask one's own server, or somebody's whose name the path begins with "/"."""
        return self.web.get(
            f"{self.address}/user{path}" if path[0] == "/" else f"{self.home}/{path}"
        )

    @property
    def xsrf(self) -> dict[str, str]:
        """What a page adds to each request that changes something."""
        path = f"/user/{self.name}/"
        return {"X-XSRFToken": self.web.cookies.get("_xsrf", path=path)}


class Kernel:
    """A kernel of somebody's server, through the same websocket as a page's."""

    def __init__(self, person: Person) -> None:
        made = person.web.post(f"{person.home}/api/kernels", json={}, headers=person.xsrf)
        made.raise_for_status()
        self.widgets: dict[str, dict] = {}
        address = f"{person.home.replace('http', 'ws', 1)}/api/kernels/{made.json()['id']}/channels"
        request = requests.Request("GET", f"{person.home}/api/kernels")
        cookie = person.web.prepare_request(request).headers["Cookie"]
        self._socket = websocket.create_connection(
            address, cookie=cookie, origin=person.address, timeout=PATIENCE_S
        )
        self._session = uuid.uuid4().hex

    def run(self, code: str) -> str:
        """Run code; return what it printed. Raises RuntimeError with its error."""
        request = {
            "code": code,
            "silent": False,
            "store_history": False,
            "user_expressions": {},
            "allow_stdin": False,
            "stop_on_error": True,
        }
        said = ""
        for kind, content in self._answers(self._send("execute_request", request)):
            if kind == "stream" and content["name"] == "stdout":
                said += content["text"]
            elif kind == "error":
                raise RuntimeError(f"{content['ename']}: {content['evalue']}")
        return said

    def run_notebook(self, notebook: dict) -> None:
        """Run every code cell, in order."""
        for cell in notebook["cells"]:
            if cell["cell_type"] == "code":
                self.run(cell["source"])

    def move(self, control: str, value: float) -> str:
        """Set a control of the first explorer that has it; return what is then said, or ""."""
        data = {"method": "update", "state": {control: value}, "buffer_paths": []}
        sent = self._send("comm_msg", {"comm_id": self._explorer(control)[0], "data": data})
        sentence = ""
        for kind, content in self._answers(sent):
            if kind == "comm_msg":
                picture = content["data"].get("state", {}).get("picture", {})
                sentence = picture.get("sentence", sentence)
        return sentence

    def focus(self, control: str) -> list[str]:
        """Have a slider's whole sweep sent, as a page does; return every position's sentence.

        The positions are asked for from the first on; what is not there
        when an answer ends is asked for again.
        """
        widget, state = self._explorer(control)
        (slider,) = [c for c in state["spec"]["controls"] if c["name"] == control]
        sentences: dict[int, str] = {}
        while len(sentences) < len(slider["at"]):
            want = [one for one in range(len(slider["at"])) if one not in sentences]
            asked = {"kind": "ask", "name": control, "want": want}
            data = {"method": "custom", "content": asked}
            for kind, content in self._answers(
                self._send("comm_msg", {"comm_id": widget, "data": data})
            ):
                if kind == "comm_msg" and content["data"]["method"] == "custom":
                    sent = content["data"]["content"]
                    sentences |= dict(zip(sent["index"], sent["sentences"], strict=True))
        return [sentences[one] for one in sorted(sentences)]

    def _explorer(self, control: str) -> tuple[str, dict]:
        """Return the first explorer with a control: its widget and what it shows."""
        return next(
            (one, state)
            for one, state in self.widgets.items()
            if control in state and "picture" in state
        )

    def _send(self, kind: str, content: dict) -> str:
        number = uuid.uuid4().hex
        header = {
            "msg_id": number,
            "msg_type": kind,
            "session": self._session,
            "username": "",
            "date": "",
            "version": "5.3",
        }
        self._socket.send(
            json.dumps(
                {
                    "header": header,
                    "parent_header": {},
                    "metadata": {},
                    "content": content,
                    "channel": "shell",
                }
            )
        )
        return number

    def _answers(self, sent: str) -> Iterator[tuple[str, dict]]:
        """Yield kind and content of what follows from a message, until the kernel is idle."""
        while True:
            raw = self._socket.recv()
            if isinstance(raw, bytes):  # with buffers: the first part is the message
                start, end = (int.from_bytes(raw[at : at + 4], "big") for at in (4, 8))
                raw = raw[start:end]
            message = json.loads(raw)
            kind, content = message["header"]["msg_type"], message["content"]
            if kind in ("comm_open", "comm_msg"):
                state = content["data"].get("state", {})
                self.widgets.setdefault(content["comm_id"], {}).update(state)
            if message["parent_header"].get("msg_id") != sent:
                continue
            yield kind, content
            if kind == "status" and content["execution_state"] == "idle":
                return

    def close(self) -> None:
        """Leave, as when a page is closed."""
        self._socket.close()
