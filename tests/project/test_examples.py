"""Examples in docstrings give what they say."""

from __future__ import annotations

import ast
import doctest
import importlib

import pytest


def test_examples_in_docstrings(modules: dict[str, ast.Module]) -> None:
    tried = 0
    for name, tree in modules.items():
        if ">>> " in ast.unparse(tree):
            result = doctest.testmod(importlib.import_module(name))
            assert result.failed == 0, name
            tried += result.attempted
    assert tried > 0


@pytest.mark.parametrize("name", ["read_site", "build_ground", "lay_out", "write"])
def test_every_public_function_has_an_example(name: str) -> None:
    import dripfield

    assert ">>> " in (getattr(dripfield, name).__doc__ or "")
