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
    place = _near_together(sizes, [part for part, *_ in parts])
    small = len(holes) // racks
    shared: list[tuple[str, ...]] = []
    for number, (_, smaller, larger) in enumerate(parts):
        queue = [name for name in sorted(holes, key=holes.get) if place[holes[name]] == number]
        for size in [small] * smaller + [small + 1] * larger:
            shared.append(tuple(queue[:size]))
            queue = queue[size:]
    return tuple(sorted(shared, key=lambda group: [holes[name] for name in group]))


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

    Classes of one size are alike, so a state is how many of each size are
    left, and which groups the finished parts have filled: a few thousand
    states for forty people.
    """
    small, extra = divmod(people, racks)
    kinds = tuple(sorted(Counter(sizes).items()))

    @cache
    def best(left: tuple[int, ...], inside: int, smaller: int, larger: int) -> tuple[int, tuple]:
        """Return the most parts still to be made, and the steps there.

        ``inside`` people are in the open part, and so many groups are empty.
        A step is a size to add, or the groups that close the open part.
        """
        if not any(left) and not inside:
            return 0, ()
        options = []
        for more in range(larger + 1 if inside else 0):
            less, odd = divmod(inside - more * (small + 1), small)
            if not odd and 0 <= less <= smaller:
                count, steps = best(left, 0, smaller - less, larger - more)
                options.append((count + 1, ((less, more), *steps)))
        for kind, (size, _) in enumerate(kinds):
            if left[kind]:
                fewer = (*left[:kind], left[kind] - 1, *left[kind + 1 :])
                count, steps = best(fewer, inside + size, smaller, larger)
                options.append((count, (size, *steps)))
        return max(options, key=lambda option: option[0], default=(-len(sizes) - 1, ()))

    parts: list[Part] = []
    members: tuple[int, ...] = ()
    for step in best(tuple(count for _, count in kinds), 0, racks - extra, extra)[1]:
        if isinstance(step, int):
            members += (step,)
        else:
            parts.append((members, *step))
            members = ()
    return parts


def _near_together(sizes: Counter[int], parts: list[tuple[int, ...]]) -> dict[int, int]:
    """Return the part of each hole; classes of one size change places until near."""
    waiting = sorted(sizes, reverse=True, key=lambda hole: (sizes[hole], hole))
    wanted = sorted(((size, number) for number, part in enumerate(parts) for size in part))
    place = {waiting.pop(): number for _, number in wanted}

    def width(place: dict[int, int]) -> int:
        found = [[hole for hole in place if place[hole] == number] for number in range(len(parts))]
        return sum(max(holes) - min(holes) for holes in found)

    pairs = [(a, b) for a, b in combinations(sorted(sizes), 2) if sizes[a] == sizes[b]]
    while better := [
        changed for a, b in pairs
        if width(changed := place | {a: place[b], b: place[a]}) < width(place)
    ]:  # fmt: skip
        place = min(better, key=width)
    return place
