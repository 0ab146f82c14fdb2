"""Metric or US: how the quantities that people read and set are written.

Everything is computed in SI, exactly; only words and the steps of controls
follow the choice. It is kept in a file beside the work, so that every notebook
of a folder, and its instructor's part, follows one choice.
"""

from __future__ import annotations

import contextlib
import math
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache, wraps
from pathlib import Path
from typing import Any, TypeVar

from numpy.typing import ArrayLike

from squatlab import storage

T = TypeVar("T")

FOOT, INCH, POUND = 0.3048, 0.0254, 0.45359237
"""Exact by definition (international yard and pound, 1959), m and kg."""

POUND_FORCE = POUND * 9.80665
"""A pound under standard gravity, N; exact by definition."""

METRIC, US = "metric", "us"
SYSTEMS = {METRIC: "metric: cm, kg, N·m", US: "US: ft, in, lb, lbf·ft"}
"""The choices, and how each is offered."""

BOTH = "both"
"""Metric with US in brackets: an exam is one for all who sit it, and sealed, so no choice."""

VARIABLE = "SQUATLAB_UNITS"
"""The environment variable that chooses for a whole process, a class server's say."""

UNKNOWN = f"the units are {{!r}}; choose {METRIC} or {US}"
"""What is said of another system."""

KEPT = "units.txt"
"""The file beside the work that holds the choice."""


@dataclass(frozen=True)
class Written:
    """Say how one system writes a kind of quantity.

    ``size`` is one ``unit`` in SI. A figure has so many ``digits`` behind the
    point, ``trimmed`` of needless noughts (3 in, not 3.0 in), and is first
    rounded to a multiple of ``nearest`` units if that is given.
    """

    unit: str
    size: float
    digits: int
    nearest: float = 0.0
    trimmed: bool = False

    def figure(self, value: float) -> str:
        """Return a value in this unit as a figure, "–" for one that is not known."""
        if not math.isfinite(value):
            return "–"
        if self.nearest:
            value = round(value / self.nearest) * self.nearest
        text = f"{value:.{self.digits}f}"
        if self.trimmed and "." in text:
            text = text.rstrip("0").rstrip(".")
        if float(text) == 0:
            text = text.removeprefix("-")  # never −0.0
        return text.replace("-", "−")

    def with_unit(self, value: float) -> str:
        """Return a value in this unit as a figure with the unit."""
        gap = "" if self.unit == "°" else " "
        return f"{self.figure(value)}{gap}{self.unit}"


class FeetAndInches(Written):
    """Write a person's height as US coaches do: 5 ft 9 in."""

    def with_unit(self, value: float) -> str:
        """Return inches as feet and inches."""
        if not math.isfinite(value):
            return "–"
        inches = round(value / self.nearest) * self.nearest
        feet, rest = divmod(inches, 12)
        return f"{feet:.0f} ft {rest:g} in"


@dataclass(frozen=True)
class QuantityKind:
    """Hold how one kind of quantity is written in each system.

    How finely is the trade's rounding [common-practice]; 0.1 in for what
    is read from a clip is ours, for faults begin at 1.5 cm [teaching-value].
    """

    metric: Written
    us: Written

    @property
    def written(self) -> Written:
        """Return how it is written in the system that is chosen."""
        return self.us if chosen() == US else self.metric

    @property
    def unit(self) -> str:
        """Return the unit of the system that is chosen."""
        return self.written.unit

    def words(self, si: float) -> str:
        """Return a value, in SI, with its unit."""
        written = self.written
        words = written.with_unit(si / written.size)
        if chosen() != BOTH or self.us is self.metric:
            return words
        return f"{words} ({self.us.with_unit(si / self.us.size)})"

    def figure(self, si: float) -> str:
        """Return a value, in SI, as a figure whose unit stands elsewhere."""
        written = self.written
        return written.figure(si / written.size)

    def signed(self, si: float) -> str:
        """Return a value, in SI, with its unit and a plus before what is above nought."""
        words = self.words(si)
        return words if words[0] in "−–" or self.is_nought(si) else f"+{words}"

    def shown(self, si: ArrayLike) -> ArrayLike:
        """Return values (…), in SI, in the unit that is chosen: for charts and controls."""
        return si * self._per_si

    def si(self, shown: ArrayLike) -> ArrayLike:
        """Return values (…) of a control in SI."""
        return shown / self._per_si

    @property
    def _per_si(self) -> float:
        # 100 cm in a metre exactly, where 0.01 is rounded: 57 cm are 0.57 m to the last digit.
        return 1.0 / self.written.size

    def is_nought(self, si: float) -> bool:
        """Return whether a value, in SI, is written as 0: less than half its finest step."""
        written = self.written
        step = written.nearest or 10.0**-written.digits
        return abs(si) < 0.5 * written.size * step


