"""A leg whose joint moments are known: what inverse dynamics is held against."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import tables

SAMPLE_S = 1e-4
"""Time from one sample of the data set to the next."""

KNOWN_AT = 4240
"""The sample whose ground force and moments are in the table."""


class Benchmark(NamedTuple):
    """Hold a simulated leg pushing on the ground, and the truth about it.

    ``points`` (time, 4, 2) m are hip, knee, ankle and toe, ``time``
    (time,) in s; ``body`` is what `chain_moments` needs besides; at
    ``instant`` the moments at hip, knee and ankle are ``truth``, N·m.
    """

    points: NDArray[np.float64]
    time: NDArray[np.float64]
    instant: int
    body: dict[str, Any]
    truth: tuple[float, ...]


def benchmark() -> Benchmark:
    """Read the benchmark of inverse dynamics [vandenbogert1996].

    Sixteen samples around one instant; the ground's push there is taken
    for all of them.
    """
    rows = tables.read("benchmark_leg")
    samples = [int(row["sample"]) for row in rows]
    joints = [f"{joint}_{axis}" for joint in ("hip", "knee", "ankle", "toe") for axis in "xy"]
    flat = np.array([[float(row[name]) for name in joints] for row in rows])

    def published(quantity: str, *names: str) -> list[float]:
        return [tables.value("benchmark_body", name=name, quantity=quantity) for name in names]

    def at_all_times(*place: float) -> NDArray[np.float64]:
        return np.broadcast_to(place, (len(rows), 2))

    segments = "thigh", "shank", "foot"
    return Benchmark(
        flat.reshape(len(rows), 4, 2),
        SAMPLE_S * np.array(samples),
        samples.index(KNOWN_AT),
        {
            "masses": published("mass", *segments),
            "inertias": published("inertia", *segments),
            "com_fractions": published("centre", *segments),
            "ground_force": at_all_times(
                *published("force_x", "ground"), *published("force_y", "ground")
            ),
            "ground_point": at_all_times(*published("point_x", "ground"), 0.0),
        },
        tuple(published("moment", "hip", "knee", "ankle")),
    )
