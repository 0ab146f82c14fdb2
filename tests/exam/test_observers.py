"""Typed observations: counted by hand, agreement against scikit-learn and a worked example."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score

from squatlab import faults
from squatlab.exam.observers import agreement, read_observations

ROWS = (
    "Ada,Ginger,knees fall in,S,",
    "Ada,Ginger,heel_lift,clear,x",
    "Ada,Nettle,,,",
    "Ada,Birch,Not deep enough,G,yes",
    "Ben,ginger,knee_valgus,clear,1",
    "Ben,Ginger,heels lift,clear,",
    "ben,Nettle,bar tilts,slight,x",
    "Ben,Birch,not deep enough,gross,x",
)


@pytest.fixture
def read(tmp_path):
    def read(*rows: str, heading: str = "observer,lifter,fault,size,first", **more):
        path = tmp_path / "marks.csv"
        path.write_text("\n".join([heading, *rows]), encoding="utf-8")
        return read_observations(path, **more)

    return read


def test_what_was_seen_is_counted(read):
    seen = read(*ROWS)
    assert (seen.observers, seen.lifters) == (("Ada", "Ben"), ("Ginger", "Nettle", "Birch"))
    counts = {row.fault: row[1:6] for row in seen.summary()}
    assert list(counts) == list(faults.catalogue())
    # slight, clear, gross, first, lifters; counted on the rows above.
    assert counts["knee_valgus"] == (1, 1, 0, 1, 1)
    assert counts["heel_lift"] == (0, 2, 0, 1, 1)
    assert counts["short_depth"] == (0, 0, 2, 2, 1)
    assert counts["uneven_bar"] == (1, 0, 0, 1, 1)
    assert counts["head_up"] == (0, 0, 0, 0, 0)


def test_kappa_of_the_example_by_hand(read):
    """Sizes (1, 2), (0, 0), (0, 0): 1 step apart, 4/3 + 2/3 + 1/3 by chance: 1 − 3/7."""
    rows = {row.fault: row for row in read(*ROWS).summary()}
    assert rows["knee_valgus"].kappa == pytest.approx(4 / 7)
    assert rows["knee_valgus"].alike == pytest.approx(2 / 3)
    assert rows["heel_lift"].kappa == 1.0
    assert np.isnan(rows["head_up"].kappa)
    assert rows["head_up"].alike == 1.0
    assert "the same one category every time" in rows["head_up"].kappa.reason


@pytest.mark.parametrize("weights", [None, "linear"])
def test_agreement_of_many_against_scikit_learn(weights):
    """The mean over the pairs of observers, each pair on the lifters both watched."""
    rng = np.random.default_rng(5)
    truth = rng.integers(0, 4, 30)
    given = np.array(
        [np.where(rng.random(30) < 0.6, truth, rng.integers(0, 4, 30)) for _ in range(4)],
        dtype=float,
    )
    given[rng.random(given.shape) < 0.15] = np.nan
    expected = []
    for pair in combinations(given, 2):
        one, other = np.array(pair)[:, ~np.isnan(pair).any(axis=0)].astype(int)
        expected.append(cohen_kappa_score(one, other, labels=range(4), weights=weights))
    _, kappa = agreement(given, 4, weights)
    assert kappa == pytest.approx(np.mean(expected), abs=1e-12)


def test_observers_who_never_watched_the_same_lifter(read):
    apart = read("Ada,Ginger,heel_lift,S,x", "Ben,Birch,heel_lift,S,x")
    (row,) = [row for row in apart.summary() if row.lifters]
    assert row.lifters == 2
    assert np.isnan(row.kappa) and np.isnan(row.alike)
    assert row.kappa.reason == "no lifter was watched by two observers"
    assert "no lifter was watched by two observers" in str(apart)


def test_the_class_in_words(read):
    told = str(read(*ROWS))
    lines = told.splitlines()
    knees = next(line for line in lines if line.startswith("knees fall in "))
    assert knees.split()[3:] == ["1", "1", "0", "1", "1", "67%", "0.57"]
    assert "which to fix first" in told
    seen = {"knee_valgus", "heel_lift", "short_depth", "uneven_bar"}
    unseen = [fault.name for fault in faults.catalogue().values() if fault.id not in seen]
    assert lines[-1] == f"Seen by nobody: {', '.join(unseen)}."
    names = [faults.fault(fault).name for fault in faults.catalogue() if fault in seen]
    assert all(map(str.startswith, lines[1:5], names)), "in the catalogue's order"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (",Ginger,heel_lift,S,", "row 2, column observer: is empty; give a name"),
        ("Ada,,heel_lift,S,", "row 2, column lifter: is empty; give a name"),
        ("Ada,Gigner,heel_lift,S,", 'column lifter: “gigner” is not one; did you mean "ginger"?'),
        ("Ada,Ginger,heels lfit,S,", 'column fault: “heels lfit” is not one; did you mean "heels'),
        ("Ada,Ginger,heel_lift,huge,", "column size: “huge” is not one of slight, s, clear, c, gr"),
        ("Ada,Ginger,heel_lift,,", "column size: goes with a fault: give both, or neither if"),
        ("Ada,Ginger,,S,", "column size: goes with a fault"),
        ("Ada,Ginger,,,x", "column size: goes with a fault"),
        ("Ada,Ginger,heel_lift,S,maybe", "column first: “maybe” is not one of no, 0, yes, x, 1"),
    ],
)
def test_a_mistake_is_named_by_row_and_column(read, row, words):
    with pytest.raises(ValueError) as caught:
        read(row, "Ada,Birch,,,", lifters=("Ginger", "Birch"))
    assert words in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("ada,Ginger,heels lift,G,", "row 3, column fault: does not go with row 2; keep one"),
        ("Ada,Ginger,,,", "row 3, column fault: does not go with row 2; keep one"),
        ("Ada,Ginger,bar tilts,S,x", "row 3, column first: is ticked in row 2 too; one a lifter"),
    ],
)
def test_rows_that_do_not_go_together(read, row, words):
    with pytest.raises(ValueError, match=words):
        read("Ada,Ginger,heel_lift,S,x", row)


def test_every_mistake_is_listed_at_once(read):
    with pytest.raises(ValueError) as caught:
        read("Ada,Ginger,heel_lift,huge,", ",Birch,nonsense,S,", "Ada,Birch,heel_lift,S,")
    told = str(caught.value)
    assert told.startswith("marks.csv: row 2, column size")
    for part in ("row 3, column observer", "row 3, column fault"):
        assert part in told


def test_no_rows_at_all(read):
    with pytest.raises(ValueError, match=r"marks.csv: no marks; type one row for each tick"):
        read()
