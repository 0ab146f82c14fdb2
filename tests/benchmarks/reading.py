"""How long and how much memory a recording of a million frames takes to read.

Run: python -m tests.benchmarks.reading [frames]
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from squatlab.tracks import Tracks
from tests import stick_figure

MEGABYTE = 1e6


def recording(path: Path, frames: int) -> Path:
    """Write a long side view of twelve points, three pixels of noise, some gaps."""
    once = stick_figure.picture()
    rng = np.random.default_rng(1)
    positions = np.resize(once.positions, (frames, *once.positions.shape[1:]))
    positions = positions + rng.normal(0, 3, positions.shape)
    positions[rng.random(positions.shape[:2]) < 0.002] = np.nan
    times = np.arange(frames) / 60
    return Tracks(times, positions, once.names, "side", "px", once.scale_px_per_m).write(path)


def main() -> None:
    """Write a recording in this process, read it in a fresh one, print both."""
    if len(sys.argv) == 3:
        begin = time.perf_counter()
        tracks = Tracks.read(sys.argv[2])
        seconds = time.perf_counter() - begin
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / MEGABYTE
        size = tracks.positions.nbytes / MEGABYTE
        print(f"{tracks}: {seconds:.1f} s, peak {peak:.0f} MB for {size:.0f} MB of positions")
        return
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        path = recording(Path(folder) / "long.csv", frames)
        command = [sys.executable, "-m", "tests.benchmarks.reading", "read", str(path)]
        subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
