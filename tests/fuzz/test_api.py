"""Any arguments at all: a result, or one of our errors in words; and inputs unchanged."""

from __future__ import annotations

import copy
import random
from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest

from squatlab import (
    Bar,
    Lifter,
    Population,
    Stance,
    back_extensor_force,
    balance,
    chain_moments,
    dynamic_moments,
    faults,
    joint_moments,
    pose,
)
from squatlab.gym import PlateSet, Rack
from squatlab.gym.grouping import groups
from squatlab.gym.rotation import rotation
from squatlab.motion import Camera, Injection, Tempo, film, synthesise
from squatlab.questions.typed_numbers import kilograms, metres
from squatlab.tracks import Tracks, receive

LIFTER, BAR, STANCE = Lifter.from_stature(1.75, 80), Bar.high(60), Stance()

USUAL = (0, 1, 2, 10, 30, 60, 80, 100, -5, 0.3, 0.5, 1.75, 12.0, 45.0, -20.0)
ODD = (
    "",
    "100",
    "hip_r",
    b"x",
    None,
    True,
    False,
    [],
    {},
    (),
    [1, 2],
    [[1], [2]],
    (1, "a"),
    1 + 2j,
    float("nan"),
    float("inf"),
    -float("inf"),
    1e300,
    -1e300,
    5e-324,
    10**400,
    -(10**400),
    -1,
    2.5,
    Fraction(1, 3),
    np.float32(1.5),
    np.int64(3),
    np.bool_(True),
    np.array(60.0),
    np.array([]),
    np.array([30.0, 60.0]),
    np.array([[10.0], [20.0]]),
    np.zeros((2, 0)),
    np.zeros((3, 4, 5)),
    np.array(["a", "b"]),
    np.array([None, 1]),
    np.ma.array([1.0, 2.0], mask=[0, 1]),
    np.array([np.nan, 1.0]),
    np.arange(7),
    object(),
    lambda: 1,
    LIFTER,
    BAR,
    range(3),
    "\x1b[31m" * 9,
)


def value(rng: random.Random) -> object:
    """Return something usual, or something that is not."""
    return rng.choice(USUAL) if rng.random() < 0.6 else rng.choice(ODD)


def some(rng: random.Random, *names: str) -> dict[str, object]:
    """Return values for some of the names."""
    return {name: value(rng) for name in names if rng.random() < 0.5}


def lifter(rng: random.Random) -> object:
    """Return a lifter, often an odd one."""
    if rng.random() < 0.5:
        return LIFTER
    given = rng.choice(([1.6, 1.8], [], np.array([[1.7], [1.8]]), 1.7, 1.9))
    return Lifter.from_stature(given, 80)


def noun(rng: random.Random, make: Callable, usual: object, *names: str) -> object:
    """Return a bar or stance."""
    return usual if rng.random() < 0.6 else make(**some(rng, *names))


def points(rng: random.Random) -> object:
    """Return arrays of points, with shapes that do not always fit."""
    shape = rng.choice(
        ((20, 4, 2), (20, 4, 3), (4, 2), (2,), (), (20, 1, 2), (0, 4, 2), (20, 4, 1))
    )
    return np.linspace(0, 1, int(np.prod(shape, dtype=int))).reshape(shape)


def shapes(rng: random.Random) -> object:
    return rng.choice((np.ones(3), np.ones(2), 1.0, [], "x", None, np.ones((20, 2)), np.arange(20)))


