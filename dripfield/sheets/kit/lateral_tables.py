"""Laterals as tables: that of the file, and the short one beside a plan."""

from __future__ import annotations

from dripfield.core.table import Table, figures, flag, text
from dripfield.core.units import Unit
from dripfield.core.words import number_range
from dripfield.measures.field import Measured
from dripfield.measures.laterals import LateralMeasure
from dripfield.sheets.kit.marks import mark


def laterals_file(measured: Measured, unit: Unit) -> Table:
    """``laterals.csv``: one row a lateral, in the layout's order (highest first in a panel).

    A lateral without a neighbour has no spacing; one whose ground is not known has no elevation
    limits. ``length_level`` is the length within the level tolerance.
    """
    places = unit.places + 1
    columns = (
        *(text("lateral"), text("panel")),
        *(
            figures(key, places)
            for key in ("length", "elevation", "elevation_min", "elevation_max")
        ),
        *(figures(key, places) for key in ("spacing_min", "spacing_max")),
        *(flag("level_ok"), flag("spacing_ok"), text("unit"), figures("length_level", places)),
    )
    rows = [
        (
            *(one.name, one.panel, one.length),
            *(one.elevation, one.elevation_min, one.elevation_max),
            *(one.spacing_min, one.spacing_max, one.level_ok, one.spacing_ok),
            *(unit.value, one.length_level),
        )
        for one in measured.laterals
    ]
    return Table(columns, rows, "Laterals", totals=frozenset({"length", "length_level"}))


def lateral_table(measured: Measured, unit: Unit) -> Table:
    """The table beside a plan and in the staking drawing: what to set, and what misses."""
    places, short = unit.places, unit.short
    columns = (
        text("lateral", bold=True, most=19),
        figures("length", places, unit=short),
        figures("elevation", places, "set to", f"el, {short}"),
        text("spacing", unit=short, align="right"),
        text("mark"),
    )
    rows = [
        (
            one.name,
            one.length,
            one.elevation,
            number_range(one.spacing_min, one.spacing_max, places),
            mark(one),
        )
        for one in measured.laterals
    ]
    return Table(columns, rows, "Laterals", groups=[one.panel for one in measured.laterals])


def panel_table(measured: Measured, unit: Unit) -> Table:
    """Totals by panel: laterals, tubing, shortest and longest, elevations, what misses."""
    places, short = unit.places, unit.short
    columns = (
        text("panel", bold=True, most=19),
        figures("laterals"),
        figures("tubing", places, unit=short),
        figures("shortest", places, unit=short),
        figures("longest", places, unit=short),
        figures("elevation_min", places, "lowest\nset to", f"el, {short}"),
        figures("elevation_max", places, "highest\nset to", f"el, {short}"),
        figures("out_of_level", head="out of\nlevel"),
        figures("out_of_spacing", head="out of\nspacing"),
    )
    by_panel: dict[str, list[LateralMeasure]] = {}
    for one in measured.laterals:
        by_panel.setdefault(one.panel, []).append(one)
    rows = [
        (
            name,
            len(own),
            sum(one.length for one in own),
            min(one.length for one in own),
            max(one.length for one in own),
            min(one.elevation for one in own),
            max(one.elevation for one in own),
            sum(not one.level_ok for one in own),
            sum(not one.spacing_ok for one in own),
        )
        for name, own in by_panel.items()
    ]
    return Table(columns, rows, "Panels", totals=frozenset({"laterals", "tubing"}))