def either(metric: Any, us: Any) -> Any:
    """Return what belongs to the system that is chosen: ends of a control, a preset."""
    return us if chosen() == US else metric


def _inches(digits: int, nearest: float = 0.0) -> Written:
    """Return how inches are written; halves and quarters without needless noughts."""
    return Written("in", INCH, digits, nearest, trimmed=bool(nearest))


STATURE = QuantityKind(Written("cm", 0.01, 0), FeetAndInches("in", INCH, 1, 0.5))
"""A person's height."""

STATURE_IN_WORDS = QuantityKind(Written("m", 1.0, 2), FeetAndInches("in", INCH, 1, 0.5))
"""A person's height in a sentence: 1.75 m tall."""

BODY_LENGTH = QuantityKind(Written("cm", 0.01, 0), _inches(1, 0.5))
"""A length of the body, a stance, a dip."""

READING = QuantityKind(Written("cm", 0.01, 1), _inches(1))
"""A distance that is read from a lift: of the bar, a heel, a knee."""

WORKED_LENGTH = QuantityKind(Written("cm", 0.01, 1, trimmed=True), _inches(1))
"""A length that somebody reckons with, on paper."""

FINE_LENGTH = QuantityKind(Written("cm", 0.01, 2), _inches(2))
"""A length finer than a reading: worked out by hand, or how far jitter scatters."""

BAR_PLACE = QuantityKind(Written("cm", 0.01, 1), _inches(2, 0.25))
"""How far down the back the bar lies; how high a wedge is."""

FLOOR_HEIGHT = QuantityKind(Written("m", 1.0, 2), _inches(1, 0.5))
"""A height above the floor: of a bar, a hole of the rack, the breastbone."""

DISTANCE = QuantityKind(Written("m", 1.0, 2, trimmed=True), Written("ft", FOOT, 1, trimmed=True))
"""How far away a camera stands, and how high."""

MASS = QuantityKind(Written("kg", 1.0, 1, trimmed=True), Written("lb", POUND, 0))
"""A bar with its plates, a body."""

ARM = QuantityKind(Written("m", 1.0, 3), Written("ft", FOOT, 2))
"""A lever arm that somebody multiplies by a force: N × m, lbf × ft."""

FORCE = QuantityKind(Written("N", 1.0, 0), Written("lbf", POUND_FORCE, 0))
"""A force that somebody multiplies by a lever arm: the weight of a bar."""

PULL = QuantityKind(Written("kN", 1000.0, 1), Written("lbf", POUND_FORCE, 0, nearest=10))
"""A large force that is known roughly: the pull of the back's muscles."""

MOMENT = QuantityKind(Written("N·m", 1.0, 0), Written("lbf·ft", POUND_FORCE * FOOT, 0))
"""A joint moment."""


def _alike(unit: str, size: float, digits: int) -> QuantityKind:
    """Return a kind of quantity that both systems write alike."""
    written = Written(unit, size, digits)
    return QuantityKind(written, written)


BY_UNIT = {
    "cm": READING,
    "kg": MASS,
    "N·m": MOMENT,
    "°": _alike("°", math.radians(1), 1),
    "s": _alike("s", 1.0, 2),
    "ms": _alike("ms", 0.001, 0),
}
"""What a quantity is that a table gives in this unit."""


