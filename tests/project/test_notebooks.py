"""The notebooks run from start to end as they are stored, and show their pictures."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
PICTURES = {"first_field": 4, "how_balanced_works": 7}


def read(name: str) -> nbformat.NotebookNode:
    return nbformat.read(NOTEBOOKS / f"{name}.ipynb", as_version=4)


def test_every_notebook_is_listed_here() -> None:
    assert {path.stem for path in NOTEBOOKS.glob("*.ipynb")} == set(PICTURES)


@pytest.mark.parametrize("name", PICTURES)
def test_runs_and_shows_its_pictures(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("MPLBACKEND", raising=False)  # the commands of other tests set it
    notebook = read(name)
    place = {"metadata": {"path": str(NOTEBOOKS)}}
    NotebookClient(notebook, timeout=120, kernel_name="python3", resources=place).execute()
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    assert not [one for one in outputs if one.get("name") == "stderr"]
    pictures = [one for one in outputs if "image/png" in one.get("data", {})]
    assert len(pictures) == PICTURES[name]


@pytest.mark.parametrize("name", PICTURES)
def test_is_stored_without_outputs(name: str) -> None:
    cells = read(name).cells
    assert all(
        not cell.outputs and cell.execution_count is None for cell in cells if "outputs" in cell
    )
    assert (NOTEBOOKS / f"{name}.ipynb").stat().st_size < 40_000
