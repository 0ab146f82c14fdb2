"""The wall: what reviews footage knows nothing of what was put into it."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from pathlib import Path

import squatlab
from squatlab.__main__ import main

WITHOUT_MOTION = """
import sys

class Wall:
    def find_spec(self, name, path=None, target=None):
        if name == "squatlab.motion" or name.startswith("squatlab.motion."):
            raise ImportError("squatlab.motion is behind the wall")

sys.meta_path.insert(0, Wall())
try:
    import squatlab.motion
except ImportError:
    from squatlab.__main__ import main
    sys.exit(main(sys.argv[1:]))
"""


def test_a_file_is_reviewed_where_motion_cannot_be_imported(tmp_path, capsys):
    assert main(["rep", "-o", str(tmp_path / "a.csv"), "--fault", "uneven_bar=6"]) == 0
    files = [str(tmp_path / f"a-{view}.csv") for view in ("side", "front")]
    capsys.readouterr()
    arguments = ["review", *files, "--load", "60", "--stature", "1.75", "--mass", "75", "--json"]
    code = main(arguments)
    here = json.loads(capsys.readouterr().out)
    run = subprocess.run(
        [sys.executable, "-c", WITHOUT_MOTION, *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == code == 1, run.stderr
    assert json.loads(run.stdout) == here
    assert "uneven_bar" in [place["fault"] for place in here["ranking"]]


def test_no_module_of_review_names_motion():
    for path in (Path(squatlab.__file__).parent / "review").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import | ast.ImportFrom):
                names = [alias.name for alias in node.names] + [getattr(node, "module", "") or ""]
                assert not any("motion" in name for name in names), path.name
