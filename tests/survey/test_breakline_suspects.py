"""A ditch taken as a breakline is no row of suspect shots."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from dripfield.core.units import Unit
from dripfield.survey.doubt.blunders import suspects
from dripfield.survey.shots import Survey


def test_shots_at_the_vertices_of_a_breakline_are_not_suspected():
    """A plane with a ditch 1.5 ft deep whose five bottom shots are a breakline."""
    x, y = (at.ravel() for at in np.meshgrid(np.arange(0, 81, 8.0), np.arange(0, 65, 8.0)))
    plane = np.column_stack((x, y, 100.0 + 0.05 * y))
    ditch = np.array([(12.0 + 14.0 * k, 29.0 + k, 100.0) for k in range(5)])
    xyz = np.vstack((plane, ditch))
    names = tuple(str(k) for k in range(len(xyz)))
    survey = Survey(xyz, names, ("",) * len(xyz), np.arange(len(xyz)) + 2, Path("survey.csv"))
    doubted = {one.shot for one in suspects(survey, Unit.FOOT)}
    assert doubted & set(range(len(plane), len(xyz)))
    with_line = replace(survey, breaklines=(ditch,))
    assert not {one.shot for one in suspects(with_line, Unit.FOOT)} & set(
        range(len(plane), len(xyz))
    )
