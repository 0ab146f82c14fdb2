"""Charts on which one lifter or one load is marked, wherever a slider takes it."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.population import Population
from squatlab.show import palette
from squatlab.show.moving import Moving, worded
from squatlab.show.plot import ALONE, Chart, Plot, axis, box_of, chart, held, mark
from squatlab.show.primitives import Text
from squatlab.units import MASS, either

SEED, COUNT = 7, 400
"""Which lifters are drawn from the population, and how many in all."""

EMPTY_BAR = 20.0, 45.0
"""An empty bar, kg or lb: from here on the two rules are compared in words."""

HEAVIEST = 250.0, 550.0
"""The heaviest bar of a chart by load, kg or lb [teaching-value]."""

RATIOS, LEANS = (0.6, 1.2), (20.0, 70.0)
"""What the population's chart shows: thigh ÷ trunk, and lean in degrees."""

WHO = {"women": ("round", palette.PLUM), "men": ("triangle", palette.BLUE)}
"""Mark and colour of women and men."""


class LeanByBuild:
    """Plot lean against thigh-to-trunk length over women and men [ansur2].

    Everybody holds the same leg posture, with as much on the bar as they
    weigh. The straight line is fitted to all who can hold it; the part of
    the lean's variance that it explains is ``explained`` (R²). ``marked``
    puts one lifter among them, ``alone`` none.
    """

    def __init__(
        self, seed: int = SEED, count: int = COUNT, size: tuple[float, float] = ALONE
    ) -> None:
        self.size = size
        rng = np.random.default_rng(seed)
        men = count // 2
        sizes = {"women": count - men, "men": men}
        drawn = {who: Population.ansur2(who).draw(n, rng) for who, n in sizes.items()}
        self.places = {who: (ratio(people), lean(people)) for who, people in drawn.items()}
        self.plot = Plot(
            axis("Thigh length ÷ trunk length", *RATIOS),
            axis("Trunk lean, °", *LEANS),
            box_of(size),
        )
        x, y = np.concatenate(list(self.places.values()), axis=1)
        able = np.isfinite(y)
        x, y = x[able], y[able]
        self.explained = float(np.corrcoef(x, y)[0, 1] ** 2)
        slope, start = np.polyfit(x, y, 1)
        ends = np.array([x.min(), x.max()])
        self.stage = (
            *self.plot.frame(),
            *self.plot.takeaway("Longer thighs for the trunk: more lean"),
            *self._people(),
            *self.plot.curve(ends, start + slope * ends, palette.INK, width=2.5),
            *self.plot.words(
                RATIOS[1],
                LEANS[0],
                f"fitted to {len(x)} lifters: R² = {self.explained:.2f}",
                "end",
                shift=-8 - 18j,
            ),
        )
        self._told = (
            f"Trunk lean against thigh length divided by trunk length: {len(x)} lifters of one leg "
            f"posture lean {y.min():.0f}° to {y.max():.0f}°; the fitted line explains "
            f"{100 * self.explained:.0f} % of the differences (R² = {self.explained:.2f})."
        )

    def _people(self) -> list[Moving]:
        parts: list[Moving] = []
        left, top = self.plot.box[:2]
        for row, (who, (x, y)) in enumerate(self.places.items()):
            kind, colour = WHO[who]
            places = self.plot.at(x, y)
            parts += [
                mark(complex(place), palette.PAPER, kind, 3.2, colour, 1.2)
                for place in places[np.isfinite(places)]
            ]
            key = complex(left + 16, top + 16 + 22 * row)
            parts.append(mark(key, palette.PAPER, kind, 4.5, colour, 1.8))
            parts.append(Text(key + 14 + 4.5j, who))
        return parts

    def alone(self) -> Chart:
        """Return the chart with nobody marked."""
        return chart(self.stage, self.size, self._told)

    def marked(self, lifter: Lifter) -> Chart:
        """Return the chart with one lifter marked, or one for each position."""
        x, y = np.broadcast_arrays(ratio(lifter), lean(lifter))
        able = np.isfinite(y)
        # An unusual lifter is marked at the edge, with the true numbers beside.
        at, up = np.clip(x, *RATIOS), np.where(able, np.clip(y, *LEANS), np.mean(LEANS))
        words = worded(
            lambda x, y: f"this lifter: {x:.2f}, {y:.0f}°" if y == y else "cannot hold this",
            x[()],
            y[()],
        )
        alt = worded(
            lambda x, y: (
                f"{self._told} This lifter: thigh length divided by trunk length {x:.2f}, "
                + (f"lean {y:.1f}°." if y == y else "cannot hold this posture.")
            ),
            x[()],
            y[()],
        )
        marks = [
            *self.plot.mark(at, np.where(able, up, np.nan), palette.RED),
            *self.plot.beside(at, up, words, at < np.mean(RATIOS)),
        ]
        return chart(self.stage, self.size, alt, marks, x.size)


def ratio(lifter: Lifter) -> NDArray[np.float64]:
    """Return thigh length divided by trunk length (hip to shoulder) (…)."""
    return np.divide(lifter.thigh_m, lifter.trunk_m)


def lean(lifter: Lifter) -> NDArray[np.float64]:
    """Return the balanced lean (…), °, thighs level, body mass on the bar.

    nan for a lifter who cannot hold the posture.
    """
    posture = balance(lifter, Bar.high(lifter.mass_kg), Stance(), 0.0, 30.0)
    return held(posture.trunk_deg, posture)


