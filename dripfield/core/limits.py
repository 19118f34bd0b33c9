"""How much of anything is read, drawn or planned: the one table of ceilings, and their reasons.

A file beyond a ceiling is a mistake or an attack; it is refused in one line before time or memory
goes into it. Every reader takes its ceilings from here, so that they can be looked up in one place.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import InputError, input_error


@dataclass(frozen=True)
class Limit:
    """The most of something, what it is called in a message, and why no more is needed."""

    most: int
    what: str
    why: str


LIMITS = {
    "settings bytes": Limit(1_000_000, "bytes", "a full site.toml has some 20,000"),
    "text bytes": Limit(200_000_000, "bytes", "5 million shots; more is a point cloud"),
    "json bytes": Limit(150_000_000, "bytes", "a million points; objects take ten times as much"),
    "drawing bytes": Limit(200_000_000, "bytes", "a million entities take some 120 MB"),
    "vector bytes": Limit(1_000_000_000, "bytes", "GDAL holds what it reads in memory"),
    "cloud bytes": Limit(20_000_000_000, "bytes", "read in pieces; a county's tile is smaller"),
    "table bytes": Limit(20_000_000, "bytes", "a table that a person typed has some 10,000"),
    "ring bytes": Limit(20_000_000, "bytes", "700,000 corners"),
    "unzipped bytes": Limit(200_000_000, "bytes unzipped", "as a text file of its own"),
    "points": Limit(5_000_000, "points", "the surface of a million takes a gigabyte"),
    "corners": Limit(5_000, "corners", "after those within a hair of the ring are left out"),
    "entities": Limit(1_500_000, "entities", "each takes some 2 kB in memory"),
    "expanded entities": Limit(
        1_500_000, "entities once its blocks are taken apart", "as if drawn without blocks"
    ),
    "vertices": Limit(5_000_000, "vertices", "as many as points"),
    "nesting": Limit(16, "blocks or collections inside each other", "drawings have two or three"),
    "key nesting": Limit(12, "keys inside each other", "site.toml has four"),
    "keys": Limit(20_000, "keys and values", "a full site.toml has some 300"),
    "characters": Limit(10_000, "characters in one text", "a page of notes"),
    "name characters": Limit(200, "characters in a name", "names stand in tables and drawings"),
    "digits": Limit(40, "digits in one number", "17 tell any two doubles apart"),
    "rows": Limit(20_000, "rows", "a table that a person typed"),
    "columns": Limit(1_000, "columns", "a table that a person typed has some ten"),
    "cells": Limit(1_000_000, "cells", "rows by columns of a table that a person typed"),
    "runs": Limit(2_000, "runs", "every run is compared with every lateral"),
    "writings": Limit(100_000, "lines of writing", "each is looked for beside a run"),
    "labels": Limit(6_000, "lines of writing beside its runs", "three for each of as many runs"),
    "picture bytes": Limit(200_000_000, "bytes", "a sheet scanned at 300 to the inch, unpacked"),
    "pixels": Limit(200_000_000, "pixels", "a sheet of 3 ft by 4 ft scanned at 300 to the inch"),
    "page bytes": Limit(100_000_000, "bytes", "a set of sheets with pictures has some 20 million"),
    "page objects": Limit(400_000, "objects on the page", "a sheet with hatching has some 50,000"),
    "page vertices": Limit(2_000_000, "vertices on the page", "a plan's lines have some 100,000"),
    "set-ups": Limit(20, "set-ups of the laser", "20 rods of height are a hillside, not a bed"),
    "stakes": Limit(100_000, "stakes", "each has a row, a mark and a page's share"),
    "records": Limit(10_000, "header records", "a cloud has a handful"),
}
"""Ceilings by name."""

FARTHEST = 1e9
"""No coordinate on the earth is greater, in feet or in metres."""


def most(name: str) -> int:
    """The ceiling of that name."""
    return LIMITS[name].most


def check_count(
    name: str,
    count: float,
    file: str | Path | None = None,
    remedy: str = "check that it is the right file, or thin it",
    *,
    row: int | None = None,
    field: str | None = None,
    subject: str = "it",
) -> None:
    """Refuse more of something than its ceiling.

    Parameters
    ----------
    name : str
        A key of :data:`LIMITS`.
    count : float
        How many there are.
    file : str or Path, optional
        For the message, as ``row`` and ``field`` are.
    remedy : str
        How to mend it.
    row : int, optional
    field : str, optional
    subject : str
        What holds them, as the message begins.

    Raises
    ------
    InputError
        There are more.
    """
    limit = LIMITS[name]
    if count <= limit.most:
        return
    held = f"{count:,.0f}" if count < 1e15 else f"more than {limit.most:,}"
    raise input_error(
        f"{subject} has {held} {limit.what} and at most {limit.most:,} are taken",
        remedy,
        file=file,
        row=row,
        field=field,
    )


def check_places(
    xyz: Floats, file: str | Path, what: str = "point", rows: Ints | None = None
) -> None:
    """Refuse places that are no place on earth: not a number, or beyond a thousand million.

    Parameters
    ----------
    xyz : (n, k) float array
        Coordinates [any unit].
    file : str or Path
        For the message.
    what : str
        What each row is.
    rows : (n,) int array, optional
        Rows of the file that they stand in; numbered from 1 where left out.

    Raises
    ------
    InputError
        Naming the first that is none.
    """
    good = (np.abs(xyz) <= FARTHEST).all(axis=-1)  # False for NaN too
    if good.all():
        return
    raise _no_place(xyz, int(np.argmin(good)), file, what, rows)


def _no_place(xyz: Floats, at: int, file: str | Path, what: str, rows: Ints | None) -> InputError:
    value = next(v for v in np.ravel(xyz[at]).tolist() if not abs(v) <= FARTHEST)
    where = f"{what} {at + 1} has" if rows is None else "it has"
    return input_error(
        f"{where} the coordinate {value:g}, which is no place on earth",
        "correct it or delete it",
        file=file,
        row=None if rows is None else int(rows[at]),
    )
