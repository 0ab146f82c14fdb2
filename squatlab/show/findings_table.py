"""The findings of a review as a table of a page, which no width breaks."""

from __future__ import annotations

from html import escape

from squatlab.review import Findings


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
