"""What a phone on a tripod records: points in space become points in a picture."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.ranges import number_within, numbers
from squatlab.tracks import Tracks

AZIMUTH_DEG = {"front": 0.0, "oblique": 45.0, "side": 90.0}
"""Where a camera of each view stands: 0 in front of the lifter, 90 on the
lifter's right."""

JOINTS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "ball", "toe", "bar_end")

FAR_SIDE = tuple(f"{joint}_l" for joint in JOINTS)
"""What the near side hides from a camera on the lifter's right."""

LONGEST_S = 100_000.0
"""More than a day of filming is a slip in the unit of time [teaching-value]."""

PHONE_DISTANCE_M = tables.value("limits", name="phone", quantity="distance")
PHONE_HEIGHT_M = tables.value("limits", name="phone", quantity="height")

NEAREST_M = 0.1
"""Points nearer the lens than this are not seen [teaching-value]."""


@dataclass(frozen=True)
class Camera:
    """Say where a camera stands and how well it sees.

    It is level, ``height_m`` above the floor, and looks at the lifter's
    middle from ``distance_m`` away; ``yaw_deg`` is how far it stands round
    from the view's own direction, toward the lifter's back. ``noise_px``
    is the SD of each coordinate; ``dropped`` and ``swapped`` are shares
    of frames, lost or with right and left exchanged; ``hidden`` names
    points never seen. Raises ValueError for what no phone is.
    """

    view: str = "side"
    distance_m: float = PHONE_DISTANCE_M
    height_m: float = PHONE_HEIGHT_M
    yaw_deg: float = 0.0
    focal_px: float = 1500.0
    width_px: float = 1920
    height_px: float = 1080
    rate: float = 60.0
    noise_px: float = 3.0
    dropped: float = 0.0
    swapped: float = 0.0
    hidden: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not isinstance(self.view, str) or self.view not in AZIMUTH_DEG:
            raise ValueError(
                f"the view is {self.view!r}; a camera stands at {', '.join(AZIMUTH_DEG)}"
            )
        for name, low, high, unit in (
            ("distance_m", 1.0, 30.0, "m from the lifter's middle"),
            ("height_m", 0.0, 3.0, "m above the floor"),
            ("yaw_deg", -45.0, 45.0, "° round the lifter from the view's direction"),
            ("focal_px", 100.0, 20_000.0, "px (phones: 1300 to 1600 at 1920 px width)"),
            ("width_px", 100, 10_000, "px"),
            ("height_px", 100, 10_000, "px"),
            ("rate", 5.0, 2000.0, "frames per second"),
            ("noise_px", 0.0, 50.0, "px of noise"),
            ("dropped", 0.0, 0.5, "as a share of the frames"),
            ("swapped", 0.0, 0.5, "as a share of the frames"),
        ):
            number = number_within(name, getattr(self, name), low, high, unit)
            object.__setattr__(self, name, number)
        names = (self.hidden,) if isinstance(self.hidden, str) else tuple(self.hidden)
        object.__setattr__(self, "hidden", names)

    @classmethod
    def side(cls, **changes: Any) -> Camera:
        """Stand on the lifter's right; the near side hides the far one.

        A phone 4 m away: 375 px/m, 3 px of noise, 60 frames per second
        [teaching-value]. ``changes`` are any fields.
        """
        return cls(**({"view": "side", "hidden": FAR_SIDE} | changes))

    @classmethod
    def front(cls, **changes: Any) -> Camera:
        """Stand in front of the lifter, otherwise as `side`."""
        return cls(**({"view": "front"} | changes))

    @classmethod
    def oblique(cls, **changes: Any) -> Camera:
        """Stand in front and to the right, at 45°, otherwise as `side`."""
        return cls(**({"view": "oblique"} | changes))

    @property
    def px_per_m(self) -> float:
        """Return how large a metre looks at the lifter's middle, px."""
        return self.focal_px / self.distance_m

    @property
    def azimuth(self) -> float:
        """Return where it stands, radians from the front to the right."""
        return float(np.radians(AZIMUTH_DEG[self.view] + self.yaw_deg))

    def project(self, points: ArrayLike) -> NDArray[np.float64]:
        """Return where points (…, 3) in m appear, (…, 2) in px.

        From the picture's lower left corner, x to the right and y up.
        nan where a point lies outside the picture or behind the camera.
        """
        x, y, z = np.moveaxis(numbers("points", points), -1, 0)
        sine, cosine = np.sin(self.azimuth), np.cos(self.azimuth)
        depth = self.distance_m - (x * cosine + z * sine)
        scale = self.focal_px / np.where(depth > NEAREST_M, depth, np.nan)
        picture = np.empty((*depth.shape, 2))
        picture[..., 0] = 0.5 * self.width_px + scale * (x * sine - z * cosine)
        picture[..., 1] = 0.5 * self.height_px + scale * (y - self.height_m)
        inside = (picture >= 0) & (picture <= (self.width_px, self.height_px))
        picture[~inside.all(axis=-1)] = np.nan
        return picture