def of_table(value: float, unit: str) -> str:
    """Return a value in a table's unit in words, in the units chosen.

    A unit that neither system knows stays: 3.0 severity.
    """
    kind = BY_UNIT.get(unit) or _alike(unit, 1.0, 1)
    words = kind.written.with_unit(_converted(value, kind))
    if chosen() != BOTH or kind.us is kind.metric:
        return words
    return f"{words} ({kind.us.with_unit(value * kind.metric.size / kind.us.size)})"


def limit_of_table(value: float, unit: str) -> str:
    """Return the figure of a limit or norm: the table's, or converted.

    No finer than a reading, and without needless noughts: 5° beside 5.3°.
    """
    kind = BY_UNIT.get(unit)
    if kind is None or kind.written.unit == unit:
        shown = value if kind is None else round(value, kind.written.digits)
        return f"{shown:g}".replace("-", "−")
    return kind.written.figure(_converted(value, kind))


def unit_of_table(unit: str) -> str:
    """Return in which unit `of_table` writes."""
    kind = BY_UNIT.get(unit)
    return unit if kind is None else kind.written.unit


def _converted(value: float, kind: QuantityKind) -> float:
    """Return a value in the metric unit in the unit that is written."""
    if kind.written is kind.metric:
        return value  # not through SI and back, so that no last digit turns
    return value * kind.metric.size / kind.written.size


class _Choice:
    """Hold the choice of this process; None until it is first asked for."""

    system: str | None = None


def chosen() -> str:
    """Return the system people read: `METRIC` or `US`.

    What was chosen here comes first, then what is kept beside the work (in
    this folder, or the one above, for the instructor's), then the
    environment's; metric otherwise.
    """
    if _Choice.system is None:
        here = Path.cwd()
        _Choice.system = kept_in(here) or chosen_for(here.parent)
    return _Choice.system


def chosen_for(folder: Path) -> str:
    """Return the system of the work in a folder.

    What is kept there comes first, then the environment's; metric else.
    """
    wanted = kept_in(folder) or os.environ.get(VARIABLE, "").strip().lower()
    return wanted if wanted in SYSTEMS else METRIC


def choose(system: str) -> None:
    """Choose for this process. Raises ValueError for an unknown system."""
    if system not in (*SYSTEMS, BOTH):
        raise ValueError(UNKNOWN.format(system))
    _Choice.system = system


@contextlib.contextmanager
def written_in(system: str) -> Iterator[None]:
    """Write in one system for a while, then as before."""
    before = _Choice.system
    choose(system)
    try:
        yield
    finally:
        _Choice.system = before


def cached_words(most: int | None) -> Callable[[Callable[..., T]], Callable[..., T]]:
    """Return a decorator that keeps the ``most`` last results in each system.

    For what is slow to make and holds words: `functools.lru_cache` would
    give those of the system that was chosen before.
    """

    def decorated(function: Callable[..., T]) -> Callable[..., T]:
        @lru_cache(most)
        def kept(_: str, *given: Any, **named: Any) -> T:
            return function(*given, **named)

        @wraps(function)
        def called(*given: Any, **named: Any) -> T:
            return kept(chosen(), *given, **named)

        return called

    return decorated


def kept_in(folder: Path) -> str | None:
    """Return the choice that is kept in a folder, None where there is none."""
    try:
        word = (folder / KEPT).read_text(encoding="utf-8").strip().lower()
    except (OSError, ValueError):
        return None
    return word if word in SYSTEMS else None


def keep(system: str, folder: Path) -> Path:
    """Choose, and keep the choice with the work in a folder; return the file.

    Raises ValueError for what is not one of `SYSTEMS`.
    """
    if system not in SYSTEMS:  # both together are for exams alone
        raise ValueError(UNKNOWN.format(system))
    choose(system)
    return storage.write(folder / KEPT, f"{system}\n")
