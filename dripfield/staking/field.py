"""``field.csv``, ``points.csv`` and ``stakes.csv`` as tables."""

from __future__ import annotations

from dripfield.core.table import Column, Table, figures, text
from dripfield.core.units import Unit
from dripfield.core.words import COORDINATE_PLACES
from dripfield.staking.model import FieldPlan


def field_file(plan: FieldPlan, unit: Unit) -> Table:
    """``field.csv``: a row a mark in the order of work; what a row does not use is empty."""
    places = unit.places
    columns = (
        *(figures("order"), figures("mark"), text("lateral"), text("method")),
        *(text("above"), figures("above_station", places), figures("gap", places)),
        *(text("point_1"), figures("distance_1", places)),
        *(text("point_2"), figures("distance_2", places)),
        *(figures("rod", places), figures("elevation", places + 1)),
        *(figures("northing", COORDINATE_PLACES), figures("easting", COORDINATE_PLACES)),
        *(text("unit"), text("side"), figures("setup")),
    )
    rows = [
        (
            *(row.order, row.mark, row.lateral, row.method),
            *(row.above, row.above_station, row.gap),
            *(row.point_1, row.distance_1, row.point_2, row.distance_2),
            *(row.rod, row.elevation, row.northing, row.easting),
            *(unit.value, row.side, row.setup or None),
        )
        for row in plan.rows
    ]
    return Table(columns, rows, "Marks in the order of work")


def points_file(plan: FieldPlan, unit: Unit) -> Table:
    """``points.csv``: everything that may be measured from."""
    rows = [(p.name, p.northing, p.easting, p.elevation, p.description) for p in plan.points]
    return Table(_point_columns(unit), rows, "Points to measure from")


def stakes_file(plan: FieldPlan, unit: Unit) -> Table:
    """``stakes.csv``: the marks by number.

    The elevation is what the lateral is set to; the description is the lateral's name, a space, and
    how the mark is set.
    """
    rows = [(s.mark, s.northing, s.easting, s.set_elevation, s.description) for s in plan.stakes]
    return Table((figures("point"), *_point_columns(unit)[1:]), rows, "Stakes")


def _point_columns(unit: Unit) -> tuple[Column, ...]:
    return (
        text("point"),
        *(figures(key, COORDINATE_PLACES) for key in ("northing", "easting")),
        figures("elevation", unit.places + 1),
        text("description"),
    )
