"""One run in feet and one in metres, made once; helpers can be imported by the tests beside."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from water_site import METRIC, Run, run, write_site


@pytest.fixture(scope="session")
def plane(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """The site in feet."""
    folder = tmp_path_factory.mktemp("plane")
    site = write_site(folder / "site")
    return Run(site, folder / "out", run(site, folder / "out"))


@pytest.fixture(scope="session")
def metric(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """The site in metres."""
    folder = tmp_path_factory.mktemp("metric")
    site = write_site(folder / "site", METRIC, 0.3)
    return Run(site, folder / "out", run(site, folder / "out"))
