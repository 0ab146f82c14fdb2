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


class Part(NamedTuple):
    """Hold classes that exactly fill whole groups: sizes, and how many groups.

    ``larger`` groups have one person more than ``smaller`` ones.
    """

    sizes: tuple[int, ...]
    smaller: int
    larger: int


class _Parts(NamedTuple):
    """Hold parts, and how many moves they may be above the fewest."""

    parts: list[Part]
    above_fewest: int


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
    # A class is everybody with one hole; only its size matters for how many moves there are.
    size_of = Counter(holes.values())
    sizes = tuple(sorted(size_of.values()))
    if len(sizes) <= MOST_CLASSES and _states(sizes) <= MOST_STATES:
        found = _Parts(_most_parts(sizes, len(holes), racks), above_fewest=0)
    else:
        found = _parts_by_programming(sizes, len(holes), racks)
    part_of = _near_together(size_of, [part.sizes for part in found.parts])
    small = len(holes) // racks
    in_order = sorted(holes, key=holes.get)
    shared: list[tuple[str, ...]] = []
    for number, part in enumerate(found.parts):
        queue = [name for name in in_order if part_of[holes[name]] == number]
        for size in [small] * part.smaller + [small + 1] * part.larger:
            shared.append(tuple(queue[:size]))
            queue = queue[size:]
    shared.sort(key=lambda group: [holes[name] for name in group])
    return Sharing(tuple(shared), found.above_fewest)


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


class _Closing(NamedTuple):
    """Say that a part is complete, with so many smaller and larger groups."""

    smaller: int
    larger: int


class _Way(NamedTuple):
    """Hold how many parts are made, and the steps: a class's size, or a closing."""

    parts: int
    steps: tuple[int | _Closing, ...]


def _most_parts(sizes: tuple[int, ...], people: int, racks: int) -> list[Part]:
    """Return the largest number of sets of classes that fill whole groups.

    Dynamic programming over states. Classes of one size are alike, so a
    state is how many of each size are left, how many people are in the part
    that is being made, and how many groups are still empty: a few thousand
    states for forty people.
    """
    small, extra = divmod(people, racks)
    counts = Counter(sizes)
    class_sizes = sorted(counts)
    no_way = _Way(-len(sizes) - 1, ())

    @cache
    def best(left: tuple[int, ...], inside: int, smaller: int, larger: int) -> _Way:
        """Return the most parts still to be made, and the steps there.

        ``left`` is how many classes of each size are left, ``inside`` how many
        people are in the open part; so many groups are empty.
        """
        if not any(left) and not inside:
            return _Way(0, ())
        options = []
        # Close the open part, if its people fill so many larger groups and some smaller ones.
        for used_larger in range(larger + 1 if inside else 0):
            used_smaller, rest = divmod(inside - used_larger * (small + 1), small)
            if rest == 0 and 0 <= used_smaller <= smaller:
                after = best(left, 0, smaller - used_smaller, larger - used_larger)
                closing = _Closing(used_smaller, used_larger)
                options.append(_Way(after.parts + 1, (closing, *after.steps)))
        # Or add one more class to it.
        for kind, size in enumerate(class_sizes):
            if left[kind]:
                one_fewer = (*left[:kind], left[kind] - 1, *left[kind + 1 :])
                after = best(one_fewer, inside + size, smaller, larger)
                options.append(_Way(after.parts, (size, *after.steps)))
        return max(options, key=lambda way: way.parts, default=no_way)

    all_classes = tuple(counts[size] for size in class_sizes)
    parts: list[Part] = []
    members: tuple[int, ...] = ()
    for step in best(all_classes, 0, racks - extra, extra).steps:
        if isinstance(step, _Closing):
            parts.append(Part(members, step.smaller, step.larger))
            members = ()
        else:
            members += (step,)
    return parts


def _states(sizes: tuple[int, ...]) -> int:
    """Return in how many ways classes can be left: so many of each size."""
    return math.prod(count + 1 for count in Counter(sizes).values())


def _parts_by_programming(sizes: tuple[int, ...], people: int, racks: int) -> _Parts:
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
    # The solver minimises, so minus its bound is the most parts there can be.
    bound = most
    if solution.mip_dual_bound is not None:
        bound = math.floor(-solution.mip_dual_bound + 1e-6)
    if solution.x is None:  # all in one part is a sharing too
        return _Parts([Part(sizes, racks - extra, extra)], bound - 1)
    parts: list[Part] = []
    for row in np.rint(solution.x).astype(int).reshape(most, -1).tolist():
        members, smaller, larger = row[:kinds], row[kinds], row[kinds + 1]
        if smaller or larger:
            parts.append(Part(tuple(np.repeat(size, members).tolist()), smaller, larger))
    return _Parts(parts, max(bound - len(parts), 0))


def _near_together(size_of: Counter[int], parts: list[tuple[int, ...]]) -> dict[int, int]:
    """Return the part of each hole; classes of one size change places until near.

    ``size_of`` is how many people need each hole, ``parts`` the sizes of the
    classes in each part.
    """
    # At first the parts take their classes from the lowest hole of each size on.
    by_size = sorted(size_of, key=lambda hole: (size_of[hole], hole))
    wanted = sorted((size, number) for number, part in enumerate(parts) for size in part)
    part_of = {hole: number for hole, (_, number) in zip(by_size, wanted, strict=True)}
    inside: list[set[int]] = [set() for _ in parts]
    for hole, number in part_of.items():
        inside[number].add(hole)

    def gain(one: int, other: int) -> int:
        """Return how many holes nearer two parts get when two classes change places."""
        here, there = inside[part_of[one]], inside[part_of[other]]
        if here is there:
            return 0
        swapped_here, swapped_there = here - {one} | {other}, there - {other} | {one}
        return _width(here) + _width(there) - _width(swapped_here) - _width(swapped_there)

    pairs = [
        (one, other)
        for one, other in combinations(sorted(size_of), 2)
        if size_of[one] == size_of[other]
    ]
    while pairs:
        one, other = max(pairs, key=lambda pair: gain(*pair))
        if gain(one, other) <= 0:
            break
        here, there = part_of[one], part_of[other]
        inside[here] = inside[here] - {one} | {other}
        inside[there] = inside[there] - {other} | {one}
        part_of[one], part_of[other] = there, here
    return part_of


def _width(holes: set[int]) -> int:
    """Return how far apart the holes of a part lie."""
    return max(holes) - min(holes)
