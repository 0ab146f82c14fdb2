"""Bulk work on a cluster: what Dask's executor makes is what one core makes."""

from __future__ import annotations

from dataclasses import replace

import distributed
import numpy as np
import pytest

from squatlab.exam import marking
from squatlab.exam.marking import mark
from squatlab.questions.items import items
from tests.exam import invented_class


@pytest.fixture(scope="module")
def executor(tmp_path_factory):
    """A cluster of two processes on this machine, by the interface of concurrent.futures."""
    alone = {"host": "127.0.0.1", "dashboard_address": None, "memory_limit": 0}
    folder = str(tmp_path_factory.mktemp("dask"))
    with (
        distributed.LocalCluster(2, threads_per_worker=1, local_directory=folder, **alone) as some,
        distributed.Client(some) as client,
        client.get_executor() as executor,
    ):
        yield executor


@pytest.mark.parametrize("cell", ["first_knees", "rank"])
def test_a_cluster_makes_the_same_cases(executor, cell):
    made = zip(items(cell, range(4)), items(cell, iter(range(4)), executor), strict=True)
    for one, other in made:
        assert (one.id, one.prompt, one.options, one.right, one.why, one.margin) == (
            other.id,
            other.prompt,
            other.options,
            other.right,
            other.why,
            other.margin,
        )
        assert np.array_equal(one.case.rep.points["bar"], other.case.rep.points["bar"])


def test_a_cluster_marks_the_same(executor, form_and_key, monkeypatch):
    sheets = list(invented_class.sheets(*form_and_key, 60))
    form, key = form_and_key
    foreign = replace(sheets[7], seal="another")
    odd = replace(sheets[9], answers=sheets[9].answers | {form.items[0]: "no option"})
    sheets += [foreign, odd]
    alone = mark(form, key, sheets)
    monkeypatch.setattr(marking, "PART", 7)
    together = mark(form, key, iter(sheets), executor=executor)
    assert [one.candidate for one in together.refused] == ["C00007", "C00009"]
    assert list(together.results()) == list(alone.results())
    for name in ("answers", "spotted", "above_chance", "marks"):
        assert np.array_equal(getattr(together, name), getattr(alone, name)), name
    assert together.first.labels == alone.first.labels and together.spot == alone.spot
    assert np.array_equal(together.first.counts, alone.first.counts)
