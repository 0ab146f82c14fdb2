"""How long it takes to film and to review a repetition, and ten minutes of them.

Run: python -m tests.benchmarks.reviewing

Times are CPU times, the least of several. The peer of a review is SciPy's sosfiltfilt over all
coordinates of the same pictures at once: the least that anybody must do who filters them.
"""

from __future__ import annotations

import resource
import time
import timeit
from collections.abc import Callable

import numpy as np
from scipy import signal

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Camera, Rep, Tempo, film, synthesise
from squatlab.review import Findings, measure
from squatlab.tracks import Tracks

LIFTER, BAR_KG = Lifter.from_stature(1.75, 80), 80.0
CAMERAS = Camera.side(), Camera.front()
FRAMES = 36_000
"""Ten minutes at 60 frames per second."""

MORE_FRAMES = 180_000
"""Fifty minutes: the time of each repetition must stay what it is in ten."""

FILM_MS, REVIEW_MS, LONG_S, LONG_MB, LINEAR = 0.8, 2.5, 5.0, 400.0, 1.3


def squat() -> Rep:
    """Return a repetition of three seconds."""
    tempo = Tempo(1.0, 0.1, 0.9, standing_s=0.5, hip_lead_s=0.06)
    return synthesise(LIFTER, Bar.high(BAR_KG), Stance(0.34, 14), tempo)


def least_ms(call: Callable[[], object], number: int = 20) -> float:
    """Return the least CPU time of a call, ms."""
    times = timeit.repeat(call, number=number, repeat=15, timer=time.process_time)
    return 1e3 * min(times) / number


def reviewed(films: list[Tracks]) -> Findings:
    """Review with everything declared."""
    return measure(*films, lifter=LIFTER, bar_kg=BAR_KG, camera=CAMERAS[0])


def long_films(rep: Rep, rng: np.random.Generator, frames: int = FRAMES) -> list[Tracks]:
    """Return minutes of the same repetition, with noise and gaps."""
    films = []
    for camera in CAMERAS:
        once = film(rep.points, rep.time, camera)
        times = -(-frames // (once.times.size - 1))
        positions = np.concatenate([once.positions[:-1]] * times)[:frames]
        positions += rng.normal(0, camera.noise_px, positions.shape)
        positions[rng.random(positions.shape[:2]) < 0.002] = np.nan
        films.append(Tracks(np.arange(frames) / 60, positions, once.names, once.view, "px"))
    return films


def main() -> None:
    """Print times, their limits, and the ratio to the peer."""
    rep, rng = squat(), np.random.default_rng(1)
    films = [film(rep.points, rep.time, camera, rng) for camera in CAMERAS]
    filming = [least_ms(lambda c=c: film(rep.points, rep.time, c, rng)) for c in CAMERAS]
    print(f"{films[0].times[-1]:.1f} s at 60 Hz, {len(films[1].names)} points")
    print(f"film, side and front: {filming[0]:.2f}, {filming[1]:.2f} ms (limit {FILM_MS} a view)")
    sections = signal.butter(2, 7.5, fs=60.0, output="sos")
    flat = [t.positions.reshape(t.times.size, -1) for t in films]
    peer = least_ms(lambda: [signal.sosfiltfilt(sections, f, axis=0) for f in flat])
    took = least_ms(lambda: reviewed(films))
    print(f"review of both: {took:.2f} ms (limit {REVIEW_MS}), {took / peer:.1f} × sosfiltfilt")
    films = long_films(rep, rng)
    before = _peak_mb()
    found, seconds = _timed(films)
    print(
        f"ten minutes of both, {len(found.repetitions)} repetitions: {seconds:.2f} s "
        f"(limit {LONG_S:g}), {_peak_mb() - before:.0f} MB more than the tracks, "
        f"{_peak_mb():.0f} MB in all (limit {LONG_MB:g})"
    )
    more, longer = _timed(long_films(rep, rng, MORE_FRAMES))
    ratio = (longer / len(more.repetitions)) / (seconds / len(found.repetitions))
    print(
        f"fifty minutes, {len(more.repetitions)} repetitions: {longer:.1f} s, a repetition "
        f"{ratio:.2f} × as long (limit {LINEAR:g})"
    )


def _timed(films: list[Tracks]) -> tuple[Findings, float]:
    """Return what is found and the CPU time, s."""
    begin = time.process_time()
    return reviewed(films), time.process_time() - begin


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6


if __name__ == "__main__":
    main()
