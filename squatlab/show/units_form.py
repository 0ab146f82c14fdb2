"""The choice of metric or US units, kept with the work."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

from ipywidgets import RadioButtons, VBox

from squatlab import units
from squatlab.show.controls import Repair, StatusLine
from squatlab.show.run_page import to_run


class UnitsForm(VBox):
    """Ask in which units everything is shown; what is chosen is kept in ``folder``."""

    def __init__(self, folder: str | Path = ".") -> None:
        self.folder = Path(folder)
        self.choice = RadioButtons(
            options=[(words, system) for system, words in units.SYSTEMS.items()],
            value=units.chosen(),
            description="Units",
        )
        self._status = StatusLine()
        self.message = ""
        self.choice.observe(lambda change: self._chosen(change.new), "value")
        super().__init__([self.choice, self._status, Repair()])
        self.add_class("squatlab")

    def _chosen(self, system: str) -> None:
        """Keep the choice, and say what follows; that it cannot be kept is said as well."""
        try:
            path = units.keep(system, self.folder)
            self.message = (
                f"Kept in {path.name}. Run the cells again to see it; pages that are open "
                "already: Kernel → Restart Kernel and Run All Cells. The texts follow when you "
                "next start squatlab open."
            )
        except OSError as problem:
            self.message = f"For this page only: {problem}"
        self._status.say(self.message)

    def __repr__(self) -> str:
        return f"Units: {units.SYSTEMS[self.choice.value]}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Say the choice to readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        words = f"<p>{escape(repr(self))}</p>{to_run('To choose')}"
        bundle["text/plain"], bundle["text/html"] = repr(self), words
        return bundle
