"""The two tables of a layout as CSV: laterals and stakes.

Comma-separated, quoted as RFC 4180 asks, UTF-8, lines ended by a line feed. Coordinates carry four
decimals and elevations one more than a crew reads, so that joining the stakes gives the drawn line
back to 0.001 ft.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from pathlib import Path

from dripfield.core.units import Unit
from dripfield.measures.field import Measured
from dripfield.staking.stakes import Stake

COORDINATE_PLACES = 4

LATERAL_COLUMNS = (
    "lateral",
    "panel",
    "length",
    "elevation",
    "elevation_min",
    "elevation_max",
    "spacing_min",
    "spacing_max",
    "level_ok",
    "spacing_ok",
    "unit",
    "length_level",
)
STAKE_COLUMNS = ("point", "northing", "easting", "elevation", "description")


def write_laterals(path: Path, measured: Measured, unit: Unit) -> None:
    """Write ``laterals.csv``: one row a lateral, in the layout's order (highest first in a panel).

    A lateral without a neighbour has empty spacing cells; one whose ground is not known has empty
    elevation limits. ``length_level`` is the length within the level tolerance.
    """
    places = unit.places + 1
    rows = (
        (
            lateral.name,
            lateral.panel,
            number(lateral.length, places),
            number(lateral.elevation, places),
            number(lateral.elevation_min, places),
            number(lateral.elevation_max, places),
            number(lateral.spacing_min, places),
            number(lateral.spacing_max, places),
            _truth(lateral.level_ok),
            _truth(lateral.spacing_ok),
            unit.value,
            number(lateral.length_level, places),
        )
        for lateral in measured.laterals
    )
    write_csv(path, LATERAL_COLUMNS, rows)


def write_stakes(path: Path, stakes: Sequence[Stake], unit: Unit) -> None:
    """Write ``stakes.csv``: point, northing, easting, elevation, description, with a header."""
    rows = (
        (
            str(stake.point),
            number(stake.northing, COORDINATE_PLACES),
            number(stake.easting, COORDINATE_PLACES),
            number(stake.elevation, unit.places + 1),
            stake.description,
        )
        for stake in stakes
    )
    write_csv(path, STAKE_COLUMNS, rows)


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write a header and rows of text as CSV (UTF-8, line feeds, quotes only where needed)."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def number(value: float, places: int) -> str:
    """A decimal with so many places; empty for NaN or infinity; never a negative zero."""
    if not math.isfinite(value):
        return ""
    return f"{round(value, places) + 0.0:.{places}f}"


def spacing_range(low: float, high: float, places: int) -> str:
    """``1.92–2.10``; one figure when both are the same; a dash where there is no neighbour."""
    least, greatest = number(low, places), number(high, places)
    if least == greatest:
        return least or "–"
    return "–".join(filter(None, (least, greatest)))


def _truth(value: bool) -> str:
    return "true" if value else "false"
