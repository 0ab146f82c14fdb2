"""How many mutated files are tried: a few hundred, or ten thousand."""

from __future__ import annotations

import pytest

from tests.exam.test_hand_ins import Room

FEW, MANY = 400, 10_000
"""Mutations of each kind of file in a normal run, and with --long-fuzz."""


@pytest.fixture
def mutations(request) -> int:
    """Return how many mutated files of each kind are tried."""
    return MANY if request.config.getoption("--long-fuzz") else FEW


@pytest.fixture
def room(tmp_path):
    """An exam room whose records are a file."""
    made = Room(tmp_path)
    yield made
    made.records.close()
