"""Impossible recordings that are believed, and gym clips that are refused.

Run: python -m tests.benchmarks.impossible [--lifters 25] [--seed 101]

Every lift that is drawn is filmed as in a gym from the side and from the front, and recorded in
space; each such clip is received as it is, and spoilt in every way of tests/impossible.py.
"""

from __future__ import annotations

import argparse
from collections import Counter

import numpy as np

from squatlab.tracks import TracksError
from tests.benchmarks.accuracy import drawn_lifts
from tests.benchmarks.filming import CONDITIONS, filmed
from tests.impossible import KINDS, believed, impossible, in_our_axes, moments_of, received


def main() -> None:
    """Print how many are believed, and how many clean clips are refused."""
    parser = argparse.ArgumentParser(description="What of the impossible is believed.")
    parser.add_argument("--lifters", type=int, default=25)
    parser.add_argument("--seed", type=int, default=101)
    given = parser.parse_args()
    rng = np.random.default_rng(given.seed)
    refused, count, clips = Counter(), 0, []
    for lift in drawn_lifts(given.lifters, given.seed):
        for condition in CONDITIONS.values():
            films = []
            for one in filmed(lift.rep, condition, rng):
                count += 1
                try:
                    films.append(in_our_axes(one))
                    received(films[-1])
                except TracksError as error:
                    refused[f"{condition.name}: {error}"[:120]] += 1
            if condition.name == CONDITIONS["gym"].name and lift.kind == "clean":
                clips += [*films, lift.rep.tracks()]
    print(f"clips of all conditions refused: {sum(refused.values())} of {count} {dict(refused)}")
    squats = [(clip, moments) for clip in clips if (moments := moments_of(clip))]
    recordings = list(impossible(squats, given.seed))
    found = Counter(filter(None, map(believed, recordings)))
    print(
        f"impossible recordings of {len(KINDS)} kinds believed: {sum(found.values())} of "
        f"{len(recordings)} {dict(found)}"
    )


if __name__ == "__main__":
    main()
