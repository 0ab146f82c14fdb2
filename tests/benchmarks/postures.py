"""How fast postures are: run as ``python tests/benchmarks/postures.py``.

Every figure is a ratio to a peer timed in the same run, so that it means
the same on any machine.
"""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc

import numpy as np
from scipy.optimize import brentq

from squatlab import Bar, Lifter, Stance, balance, joint_moments, pose

LIFTER, BAR, STANCE = Lifter.from_stature(1.75, 80), Bar.high(100), Stance()


def best(work, repeats: int = 7) -> float:
    """Return the shortest of several runs, s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def inputs(count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    return rng.uniform(-25, 60, count), rng.uniform(10, 38, count)


def postures(count: int):
    thigh, shank = inputs(count)

    def work():
        return joint_moments(balance(LIFTER, BAR, STANCE, thigh, shank))

    return work


def against_bare_numpy(count: int = 1_000_000) -> None:
    values = np.radians(inputs(count)[0])
    passes = (np.sin, np.cos, np.tan, np.arctan, np.exp, np.sinh)

    def bare():
        for function in passes:
            function(values)

    ours, theirs = best(postures(count)), best(bare)
    print(
        f"{count:,} balanced postures with all moments: {ours * 1e3:.0f} ms; six bare NumPy "
        f"passes: {theirs * 1e3:.0f} ms; ratio {ours / theirs:.2f} (limit 6)"
    )


def against_a_root_finder(count: int = 300) -> None:
    thigh, shank = inputs(count)

    def rooted():
        for a, s in zip(thigh, shank, strict=True):
            brentq(lambda lean, a=a, s=s: pose(LIFTER, BAR, STANCE, lean, a, s).com_shift, -30, 90)

    many = 1_000_000
    each, ours = best(rooted, 2) / count, best(postures(many), 3) / many
    print(
        f"root finder: {each * 1e6:.0f} µs a posture; ours {ours * 1e6:.3f} µs in bulk; "
        f"{each / ours:,.0f} times faster (at least 200)"
    )


def memory() -> None:
    peaks = []
    for count in (100_000, 1_000_000):
        work = postures(count)
        tracemalloc.start()
        work()
        peaks.append(tracemalloc.get_traced_memory()[1] / count)
        tracemalloc.stop()
    print(
        f"peak memory a posture: {peaks[0]:.0f} B of 100,000, {peaks[1]:.0f} B of 1,000,000; "
        f"ratio {peaks[1] / peaks[0]:.2f} (1 is linear)"
    )


def import_time() -> None:
    def fresh(code: str) -> float:
        return best(lambda: subprocess.run([sys.executable, "-c", code], check=True), 5)

    numpy_alone, ours = fresh("import numpy"), fresh("import numpy, squatlab")
    added = ours - numpy_alone
    print(f"importing squatlab adds {added:.3f} s to NumPy's {numpy_alone:.3f} s (limit 0.15 s)")


if __name__ == "__main__":
    against_bare_numpy()
    against_a_root_finder()
    memory()
    import_time()