CALLS: dict[str, Callable[[random.Random], object]] = {
    "lifter": lambda r: Lifter.from_lengths(
        value(r), value(r), **some(r, "thigh_m", "shank_m", "trunk_m", "foot_m", "table")
    ),
    "stature": lambda r: Lifter.from_stature(value(r), value(r)),
    "scaled": lambda r: lifter(r).scaled(**some(r, "thigh", "shank", "trunk")),
    "mass": lambda r: LIFTER.mass(value(r)),
    "bar": lambda r: Bar(value(r), value(r), value(r)),
    "high": lambda r: Bar.high(value(r)),
    "stance": lambda r: Stance(**some(r, "heel_width_m", "turnout_deg", "valgus_deg")),
    "balance": lambda r: balance(
        lifter(r),
        noun(r, Bar.high, BAR, "mass_kg") if r.random() < 0.8 else BAR,
        noun(r, Stance, STANCE, "heel_width_m", "turnout_deg"),
        **some(r, "thigh_deg", "shank_deg", "over", "target_x_m", "lumbar_deg"),
    ),
    "pose": lambda r: pose(
        lifter(r), BAR, STANCE, value(r), **some(r, "thigh_deg", "shank_deg", "lumbar_deg")
    ),
    "chain": lambda r: chain_moments(
        points(r), shapes(r), shapes(r), shapes(r), shapes(r), shapes(r), shapes(r)
    ),
    "dynamic": lambda r: dynamic_moments(
        balance(lifter(r), BAR, STANCE, np.linspace(60, 0, r.choice((1, 4, 20))), value(r)),
        r.choice((np.arange(20.0), np.arange(4.0), value(r))),
    ),
    "population": lambda r: Population.ansur2(r.choice(("men", value(r)))).draw(
        r.choice((1, 3, value(r))), r.choice((np.random.default_rng(1), value(r)))
    ),
    "camera": lambda r: Camera.side(
        **some(r, "distance_m", "height_m", "yaw_deg", "rate", "noise_px", "dropped", "view")
    ),
    "tempo": lambda r: Tempo(**some(r, "descent_s", "pause_s", "repetitions", "hip_lead_s")),
    "injection": lambda r: Injection(
        r.choice((*faults.catalogue(), value(r))), value(r), r.choice((None, 1, value(r)))
    ),
    "synthesise": lambda r: synthesise(
        lifter(r), BAR, STANCE, **some(r, "thigh_deg", "shank_deg", "rng", "rate")
    ),
    "film": lambda r: film(
        {"hip_r": r.choice((np.ones((20, 3)), value(r)))},
        r.choice((np.arange(20.0), value(r))),
        Camera.side(),
    ),
    "receive": lambda r: receive(
        r.choice((np.arange(20.0) / 30, value(r))),
        r.choice((points(r), value(r))),
        r.choice((["hip_r", "knee_r", "ankle_r", "toe_r"], value(r))),
        **some(r, "view", "units", "axes", "scale_px_per_m", "rate", "bridge_s", "required"),
    ),
    "tracks": lambda r: Tracks(
        r.choice((np.arange(20.0) / 30, value(r))),
        r.choice((points(r), value(r))),
        r.choice((("a", "b", "c", "d"), value(r))),
        r.choice(("side", "3d", value(r))),
        **some(r, "units", "scale_px_per_m", "rate"),
    ),
    "rack": lambda r: Rack(*(value(r) for _ in range(4))).nearest(value(r)),
    "hole": lambda r: Rack.of(r.choice(("50 mm", value(r)))).height(value(r)),
    "plates": lambda r: PlateSet.of(r.choice(("kg", value(r)))).load(value(r)),
    "metres": lambda r: metres(r.choice(("178 cm", "5'11", value(r))), r.choice((None, "cm"))),
    "kilograms": lambda r: kilograms(r.choice(("74 kg", value(r)))),
    "groups": lambda r: groups(
        {f"p{n}": r.randrange(5) for n in range(r.randrange(12))}, r.choice((1, 2, 3, value(r)))
    ),
    "rotation": lambda r: rotation(tuple("abcdef"[: r.randrange(7)])),
    "fault": lambda r: faults.fault(value(r)),
    "severity": lambda r: faults.fault("short_depth").severity(value(r)),
}
"""Calls of the public surface, with arguments that chance chooses."""

WORDS = (TypeError, ValueError)
"""What a wrong argument may raise: TypeError for what no number or noun is."""


def read_whole(result: object) -> None:
    """Use a result as somebody at a prompt does."""
    repr(result)
    for name in ("feasible", "reason", "points", "trunk_deg", "com", "shape"):
        getattr(result, name, None)
    if hasattr(result, "moment_arms"):
        repr(joint_moments(result)), repr(back_extensor_force(result)), result.moment_arms()


@pytest.mark.parametrize("part", range(4))
def test_any_arguments_give_a_result_or_our_words(part, many, rng):
    """20,000 calls in the long run."""
    before = copy.deepcopy([one for one in ODD if isinstance(one, np.ndarray)])
    wrong = []
    for number in range(many(250, 5000)):
        name = rng.choice(list(CALLS))
        try:
            with np.errstate(all="ignore"):
                read_whole(CALLS[name](rng))
        except WORDS as error:
            words = str(error)
            if not words or len(words) > 2_000 or theirs(words):
                wrong.append(f"{part}/{number} {name}: {error!r}"[:400])
        except Exception as error:
            wrong.append(f"{part}/{number} {name}: {error!r}"[:400])
    after = [one for one in ODD if isinstance(one, np.ndarray)]
    for one, other in zip(before, after, strict=True):
        assert one.shape == other.shape and np.array_equal(one.astype(str), other.astype(str))
    assert not wrong, f"{len(wrong)}:\n" + "\n".join(wrong[:15])


def theirs(words: str) -> bool:
    """Return whether an error speaks of NumPy's or Python's affairs, not of the caller's."""
    foreign = (
        "could not be broadcast",
        "operands",
        "ufunc",
        "setting an array element",
        "inhomogeneous",
        "cannot convert float",
        "'NoneType'",
        "object has no attribute",
        "not supported between",
        "truth value of an array",
        "unhashable",
        "Only integer scalar",
        "only length-1",
        "only 0-dimensional",
        "not iterable",
        "int too large",
        "must be real number",
    )
    return any(part in words for part in foreign)
