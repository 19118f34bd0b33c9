"""The project's own files, as the checks of this folder read them."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder that holds README.md."""
    return ROOT


@pytest.fixture(scope="session")
def modules() -> dict[str, ast.Module]:
    """Every module of the package by its dotted name, parsed."""
    found = {}
    for path in sorted((ROOT / "dripfield").rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found
