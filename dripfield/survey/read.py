"""Reading a survey file: comma-separated shots in PNEZD order."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np

from dripfield.errors import input_error
from dripfield.survey.options import SurveyTable
from dripfield.survey.shots import Survey
from dripfield.textfile import read_text
from dripfield.units import Unit


def read_survey(path: Path, options: SurveyTable, unit: Unit) -> Survey:
    """Read point, northing, easting, elevation, description; the header is optional."""
    rows, names, xyz, descriptions = [], [], [], []
    for row, cells in enumerate(csv.reader(io.StringIO(read_text(path, 200_000_000))), 1):
        try:
            north, east, up = (float(cell) for cell in cells[1:4])
        except ValueError:
            if rows or not cells:
                raise input_error("not a shot", "write PNEZD", file=path, row=row) from None
            continue
        rows.append(row)
        names.append(cells[0])
        xyz.append((east, north, up))
        descriptions.append(",".join(cells[4:]))
    return Survey(
        np.array(xyz), tuple(names), tuple(descriptions), np.array(rows, dtype=np.int64), path
    )