def film(
    points: Mapping[str, ArrayLike],
    time: ArrayLike,
    camera: Camera,
    rng: np.random.Generator | None = None,
) -> Tracks:
    """Return what a camera records of points (name: (time, 3) m), in px.

    Between the given times (time,) in s, points move along straight lines;
    a picture is taken at every beat of the camera. Without ``rng`` the
    record is exact: no noise, no frame dropped, nothing swapped. Raises
    ValueError when no frame or no point is left to film.
    """
    time = numbers("time", time)
    names = [name for name in points if name not in camera.hidden]
    if not names or time.ndim != 1 or time.size < 2:
        raise ValueError(
            f"there are {len(names)} points and {time.size} times to film; give at least one "
            "point that is not hidden and two times"
        )
    if not (np.all(np.diff(time) > 0) and time[-1] - time[0] <= LONGEST_S):
        raise ValueError(f"time must rise and last at most {LONGEST_S:g} s; cut it into pieces")
    filmed = {name: numbers(name, points[name]) for name in names}
    for name, point in filmed.items():
        if point.shape != (time.size, 3):
            raise ValueError(
                f"{name} has shape {point.shape}; give x, y and z at each time, {(time.size, 3)}"
            )
    beats = time[0] + np.arange(int((time[-1] - time[0]) * camera.rate + 1e-6) + 1) / camera.rate
    if beats.size < 2:
        raise ValueError(
            f"the points last {time[-1] - time[0]:.3g} s, less than two frames at "
            f"{camera.rate:g} Hz; film longer or faster"
        )
    places = _at(beats, time, np.stack(list(filmed.values()), axis=1))
    picture = camera.project(places)
    if rng is not None:
        picture = picture + rng.normal(0.0, camera.noise_px, picture.shape)
        picture = _swapped(picture, names, rng.random(beats.size) < camera.swapped)
        kept = rng.random(beats.size) >= camera.dropped
        kept[[0, -1]] = True
        beats, picture = beats[kept], picture[kept]
    for array in (beats, picture):
        array.flags.writeable = False
    return Tracks(beats, picture, names, camera.view, "px", None, camera.rate, "synthetic")


def _at(
    beats: NDArray[np.float64], time: NDArray[np.float64], places: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the places (time, point, 3) at the camera's beats, m.

    Straight between the two given times around each beat.
    """
    after = np.clip(np.searchsorted(time, beats), 1, time.size - 1)
    share = (beats - time[after - 1]) / (time[after] - time[after - 1])
    # On a given time take its points as they are: 0 × nan beside it would not be 0.
    earlier = places.take(np.where(share > 1 - 1e-9, after, after - 1), axis=0)
    later = places.take(np.where(share < 1e-9, after - 1, after), axis=0)
    return earlier + share.reshape(-1, 1, 1) * (later - earlier)


def _swapped(
    picture: NDArray[np.float64], names: list[str], frames: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Return the picture with right and left exchanged in some frames."""
    if not frames.any():
        return picture
    other = {"_r": "_l", "_l": "_r"}
    twins = [name[:-2] + other.get(name[-2:], name[-2:]) for name in names]
    order = [names.index(twin) if twin in names else i for i, twin in enumerate(twins)]
    return np.where(frames.reshape(-1, 1, 1), picture[:, order], picture)
