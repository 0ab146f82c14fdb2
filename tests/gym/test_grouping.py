"""Groups: the moves against trying every sharing, and against SciPy's integer programming."""

from __future__ import annotations

import random
from collections import Counter
from functools import cache
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from squatlab.gym import grouping
from squatlab.gym.grouping import groups, share


def moves(holes: dict[str, int], group: tuple[str, ...]) -> int:
    """Count how often a rack moves while all lift in this order."""
    order = [holes[name] for name in group]
    return sum(a != b for a, b in zip(order, order[1:], strict=False))


def fewest_of_all(holes: dict[str, int], racks: int) -> int:
    """Try every way to share people among groups of balanced sizes."""
    small, extra = divmod(len(holes), racks)

    @cache
    def least(left: tuple[str, ...], smaller: int, larger: int) -> int:
        if not left:
            return 0
        first, *rest = left
        found = []
        for size, some, more in (
            (small, smaller - 1, larger),
            (small + 1, smaller, larger - 1),
        ):
            if some >= 0 and more >= 0:
                for mates in combinations(rest, size - 1):
                    here = len({holes[name] for name in (first, *mates)}) - 1
                    others = tuple(name for name in rest if name not in mates)
                    found.append(here + least(others, some, more))
        return min(found, default=len(holes))

    return least(tuple(holes), racks - extra, extra)


def cut_in_order(holes: dict[str, int], racks: int) -> int:
    """Count the moves when people are cut in order of holes, larger groups first."""
    order = sorted(holes, key=holes.__getitem__)
    small, extra = divmod(len(holes), racks)
    total = 0
    for size in [small + 1] * extra + [small] * (racks - extra):
        total += moves(holes, tuple(order[:size]))
        order = order[size:]
    return total


def test_no_sharing_of_all_has_fewer_moves() -> None:
    rng = random.Random(1)
    worse_when_cut = 0
    for _ in range(150):
        people, kinds = rng.randint(1, 9), rng.randint(1, 6)
        racks = rng.randint(1, min(people, 4))
        holes = {f"p{i}": rng.randint(10, 10 + kinds) for i in range(people)}
        shared = groups(holes, racks)
        assert sorted(sum(shared, ())) == sorted(holes)
        assert max(map(len, shared)) - min(map(len, shared)) <= 1
        assert len(shared) == racks
        total = sum(moves(holes, group) for group in shared)
        assert total == fewest_of_all(holes, racks), (holes, racks)
        worse_when_cut += cut_in_order(holes, racks) > total
    assert worse_when_cut > 10, "cutting in order of height is often not the best"


def test_the_example_of_the_docstring() -> None:
    sizes = {20: 2, 21: 3, 22: 4, 23: 3}
    holes = {f"{hole}-{i}": hole for hole, count in sizes.items() for i in range(count)}
    shared = groups(holes, 2)
    assert [{holes[name] for name in group} for group in shared] == [{20, 22}, {21, 23}]
    assert sum(moves(holes, group) for group in shared) == 2
    assert cut_in_order(holes, 2) == 3


def test_equally_good_sharings_keep_near_holes_together() -> None:
    holes = {f"{hole}-{i}": hole for hole in (10, 11, 20, 21) for i in range(3)}
    assert [{holes[name] for name in group} for group in groups(holes, 2)] == [{10, 11}, {20, 21}]


@pytest.mark.parametrize("sizes", [{10: 2, 20: 2, 11: 3, 21: 4}, {10: 2, 20: 2, 11: 4, 21: 3}])
def test_equally_large_classes_are_exchanged_until_they_are_near(sizes: dict[int, int]) -> None:
    holes = {f"{hole}-{i}": hole for hole, count in sizes.items() for i in range(count)}
    assert [{holes[name] for name in group} for group in groups(holes, 2)] == [{10, 11}, {20, 21}]


def test_forty_people_at_eight_racks_by_the_same_rule() -> None:
    rng = random.Random(4)
    for spread in (1.5, 3.5):
        holes = {f"p{i}": round(rng.gauss(40, spread)) for i in range(40)}
        shared = groups(holes, 8)
        assert [len(group) for group in shared] == [5] * 8
        # Never fewer than classes less groups can give, never more than the cut in order.
        total = sum(moves(holes, group) for group in shared)
        assert max(0, len(set(holes.values())) - 8) <= total <= cut_in_order(holes, 8)


