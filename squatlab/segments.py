"""What a table says about body segments: mass, centre of mass, gyration."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from squatlab import tables
from squatlab.ranges import shown


class Segment(NamedTuple):
    """Hold one segment's share of body mass and, as fractions of length,
    its centre from the proximal end and its radius of gyration about it.
    """

    mass: float
    centre: float
    gyration: float | None
    source: str


@cache
def table_names() -> tuple[str, ...]:
    """Return the names of the tables a lifter can be built from."""
    return tuple(dict.fromkeys(row["table"] for row in tables.read("segments")))


def check_table(name: str) -> str:
    """Return the name, or raise ValueError that lists the tables."""
    if not isinstance(name, str) or name not in table_names():
        raise ValueError(
            f"there is no body table {shown(name)}"
            f"{tables.closest(str(name), table_names()) or '.'} "
            f"The tables: {', '.join(table_names())}"
        )
    return name


@cache
def lengths_of(table: str) -> dict[str, float]:
    """Return every length of a table as a fraction of stature, by name."""
    rows = tables.read("lengths")
    return {r["quantity"]: float(r["value"]) for r in rows if r["table"] == check_table(table)}


@cache
def segments_of(table: str) -> dict[str, Segment]:
    """Return a table's segments by name, among them "hat" and "pelvis".

    Where a table gives no head-arms-trunk ("hat") it is put together
    from its parts, and the lower trunk stands for the pelvis. The hat's
    fractions are of the length hip to shoulder, from the hip.
    """
    segments = {
        row["segment"]: Segment(
            float(row["mass"]),
            float(row["centre"]),
            float(row["gyration"]) if row["gyration"] else None,
            row["source"],
        )
        for row in tables.read("segments")
        if row["table"] == check_table(table)
    }
    if "hat" not in segments:
        length = lengths_of(table)
        segments |= {"hat": _hat(segments, length), "pelvis": _pelvis(segments, length)}
    return segments


def _hat(part: dict[str, Segment], length: dict[str, float]) -> Segment:
    """Put head, trunk and both arms together along the line hip to shoulder.

    Hands on the bar: the wrists level with the shoulders, the elbows half
    an upper arm lower [teaching-value]. Elbows a quarter of an upper arm
    higher or lower move the centre by about 1 % of the trunk. What lies off
    the line (head and hands ahead, elbows behind) is left out: it moves the
    centre along the line by nothing.
    """
    trunk = length["trunk"]
    elbow = length["upper_arm"] * tables.value("limits", name="elbow", quantity="below_shoulder")
    pieces = [  # share of body mass, distance from the hip, radius of gyration; of stature
        (part["trunk"], 1, (1 - part["trunk"].centre) * trunk, trunk),
        (part["head"], 1, length["hip_to_c7"] + length["head"], length["head_and_neck"]),
        (part["upper_arm"], 2, trunk - part["upper_arm"].centre * elbow, length["upper_arm"]),
        (part["forearm"], 2, trunk - (1 - part["forearm"].centre) * elbow, length["forearm"]),
        (part["hand"], 2, trunk, length["hand"]),
    ]
    mass = sum(count * piece.mass for piece, count, _, _ in pieces)
    centre = sum(count * piece.mass * at for piece, count, at, _ in pieces) / mass
    spread = sum(
        count * piece.mass * ((piece.gyration * own) ** 2 + (at - centre) ** 2)
        for piece, count, at, own in pieces
    )
    return Segment(mass, centre / trunk, (spread / mass) ** 0.5 / trunk, part["trunk"].source)


def _pelvis(part: dict[str, Segment], length: dict[str, float]) -> Segment:
    low, ratio = part["lower_trunk"], length["lower_trunk"] / length["pelvis"]
    return Segment(low.mass, (1 - low.centre) * ratio, low.gyration * ratio, low.source)
