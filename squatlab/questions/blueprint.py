"""The blueprint of a form: what is asked, how often, about which lifts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from squatlab import faults, tables
from squatlab.questions.kinds import KINDS, Kind, kind

ANY = {"lifters": ("women", "men"), "bar": ("high", "low")}
"""What "any" stands for in these columns."""


@dataclass(frozen=True)
class Cell:
    """Hold one row of data/blueprint.csv; count 0 is for practice alone.

    ``draws`` is what a question is about: faults of which one is first, or
    cells of the bank, or numbers. ``beside`` are faults that may be there
    too, ``others`` how many of them (least, most). ``clean`` is the share
    of lifts with nothing to fix. ``margin``, in severity, is what the mean
    margin of a form's lifts in this cell comes near; None: worked out when
    a form is drawn. Raises ValueError for what cannot be.
    """

    name: str
    kind: str
    count: int
    points: float
    draws: tuple[str, ...]
    beside: tuple[str, ...] = ()
    others: tuple[int, int] = (0, 0)
    sizes: tuple[str, ...] = ("clear", "gross")
    lifters: tuple[str, ...] = ANY["lifters"]
    bar: tuple[str, ...] = ANY["bar"]
    view: str = "both"
    clean: float = 0.0
    margin: float | None = None

    def __post_init__(self) -> None:
        lift = self.kind in KINDS and self.how.shows_lift
        for wrong, words in (
            (self.kind not in KINDS, f"the kind is one of {', '.join(KINDS)}"),
            (self.count < 0 or self.points <= 0, "count is 0 or more, points are more than 0"),
            (not 0 <= self.clean <= 1, "clean is a share, from 0 to 1"),
            (self.margin is not None and self.margin <= 0, "margin is more than 0, or empty"),
            (lift and self.view not in ("side", "front", "both"), "view is side, front or both"),
            (lift and not self.draws, "its view shows none of what it draws"),
            (lift and not set(self.sizes) & set(faults.SIZES), "sizes: slight, clear, gross"),
        ):
            if wrong:
                raise ValueError(f"blueprint.csv, cell {self.name}: {words}")

    @property
    def how(self) -> Kind:
        """Return what its kind of question does."""
        return kind(self.kind)

    @property
    def options(self) -> tuple[str, ...]:
        """Return the faults that its views show, in the catalogue's order."""
        seen = ("any", "side", "front") if self.view == "both" else ("any", self.view)
        return tuple(fault.id for fault in faults.catalogue().values() if fault.view in seen)


@cache
def blueprint() -> dict[str, Cell]:
    """Return the cells of data/blueprint.csv by their names, in its order.

    Of faults, "any" means all that the view shows, "tier1" to "tier4"
    those of a tier. Raises ValueError that names the cell.
    """
    cells = {}
    for row in tables.read("blueprint"):
        kind_id, view = row["kind"], row["view"]
        draws, beside = row["draws"].split(), row["beside"].split()
        if kind_id in KINDS and kind(kind_id).shows_lift:
            draws, beside = _faults(draws, view), _faults(beside, view)
        least, _, most = row["others"].partition("-")
        cells[row["cell"]] = Cell(
            name=row["cell"],
            kind=kind_id,
            count=int(row["count"]),
            points=float(row["points"]),
            draws=tuple(draws),
            beside=tuple(beside),
            others=(int(least), int(most or least)),
            sizes=tuple(row["sizes"].split()),
            lifters=ANY["lifters"] if row["lifters"] == "any" else (row["lifters"],),
            bar=ANY["bar"] if row["bar"] == "any" else (row["bar"],),
            view=view,
            clean=float(row["clean"]),
            margin=float(row["margin"]) if row["margin"] else None,
        )
    return cells


def cell(name: str) -> Cell:
    """Return the cell of this name; ValueError with the nearest there is."""
    if name not in blueprint():
        near = tables.closest(str(name), blueprint())
        raise ValueError(f"there is no cell {name!r} in blueprint.csv{near}")
    return blueprint()[name]


def _faults(words: list[str], view: str) -> list[str]:
    """Return the faults that words name and a view shows."""
    named = set(words)
    return [
        fault.id
        for fault in faults.catalogue().values()
        if (view == "both" or fault.view in ("any", view))
        and {"any", f"tier{fault.tier}", fault.id} & named
    ]
