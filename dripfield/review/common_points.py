"""Common points of a plan and the site, as a person reads them off the two."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

import numpy as np

from dripfield.arrays import Floats
from dripfield.errors import input_error
from dripfield.textfile import read_text

COLUMNS = ("name", "plan_x", "plan_y", "northing", "easting")


def read_common_points(path: Path) -> dict[str, tuple[Floats, Floats]]:
    """Read ``name,plan_x,plan_y,northing,easting``: where a point is on the plan and on the site.

    Parameters
    ----------
    path : Path
        CSV with a header; columns in any order.

    Returns
    -------
    dict of name to (place on the plan, place on the site)
        (x, y) in the plan's unit and (easting, northing) in the site's.

    Raises
    ------
    InputError
        A column is missing, a value is no number, a name stands twice, fewer than two points.
    """
    reader = csv.DictReader(io.StringIO(read_text(path)), restval="", skipinitialspace=True)
    header = [name.strip().lower() for name in reader.fieldnames or ()]
    reader.fieldnames = header
    missing = [name for name in COLUMNS if name not in header]
    if missing:
        raise input_error(
            f"the header has no column {missing[0]!r}",
            f"write {','.join(COLUMNS)} as the first line",
            file=path,
            row=1,
        )
    points: dict[str, tuple[Floats, Floats]] = {}
    for record in reader:
        row = reader.line_num
        name = record["name"].strip()
        if name in points:
            raise input_error(
                f"the point {name!r} stands twice", "name each point once", file=path, row=row
            )
        x, y, north, east = (_number(record[key], path, row, key) for key in COLUMNS[1:])
        points[name] = (np.array((x, y)), np.array((east, north)))
    if len(points) < 2:
        raise input_error(
            f"{len(points)} common point" + ("" if len(points) == 1 else "s"),
            "give two or more, far apart",
            file=path,
        )
    return points


def _number(text: str, path: Path, row: int, column: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise input_error(
            f"{text.strip()!r} is not a number",
            "give a coordinate",
            file=path,
            row=row,
            field=column,
        )
    return value