def fewest_by_integer_programming(holes: dict[str, int], racks: int) -> int:
    """Return the fewest moves by HiGHS: people of each class in each group, and whether any."""
    classes = sorted(Counter(holes.values()).items())
    small, extra = divmod(len(holes), racks)
    room = np.array([small + (group < extra) for group in range(racks)])
    sizes = np.array([size for _, size in classes])
    pairs, none = len(classes) * racks, np.zeros
    rows = [
        (np.kron(np.eye(len(classes)), np.ones(racks)), none((len(classes), pairs)), sizes, sizes),
        (np.kron(np.ones(len(classes)), np.eye(racks)), none((racks, pairs)), room, room),
        (np.eye(pairs), -np.diag(np.minimum.outer(sizes, room).ravel()), -np.inf, 0.0),
    ]
    limits = [LinearConstraint(np.hstack(row[:2]), *row[2:]) for row in rows]
    bounds = Bounds(0, np.repeat([np.inf, 1.0], pairs))
    found = milp(np.repeat([0.0, 1.0], pairs), constraints=limits, integrality=1, bounds=bounds)
    assert found.success
    return round(found.fun) - racks


@pytest.mark.parametrize(("racks", "spread"), [(3, 1.5), (3, 3.5), (5, 2.5), (5, 6.0), (8, 3.5)])
def test_forty_people_against_integer_programming(racks: int, spread: float) -> None:
    rng = random.Random(racks)
    holes = {f"p{i}": round(rng.gauss(40, spread)) for i in range(40)}
    total = sum(moves(holes, group) for group in groups(holes, racks))
    assert total == fewest_by_integer_programming(holes, racks)


@pytest.mark.parametrize(("racks", "spread"), [(3, 1.5), (5, 2.5), (8, 3.5), (40, 3.5)])
def test_both_ways_to_share_need_as_few_moves(racks: int, spread: float, monkeypatch) -> None:
    rng = random.Random(racks)
    holes = {f"p{i}": round(rng.gauss(40, spread)) for i in range(40)}
    exact = sum(moves(holes, group) for group in groups(holes, racks))
    monkeypatch.setattr(grouping, "MOST_STATES", 0)
    shared, above_fewest = share(holes, racks)
    assert sum(moves(holes, group) for group in shared) == exact and above_fewest == 0
    assert sorted(sum(shared, ())) == sorted(holes)


@pytest.mark.parametrize(
    ("people", "racks", "spread"), [(150, 30, 5), (150, 38, 3), (300, 300, 5), (300, 60, 40)]
)
def test_a_whole_school_is_shared(people: int, racks: int, spread: float) -> None:
    rng = random.Random(people)
    holes = {f"p{i}": round(rng.gauss(200, spread)) for i in range(people)}
    shared, above_fewest = share(holes, racks)
    assert sorted(sum(shared, ())) == sorted(holes) and len(shared) == racks
    assert {len(group) for group in shared} <= {people // racks, people // racks + 1}
    total = sum(moves(holes, group) for group in shared)
    assert above_fewest == 0 and total <= cut_in_order(holes, racks)


def test_a_search_cut_short_says_how_far_off_it_may_be(monkeypatch) -> None:
    rng = random.Random(3)
    holes = {f"p{i}": round(rng.gauss(200, 5)) for i in range(150)}
    monkeypatch.setattr(grouping, "MOST_STATES", 0)
    best = sum(moves(holes, group) for group in groups(holes, 37))
    monkeypatch.setattr(grouping, "MOST_NODES", 0)
    shared, above_fewest = share(holes, 37)
    total = sum(moves(holes, group) for group in shared)
    assert above_fewest > 0 and best <= total <= best + above_fewest


def test_a_group_is_in_order_of_holes() -> None:
    holes = {"a": 12, "b": 10, "c": 11, "d": 10}
    assert groups(holes, 1) == (("b", "d", "c", "a"),)


@pytest.mark.parametrize(
    ("people", "racks", "words"),
    [
        (0, 1, "there is nobody to share among the racks; read a roster first"),
        (3, 0, "0 racks: give at least one"),
        (3, 5, "5 racks are more than 3 people; use 3 at most, better one for every four"),
        (1, 2, "2 racks are more than 1 person; use 1 at most"),
    ],
)
def test_impossible_sharings_are_refused(people: int, racks: int, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        groups({f"p{i}": 20 for i in range(people)}, racks)
    assert words in str(caught.value)
