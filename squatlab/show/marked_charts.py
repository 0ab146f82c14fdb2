"""Charts on which one lifter or one load is marked, wherever a slider takes it.

Explorers (02, 04) move the mark; `charts` shows the same as stills.
"""

from __future__ import annotations

from dataclasses import replace
from math import isnan
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.population import Population
from squatlab.show import palette
from squatlab.show.moving import Moving, with_axes, worded
from squatlab.show.plot import PAGE, Chart, Plot, axis, box_of, chart, held, mark
from squatlab.show.primitives import Text
from squatlab.units import MASS, either

SEED, COUNT = 7, 400
"""Which lifters are drawn from the population, and how many in all."""

EMPTY_BAR = 20.0, 45.0
"""An empty bar, kg or lb: from here on the two rules are compared in words."""

HEAVIEST, LOAD_STEP = (250.0, 550.0), (2.5, 5.0)
"""The heaviest bar of a chart by load, and from one load to the next, kg or lb
[teaching-value]: an empty bar is one of them."""

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
        self, seed: int = SEED, count: int = COUNT, size: tuple[float, float] = PAGE
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
        self._summary = (
            f"Trunk lean against thigh length divided by trunk length: {len(x)} lifters of one leg "
            f"posture lean {y.min():.0f}° to {y.max():.0f}°; the fitted line explains "
            f"{100 * self.explained:.0f} % of the differences (R² = {self.explained:.2f})."
        )

    def _people(self) -> list[Moving]:
        """Return a mark for everybody who can hold the posture, and the key to the marks."""
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
        return chart(self.stage, self.size, self._summary)

    def marked(self, lifter: Lifter) -> Chart:
        """Return the chart with one lifter marked, or one for each position."""
        x, y = np.broadcast_arrays(ratio(lifter), lean(lifter))
        able = np.isfinite(y)
        # An unusual lifter is marked at the edge, with the true numbers beside.
        at, up = np.clip(x, *RATIOS), np.where(able, np.clip(y, *LEANS), np.mean(LEANS))

        def label(ratio: float, lean_deg: float) -> str:
            if isnan(lean_deg):
                return "cannot hold this"
            return f"this lifter: {ratio:.2f}, {lean_deg:.0f}°"

        def sentence(ratio: float, lean_deg: float) -> str:
            lean = "cannot hold this posture" if isnan(lean_deg) else f"lean {lean_deg:.1f}°"
            return (
                f"{self._summary} This lifter: thigh length divided by trunk length {ratio:.2f}, "
                f"{lean}."
            )

        words, alt = worded(label, x[()], y[()]), worded(sentence, x[()], y[()])
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


class RuleLook(NamedTuple):
    """Say how the curve of a rule of balance is named and drawn."""

    words: str
    colour: str
    dash: str
    mark: str


RULES = {
    "system": RuleLook("bar and lifter", palette.BLUE, "", "round"),
    "bar": RuleLook("the bar alone", palette.RED, "8 4", "square"),
}
"""What each rule puts over mid-foot, and its look."""


