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

import math
from collections import Counter
from collections.abc import Mapping
from functools import cache
from itertools import combinations
from typing import NamedTuple

import numpy as np

from squatlab.ranges import shown

Part = tuple[tuple[int, ...], int, int]
"""Sizes of the classes of a part, its smaller groups, its larger ones."""

MOST_STATES = 4_000
MOST_CLASSES = 60
"""Up to so many ways to have classes left, of so many classes, every sharing
is looked at, within half a second; beyond, integer programming finds one."""

MOST_NODES = 500
"""Branches after which integer programming stops, and says how far from the
best it may be: 300 people need fewer. A count, so that every machine
shares alike."""


class Sharing(NamedTuple):
    """Hold groups of names, and how many moves they may be above the fewest.

    ``above_fewest`` is 0 where nothing better exists.
    """

    groups: tuple[tuple[str, ...], ...]
    above_fewest: int


def groups(holes: Mapping[str, int], racks: int) -> tuple[tuple[str, ...], ...]:
    """Share people (name → hole) among racks with the fewest moves.

    Sizes differ by one at most. Of the sharings with as few moves, one is
    returned in which no exchange of two equally large classes would make
    the holes of a group lie nearer together. Each group is in order of
    holes. Raises ValueError for no people, no rack or more racks than
    people. As `share`, which says whether it is the best there is.
    """
    return share(holes, racks).groups


def share(holes: Mapping[str, int], racks: int) -> Sharing:
    """Share people among racks as `groups`, with how good it is.

    Every sharing is looked at for classes of the usual size; for hundreds
    of people SciPy's integer programming finds one and bounds the rest.
    """
    _check(len(holes), racks)
    sizes = Counter(holes.values())
    many = tuple(sorted(sizes.values()))
    if len(many) <= MOST_CLASSES and _states(many) <= MOST_STATES:
        parts, above = _most_parts(many, len(holes), racks), 0
    else:
        parts, above = _parts_by_programming(many, len(holes), racks)
    place = _near_together(sizes, [part for part, *_ in parts])
    small = len(holes) // racks
    shared: list[tuple[str, ...]] = []
    for number, (_, smaller, larger) in enumerate(parts):
        queue = [name for name in sorted(holes, key=holes.get) if place[holes[name]] == number]
        for size in [small] * smaller + [small + 1] * larger:
            shared.append(tuple(queue[:size]))
            queue = queue[size:]
    shared.sort(key=lambda group: [holes[name] for name in group])
    return Sharing(tuple(shared), above)


def _check(people: int, racks: int) -> None:
    """Raise ValueError where people cannot be shared among racks."""
    if not isinstance(racks, int):
        raise ValueError(f"racks is {shown(racks)}; give a whole number")
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


def _states(sizes: tuple[int, ...]) -> int:
    """Return in how many ways classes can be left: so many of each size."""
    return math.prod(count + 1 for count in Counter(sizes).values())


def _parts_by_programming(
    sizes: tuple[int, ...], people: int, racks: int
) -> tuple[list[Part], int]:
    """Return many parts by integer programming, and how many more there may be.

    For each possible part, the unknowns are how many classes of each size
    it has, its smaller and its larger groups, and whether there is any.
    """
    # Takes 0.4 s to load, and only classes with too many parts to list come here.
    from scipy import sparse
    from scipy.optimize import Bounds, LinearConstraint, milp

    small, extra = divmod(people, racks)
    size, count = np.array(sorted(Counter(sizes).items())).T
    kinds, most = len(size), min(len(sizes), racks)
    each = sparse.eye_array(most)
    # The people of a part fill its groups exactly.
    fills = sparse.kron(each, np.array([[*size, -small, -(small + 1), 0]]))
    # A part counts only if it has a group.
    counts = sparse.kron(each, np.array([[*np.zeros(kinds), 1, 1, -1]]))
    # All classes and all groups are used up.
    totals = sparse.kron(np.ones((1, most)), sparse.eye_array(kinds + 2, kinds + 3))
    there = np.array([*count, racks - extra, extra])
    solution = milp(
        np.tile([*np.zeros(kinds + 2), -1.0], most),  # the most parts
        constraints=[
            LinearConstraint(fills.tocsr(), 0, 0),
            LinearConstraint(counts.tocsr(), 0, np.inf),
            LinearConstraint(totals.tocsr(), there, there),
        ],
        integrality=1,
        bounds=Bounds(0, np.tile([*there, 1], most)),
        options={"node_limit": MOST_NODES},
    )
    bound = most if solution.mip_dual_bound is None else math.floor(-solution.mip_dual_bound + 1e-6)
    if solution.x is None:  # all in one part is a sharing too
        return [(sizes, racks - extra, extra)], bound - 1
    parts: list[Part] = []
    for *members, smaller, larger, _ in np.rint(solution.x).astype(int).reshape(most, -1).tolist():
        if smaller or larger:
            classes = tuple(np.repeat(size, members).tolist())
            parts.append((classes, smaller, larger))
    return parts, max(bound - len(parts), 0)


def _near_together(sizes: Counter[int], parts: list[tuple[int, ...]]) -> dict[int, int]:
    """Return the part of each hole; classes of one size change places until near."""
    waiting = sorted(sizes, reverse=True, key=lambda hole: (sizes[hole], hole))
    wanted = sorted(((size, number) for number, part in enumerate(parts) for size in part))
    place = {waiting.pop(): number for _, number in wanted}

    held = [[hole for hole in place if place[hole] == number] for number in range(len(parts))]

    def gain(a: int, b: int) -> int:
        """Return how many holes nearer two parts get when a and b change places."""
        here, there = held[place[a]], held[place[b]]
        if here is there:
            return 0
        swapped = [hole for hole in here if hole != a] + [b], [h for h in there if h != b] + [a]
        return _width(here) + _width(there) - sum(map(_width, swapped))

    pairs = [(a, b) for a, b in combinations(sorted(sizes), 2) if sizes[a] == sizes[b]]
    while pairs and (best := max(pairs, key=lambda pair: gain(*pair))) and gain(*best) > 0:
        a, b = best
        for hole, part, other in ((a, place[a], b), (b, place[b], a)):
            held[part].remove(hole)
            held[part].append(other)
        place[a], place[b] = place[b], place[a]
    return place


def _width(holes: list[int]) -> int:
    """Return how far apart the holes of a part lie."""
    return max(holes) - min(holes)