RULES = {
    "system": ("bar and lifter", palette.BLUE, "", "round"),
    "bar": ("the bar alone", palette.RED, "8 4", "square"),
}
"""What each rule puts over mid-foot, and colour, dash and mark of its curve."""


class LeanByLoad:
    """Plot the lean by two rules against load: what stands over mid-foot.

    One rule puts bar and lifter together there, the other the bar alone.
    ``marked`` returns the curves of a lifter with one load marked.
    """

    def __init__(self, size: tuple[float, float] = ALONE) -> None:
        self.size = size
        self.heaviest = either(*HEAVIEST)
        # In the unit that is chosen, as all that stands on the axis.
        self.loads = np.linspace(0, self.heaviest, 101)
        self.plot = Plot(
            axis(f"Load, {MASS.unit} on the bar", 0, self.heaviest, either(5, 6)),
            axis("Trunk lean, °", 0, 70),
            box_of(size),
        )
        takeaway = self.plot.takeaway("The heavier the bar, the closer the two rules")
        self.stage = (*self.plot.frame(), *takeaway)

    def marked(
        self,
        load_kg: ArrayLike,
        lifter: Lifter,
        bar: Bar,
        stance: Stance,
        thigh_deg: ArrayLike = 0.0,
        shank_deg: ArrayLike = 28.0,
    ) -> Chart:
        """Return the curves of lifter, bar place, stance and legs, with the present load.

        Any of them may be an array of positions.
        """
        # Positions first, then loads; what does not change gets an axis of one to fit.
        someone, feet, place = (_with_axis(noun) for noun in (lifter, stance, bar))
        loaded = replace(place, mass_kg=MASS.si(self.loads))
        legs = _column(thigh_deg), _column(shank_deg)
        postures = [balance(someone, loaded, feet, *legs, over=over) for over in RULES]
        # By the bar alone the lean is the same for all loads; whether it can be held is not.
        leans = np.stack(
            np.broadcast_arrays(*(held(posture.trunk_deg, posture) for posture in postures))
        )
        leans = leans.reshape(2, -1, self.loads.size)
        load = np.atleast_1d(np.round(MASS.shown(np.asarray(load_kg, float)), 6))
        count = max(leans.shape[1], load.size)
        leans = np.broadcast_to(leans, (2, count, self.loads.size))
        load = np.broadcast_to(load, count)
        now = np.array(
            [
                [np.interp(at, self.loads, row) for at, row in zip(load, rule, strict=True)]
                for rule in leans
            ]
        )
        marks: list[Moving] = []
        ends = leans[:, :, -1]
        for number, (name, colour, dash, kind) in enumerate(RULES.values()):
            curve = leans[number] if leans.shape[1] > 1 else leans[number, 0]
            marks += self.plot.curve(self.loads, curve, colour, dash)
            marks += self.plot.mark(load, now[number], colour, kind, 6.0)
            above = np.where(ends[number] > ends[1 - number], 6.0, -6.0)
            marks += self.plot.words(0.992 * self.heaviest, ends[number] + above, name, "end")
        known = np.isfinite(now).all(axis=0)
        left = load > 0.5 * self.loads[-1]
        x = np.where(left, np.minimum(load + 0.08 * self.heaviest, self.loads[-1]), load)
        words = [
            f"{at:g} {MASS.unit}: {one:.0f}° and {two:.0f}°"
            if ok
            else f"{at:g} {MASS.unit}: cannot be held"
            for at, one, two, ok in zip(load.tolist(), *now.tolist(), known.tolist(), strict=True)
        ]
        y = np.where(known, now.max(axis=0), 30) + 11
        marks += self.plot.beside(x, y, words, ~left, gap=0.0)
        alt = [
            self._told(*row)
            for row in zip(load.tolist(), *now.tolist(), *leans.tolist(), strict=True)
        ]
        return chart(self.stage, self.size, alt, marks, count)

    def _told(self, load: float, system: float, bar: float, by_system: list, by_bar: list) -> str:
        """Return both rules in words, for a light, a heavy and the marked bar."""
        light = int(np.searchsorted(self.loads, either(*EMPTY_BAR)))
        unit = MASS.unit
        words = "Trunk lean against load: from an empty bar up, some loads cannot be held."
        if np.isfinite(by_system[light:]).all() and np.isfinite(by_bar[light:]).all():
            first, last = (by_system[light], by_bar[light]), (by_system[-1], by_bar[-1])
            words = (
                f"Trunk lean against load. Bar and lifter over mid-foot: {first[0]:.1f}° at "
                f"{self.loads[light]:.0f} {unit}, {last[0]:.1f}° at {self.heaviest:.0f} {unit}. "
                f"The bar alone over mid-foot: {first[1]:.1f}° and "
                f"{last[1]:.1f}°. The rules come together as the bar gets heavy: "
                f"{abs(first[1] - first[0]):.1f}° apart, then {abs(last[1] - last[0]):.1f}°."
            )
        if np.isfinite([system, bar]).all():
            words += f" At the marked {load:g} {unit} they are {abs(bar - system):.1f}° apart."
        return words


def _column(values: ArrayLike) -> ArrayLike:
    """Return values (positions,) as (positions, 1); a single number as it is."""
    return np.asarray(values)[:, None] if np.ndim(values) else values


def _with_axis(noun):
    """Return a frozen dataclass with every array (positions,) as (positions, 1)."""
    changed = {
        f.name: _column(getattr(noun, f.name))
        for f in fields(noun)
        if np.ndim(getattr(noun, f.name))
    }
    return replace(noun, **changed) if changed else noun
