"""A review on one page: what was seen, how large it was, what to fix first.

Drawn on a matplotlib figure, because it is printed; `squatlab review` and I4
make one. In a notebook the findings alone are a table.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from html import escape
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from squatlab import faults, storage
from squatlab.norms import norm_in_words, norms_of
from squatlab.review.findings import Findings
from squatlab.review.priority import Ranking
from squatlab.review.wording import CAUTION, how_sure
from squatlab.show import palette, paper
from squatlab.show.axes_painter import draw
from squatlab.show.film import Panel, film, outline
from squatlab.show.footage import Footage, FootageView, footage
from squatlab.show.moving import taken
from squatlab.show.picture import Scene, img
from squatlab.show.primitives import Line, Primitive, Text
from squatlab.show.views import HEIGHT
from squatlab.signals import Repetition
from squatlab.tracks import Tracks

SIZE_PX = (1480, 1046)
"""An A4 page across; so many for its width make the screen's picture."""

DPI = SIZE_PX[0] * 25.4 / max(paper.PAPERS["A4"])
TEXT = 9.9
"""Size of the text on paper, points."""

MARKS = {"": "o", "slight": "^", "clear": "D", "gross": "s"}
"""A shape for each size; beside it the size stands in words."""

WORDS_LARGER = 1.6
"""Words of a clip's view are so much larger here, where it is small."""

NORM_LEAST = 0.06
"""The shortest line that shows how real lifters read."""

MOST = 3.9
"""The severity at which the scale ends; what is larger stands at its end."""

KEY = "Dashed outline: standing."
BAR = "Curve: bar on its way down, dotted: up."
AS_FILMED = "Drawn as filmed."
NORM_KEY = "Grey: the middle half of real lifters, where that is known."


class FindingsTable:
    """Show ``findings`` as a table in a notebook; printed, they are their own text."""

    def __init__(self, findings: Findings) -> None:
        self.findings = findings

    def __repr__(self) -> str:
        return repr(self.findings)

    def _repr_html_(self) -> str:
        head, *rows = self.findings.rows()
        names = "".join(f'<th scope="col">{escape(name)}</th>' for name in head)
        body = "".join(
            "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows
        )
        notes = "".join(f"<p>{escape(note)}</p>" for note in self.findings.notes)
        return (
            f"<p>{escape(self.findings.heading())}</p>"
            f'<table class="squatlab-rows squatlab-ruled"><thead><tr>{names}</tr></thead>'
            f"<tbody>{body}</tbody></table>{notes}"
        )


