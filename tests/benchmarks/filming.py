"""Films that are wrong in the ways real ones are: conditions of the accuracy benchmark."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from squatlab import Lifter
from squatlab.motion import Camera, Rep, film
from squatlab.review import ErrorModel, Findings, ReviewError, measure
from squatlab.tracks import Tracks, TracksError

PLACEMENT_M = {
    "hip": 0.025,
    "knee": 0.015,
    "ankle": 0.012,
    "heel": 0.013,
    "toe": 0.015,
    "l5": 0.015,
    "c7": 0.013,
    "head": 0.013,
    "bar": 0.005,
    "bar_end": 0.005,
    "plate_top": 0.004,
    "plate_bottom": 0.004,
}
"""SD of a placement error that stays, of the full size: hip 2.5, knee 1.5, feet 1.2 to 1.5 cm."""


@dataclass(frozen=True)
class Condition:
    """Hold what is wrong with films; SDs unless said otherwise.

    ``noise_m`` lasts ``noise_s``; ``placement`` is a share of
    `PLACEMENT_M`; ``slide_m`` (exact) is how far the hip slides toward
    the knee; ``roll_deg`` is exact, ``roll_sd_deg`` drawn. ``own_make``
    fixes placement to the body, lets noise grow at the bottom and the
    trunk be soft: what the estimate does not assume.
    """

    name: str
    noise_m: float = 0.008
    noise_s: float = 0.0
    placement: float = 0.0
    slide_m: float = 0.0
    roll_deg: float = 0.0
    roll_sd_deg: float = 0.0
    yaw_sd_deg: float = 0.0
    pitch_sd_deg: float = 0.0
    declared: float = 0.0
    own_make: bool = False
    errors: ErrorModel | None = None


GYM = Condition("decent gym clip", 0.008, 0.2, 0.5, 0.02, 0.0, 1.5, 4.0, 3.0, 0.10)
CONDITIONS = {
    "white": Condition("white noise, model estimated"),
    "declared": Condition("white noise, model declared", errors=ErrorModel.jitter_only()),
    "lasting": Condition("noise .2 s 15 mm", 0.015, 0.2),
    "placement": Condition("full placement error", placement=1.0),
    "slide": Condition("hip slides 3 cm", slide_m=0.03),
    "roll": Condition("roll 3°", roll_deg=3.0),
    "gym": GYM,
    "own": replace(GYM, name="gym clip of another make", own_make=True),
}


def filmed(rep: Rep, condition: Condition, rng: np.random.Generator, rate: float = 30.0) -> list:
    """Return a side and a front film of a repetition, with what is wrong with them."""
    films = []
    for make in (Camera.side, Camera.front):
        yaw = float(np.clip(rng.normal(0, condition.yaw_sd_deg), -15, 15))
        films.append(film(rep.points, rep.time, make(yaw_deg=yaw, rate=rate), None))
    return [_spoilt(tracks, condition, rng) for tracks in films]


def seen(
    rep: Rep,
    declared: Lifter,
    bar_kg: float,
    condition: Condition,
    rng: np.random.Generator,
    rate: float = 30.0,
    **more: Any,
) -> Findings | None:
    """Return what is read from both films, None where they are refused."""
    films = filmed(rep, condition, rng, rate)
    off = 1 + condition.declared * rng.uniform(-1, 1, 3)
    camera = SimpleNamespace(distance_m=4.0 * off[0], height_m=1.0 * off[1])
    try:
        return measure(
            *films,
            lifter=declared,
            bar_kg=bar_kg * off[2],
            camera=camera,
            **({"errors": condition.errors} | more),
        )
    except (ReviewError, TracksError):
        return None


def _spoilt(tracks: Tracks, condition: Condition, rng: np.random.Generator) -> Tracks:
    px_per_m, names = 375.0, tracks.names
    seen = tracks.positions.copy()
    height = np.nanmean([seen[:, names.index(n), 1] for n in names if n.startswith("hip")], axis=0)
    lowered = (height.max() - height) / max(np.ptp(height), 1.0)
    for side in "rl":
        if f"hip_{side}" in names and condition.slide_m:
            hip, knee = names.index(f"hip_{side}"), names.index(f"knee_{side}")
            thigh = seen[:, knee] - seen[:, hip]
            full = np.nanquantile(np.linalg.norm(thigh, axis=1), 0.9)
            seen[:, hip] += condition.slide_m * px_per_m * lowered[:, None] * thigh / full
    seen += px_per_m * condition.placement * _placement(names, seen, condition, rng)
    grown = 1 + lowered[:, None, None] if condition.own_make else 1.0
    seen += px_per_m * grown * _noise(seen.shape, condition, tracks.rate, rng)
    if condition.own_make:
        for name in ("l5", "c7"):
            if name in names:
                seen[:, names.index(name)] += px_per_m * np.outer(lowered, rng.normal(0, 0.01, 2))
    roll = np.radians(
        condition.roll_deg * rng.choice([-1, 1]) + rng.normal(0, condition.roll_sd_deg)
    )
    away = seen - (960.0, 540.0)
    turned = away @ np.array([[np.cos(roll), np.sin(roll)], [-np.sin(roll), np.cos(roll)]])
    pitch, focal = np.radians(rng.normal(0, condition.pitch_sd_deg)), 1500.0
    depth = np.cos(pitch) + turned[..., 1] / focal * np.sin(pitch)
    tipped = np.stack(
        [turned[..., 0] / depth, (turned[..., 1] * np.cos(pitch) - focal * np.sin(pitch)) / depth],
        axis=-1,
    )
    return replace(tracks, positions=tipped + (960.0, 540.0))


def _noise(
    shape: tuple, condition: Condition, rate: float, rng: np.random.Generator
) -> NDArray[np.float64]:
    white = rng.normal(0, 1, shape)
    if condition.noise_s:
        decay = np.exp(-1 / (rate * condition.noise_s))
        white[0] /= np.sqrt(1 - decay**2)
        white = lfilter([np.sqrt(1 - decay**2)], [1, -decay], white, axis=0)
    return condition.noise_m * white


def _placement(
    names: tuple[str, ...], seen: NDArray, condition: Condition, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Return where each point is marked beside where it is, m, (time or 1, point, 2)."""
    base = [n[:-2] if n[-2:] in ("_r", "_l") else n for n in names]
    sd = np.array([PLACEMENT_M.get(b, 0.013) for b in base])
    off = rng.normal(0, 1, (len(names), 2)) * sd[:, None]
    if not condition.own_make:
        return off[None]
    # Fixed to the body: what is marked on a segment turns with it.
    turning = np.zeros((len(seen), len(names)))
    for column, (name, joint) in enumerate(zip(names, base, strict=True)):
        other = {"hip": "knee", "knee": "ankle", "c7": "l5", "l5": "c7"}.get(joint)
        other = other + name[len(joint) :] if other and name != joint else other
        if other in names:
            line = seen[:, column] - seen[:, names.index(other)]
            angle = np.arctan2(line[:, 1], line[:, 0])
            turning[:, column] = angle - angle[0]
    cosine, sine = np.cos(turning), np.sin(turning)
    return np.stack(
        [cosine * off[:, 0] - sine * off[:, 1], sine * off[:, 0] + cosine * off[:, 1]], axis=-1
    )
