"""A lifter: how long and how heavy each part of the body is."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from squatlab import tables
from squatlab.frozen import Frozen
from squatlab.ranges import check_shapes, shown, within
from squatlab.segments import Segment, check_table, lengths_of, segments_of

LENGTHS = (
    "shank",
    "thigh",
    "trunk",
    "hip_to_c7",
    "pelvis",
    "head",
    "foot",
    "ankle_height",
    "hip_width",
    "shoulder_width",
    "upper_arm",
    "forearm",
)
"""The lengths of a lifter; the field is the name with ``_m``."""

TRUNK = ("trunk", "hip_to_c7", "pelvis")
"""The lengths that grow together when the trunk is made longer."""

SEGMENTS = ("foot", "shank", "thigh", "hat", "pelvis")
"""The segments with a mass; "hat" is head, arms and trunk, pelvis too."""

SCALE = (0.5, 1.5)
"""The least and greatest length, as a part of the table's, that is still
taken for a body and not for a slip in the unit [teaching-value]."""

METRES = "m (divide centimetres by 100)"
"""What to do about the usual slip in a length."""

SCALED = ", scaled"
"""What `Lifter.scaled` adds to where the lengths are from."""


def _limit(name: str, quantity: str) -> float:
    return tables.value("limits", name=name, quantity=quantity)


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class Lifter(Frozen):
    """Hold the body of one lifter, or of many: every field may be an array.

    Lengths in metres between joint centres: ``trunk_m`` from hip to
    shoulder, ``hip_to_c7_m`` to the base of the neck, ``head_m`` from there
    to the centre of the head, ``pelvis_m`` from hip to L5/S1. Usually
    made by `from_stature` or `from_lengths`. Raises ValueError for what
    no body has.
    """

    stature_m: ArrayLike
    mass_kg: ArrayLike
    shank_m: ArrayLike
    thigh_m: ArrayLike
    trunk_m: ArrayLike
    hip_to_c7_m: ArrayLike
    pelvis_m: ArrayLike
    head_m: ArrayLike
    foot_m: ArrayLike
    ankle_height_m: ArrayLike
    hip_width_m: ArrayLike
    shoulder_width_m: ArrayLike
    upper_arm_m: ArrayLike
    forearm_m: ArrayLike
    ankle_from_heel: ArrayLike = field(default_factory=lambda: _limit("ankle", "from_heel"))
    dorsiflexion_deg: ArrayLike = field(default_factory=lambda: _limit("ankle", "dorsiflexion"))
    table: str = "winter2009"
    lengths_from: str = "table"

    def __post_init__(self) -> None:
        check_table(self.table)
        for name, low, high, unit in (
            ("stature_m", 1.2, 2.3, METRES),
            ("mass_kg", 25.0, 250.0, "kg (multiply pounds by 0.4536)"),
            ("ankle_from_heel", 0.1, 0.5, "of the foot's length"),
            ("dorsiflexion_deg", 0.0, 70.0, "degrees"),
        ):
            object.__setattr__(self, name, within(name, getattr(self, name), low, high, unit))
        self._check_shapes()
        for name in LENGTHS:
            self._check_length(name)

    def _check_length(self, name: str) -> None:
        usual = lengths_of(self.table)[name]
        length = within(f"{name}_m", getattr(self, f"{name}_m"), 0.0, 2.3, METRES)
        low, high = (usual * times for times in SCALE)
        slack = 1e-9  # a length scaled to exactly the limit is inside it
        within(
            f"{name}_m divided by stature_m",
            np.divide(length, self.stature_m),
            low - slack,
            high + slack,
            f"(half to one and a half of {self.table}'s {usual:g}; is it in metres?)",
        )
        object.__setattr__(self, f"{name}_m", length)

    def _check_shapes(self) -> None:
        first: dict[tuple[int, ...], str] = {}
        for f in fields(self):
            first.setdefault(np.shape(getattr(self, f.name)), f.name)
        check_shapes("a lifter", {name: shape for shape, name in first.items()})

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Return the shape of all fields together: () is one lifter."""
        return np.broadcast_shapes(*(np.shape(getattr(self, f.name)) for f in fields(self)))

    @classmethod
    def from_stature(
        cls, stature_m: ArrayLike, mass_kg: ArrayLike, table: str = "winter2009"
    ) -> Lifter:
        """Build a lifter of average proportions; m and kg.

        ``table`` is "winter2009" [winter2009] [drillis1966], or
        "deleva1996_men" or "deleva1996_women" [deleva1996]. Raises
        ValueError that names what is allowed.
        """
        return cls.from_lengths(stature_m, mass_kg, table)

    @classmethod
    def from_lengths(
        cls,
        stature_m: ArrayLike,
        mass_kg: ArrayLike,
        table: str = "winter2009",
        *,
        thigh_m: ArrayLike | None = None,
        shank_m: ArrayLike | None = None,
        trunk_m: ArrayLike | None = None,
        **more: ArrayLike,
    ) -> Lifter:
        """Build a lifter from what was measured; the table gives the rest.

        ``more`` are any other fields of a lifter. Hip to C7 and pelvis
        follow a measured trunk in the table's ratio. Raises ValueError
        for an implausible length, TypeError for an unknown name.
        """
        _check_names(cls, more)
        given = {"thigh_m": thigh_m, "shank_m": shank_m, "trunk_m": trunk_m, **more}
        given = {name: number for name, number in given.items() if number is not None}
        stature = within("stature_m", stature_m, 1.2, 2.3, METRES)
        usual = lengths_of(check_table(table))
        body = {f"{name}_m": usual[name] * stature for name in LENGTHS}
        if trunk_m is not None:
            trunk = within("trunk_m", trunk_m, 0.0, 2.3, METRES)
            body |= {f"{name}_m": usual[name] / usual["trunk"] * trunk for name in TRUNK}
        measured = any(name in body for name in given)
        body |= {"lengths_from": "measured"} if measured else {}
        return cls(stature_m=stature, mass_kg=mass_kg, table=table, **(body | given))

    def scaled(
        self, thigh: ArrayLike = 1.0, shank: ArrayLike = 1.0, trunk: ArrayLike = 1.0
    ) -> Lifter:
        """Return a lifter with these lengths multiplied, all else kept.

        Stature and mass stay as they are. The trunk takes hip to C7 and
        the pelvis along. Raises ValueError outside 0.5 to 1.5.
        """
        factors = {"thigh": thigh, "shank": shank} | dict.fromkeys(TRUNK, trunk)
        check_shapes(
            "a lifter", {"lifter": self.shape} | {n: np.shape(f) for n, f in factors.items()}
        )
        lengths = {
            f"{name}_m": getattr(self, f"{name}_m")
            * within(f"the factor for {name}", factor, *SCALE, "times the length it has")
            for name, factor in factors.items()
        }
        origin = self.lengths_from.removesuffix(SCALED) + SCALED
        return replace(self, **lengths, lengths_from=origin)

    def mass(self, segment: str) -> ArrayLike:
        """Return the mass in kg of "foot", "shank" or "thigh" (one side),
        of "hat" (head, arms and trunk) or of its part "pelvis".
        """
        return self._segment(segment).mass * self.mass_kg

    def centre(self, segment: str) -> float:
        """Return where the centre of mass lies, as a fraction of length.

        From the upper end; the foot's from the heel, the pelvis's and the
        hat's from the hip, of hip to L5/S1 and of hip to shoulder.
        """
        return self._segment(segment).centre

    def gyration(self, segment: str) -> float:
        """Return the radius of gyration about the centre of mass, for
        turning in the side view, as a fraction of the segment's length.

        Raises ValueError where the table publishes none.
        """
        radii = self._segment(segment).gyration
        if radii is None:
            raise ValueError(
                f"{self.table} publishes no radius of gyration of the {segment}; "
                "use the hat's, or a deleva1996 table"
            )
        return radii

    def _segment(self, name: str) -> Segment:
        if not isinstance(name, str) or name not in SEGMENTS:
            raise ValueError(
                f"there is no segment {shown(name)}{tables.closest(str(name), SEGMENTS) or '.'} "
                f"The segments: {', '.join(SEGMENTS)}"
            )
        return segments_of(self.table)[name]

    def __repr__(self) -> str:
        count = int(np.prod(self.shape))
        who = f"{count} lifters" if self.shape else "Lifter"
        lengths = ", ".join(
            f"{name} {_span(getattr(self, f'{name}_m'), 100, '.1f')} cm"
            for name in ("thigh", "shank", "trunk")
        )
        origin = "" if self.lengths_from == "table" else f"lengths {self.lengths_from}, masses "
        return (
            f"{who} {_span(self.stature_m, 1, '.2f')} m, {_span(self.mass_kg, 1, '.0f')} kg: "
            f"{lengths} ({origin}{self.table})"
        )


def _check_names(cls: type[Lifter], given: dict[str, ArrayLike]) -> None:
    allowed = [f.name for f in fields(cls) if f.name not in ("stature_m", "mass_kg", "table")]
    for name in given:
        if name not in allowed:
            raise TypeError(
                f"a lifter has no {name}{tables.closest(name, allowed) or '.'} "
                f"It has: {', '.join(allowed)}"
            )


def _span(number: ArrayLike, times: float, spec: str) -> str:
    """Write a number, the least and greatest of many, or a dash for none."""
    if not np.size(number):
        return "–"
    low, high = np.min(number) * times, np.max(number) * times
    return f"{low:{spec}}" if low == high else f"{low:{spec}}–{high:{spec}}"