class ReviewSheet:
    """Draw a review: the moment to look at, all findings, the one to fix.

    ``tracks`` are those that were measured; pictures show the worst frame
    of the first fault, or the lowest point. ``alt`` says the same in words.
    """

    def __init__(self, tracks: Sequence[Tracks], findings: Findings, ranking: Ranking) -> None:
        inches = [pixels / DPI for pixels in SIZE_PX]
        self.figure = Figure(figsize=inches, dpi=DPI, facecolor=palette.PAPER)
        self.alt = f"{findings!r}\n\n{ranking!r}"
        self._say(ranking)
        self._draw(_shown(tracks), tracks, ranking)
        self._words(0.525, 0.722, f"How large, in which order ({ranking.policy})", weight="bold")
        _sizes(self.figure.add_axes((0.725, 0.085, 0.115, 0.59)), findings, ranking)
        others = NORM_KEY
        if ranking.first:
            first = ranking.first.finding
            others += f" {first.name.capitalize()}: {norm_in_words(first.fault)}."
        look = {"va": "top", "size": 0.85 * TEXT, "color": palette.SOFT}
        self._words(0.525, 0.077, textwrap.fill(others, 88), **look)
        self._words(0.025, 0.02, CAUTION, color=palette.SOFT)

    def save(self, path: str | Path) -> None:
        """Write the sheet as a PDF, or as a PNG that has its words as well."""
        if str(path).lower().endswith(".pdf"):
            paper.save([self], path, "Review of a squat")
        else:
            picture = BytesIO()
            self.figure.savefig(picture, format="png", metadata={"Description": self.alt})
            storage.write(path, picture.getvalue())

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        buffer = BytesIO()
        self.figure.savefig(buffer, format="png")
        shown = img(buffer.getvalue(), self.alt, SIZE_PX[0], least=0.0)  # whole, as a sheet is
        return {"text/html": shown, "text/plain": self.alt}

    def _words(self, x: float, y: float, words: str, size: float = TEXT, **more: Any) -> None:
        """Write words; x and y are parts of the page from its lower left corner."""
        look = {"color": palette.INK, "va": "bottom", "size": size} | more
        self.figure.text(x, y, words, **look)

    def _say(self, ranking: Ranking) -> None:
        """Write the head: the one to fix first, what to do about it, what is open."""
        if ranking.contenders:
            names = ", ".join(faults.fault(name).name for name in ranking.contenders)
            open_ones = f"Cannot be told here, but would come first if large: {names}."
            look = {"va": "top", "size": 0.85 * TEXT, "color": palette.SOFT}
            height = 0.787 if ranking.first else 0.9
            self._words(0.025, height, textwrap.fill(open_ones, 170), **look)
        if ranking.first is None:
            if len(ranking.findings) == len(ranking.untold):
                words = "Nothing could be told"
            elif ranking.enough_seen:
                words = "Nothing to fix in what could be told"
            else:
                words = "Not enough seen"
            self._words(0.025, 0.93, words, 17.4, weight="bold")
            return
        place, advice = ranking.first, ranking.advice
        finding = place.finding
        value = f"{finding.amount} {finding.interval}".rstrip()
        what = f"{finding.name} ({finding.size}, {value})"
        head = "Stop the set and unload" if ranking.stop else "Fix first"
        self._words(0.025, 0.935, f"{head}: {what}", 17.4, weight="bold")
        sentence = f"Why: {place.reason}."
        if ranking.sureness < 1:
            sentence += f" Sure: {how_sure(ranking.named, ranking.sureness)}."
        self._words(0.025, 0.902, sentence, color=palette.SOFT)
        columns = {
            "Say": f"“{advice.cue}”",
            "Easier version": advice.regression,
            "Check": advice.check,
        }
        for column, (title, words) in enumerate(columns.items()):
            x = 0.025 + 0.325 * column
            self._words(x, 0.862, title, weight="bold")
            self._words(x, 0.856, textwrap.fill(words, 48), va="top", linespacing=1.3)

    def _draw(self, shown: Footage, tracks: Sequence[Tracks], ranking: Ranking) -> None:
        """Draw every view at the moment to look at."""
        # Each film's own times; of two of one view those of the first.
        times = {recording.view: recording.evenly_timed().times for recording in reversed(tracks)}
        if ranking.first and ranking.first.finding.worst is not None:
            finding = ranking.first.finding
            moment = shown.frame_of(finding.view, finding.worst)
            what, view = f"where it shows most: {finding.name}", finding.view
            second = times[view][finding.worst]
        else:
            moment, what, view = shown.bottoms[0], "at the lowest point", shown.views[0].name
            # A view of tracks in space has no film of its own name.
            begins = times.get(view, times[tracks[0].view])[0]
            second = begins + shown.time[moment] - shown.time[0]
        where = f"the {view} film" if len(times) > 1 else "the film"
        self._words(0.025, 0.722, f"{second:.2f} s of {where}, {what}", weight="bold")
        panels = film(shown).panels
        room = 0.47 / sum(panel.width for panel in panels)
        for panel, view in zip(panels, shown.views, strict=True):
            x = 0.025 + room * panel.left
            axes = self.figure.add_axes((x, 0.105, room * panel.width, 0.6))
            draw(_figure(panel, view, shown, moment), axes)
        key = [KEY]
        if any(np.isfinite(view.places["bar"]).any() for view in shown.views):
            key.append(BAR)
        if any(recording.view != "3d" for recording in tracks):
            key.append(AS_FILMED)
        self._words(0.025, 0.068, " ".join(key), size=0.85 * TEXT, color=palette.SOFT)


