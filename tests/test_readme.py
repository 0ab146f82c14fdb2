"""The README's commands, the package lists and the top level agree."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest

import squatlab
from squatlab.__main__ import _parser

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def commands() -> list[str]:
    """Return the shell commands of the README's two bash blocks."""
    return [block.strip() for block in re.findall(r"```bash\n(.*?)```", README, re.DOTALL)]


def test_there_are_two_commands_and_each_is_one_line():
    assert len(commands()) == 2
    assert all("\n" not in command for command in commands())
    assert commands()[0].endswith("squatlab open")


def test_ci_runs_exactly_the_readmes_test_command():
    """The script reads its command out of the README, the first line with pytest in it."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "command=$(grep -m 1 'python -m pytest' README.md)" in script
    assert script.rstrip().endswith('eval "$command" </dev/null')
    first = next(line for line in README.splitlines() if "python -m pytest" in line)
    assert first == commands()[1]
    assert "pip install" not in script.replace("apt-get install", "")


def test_conda_lists_the_same_packages():
    line = r'^\s+- "?([a-z0-9-]+[>=]=[0-9.]+(?:; [^"]+)?)"?$'
    listed = set(re.findall(line, environment(), re.MULTILINE))
    wanted = set(PROJECT["dependencies"]) | set(PROJECT["optional-dependencies"]["test"])
    assert listed - {f"python{PROJECT['requires-python']}"} == wanted


def environment() -> str:
    return (ROOT / "environment.yml").read_text(encoding="utf-8")


def test_every_test_package_is_pinned_once():
    pinned = re.findall(
        r"^([A-Za-z0-9_-]+)==", (ROOT / "tests" / "constraints.txt").read_text(), re.MULTILINE
    )
    names = [name.lower().replace("_", "-") for name in pinned]
    assert len(names) == len(set(names))
    wanted = PROJECT["dependencies"] + PROJECT["optional-dependencies"]["test"]
    assert {re.split(r"[><=]", package)[0] for package in wanted} <= set(names)


def test_the_course_map_names_the_notebooks():
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        assert re.search(rf"\| {path.stem[:2]} ", README), path.name


def test_the_top_level_is_the_agreed_one():
    if not (ROOT / ".git").exists():
        pytest.skip("not a checkout: nothing to hold to the list")
    import subprocess

    names = subprocess.run(
        ["git", "ls-tree", "--name-only", "HEAD"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    assert set(names) == {
        "README.md",
        "DEVELOPERS.md",
        "environment.yml",
        "pyproject.toml",
        "LICENSE",
        "notebooks",
        "squatlab",
        "data",
        "tests",
        ".ci",
        ".gitignore",
    }


def test_the_example_in_the_readme_runs():
    example = re.search(r"```python\n(.*?)```", README, re.DOTALL)[1]
    names: dict = {}
    exec(example, names)
    assert names["posture"].feasible


def test_the_job_is_said_first_in_one_short_paragraph():
    first = README.split("\n\n")[1]
    assert len(first.split()) <= 90
    assert max(len(sentence.split()) for sentence in first.split(". ")) <= 25


def test_the_picture_is_there_and_said_in_words():
    ((words, path),) = re.findall(r"!\[([^]]*)\]\(([^)]*)\)", README)
    assert (ROOT / path).read_bytes().startswith(b"\x89PNG")
    assert "bar position, thigh length and stance width" in words


def test_every_command_in_the_guide_is_one():
    guide = (ROOT / "squatlab" / "commands" / "guide.md").read_text(encoding="utf-8")
    examples = re.findall(r"^squatlab .*", guide, re.MULTILINE)
    assert len(examples) >= 14
    named = set()
    for example in examples:
        # Refuses an unknown command, option or value with SystemExit.
        words = shlex.split(example)[1:]
        assert callable(_parser().parse_args(words).run)
        named.add(words[0])
    assert named >= {"open", "book", "rep", "review", "session", "serve-exam", "records"}


def test_the_version_is_stated_once():
    assert PROJECT["dynamic"] == ["version"]
    assert re.fullmatch(r"\d+\.\d+\.\d+", squatlab.__version__)
