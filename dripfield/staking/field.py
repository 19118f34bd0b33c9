"""Rows of ``field.csv``, ``points.csv`` and ``stakes.csv``."""

from __future__ import annotations

import math
from collections.abc import Iterator

from dripfield.core.units import Unit
from dripfield.staking.model import FieldPlan

FIELD_COLUMNS = (
    "order",
    "mark",
    "lateral",
    "method",
    "above",
    "above_station",
    "gap",
    "point_1",
    "distance_1",
    "point_2",
    "distance_2",
    "rod",
    "elevation",
    "northing",
    "easting",
    "unit",
    "side",
    "setup",
)
POINT_COLUMNS = ("point", "northing", "easting", "elevation", "description")
_COORDINATES = 4


def field_rows(plan: FieldPlan, unit: Unit) -> Iterator[tuple[str, ...]]:
    """Cells of ``field.csv`` in the order of :data:`FIELD_COLUMNS`; what is not used is empty."""
    places = unit.places
    for row in plan.rows:
        yield (
            str(row.order),
            str(row.mark),
            row.lateral,
            row.method,
            row.above,
            _figure(row.above_station, places),
            _figure(row.gap, places),
            row.point_1,
            _figure(row.distance_1, places),
            row.point_2,
            _figure(row.distance_2, places),
            _figure(row.rod, places),
            _figure(row.elevation, places + 1),
            _figure(row.northing, _COORDINATES),
            _figure(row.easting, _COORDINATES),
            unit.value,
            row.side,
            str(row.setup) if row.setup else "",
        )


def point_rows(plan: FieldPlan, unit: Unit) -> Iterator[tuple[str, ...]]:
    """Cells of ``points.csv`` in the order of :data:`POINT_COLUMNS`."""
    for point in plan.points:
        yield (
            point.name,
            _figure(point.northing, _COORDINATES),
            _figure(point.easting, _COORDINATES),
            _figure(point.elevation, unit.places + 1),
            point.description,
        )


def stake_rows(plan: FieldPlan, unit: Unit) -> Iterator[tuple[str, ...]]:
    """Cells of ``stakes.csv`` in the order of :data:`POINT_COLUMNS`, by number.

    The elevation is what the lateral is set to; the description is the lateral's name, a space, and
    how the mark is set.
    """
    for row in sorted(plan.rows, key=lambda row: row.mark):
        yield (
            str(row.mark),
            _figure(row.northing, _COORDINATES),
            _figure(row.easting, _COORDINATES),
            _figure(row.set_elevation, unit.places + 1),
            f"{row.lateral} {row.method}",
        )


def _figure(value: float, places: int) -> str:
    return f"{value:.{places}f}" if math.isfinite(value) else ""
