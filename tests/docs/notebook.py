"""The example notebook: run from top to bottom, and written anew by `python -m tests.docs.notebook`."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient
from tests.docs.papers import ROOT

NOTEBOOK = ROOT / "examples" / "geranium" / "notebook.ipynb"
GENEROUS = 120


def stored() -> Any:
    """Return the notebook as it is in the repository, with what it printed."""
    return nbformat.read(NOTEBOOK, as_version=4)


def run(folder: Path) -> Any:
    """Return the notebook as it comes out of a fresh kernel, in a folder that holds the example."""
    book = stored()
    NotebookClient(book, timeout=GENEROUS, resources={"metadata": {"path": str(folder)}}).execute()
    return book


def plain(book: Any) -> list[list[str]]:
    """Return what each cell of code printed as text, digits that differ between processors cut off."""
    return [
        [re.sub(r"(\.\d)\d+", r"\1", text) for output in cell.outputs for text in _texts(output)]
        for cell in book.cells
        if cell.cell_type == "code"
    ]


def shown(book: Any) -> list[str]:
    """Return what cells show as HTML."""
    outputs = [output for cell in book.cells if cell.cell_type == "code" for output in cell.outputs]
    return [output["data"]["text/html"] for output in outputs if "text/html" in output.get("data", {})]


def _texts(output: Any) -> list[str]:
    return [output["text"]] if "text" in output else [output["data"]["text/plain"]] if "data" in output else []


if __name__ == "__main__":
    made = run(NOTEBOOK.parent)
    for number, cell in enumerate(made.cells):
        cell.id = f"cell-{number}"
        cell.metadata.pop("execution", None)  # the times of this run
    made.metadata = {"kernelspec": made.metadata["kernelspec"]}
    nbformat.write(made, NOTEBOOK)
