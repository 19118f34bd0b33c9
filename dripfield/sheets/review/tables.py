"""Comparison and record as the tables of their files."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dripfield.core.table import Figure, Table, figures, flag, text
from dripfield.core.units import Unit
from dripfield.core.words import COORDINATE_PLACES
from dripfield.review.laid.record_result import Record
from dripfield.review.model.result import Comparison, SetbackLine


def comparison_file(comparison: Comparison, unit: Unit) -> Table:
    """``comparison.csv``: a row for every run and every lateral, in the plan's order."""
    places = unit.places + 1
    lengths = ("length_plan", "length_layout", "elevation_plan", "elevation_layout", "offset_max")
    on_ground = ("level_off_ground", "spacing_min_plan", "spacing_max_plan", "setback_least_plan")
    columns = (
        *(text("run"), text("lateral"), text("verdict")),
        *(figures(key, places) for key in lengths),
        text("unit"),
        *(figures(key, places) for key in ("offset_mean", "spacing_plan", "spacing_layout")),
        text("change"),
        *(figures(key, places) for key in on_ground),
        *(text("ground"), text("reasons")),
    )
    rows = [
        (
            None if one.run is None else one.run.name,
            None if one.lateral is None else one.lateral.name,
            *(one.verdict.value, one.length_plan, one.length_layout),
            None if one.run is None else one.run.elevation,
            None if one.lateral is None else one.lateral.elevation,
            *(one.offset_max, unit.value, one.offset_mean, one.spacing_plan, one.spacing_layout),
            *(one.change, one.ground.level_off, one.ground.spacing_min, one.ground.spacing_max),
            *(one.ground.setback_least, None if one.run is None else one.ground.word),
            "; ".join(one.reasons),
        )
        for one in comparison.lines
    ]
    return Table(columns, rows, "Comparison")


def totals_file(comparison: Comparison) -> Table:
    """``totals.csv``: what the plan and the layout add up to, each row to its own decimals."""
    columns = (
        text("item"),
        *(figures(key) for key in ("plan", "layout", "difference", "allowed")),
        *(text("verdict"), text("unit")),
    )
    rows = [
        (
            one.item,
            *(Figure(value, one.places) for value in (one.plan, one.layout)),
            *(Figure(value, one.places) for value in (one.difference, one.allowed)),
            None if one.verdict is None else one.verdict.value,
            one.unit,
        )
        for one in comparison.totals
    ]
    return Table(columns, rows, "Totals")


def setbacks_file(setbacks: Sequence[SetbackLine], unit: Unit) -> Table:
    """``setbacks.csv``: every distance that is required, and how it is kept."""
    places = unit.places
    columns = (
        *(text("feature"), text("kind"), figures("required", places)),
        *(figures("distance", places), figures("distance_plan", places)),
        *(text("run"), text("verdict"), text("source"), text("unit")),
    )
    rows = [
        (
            *(one.feature, one.kind, one.required, one.distance, one.plan_distance, one.nearest),
            *(one.verdict.value, one.source, unit.value),
        )
        for one in setbacks
    ]
    return Table(columns, rows, "Setbacks")


def record_file(record: Record, unit: Unit) -> Table:
    """``record.csv``: one row a lateral."""
    places = unit.places + 1
    measured = (
        *("length_design", "length_laid", "elevation_design", "elevation_min", "elevation_max"),
        *("offset_mean", "offset_max", "end_offset"),
        *("spacing_design", "spacing_min", "spacing_max"),
    )
    columns = (
        *(text("lateral"), text("verdict"), figures("shots")),
        *(figures(key, places) for key in measured),
        *(text("unit"), text("reasons")),
        *(figures("spacing_mean", places), figures("gap_max", places)),
    )
    rows = [
        (
            *(line.name, line.verdict.value, len(line.xyz), line.length_design, line.length_laid),
            None if line.lateral is None else line.lateral.elevation,
            *(line.level_min, line.level_max, line.offset_mean, line.offset_max, line.end_offset),
            *(line.spacing_design, line.spacing_min, line.spacing_max),
            *(unit.value, "; ".join(line.reasons), line.spacing_mean, line.gap_max),
        )
        for line in record.lines
    ]
    return Table(columns, rows, "Record")


def record_points_file(record: Record, unit: Unit) -> Table:
    """``record_points.csv``: every shot, how far off its lateral and its level it is."""
    places = unit.places + 1
    columns = (
        *(text("point"), figures("northing", COORDINATE_PLACES)),
        *(figures("easting", COORDINATE_PLACES), figures("elevation", places)),
        *(text("description"), text("lateral"), text("matched"), figures("offset", places)),
        *(figures("difference", places), flag("ok"), text("unit")),
        *(figures("toward"), figures("design", places), text("why")),
    )
    rows = [
        (
            check.shot.point,
            *(float(check.shot.xyz[k]) for k in (1, 0, 2)),
            *(check.shot.description, check.shot.lateral, check.shot.how),
            *(check.offset, check.difference),
            None if math.isnan(check.offset) else bool(check.ok),
            *(unit.value, check.toward, check.design, check.shot.why),
        )
        for check in record.shots
    ]
    return Table(columns, rows, "Shots")


def ties_file(record: Record, unit: Unit) -> Table:
    """``ties.csv``: every tied point with its two distances and how well they fix it."""
    places = unit.places
    columns = (
        *(figures("number"), text("lateral"), text("mark")),
        *(figures("northing", COORDINATE_PLACES), figures("easting", COORDINATE_PLACES)),
        *(figures("elevation", places), text("reference_1"), figures("tie_1", places)),
        *(text("reference_2"), figures("tie_2", places), text("side"), figures("angle")),
        *(figures("found_within", places), text("fix"), text("unit")),
    )
    rows = [
        (
            *(i, tie.lateral, tie.mark, float(tie.xy[1]), float(tie.xy[0]), tie.elevation),
            *(tie.references[0], tie.distances[0], tie.references[1], tie.distances[1]),
            *(tie.side, tie.angle, tie.error, "weak" if tie.weak else "good", unit.value),
        )
        for i, tie in enumerate(record.ties, 1)
    ]
    return Table(columns, rows, "Ties")
