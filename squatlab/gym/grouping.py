"""Share people among racks so that the racks are moved as seldom as possible.

People who need the same hole form a *class*. A group moves its rack once
for every further class in it, so few (class, group) pairs mean few
moves. Draw classes and groups as dots and each pair as a line: a closed
loop of lines can always be opened by shifting people around it, so some
best sharing has no loop, and then

    lines = classes + groups − parts that hang together,
    moves = lines − groups = classes − parts.

Fewest moves is therefore most parts: sets of classes that exactly fill
whole groups. Cutting the people in order of height into equal groups is
not enough: 2, 3, 4 and 3 people on four holes fill two groups of six as
2 + 4 and 3 + 3 with two moves, the cut 2 + 3 + 1 and 3 + 3 needs three.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cache
from itertools import combinations

Part = tuple[tuple[int, ...], int, int]
"""Sizes of the classes of a part, its smaller groups, its larger ones."""


def groups(holes: Mapping[str, int], racks: int) -> tuple[tuple[str, ...], ...]:
    """Share people (name → hole) among racks with the fewest moves.

    Sizes differ by one at most; exact for any number of people. Of the
    sharings with as few moves, one is returned in which no exchange of
    two equally large classes would make the holes of a group lie nearer
    together. Each group is in order of holes. Raises ValueError for no
    people, no rack or more racks than people.
    """
    _check(len(holes), racks)
    sizes = Counter(holes.values())
    parts = _most_parts(tuple(sorted(sizes.values())), len(holes), racks)
    chosen = _nearest_classes([part for part, *_ in parts], sizes)
    small = len(holes) // racks
    shared: list[tuple[str, ...]] = []
    for classes, (_, smaller, larger) in zip(chosen, parts, strict=True):
        queue = sorted((name for name in holes if holes[name] in classes), key=holes.__getitem__)
        for size in [small] * smaller + [small + 1] * larger:
            shared.append(tuple(queue[:size]))
            queue = queue[size:]
    return tuple(sorted(shared, key=lambda group: [holes[name] for name in group]))


def moves(holes: Mapping[str, int], group: tuple[str, ...]) -> int:
    """Return how often a group's rack moves while all lift in this order."""
    order = [holes[name] for name in group]
    return sum(a != b for a, b in zip(order, order[1:], strict=False))


def _check(people: int, racks: int) -> None:
    if people == 0:
        raise ValueError("there is nobody to share among the racks; read a roster first")
    if racks < 1:
        raise ValueError(f"{racks} racks: give at least one")
    if racks > people:
        raise ValueError(
            f"{racks} racks are more than {people} {'people' if people > 1 else 'person'}; "
            f"use {people} at most, better one for every four or five people"
        )


def _most_parts(sizes: tuple[int, ...], people: int, racks: int) -> list[Part]:
    """Return the largest number of sets of classes that fill whole groups.

    ``sizes`` of the classes. Classes of one size are alike, so a state is
    how many of each size are used, and which groups the finished parts
    have filled: a few thousand states for forty people.
    """
    small, extra = divmod(people, racks)
    kinds = tuple(sorted(Counter(sizes).items()))
    goal = (racks - extra, extra)

    @cache
    def best(left: tuple[int, ...], open_people: int, done: tuple[int, int]) -> tuple[int, tuple]:
        """Return the most parts still to be made, and the steps there.

        A step is a size to add, or the groups that close the open part.
        """
        if not any(left) and not open_people:
            return 0, ()
        options = []
        for larger in range(goal[1] - done[1] + 1):
            rest = open_people - larger * (small + 1)
            smaller, odd = divmod(rest, small)
            fits = rest >= 0 and not odd and done[0] + smaller <= goal[0]
            if open_people and fits:
                filled = (done[0] + smaller, done[1] + larger)
                count, steps = best(left, 0, filled)
                options.append((count + 1, ((smaller, larger), *steps)))
        for kind, (size, _) in enumerate(kinds):
            if left[kind]:
                fewer = (*left[:kind], left[kind] - 1, *left[kind + 1 :])
                count, steps = best(fewer, open_people + size, done)
                options.append((count, (size, *steps)))
        return max(options, key=lambda option: option[0], default=(-len(sizes) - 1, ()))

    parts: list[Part] = []
    members: list[int] = []
    for step in best(tuple(count for _, count in kinds), 0, (0, 0))[1]:
        if isinstance(step, int):
            members.append(step)
        else:
            parts.append((tuple(members), *step))
            members = []
    return parts


def _nearest_classes(parts: list[tuple[int, ...]], sizes: Counter[int]) -> list[set[int]]:
    """Choose which hole of each size goes into which part, near ones together."""
    waiting = sorted(sizes)
    chosen: list[set[int]] = []
    for part in parts:
        classes: set[int] = set()
        for size in part:
            hole = next(hole for hole in waiting if sizes[hole] == size)
            waiting.remove(hole)
            classes.add(hole)
        chosen.append(classes)
    while (swap := _better_swap(chosen, sizes)) is not None:
        one, other, a, b = swap
        chosen[one] = chosen[one] - {a} | {b}
        chosen[other] = chosen[other] - {b} | {a}
    return chosen


def _better_swap(chosen: list[set[int]], sizes: Counter[int]) -> tuple[int, int, int, int] | None:
    """Return two classes of one size whose exchange brings holes nearer."""
    for one, other in combinations(range(len(chosen)), 2):
        before = _spread(chosen[one]) + _spread(chosen[other])
        for a in sorted(chosen[one]):
            for b in sorted(chosen[other]):
                after = _spread(chosen[one] - {a} | {b}) + _spread(chosen[other] - {b} | {a})
                if sizes[a] == sizes[b] and after < before:
                    return one, other, a, b
    return None


def _spread(classes: set[int]) -> int:
    return max(classes) - min(classes)
