"""How often one may ask a served exam, and try a code: by a clock that stands until it is set."""

from __future__ import annotations

import pytest

from squatlab.exam.serving import places
from squatlab.exam.serving.places import (
    REQUESTS_A_SECOND,
    REQUESTS_AT_ONCE,
    TRIES,
    TRIES_AGAIN_S,
    TRIES_AN_ADDRESS,
    PlaceKeeper,
)


class Clock:
    """Seconds that stand still."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def keeper(clock):
    return PlaceKeeper(b"key", clock)


def test_a_page_may_ask_at_once_and_then_as_often_a_second(keeper, clock):
    assert [keeper.may_ask(1) for _ in range(int(REQUESTS_AT_ONCE))] == [True] * 40
    assert not keeper.may_ask(1) and keeper.may_ask(2), "each candidate has a bucket of their own"
    clock.now += 1.0
    assert sum(keeper.may_ask(1) for _ in range(10)) == REQUESTS_A_SECOND == 4


def test_the_last_wrong_code_allowed_makes_the_pause(keeper, clock):
    for tried in range(TRIES):
        assert keeper.must_wait_s("R01", "a") == 0.0, tried
        keeper.failed("R01", "a")
        clock.now += 1.0
    assert keeper.must_wait_s("R01", "a") == TRIES_AGAIN_S - TRIES
    # The first is forgotten a minute after it was tried: then there is one try more.
    clock.now += TRIES_AGAIN_S - TRIES - 0.5
    assert keeper.must_wait_s("R01", "a") == 0.5
    clock.now += 0.5
    assert keeper.must_wait_s("R01", "a") == 0.0
    keeper.failed("R01", "a")
    assert keeper.must_wait_s("R01", "a") == 1.0


def test_a_room_that_shares_an_address_has_sixty_tries(keeper):
    for tried in range(TRIES_AN_ADDRESS):
        assert keeper.must_wait_s("R99", "room") == 0.0, tried
        keeper.failed(f"R{tried}", "room")
    assert TRIES_AN_ADDRESS == 60 and keeper.must_wait_s("R99", "room") == TRIES_AGAIN_S


def test_tries_beyond_what_is_remembered_are_forgotten_oldest_first(keeper, monkeypatch):
    monkeypatch.setattr(places, "MOST_REMEMBERED", 6)
    for who in ("R01", "R02", "R03"):
        for _ in range(TRIES):
            keeper.failed(who, f"home of {who}")
    assert keeper.must_wait_s("R01", "home of R01") > 0  # a candidate and an address each
    for _ in range(TRIES):
        keeper.failed("R04", "home of R04")
    assert keeper.must_wait_s("R01", "home of R01") == 0.0
    for who in ("R02", "R03", "R04"):
        assert keeper.must_wait_s(who, f"home of {who}") > 0, who


def test_two_places_of_one_moment_are_told_apart(keeper, clock):
    first, second, third = (keeper.give(7) for _ in range(3))
    given = [int(cookie.split(".")[1]) for cookie in (first, second, third)]
    assert given == [1_000_000, 1_000_001, 1_000_002]
    clock.now += 1
    assert int(keeper.give(7).split(".")[1]) == 1_001_000
    assert keeper.opening("") is None and keeper.opening("7.1") is None
