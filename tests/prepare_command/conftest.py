"""A plain site that is prepared in a moment, and a sample site prepared once."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from plane_site import SAMPLES, make_site, run


@pytest.fixture
def plane(tmp_path: Path) -> Path:
    return make_site(tmp_path / "plane")


@pytest.fixture(scope="session")
def sand(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that ``prepare`` makes of the sample site with every table."""
    out = tmp_path_factory.mktemp("sand") / "ready"
    result = run("prepare", SAMPLES / "sand_bed", "--out", out)
    assert result.exit_code == 0, result.output
    return out
