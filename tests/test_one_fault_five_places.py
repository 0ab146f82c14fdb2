"""A fault is a row, an injector, a measurer, an item and a section: the five agree."""

from __future__ import annotations

import json
import re

from squatlab import faults, tables
from squatlab.motion.injection import INJECTORS
from squatlab.questions import item_bank
from squatlab.review.measurers import MEASURERS


def test_the_five_sets_of_faults_agree():
    catalogue = list(faults.catalogue())
    notebook = json.loads((tables.folder("notebooks") / "08_faults.ipynb").read_text("utf-8"))
    code = "".join("".join(c["source"]) for c in notebook["cells"] if c["cell_type"] == "code")
    sections = set(re.findall(r'fault_page\("(\w+)"', code))
    assert list(INJECTORS) == catalogue
    assert list(MEASURERS) == catalogue
    assert {item.fault for item in item_bank.items().values()} - {""} == set(catalogue)
    assert sections == set(catalogue)
    assert all(item_bank.cues(fault) for fault in catalogue)
