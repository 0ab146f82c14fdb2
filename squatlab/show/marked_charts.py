"""Charts with a mark that moves: one lifter, one load or one place of the bar."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import replace

import numpy as np

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.population import Population
from squatlab.show import palette
from squatlab.show.chart import PAGE, Chart, held, takeaway, words

SEED, COUNT = 7, 400
"""Which lifters are drawn from the population, and how many in all."""

LIGHT_KG = 20.0
"""An empty bar, kg: from here on the two rules are compared in words."""


class LeanInPopulation(Chart, ABC):
    """Plot lean against one quantity over women and men [ansur2].

    Everybody holds the same leg posture, with as much on the bar as they
    weigh. The straight line is fitted to all who can hold it; the part of
    the lean's variance that it explains is ``explained`` (R²). ``mark``
    puts one lifter among them. Subclasses say which quantity.
    """

    LABEL, QUANTITY, TAKEAWAY = "", "", ""
    NUMBER, LIMITS = "{:.2f}", (0.0, 1.0)

    def __init__(
        self,
        thigh_deg: float = 0.0,
        shank_deg: float = 30.0,
        size_px: tuple[int, int] = PAGE,
        seed: int = SEED,
        count: int = COUNT,
    ) -> None:
        super().__init__(self.LABEL, "Trunk lean, °", size_px)
        self.legs = thigh_deg, shank_deg
        rng = np.random.default_rng(seed)
        men = count // 2
        sizes = {"women": count - men, "men": men}
        drawn = {who: Population.ansur2(who).draw(n, rng) for who, n in sizes.items()}
        self.places = {who: (self.quantity(d), self.lean(d)) for who, d in drawn.items()}
        self.axes.set(xlim=self.LIMITS, ylim=(20, 70))
        takeaway(self.axes, self.TAKEAWAY)
        self._scatter()
        self._fit()
        self._dot = self.mark_of()
        self._name = self.moving(words(self.axes, 0, 0, "", bold=True))
        self.alt = self._people

    def _scatter(self) -> None:
        look = {"women": ("o", palette.PLUM), "men": ("^", palette.BLUE)}
        for (who, (x, y)), place in zip(self.places.items(), (0.93, 0.85), strict=True):
            marker, colour = look[who]
            self.axes.plot(x, y, marker, ms=6, mfc="none", mec=colour, mew=1.2)
            at = {"transform": self.axes.transAxes}
            self.axes.plot(0.04, place, marker, ms=8, mfc="none", mec=colour, mew=1.8, **at)
            words(self.axes, 0.07, place, who, **at)

    def _fit(self) -> None:
        x, y = np.concatenate(list(self.places.values()), axis=1)
        able = np.isfinite(y)
        x, y = x[able], y[able]
        self.explained = float(np.corrcoef(x, y)[0, 1] ** 2)
        slope, start = np.polyfit(x, y, 1)
        ends = np.array([x.min(), x.max()])
        self.axes.plot(ends, start + slope * ends, color=palette.INK, lw=2.5)
        words(
            self.axes,
            0.985,
            0.06,
            f"line fitted to {len(x)} lifters: R² = {self.explained:.2f}",
            transform=self.axes.transAxes,
            ha="right",
        )
        self._people = (
            f"Trunk lean against {self.QUANTITY}: {len(x)} lifters of one leg posture lean "
            f"{y.min():.0f}° to {y.max():.0f}°; the fitted line explains "
            f"{100 * self.explained:.0f} % of the differences (R² = {self.explained:.2f})."
        )

    @abstractmethod
    def quantity(self, lifter: Lifter) -> np.ndarray:
        """Return what the chart sets the lean against."""

    def lean(self, lifter: Lifter) -> np.ndarray:
        """Return the balanced lean of a lifter or of many, °.

        nan for a lifter who cannot hold the posture.
        """
        posture = balance(lifter, Bar.high(lifter.mass_kg), Stance(), *self.legs)
        return held(posture.trunk_deg, posture)

    def mark(self, lifter: Lifter) -> LeanInPopulation:
        """Put one lifter among the others and return the chart."""
        x, y = float(self.quantity(lifter)), float(self.lean(lifter))
        # An unusual lifter is marked at the edge, with the true numbers beside.
        at, up = np.clip(x, *self.LIMITS), np.clip(y, *self.axes.get_ylim())
        self._dot.set_data([at], [up])
        left = x >= np.mean(self.LIMITS)
        gap = 17 * (self.LIMITS[1] - self.LIMITS[0]) / self.axes.bbox.width
        number = self.NUMBER.format(x)
        able = bool(np.isfinite(y))
        told = f"lean {y:.1f}°" if able else "cannot hold this posture"
        height = up if able else np.mean(self.axes.get_ylim())
        self._name.set(
            position=(at - gap if left else at + gap, height),
            text=f"this lifter:\n{number}, {y:.0f}°"
            if able
            else "this lifter cannot\nhold this posture",
            ha="right" if left else "left",
        )
        self.alt = f"{self._people} This lifter: {self.QUANTITY} {number}, {told}."
        return self


class LeanByBuild(LeanInPopulation):
    """Plot lean against thigh-to-trunk length over a population [ansur2].

    What a lifter's proportions explain of the lean; see
    ``LeanInPopulation``.
    """

    LABEL, QUANTITY = "Thigh length ÷ trunk length", "thigh length divided by trunk length"
    TAKEAWAY = "Longer thighs for the trunk: more lean"
    LIMITS = (0.6, 1.2)

    def quantity(self, lifter: Lifter) -> np.ndarray:
        """Return thigh length divided by trunk length (hip to shoulder)."""
        return np.divide(lifter.thigh_m, lifter.trunk_m)


class LeanByStature(LeanInPopulation):
    """Plot lean against stature over the same population [ansur2].

    The companion of ``LeanByBuild``: being tall explains little.
    """

    LABEL, QUANTITY, NUMBER = "Stature, cm", "stature", "{:.0f} cm"
    TAKEAWAY = "Being tall explains little of the lean"
    LIMITS = (140, 210)

    def quantity(self, lifter: Lifter) -> np.ndarray:
        """Return the stature, cm."""
        return np.multiply(100.0, lifter.stature_m)


class LeanByLoad(Chart):
    """Plot the lean by two rules against load: what stands over mid-foot.

    One rule puts bar and lifter together there, the other the bar alone.
    ``show`` draws the curves of a lifter, ``mark`` the present load.
    """

    LOADS = np.linspace(0, 250, 101)
    RULES = (("system", "bar and lifter"), ("bar", "the bar alone"))

    def __init__(self, size_px: tuple[int, int] = PAGE) -> None:
        super().__init__("Load, kg on the bar", "Trunk lean, °", size_px)
        self.axes.set(xlim=(0, 250), ylim=(0, 70))
        takeaway(self.axes, "The heavier the bar, the closer the two rules")
        looks = ((palette.BLUE, "-", "o"), (palette.RED, (0, (5, 2.5)), "s"))
        self._curves, self._names, self._dots = [], [], []
        for colour, dash, marker in looks:
            (curve,) = self.axes.plot([], [], ls=dash, lw=3, color=colour)
            self._curves.append(self.moving(curve))
            self._dots.append(self.mark_of(colour, marker, 11))
        self._names = [self.moving(words(self.axes, 248, 0, "", ha="right")) for _ in looks]
        self._said = self.moving(words(self.axes, 0, 0, "", bold=True))
        self._leans: list[np.ndarray] = []

    def show(
        self,
        lifter: Lifter,
        bar: Bar,
        stance: Stance,
        thigh_deg: float = 0.0,
        shank_deg: float = 28.0,
    ) -> LeanByLoad:
        """Draw the curves of a lifter, bar place, stance and legs."""
        loaded = replace(bar, mass_kg=self.LOADS)
        ways = [
            balance(lifter, loaded, stance, thigh_deg, shank_deg, over=over)
            for over, _ in self.RULES
        ]
        # By the bar alone the lean is the same for all loads; whether it can be held is not.
        self._leans = [held(way.trunk_deg, way) for way in ways]
        upper = int(self._leans[1][-1] > self._leans[0][-1])
        for place, (lean, curve) in enumerate(zip(self._leans, self._curves, strict=True)):
            curve.set_data(self.LOADS, lean)
            y = lean[-1] + (6 if place == upper else -6)
            wide = self.axes.bbox.width > 600
            name = f"{'over mid-foot: ' if wide else ''}{self.RULES[place][1]}"
            self._names[place].set(position=(248, y), text=name)
            self._names[place].set_visible(bool(np.isfinite(y)))
        light, heavy = int(np.searchsorted(self.LOADS, LIGHT_KG)), -1
        self.alt = "Trunk lean against load: from an empty bar up, some loads cannot be held."
        if np.isfinite([lean[light:] for lean in self._leans]).all():
            (light, light_bar), (heavy, heavy_bar) = (
                [c[i] for c in self._leans] for i in (light, heavy)
            )
            self.alt = (
                f"Trunk lean against load. Bar and lifter over mid-foot: {light:.1f}° at 20 kg, "
                f"{heavy:.1f}° at 250 kg. The bar alone over mid-foot: {light_bar:.1f}° and "
                f"{heavy_bar:.1f}°. The rules come together as the bar gets heavy: "
                f"{abs(light_bar - light):.1f}° apart, then {abs(heavy_bar - heavy):.1f}°."
            )
        return self

    def mark(self, load_kg: float) -> LeanByLoad:
        """Mark the present load on both curves and return the chart."""
        now = [float(np.interp(load_kg, self.LOADS, lean)) for lean in self._leans]
        for dot, lean in zip(self._dots, now, strict=True):
            dot.set_data([load_kg], [lean])
        known = np.isfinite(now).all()
        gap = abs(now[1] - now[0])
        text = f"{now[0]:.0f}° and {now[1]:.0f}°" if known else "cannot be held"
        # Right of the mark, where a falling curve leaves room, as long as there is any.
        left = load_kg > 0.5 * self.LOADS[-1]
        x = min(load_kg + 20, self.LOADS[-1]) if left else load_kg
        self._said.set(
            position=(x, (max(now) if known else 30) + 11),
            text=f"{load_kg:g} kg: {text}",
            ha="right" if left else "left",
        )
        stem = self.alt.split(" At the marked")[0]
        told = f" At the marked {load_kg:g} kg they are {gap:.1f}° apart." if known else ""
        self.alt = stem + told
        return self
