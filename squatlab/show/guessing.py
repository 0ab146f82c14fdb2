"""Guess before you see: a question, and a figure or table that appears after a guess."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Any

import anywidget
import traitlets

from squatlab.show.scripts import script


class Guess(anywidget.AnyWidget):
    """Ask for a guess, then show; make one by `guess`.

    Without a kernel the page is complete: what follows the guess is folded.
    """

    _esm = script("elements.js", "guess.js")
    _css = script("asking.css", "notebook.css")
    spec = traitlets.Dict().tag(sync=True)

    def __init__(self, text: str, options: Sequence[str], right: str, shown: Sequence[Any]) -> None:
        if right not in options:
            raise ValueError(f"{right!r} is not among the options {', '.join(options)}")
        self._shown = tuple(shown)
        super().__init__(
            spec={
                "text": text,
                "options": list(options),
                "right": list(options).index(right),
                "html": "".join(_html(item) for item in shown),
            }
        )

    def __repr__(self) -> str:
        options = " / ".join(self.spec["options"])
        words = [item if isinstance(item, str) else repr(item) for item in self._shown]
        return "\n".join([f"Guess: {self.spec['text']} {options}", *words])

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Fold what is shown, for readers without a kernel."""
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        spec = self.spec
        still = (
            f"<div><p><b>Guess first.</b> {escape(spec['text'])} "
            f"<i>{escape(' / '.join(spec['options']))}</i></p>"
            f"<details><summary>I have guessed: show it</summary>{spec['html']}</details></div>"
        )
        return {**bundle, "text/plain": repr(self), "text/html": still}, *more


def guess(text: str, options: Sequence[str], right: str, *shown: Any) -> Guess:
    """Return a question to guess at, and what is ``shown`` after the guess.

    ``shown`` are pictures and charts as a notebook shows them, or lines of
    text. Raises ValueError if ``right`` is none of the ``options``, and
    TypeError for something a page cannot show.
    """
    return Guess(text, options, right, shown)


def _html(shown: Any) -> str:
    """Return a picture, a chart or text as a page shows it."""
    if isinstance(shown, str):
        return f"<pre>{escape(shown)}</pre>"
    if html := getattr(shown, "_repr_html_", None):
        return html()
    if bundle := getattr(shown, "_repr_mimebundle_", None):
        return bundle()["text/html"]
    raise TypeError(f"{type(shown).__name__} is neither text nor a picture that a page shows")
