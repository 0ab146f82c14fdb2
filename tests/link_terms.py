"""Link the glossary's words in the trainees' notebooks anew: python -m tests.link_terms."""

from __future__ import annotations

from pathlib import Path

import nbformat

from squatlab import tables
from squatlab.lessons.glossary import linked, unlinked


def linked_notebooks() -> list[Path]:
    """Return the notebooks whose texts have such links; 00 has the table itself."""
    folder = tables.folder("notebooks")
    return [path for path in sorted(folder.glob("[0-9]*.ipynb")) if path.name[:2] != "00"]


def main() -> None:
    for path in linked_notebooks():
        notebook = nbformat.read(path, 4)
        texts = [cell for cell in notebook.cells if cell.cell_type == "markdown"]
        before = [cell.source for cell in texts]
        after = linked(map(unlinked, before))
        for cell, text in zip(texts, after, strict=True):
            cell.source = text
        if after != before:
            nbformat.write(notebook, path)
            print(f"linked {path.name}")


if __name__ == "__main__":
    main()
