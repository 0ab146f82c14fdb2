"""Lifters drawn from a measured population, proportions and all.

The survey felt for landmarks on the skin, a lifter has joint centres. Knee
(lateral epicondyle), ankle (tip of the lateral malleolus, 1 to 2 cm low) and
shoulder (acromion, a few cm high, as in the table winter2009) are taken as
measured. The trochanter lies below the hip joint: every hip of a sex is put
higher by one distance, women 18 and men 30 mm, that brings their mean to .530
of stature [drillis1966]. The thigh gains it, the trunk loses it; spreads and
correlations stay, and ankle, shank, thigh and hip to C7 still end at the
height of C7 that was measured. Rescaling each length to the table's mean would
have hidden that women and men differ.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.frozen import Frozen, freeze
from squatlab.lifter import Lifter
from squatlab.ranges import shown, whole_within
from squatlab.segments import lengths_of

BEYOND = 4.0
"""Draws with any quantity further than this from its mean, in standard
deviations, are drawn again: about 1 in 2000 [teaching-value]."""

MOST_DRAWN = 10_000_000
"""More lifters at once than this are a slip of the keyboard [teaching-value]."""

HIP_DOWN = ("hip_to_c7", "trunk")
"""The lengths measured upward from the hip."""


@dataclass(frozen=True, eq=False, repr=False)
class Population(Frozen):
    """Hold means, spreads and correlations of body sizes; draw from them.

    Thigh and trunk hardly correlate: scaling everything by stature hides
    what makes one lifter lean further than another. Mass is log-normal,
    because its logarithm is not skewed and mass is; the rest is normal.
    """

    name: str
    quantities: tuple[str, ...]
    mean: NDArray[np.float64]
    sd: NDArray[np.float64]
    correlations: NDArray[np.float64]

    @classmethod
    def ansur2(cls, who: str) -> Population:
        """Return the "women" (1,986) or "men" (4,082) of a survey [ansur2].

        They serve in the military, so are leaner and more alike than the public. Lengths are
        between landmarks, the hip raised to where the joint is: see the
        head of this module. Raises ValueError for anybody else.
        """
        rows = [
            row
            for row in tables.read("population")
            if isinstance(who, str) and row["population"] == who
        ]
        if not rows:
            names = sorted({row["population"] for row in tables.read("population")})
            raise ValueError(
                f"there is no population {shown(who)}{tables.closest(str(who), names) or '.'} "
                f"The populations: {', '.join(names)}"
            )

        def statistic(kind: str) -> dict[tuple[str, str], float]:
            return {
                (row["quantity"], row["other"]): float(row["value"])
                for row in rows
                if row["statistic"] == kind
            }

        between = statistic("correlation")
        names = tuple(dict.fromkeys(name for pair in between for name in pair))
        means, sds = statistic("mean"), statistic("sd")
        correlations = np.eye(len(names))
        for (one, other), number in between.items():
            i, j = names.index(one), names.index(other)
            correlations[i, j] = correlations[j, i] = number
        mean = {name: means[name, ""] for name in names}
        return cls(
            who,
            names,
            freeze(np.array(list(_hip_raised(mean).values()))),
            freeze(np.array([sds[name, ""] for name in names])),
            freeze(correlations),
        )

    def draw(self, n: int, rng: np.random.Generator, table: str = "winter2009") -> Lifter:
        """Draw ``n`` lifters; every field drawn is an array of shape (n,).

        Arms, hip width and the shares of body mass are the table's. Draws
        beyond 4 SD in anything, or with C7 not above the shoulders, are
        replaced. Raises ValueError for an ``n`` below 1, TypeError without
        a ``numpy.random.Generator``.
        """
        n = whole_within("n", n, 1, MOST_DRAWN, "lifters at once")
        if not isinstance(rng, np.random.Generator):
            raise TypeError(
                f"rng is {shown(rng)}; give numpy.random.default_rng(seed), so that the same seed "
                "draws the same lifters"
            )
        drawn = dict(zip(self.quantities, self._values(n, rng).T, strict=True))
        stature, mass = drawn.pop("stature"), np.exp(drawn.pop("log_mass"))
        c7 = sum(drawn[part] for part in ("ankle_height", "shank", "thigh", "hip_to_c7"))
        # The centre of the head is half-way from C7 to the vertex [teaching-value].
        lengths = {f"{name}_m": length for name, length in drawn.items()}
        return Lifter.from_lengths(
            stature,
            mass,
            table,
            **lengths,
            head_m=0.5 * (stature - c7),
            lengths_from=f"ansur2 {self.name}",
        )

    def draw_one(self, rng: np.random.Generator, table: str = "winter2009") -> Lifter:
        """Draw one lifter, whose fields are plain numbers; see `draw`."""
        drawn = self.draw(1, rng, table)
        values = {field.name: getattr(drawn, field.name) for field in fields(drawn)}
        person = {name: float(value[0]) for name, value in values.items() if np.ndim(value)}
        return replace(drawn, **person)

    def correlation(self, one: str, other: str, given: str | None = None) -> float:
        """Return how two quantities correlate; with ``given``, among
        people alike in that third one (the partial correlation).

        Thigh and trunk, given stature, correlate strongly downward: what
        is leg is not trunk. Part of it is that both end at one landmark,
        so that an error in it lengthens one and shortens the other.
        """
        r = self.correlations
        i, j = self._index(one), self._index(other)
        if given is None:
            return float(r[i, j])
        k = self._index(given)
        spread = np.sqrt((1 - r[i, k] ** 2) * (1 - r[j, k] ** 2))
        if spread == 0:
            raise ValueError(f'give a third quantity; "{given}" is one of the two')
        return float((r[i, j] - r[i, k] * r[j, k]) / spread)

    def describe(self) -> tuple[dict[str, str | float], ...]:
        """Return a row for each quantity: mean, sd, unit and source, and
        its correlations with stature, thigh and trunk. Lengths in metres,
        the hip raised to where the joint is.
        """
        return tuple(
            {
                "quantity": name,
                "mean": float(self.mean[i]),
                "sd": float(self.sd[i]),
                "unit": "ln kg" if name == "log_mass" else "m",
                **{f"r_{other}": self.correlation(name, other) for other in MAIN},
                "source": "ansur2",
            }
            for i, name in enumerate(self.quantities)
        )

    def _values(self, n: int, rng: np.random.Generator) -> NDArray[np.float64]:
        factor = np.linalg.cholesky(self.correlations)
        c7, shoulder = self._index("hip_to_c7"), self._index("trunk")
        accepted = np.empty((0, len(self.quantities)))
        while len(accepted) < n:
            deviations = rng.standard_normal((n - len(accepted), len(self.quantities))) @ factor.T
            values = self.mean + self.sd * deviations
            usual = (np.abs(deviations) <= BEYOND).all(axis=1)
            accepted = np.concatenate(
                [accepted, values[usual & (values[:, c7] > values[:, shoulder])]]
            )
        return accepted

    def _index(self, name: str) -> int:
        if name not in self.quantities:
            raise ValueError(
                f"there is no quantity {name!r}{tables.closest(str(name), self.quantities) or '.'} "
                f"The quantities: {', '.join(self.quantities)}"
            )
        return self.quantities.index(name)

    def __repr__(self) -> str:
        moments = dict(zip(self.quantities, zip(self.mean, self.sd, strict=True), strict=True))
        described = ", ".join(
            f"{name} {100 * moments[name][0]:.1f} ± {100 * moments[name][1]:.1f} cm"
            for name in ("stature", "thigh", "shank", "trunk")
        )
        return f"Population of {self.name}: {described} (ansur2)"


MAIN = ("stature", "thigh", "trunk")
"""The quantities whose correlations `Population.describe` prints."""


def _hip_raised(mean: dict[str, float]) -> dict[str, float]:
    leg = ("ankle_height", "shank", "thigh")
    usual = lengths_of("winter2009")
    rise = sum(usual[name] * mean["stature"] - mean[name] for name in leg)
    lowered = {name: mean[name] - rise for name in HIP_DOWN}
    return mean | {"thigh": mean["thigh"] + rise} | lowered
