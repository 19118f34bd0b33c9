"""Common points of a plan and the site, as a person reads them off the two."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.words import counted
from dripfield.review.read.records import read_figure, read_records

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
    header = f"write {','.join(COLUMNS)} as the first line"
    points: dict[str, tuple[Floats, Floats]] = {}
    for row, record in read_records(path, COLUMNS, header):
        name = record["name"].strip()
        if name in points:
            raise input_error(
                f"the point {name!r} stands twice", "name each point once", file=path, row=row
            )
        x, y, north, east = (
            read_figure(record, key, path, row, "give a coordinate") for key in COLUMNS[1:]
        )
        points[name] = (np.array((x, y)), np.array((east, north)))
    if len(points) < 2:
        raise input_error(
            counted(len(points), "common point"),
            "give two or more, far apart",
            file=path,
        )
    return points