class LeanByLoad:
    """Plot the lean by two rules against load: what stands over mid-foot.

    One rule puts bar and lifter together there, the other the bar alone.
    ``marked`` returns the curves of a lifter with one load marked.
    """

    def __init__(self, size: tuple[float, float] = PAGE) -> None:
        self.size = size
        self.heaviest = either(*HEAVIEST)
        # In the unit that is chosen, as all that stands on the axis.
        count = round(self.heaviest / either(*LOAD_STEP)) + 1
        self.loads = np.linspace(0, self.heaviest, count)
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
        someone, feet = with_axes(lifter, 1), with_axes(stance, 1)
        loaded = replace(with_axes(bar, 1), mass_kg=MASS.si(self.loads))
        legs = _column(thigh_deg), _column(shank_deg)
        by_rule = []
        for over in RULES:
            posture = balance(someone, loaded, feet, *legs, over=over)
            by_rule.append(held(posture.trunk_deg, posture))
        # By the bar alone the lean is the same for all loads; whether it can be held is not.
        leans = np.stack(np.broadcast_arrays(*by_rule)).reshape(2, -1, self.loads.size)
        load = np.atleast_1d(np.round(MASS.shown(np.asarray(load_kg, float)), 6))
        count = max(leans.shape[1], load.size)
        leans = np.broadcast_to(leans, (2, count, self.loads.size))
        load = np.broadcast_to(load, count)
        # The lean (rule, position) at the present load.
        now = np.empty((2, count))
        for rule, position in np.ndindex(now.shape):
            now[rule, position] = np.interp(load[position], self.loads, leans[rule, position])
        marks = [*self._curves(leans, load, now), *self._present(load, now)]
        alt = [self._in_words(load[i], now[:, i], leans[:, i]) for i in range(count)]
        return chart(self.stage, self.size, alt, marks, count)

    def _curves(
        self, leans: NDArray[np.float64], load: NDArray[np.float64], now: NDArray[np.float64]
    ) -> list[Moving]:
        """Return the curve of each rule with its name and the mark of the present load.

        ``leans`` (rule, position, load), ``load`` (position,), ``now`` (rule,
        position).
        """
        marks: list[Moving] = []
        ends = leans[:, :, -1]
        for number, rule in enumerate(RULES.values()):
            curve = leans[number] if leans.shape[1] > 1 else leans[number, 0]
            marks += self.plot.curve(self.loads, curve, rule.colour, rule.dash)
            marks += self.plot.mark(load, now[number], rule.colour, rule.mark, 6.0)
            # The name of the higher curve stands above its end, that of the other below.
            above = np.where(ends[number] > ends[1 - number], 6.0, -6.0)
            marks += self.plot.words(0.992 * self.heaviest, ends[number] + above, rule.words, "end")
        return marks

    def _present(self, load: NDArray[np.float64], now: NDArray[np.float64]) -> list[Moving]:
        """Return the present load and its leans (rule, position) in words, above the curves."""
        is_held = np.isfinite(now).all(axis=0)

        def words(load: float, system_deg: float, bar_deg: float, is_held: bool) -> str:
            leans = f"{system_deg:.0f}° and {bar_deg:.0f}°" if is_held else "cannot be held"
            return f"{MASS.written.with_unit(load)}: {leans}"

        # Of a heavy load the words end a little to the right of the mark, inside the chart.
        to_left = load > 0.5 * self.loads[-1]
        x = np.where(to_left, np.minimum(load + 0.08 * self.heaviest, self.loads[-1]), load)
        y = np.where(is_held, now.max(axis=0), 30) + 11
        return self.plot.beside(x, y, worded(words, load, *now, is_held), ~to_left, gap=0.0)

    def _in_words(self, load: float, now: NDArray[np.float64], leans: NDArray[np.float64]) -> str:
        """Return both rules in words, for a light, a heavy and the marked bar.

        ``now`` (rule,) at the marked load, ``leans`` (rule, load), °.
        """
        light = int(np.searchsorted(self.loads, either(*EMPTY_BAR)))
        unit = MASS.unit
        words = "Trunk lean against load: from an empty bar up, some loads cannot be held."
        if np.isfinite(leans[:, light:]).all():
            system, bar = leans
            words = (
                f"Trunk lean against load. Bar and lifter over mid-foot: {system[light]:.1f}° at "
                f"{self.loads[light]:.0f} {unit}, {system[-1]:.1f}° at {self.heaviest:.0f} {unit}. "
                f"The bar alone over mid-foot: {bar[light]:.1f}° and "
                f"{bar[-1]:.1f}°. The rules come together as the bar gets heavy: "
                f"{abs(bar[light] - system[light]):.1f}° apart, then "
                f"{abs(bar[-1] - system[-1]):.1f}°."
            )
        if np.isfinite(now).all():
            system_now, bar_now = now
            apart = abs(bar_now - system_now)
            marked = MASS.written.with_unit(load)
            words += f" At the marked {marked} they are {apart:.1f}° apart."
        return words


def _column(values: ArrayLike) -> ArrayLike:
    """Return values (positions,) as (positions, 1); a single number as it is."""
    return np.asarray(values)[:, None] if np.ndim(values) else values
