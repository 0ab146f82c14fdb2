"""How many cases: some in every run, many with --long-fuzz."""

from __future__ import annotations

import random
import tempfile

import pytest


@pytest.fixture
def many(request):
    """Return how many cases to try: ``many(short, long)``."""
    long_run = request.config.getoption("--long-fuzz")
    return lambda short, long: long if long_run else short


@pytest.fixture
def rng(request):
    """Chance that is the same in every run of a test."""
    return random.Random(request.node.nodeid)


@pytest.fixture(autouse=True)
def details_here(tmp_path_factory, monkeypatch):
    """Keep the details of unforeseen errors out of everybody's temporary folder."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path_factory.mktemp("details")))
