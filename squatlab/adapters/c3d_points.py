"""The points of a C3D file, read where a damaged one does no harm.

C3D files are read by native code, which a damaged file can bring down or
lead to ask for many gigabytes. So the file's header is first held against
its size. What is left is read in another process: if that breaks down,
only it does, and where the system can limit memory and time they are
limited.
"""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

BLOCK = 512
"""A C3D file is laid out in blocks of so many bytes [motionlab2021]."""

KEY = 0x50
"""The second byte of every C3D file [motionlab2021]."""

BYTE_ORDERS = {84: "<", 85: "<", 86: ">"}
"""Processors by number: Intel, DEC (whose floats differ), MIPS [motionlab2021]."""

DEC = 85

MEMORY = 2_000_000_000, 100
"""The reader may use so many bytes, and so many more for each byte of the
file: about three times what ezc3d needs for the largest we tried
[teaching-value]."""

SECONDS = 60.0, 4.0
"""It may take so long, and so much longer for each MB [teaching-value]."""


class C3DError(Exception):
    """Say in words why a C3D file cannot be read."""


class RecordedPoints(NamedTuple):
    """Hold a file's labels, rate in Hz, unit, first frame and places
    (time, label, 3) in that unit.
    """

    labels: list[str]
    rate: float
    units: str
    first_frame: int
    places: NDArray[np.float64]


def check_header(path: Path) -> None:
    """Hold what the header promises against the file's size.

    Raises C3DError for what is no C3D file or was cut off, OSError if it
    cannot be opened.
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        header = file.read(BLOCK)
        if len(header) < BLOCK or header[1] != KEY or header[0] == 0:
            raise C3DError("this is no readable C3D file: it does not begin as one does")
        file.seek((header[0] - 1) * BLOCK)
        parameters = file.read(4)
    if len(parameters) < 4 or parameters[3] not in BYTE_ORDERS:
        raise C3DError("its parameters are not where its header says; it is damaged or cut off")
    order = BYTE_ORDERS[parameters[3]]
    points, analog, first, last = struct.unpack_from(f"{order}4H", header, 2)
    (data_block,) = struct.unpack_from(f"{order}H", header, 16)
    ends = (header[0] - 1 + parameters[2]) * BLOCK
    if ends > size:
        raise C3DError(f"it is cut off: {ends} bytes are needed for its parameters, it has {size}")
    # Negative scale: numbers of four bytes, else whole ones of two. Sign and exponent of a DEC
    # float stand in the second pair of bytes, of the others at the most significant end.
    sign_byte = header[13] if parameters[3] == DEC else header[15 if order == "<" else 12]
    width = 4 if sign_byte & 0x80 else 2
    # Longer recordings than 65,535 frames say 65,535 here: less is promised than there is.
    frames = max(last - first + 1, 0)
    needed = (data_block - 1) * BLOCK + frames * (4 * points + analog) * width
    if frames and data_block and needed > size:
        held = max(size - (data_block - 1) * BLOCK, 0) // max((4 * points + analog) * width, 1)
        raise C3DError(
            f"it is cut off: its header promises {frames} frames and {held} are there; copy or "
            "export it again"
        )


def points_of(path: Path) -> RecordedPoints:
    """Return the points of a file, read in a process of its own.

    Raises C3DError that says what is wrong with the file, OSError if it
    cannot be opened, ImportError without the package ezc3d.
    """
    check_header(path)
    import ezc3d  # noqa: F401  not everywhere; without it no process need be started

    megabytes = path.stat().st_size / 1e6
    seconds = SECONDS[0] + SECONDS[1] * megabytes
    # -P: this folder's modules are not to stand before anybody's of the same name.
    command = [sys.executable, "-P", __file__, str(path), str(int(seconds))]
    # One thread is enough here, and many would reserve memory that the limit counts.
    alone = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    try:
        done = subprocess.run(
            command,
            capture_output=True,
            timeout=seconds,
            check=False,
            env=alone,
            stdin=subprocess.DEVNULL,
        )
    except subprocess.TimeoutExpired:
        raise C3DError(f"it was not read within {seconds:.0f} s; it is likely damaged") from None
    if done.returncode:
        last_words = done.stderr.decode(errors="replace").strip().rpartition("\n")[2]
        broken = f"the reader broke down on it (exit {done.returncode}); it is likely damaged"
        raise C3DError(last_words if done.returncode == REFUSED else broken)
    about, _, numbers = done.stdout.partition(b"\n")
    described = json.loads(about)
    places = np.frombuffer(numbers).reshape(described.pop("shape"))
    return RecordedPoints(**described, places=places)


REFUSED = 3
"""Exit code of the reading process for a file that ezc3d itself refuses."""


def _limit(path: Path, seconds: float) -> None:
    """Limit this process's memory and time, where the system can."""
    if resource is None:
        return
    most = MEMORY[0] + MEMORY[1] * path.stat().st_size
    for what, limit in ((resource.RLIMIT_AS, most), (resource.RLIMIT_CPU, int(seconds))):
        try:
            resource.setrlimit(what, (limit, limit))
        except (ValueError, OSError):  # macOS knows the name and refuses the limit
            continue


def _read(path: Path) -> tuple[dict[str, Any], NDArray[np.float64]]:
    """Return what the file says of its points, and their places, by ezc3d."""
    import ezc3d  # in the reading process alone: a damaged file may bring it down

    content = ezc3d.c3d(str(path))
    about = content["parameters"]["POINT"]
    described = {
        "labels": [label.split(":")[-1].strip() for label in about["LABELS"]["value"]],
        "rate": float(about["RATE"]["value"][0]),
        "units": str(about["UNITS"]["value"][0]).strip().lower(),
        "first_frame": int(content["header"]["points"]["first_frame"]),
    }
    return described, np.ascontiguousarray(content["data"]["points"][:3].transpose(2, 1, 0))


def _main(path: Path, seconds: float) -> int:
    """Read a file and write what it holds to standard output; return 0 or `REFUSED`."""
    # What native code prints must not get among the numbers.
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    _limit(path, seconds)
    try:
        described, places = _read(path)
    except (KeyError, IndexError) as error:
        print(f"the file holds no points ({error})", file=sys.stderr)
        return REFUSED
    except (OSError, RuntimeError, ValueError, MemoryError) as error:
        words = " ".join(str(error).split()) or type(error).__name__
        print(f"this is no readable C3D file ({words[:300]})", file=sys.stderr)
        return REFUSED
    out.write(json.dumps(described | {"shape": places.shape}).encode() + b"\n")
    out.write(places.astype(float).tobytes())
    out.close()
    return 0


if __name__ == "__main__":
    sys.exit(_main(Path(sys.argv[1]), float(sys.argv[2])))
