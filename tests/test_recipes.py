"""DEVELOPERS' recipes, followed literally on copies of tables and registries."""

from __future__ import annotations

import csv
import shutil
import subprocess
import sys

import pytest

from squatlab import tables

COPIED = """
import sys
from pathlib import Path
from squatlab import tables
# Read the tables from the copy, before anything else reads them.
tables.folder = lambda name: Path(sys.argv[1]) if name == "data" else None
"""

NEW_FAULT = (
    COPIED
    + """
import numpy as np
from squatlab import faults
from squatlab.motion import injection
from squatlab.review import measurers

# 2. an injector   3. a measurer
injection.INJECTORS["stiff_neck"] = injection.INJECTORS["head_up"]
measurers.MEASURERS["stiff_neck"] = measurers.MEASURERS["head_up"]

from squatlab.lessons.fault_cases import read, squat
from squatlab.questions import item_bank
from squatlab.questions.blueprint import blueprint
from squatlab.questions.practice_progress import LABELS
from squatlab.review import prioritise
from squatlab.show import fault_pages, phone_charts
from types import SimpleNamespace
from squatlab.show.clips import clip

fault = faults.fault("stiff_neck")
rep = squat(stiff_neck=float(fault.value_at(2.5)))
findings = read(rep)
assert findings["stiff_neck"].present == "yes", findings["stiff_neck"]
assert "stiff_neck" in [place.fault for place in prioritise(findings)]
assert faults.advice("stiff_neck").cue and item_bank.cues("stiff_neck")
assert any(item.fault == "stiff_neck" for item in item_bank.items().values())
assert "stiff_neck" in blueprint()["spot_side"].options and "stiff_neck" in LABELS
assert phone_charts.SHORT["stiff_neck"] == "stiff"
lines = {line.name for panel in clip(rep, findings=[SimpleNamespace(
             fault="stiff_neck", present="yes", view="3d", first=1, worst=2, last=3)]).film.panels
         for line in panel.lines}
assert len(lines) == len(fault.lines), lines
assert "Stiff neck" in fault_pages.fault_page("stiff_neck").sheet.html
print("followed")
"""
)

NEW_KIND = (
    COPIED
    + """
from squatlab.questions import kinds
from squatlab.questions.question import Key, Question
from squatlab.questions.asking import Asking

# A kind is a class and its name in KINDS.
class Pair(kinds.ChoiceKind):
    id = "pair"
    control = "several"
    paper = "two letters"
    _one_is_right = False

    def typed(self, question, text):
        return self._lettered(question, text, 2)

    def mark(self, key, given):
        return float(set(given) == set(key.answer)) if len(given) == 2 else None

    def check(self, question, given):
        return given

kinds.KINDS["pair"] = Pair()

from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import right

options = ("heel", "knee", "hip", "head")
question, key = Question("q1", "pair", "Which two?", options), Key(
    "pair", ("knee", "hip"), options=options, why="Because.", hint="Look lower.")
assert right(key, ["hip", "knee"]) == 1.0 and right(key, ["hip", "head"]) == 0.0
asked = Asking(question, key)
assert asked.answer("a b").right is False and asked.answer("c b").right is True
print("followed")
"""
)

NEW_FORMAT = (
    COPIED
    + """
import numpy as np
from squatlab import adapters
from squatlab.adapters import registry
from squatlab.adapters.file_format import Format, Listing
from squatlab.tracks import receive

# A format is a module that makes a Format, and its name in FORMATS.
def read_npz(path, view=None, rate=None):
    with np.load(path) as file:
        names = [name for name in file.files if name != "time"]
        return receive(file["time"], np.stack([file[n] for n in names], 1), names, view=view,
                       units="m", source=path.name)

def listing(path):
    with np.load(path) as file:
        names = [name for name in file.files if name != "time"]
        return Listing(f"NumPy, {len(file['time'])} frames", names, [1.0] * len(names))

NUMPY = Format("NumPy", (".npz",), lambda start: start.startswith(b"PK"), listing, read_npz,
               frozenset({"view", "rate"}))
registry.FORMATS = (NUMPY, *registry.FORMATS)

path = Path(sys.argv[2]) / "lift.npz"
time = np.arange(90) / 30
still = {"hip_r": (0, 0.9), "knee_r": (0.1, 0.5), "ankle_r": (0, 0.1), "toe_r": (0.15, 0.02),
         "heel_r": (-0.06, 0.02)}
np.savez(path, time=time, **{n: np.tile(p, (90, 1)).astype(float) for n, p in still.items()})
assert adapters.format_of(path).name == "NumPy"
assert adapters.read(path, view="side")["hip_r"][0].tolist() == [0, 0.9]
assert adapters.contents(path).labels["knee_r"] == (1.0, "knee_r")
from squatlab.__main__ import main
assert main(["review", str(path), "--points"]) == 0
print("followed")
"""
)

NEW_COLOUR = (
    COPIED
    + """
from squatlab.show import palette
palette.STEEL = "#123456"  # the bar's colour, in one place
from squatlab import Bar, Lifter, Stance, balance
from squatlab.show.picture import svg
from squatlab.show.scene import lifter_picture
from squatlab.motion import Tempo, synthesise
from types import SimpleNamespace
from squatlab.show.clips import clip
lifter, bar = Lifter.from_stature(1.75, 80), Bar.high(60)
assert "#123456" in svg(lifter_picture(balance(lifter, bar, Stance())))
print("followed")
"""
)


@pytest.fixture
def copied(tmp_path):
    """Return a copy of the tables that may be changed."""
    return shutil.copytree(tables.folder("data"), tmp_path / "data")


def changed(folder, table, like, **cells):
    """Add a row to a table: one that is there, with other cells."""
    path = folder / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    row = next(row for row in rows if like(row))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(row), lineterminator="\n")
        writer.writeheader()
        writer.writerows([*rows, row | cells])


def followed(code, *arguments):
    """Run a recipe in a process of its own."""
    run = subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.stdout.strip().endswith("followed"), run.stderr


def test_a_new_fault(copied):
    """A row with advice, an injector, a measurer, an item and cues: everything else follows."""

    def of_head(row):
        return row["fault"] == "head_up"

    new = {"fault": "stiff_neck"}
    changed(copied, "faults", of_head, **new, name="stiff neck", short="stiff", mistaken_for="")
    changed(copied, "advice", of_head, **new)
    changed(copied, "items", of_head, **new, id="k999", prompt="Which neck is stiff, of these?")
    changed(copied, "cues", of_head, **new)
    followed(NEW_FAULT, copied)


def test_a_new_kind_of_question(copied):
    followed(NEW_KIND, copied)


def test_a_new_file_format(copied, tmp_path):
    followed(NEW_FORMAT, copied, tmp_path)


def test_the_colour_of_the_bar(copied):
    followed(NEW_COLOUR, copied)
