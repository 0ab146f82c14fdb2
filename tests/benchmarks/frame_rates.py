"""How often a wrong frame rate is suspected, and a right one.

Run: python -m tests.benchmarks.frame_rates [FOLDER] [--lifters 60] [--seed 101]

Our own people in gym clips, and with a FOLDER of recordings (tests/benchmarks/real.py) those too:
as they are, as slow motion with 2, 4 and 8 times the frames played at the same rate, and with a
half and three quarters of the frames left out.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

import numpy as np

from squatlab.review.frame_rate import suspicion
from squatlab.review.view import view_of
from squatlab.tracks import Tracks, TracksError, receive
from tests.benchmarks.accuracy import drawn_lifts
from tests.benchmarks.filming import CONDITIONS, filmed
from tests.benchmarks.real import recordings

FACTORS = (1, 2, 4, 8, 0.5, 0.25)
"""By what times are too long; below 1 too short."""


def played(tracks: Tracks, factor: float) -> Tracks:
    """Return tracks whose times are wrong by a factor, at the rate they had."""
    if factor < 1:
        step = round(1 / factor)
        times = tracks.times[::step] * factor
        return replace(tracks, times=times, positions=tracks.positions[::step], rate=0.0)
    count = round((tracks.times.size - 1) * factor) + 1
    moments = np.linspace(tracks.times[0], tracks.times[-1], count)
    cells = tracks.positions.reshape(tracks.times.size, -1).T
    positions = np.stack([np.interp(moments, tracks.times, cell) for cell in cells], axis=1)
    positions = positions.reshape(count, *tracks.positions.shape[1:])
    return replace(tracks, times=moments * factor, positions=positions, rate=0.0)


def answer(tracks: Tracks) -> str:
    """Return what is said of a recording's rate: "suspected", "refused", or ""."""
    try:
        received = receive(
            tracks.times, tracks.positions, tracks.names, view=tracks.view, units=tracks.units
        )
    except TracksError:
        return "refused"
    view = view_of(received)
    return ("suspected" if suspicion(view) else "") if view.repetitions else "refused"


def main() -> None:
    """Print the shares for every kind of recording."""
    parser = argparse.ArgumentParser(description="How often a frame rate is suspected.")
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--lifters", type=int, default=60)
    parser.add_argument("--seed", type=int, default=101)
    given = parser.parse_args()
    rng = np.random.default_rng(given.seed)
    lifts = drawn_lifts(given.lifters, given.seed)
    kinds = {
        "own people": [
            tracks for lift in lifts for tracks in filmed(lift.rep, CONDITIONS["gym"], rng)
        ]
    }
    if given.folder:
        found = recordings(given.folder).items()
        kinds |= {kind: [tracks for _, tracks in several] for kind, several in found}
    for kind, several in kinds.items():
        # What is refused at its right rate says nothing of rates.
        several = [tracks for tracks in several if answer(tracks) != "refused"]
        shares = []
        for factor in FACTORS:
            answers = [answer(played(tracks, factor)) for tracks in several]
            suspected, refused = (answers.count(one) for one in ("suspected", "refused"))
            shares.append(f"× {factor:g} {suspected}" + f" (refused {refused})" * bool(refused))
        print(f"{kind}, suspected of {len(several)}: {', '.join(shares)}", flush=True)


if __name__ == "__main__":
    main()