def _shown(tracks: Sequence[Tracks]) -> Footage:
    """Return what there is to look at: space, or at most a picture of each kind."""
    for recording in tracks:
        if recording.view == "3d":
            return footage(recording)
    # The first front view and the first of those that are none.
    pictures = {recording.view == "front": recording for recording in reversed(tracks)}
    return footage(*pictures.values())


def _figure(panel: Panel, view: FootageView, shown: Footage, moment: int) -> Scene:
    """Return one view at a moment, over how the lifter stood, with the bar's path."""
    # The repetition whose lowest point is nearest, or the whole film.
    whole = Repetition(0, moment, shown.time.size - 1)
    repetition = min(shown.repetitions, key=lambda r: abs(r.bottom - moment), default=whole)
    parts: list[Primitive] = []
    for part in panel.stage:
        if isinstance(part, Text):
            # Words with a halo would be outlines in a PDF, which cannot be searched.
            part = part._replace(halo="", size=WORDS_LARGER * part.size)
        parts.append(part)
    parts.append(outline(panel.figure, repetition.start))
    for part in panel.figure:
        now = taken(part, moment)
        if now is not None:
            parts.append(now)
    path = panel.frame.at(view.places["bar"])
    for way, dash in ((repetition.descent, ""), (repetition.ascent, "1.5 3")):
        seen = path[way][np.isfinite(path[way])]
        if seen.size > 1:
            parts.append(Line(tuple(seen.tolist()), palette.RED, 2.2, dash))
    return Scene(tuple(parts), (panel.left, 0.0, panel.left + panel.width, HEIGHT), "")


def _sizes(axes: Axes, findings: Findings, ranking: Ranking) -> None:
    """Mark how large every finding is, and say it beside."""
    ranks = {place.fault: place.rank for place in ranking}
    names = []
    for finding in findings:
        rank = ranks.get(finding.fault)
        names.append(f"{rank}  {finding.name}" if rank else finding.name)
    axes.spines[:].set_visible(False)
    axes.set(xlim=(-0.3, MOST), ylim=(len(findings) - 0.4, -0.6))
    axes.tick_params(length=0, labelsize=TEXT, labeltop=True, labelbottom=False)
    axes.set_xticks([1, 2, 3], faults.SIZES, size=0.75 * TEXT)
    axes.grid(axis="x", color=palette.RULE, lw=0.8)
    axes.set_yticks(range(len(findings)), names)
    for row, finding in enumerate(findings):
        first = ranks.get(finding.fault) == 1
        if first:
            # From the names on the left to the values on the right, in parts of the scale.
            band = {"xmin": -1.92, "xmax": 2.36, "clip_on": False, "zorder": 0}
            axes.axhspan(row - 0.48, row + 0.48, color=palette.NOTICE, **band)
            axes.get_yticklabels()[row].set_weight("bold")
        norms = [norm for norm in norms_of(finding.fault) if norm.has_spread]
        if norms:
            fault, norm = faults.fault(finding.fault), norms[0]
            ends = float(fault.severity(norm.lower)), float(fault.severity(norm.upper))
            low, high = min(ends), min(max(ends), MOST)
            # One that ends below the scale is seen as a stub at its beginning.
            span = [low, max(high, low + NORM_LEAST)]
            axes.plot(span, [row, row], color=palette.RULE, lw=6, solid_capstyle="butt", zorder=1)
        if finding.present != "cannot tell":
            axes.plot(
                min(finding.severity, MOST),
                row,
                MARKS[finding.size],
                ms=8.7,
                clip_on=False,
                mfc=palette.RED if finding.size else palette.PAPER,
                mec=palette.INK,
                mew=1,
            )
        value = f"{finding.amount} {finding.interval}".strip()
        axes.annotate(
            ", ".join(filter(None, (finding.answer, value))),
            (1.06, row),
            va="center",
            xycoords=("axes fraction", "data"),
            size=TEXT,
            weight="bold" if first else "normal",
            color=palette.INK if finding.size else palette.SOFT,
            annotation_clip=False,
        )
