"""Comparison and record as CSV."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from dripfield.core.units import Unit
from dripfield.files.csv import COORDINATE_PLACES, number, write_csv
from dripfield.review.laid.record_result import Record
from dripfield.review.model.result import Comparison, Line, SetbackLine

COMPARISON_COLUMNS = (
    "run",
    "lateral",
    "verdict",
    "length_plan",
    "length_layout",
    "elevation_plan",
    "elevation_layout",
    "offset_max",
    "unit",
    "offset_mean",
    "spacing_plan",
    "spacing_layout",
    "change",
    "level_off_ground",
    "spacing_min_plan",
    "spacing_max_plan",
    "setback_least_plan",
    "ground",
    "reasons",
)
RECORD_COLUMNS = (
    "lateral",
    "verdict",
    "shots",
    "length_design",
    "length_laid",
    "elevation_design",
    "elevation_min",
    "elevation_max",
    "offset_mean",
    "offset_max",
    "end_offset",
    "spacing_design",
    "spacing_min",
    "spacing_max",
    "unit",
    "reasons",
    "spacing_mean",
    "gap_max",
)


def figure(value: float | None, places: int) -> str:
    """A number with so many decimals, empty for None and NaN."""
    return "" if value is None else number(value, places)


def signed(value: float, places: int) -> str:
    """A number with its sign and so many decimals, none on what rounds to zero."""
    text = number(value, places)
    return f"+{text}" if value > 0.0 and float(text) else text


def write_comparison_csv(path: Path, comparison: Comparison, unit: Unit) -> None:
    """Write ``comparison.csv``: a row for every run and every lateral, in the plan's order."""
    write_csv(path, COMPARISON_COLUMNS, (_comparison_row(one, unit) for one in comparison.lines))


def _comparison_row(line: Line, unit: Unit) -> tuple[str, ...]:
    places = unit.places + 1
    run, lateral = line.run, line.lateral
    return (
        "" if run is None else run.name,
        "" if lateral is None else lateral.name,
        line.verdict.value,
        figure(line.length_plan, places),
        figure(line.length_layout, places),
        figure(None if run is None else run.elevation, places),
        figure(None if lateral is None else lateral.elevation, places),
        figure(line.offset_max, places),
        unit.value,
        figure(line.offset_mean, places),
        figure(line.spacing_plan, places),
        figure(line.spacing_layout, places),
        line.change,
        *(
            figure(value, places)
            for value in (
                line.ground.level_off,
                line.ground.spacing_min,
                line.ground.spacing_max,
                line.ground.setback_least,
            )
        ),
        "" if run is None else line.ground.word,
        "; ".join(line.reasons),
    )


def write_totals_csv(path: Path, comparison: Comparison) -> None:
    """Write ``totals.csv``: what the plan and the layout add up to."""
    rows = (
        (
            one.item,
            figure(one.plan, one.places),
            figure(one.layout, one.places),
            figure(one.difference, one.places),
            figure(one.allowed, one.places),
            "" if one.verdict is None else one.verdict.value,
            one.unit,
        )
        for one in comparison.totals
    )
    write_csv(path, ("item", "plan", "layout", "difference", "allowed", "verdict", "unit"), rows)


def write_setbacks_csv(path: Path, setbacks: Sequence[SetbackLine], unit: Unit) -> None:
    """Write ``setbacks.csv``: every distance that is required, and how it is kept."""
    rows = (
        (
            one.feature,
            one.kind,
            figure(one.required, unit.places),
            figure(one.distance, unit.places),
            figure(one.plan_distance, unit.places),
            one.nearest,
            one.verdict.value,
            one.source or "",
            unit.value,
        )
        for one in setbacks
    )
    heads = ("feature", "kind", "required", "distance", "distance_plan", "run", "verdict")
    write_csv(path, (*heads, "source", "unit"), rows)


def write_record_csv(path: Path, record: Record, unit: Unit) -> None:
    """Write ``record.csv``: one row a lateral."""
    places = unit.places + 1
    rows = (
        (
            line.name,
            line.verdict.value,
            str(len(line.xyz)),
            figure(line.length_design, places),
            figure(line.length_laid, places),
            figure(None if line.lateral is None else line.lateral.elevation, places),
            *(
                figure(value, places)
                for value in (
                    line.level_min,
                    line.level_max,
                    line.offset_mean,
                    line.offset_max,
                    line.end_offset,
                    line.spacing_design,
                    line.spacing_min,
                    line.spacing_max,
                )
            ),
            unit.value,
            "; ".join(line.reasons),
            figure(line.spacing_mean, places),
            figure(line.gap_max if math.isfinite(line.gap_max) else None, places),
        )
        for line in record.lines
    )
    write_csv(path, RECORD_COLUMNS, rows)


def write_record_points_csv(path: Path, record: Record, unit: Unit) -> None:
    """Write ``record_points.csv``: every shot, how far off its lateral and its level it is."""
    places = unit.places + 1
    rows = (
        (
            check.shot.point,
            figure(float(check.shot.xyz[1]), COORDINATE_PLACES),
            figure(float(check.shot.xyz[0]), COORDINATE_PLACES),
            figure(float(check.shot.xyz[2]), places),
            check.shot.description,
            check.shot.lateral or "",
            check.shot.how,
            figure(check.offset, places),
            figure(check.difference, places),
            "" if math.isnan(check.offset) else ("true" if check.ok else "false"),
            unit.value,
            "" if math.isnan(check.toward) else f"{check.toward:.0f}",
            figure(check.design, places),
            check.shot.why,
        )
        for check in record.shots
    )
    heads = ("point", "northing", "easting", "elevation", "description", "lateral", "matched")
    more = ("offset", "difference", "ok", "unit", "toward", "design", "why")
    write_csv(path, (*heads, *more), rows)


def write_ties_csv(path: Path, record: Record, unit: Unit) -> None:
    """Write ``ties.csv``: every tied point with its two distances and how well they fix it."""
    places = unit.places
    rows = (
        (
            str(number_),
            tie.lateral,
            tie.mark,
            figure(float(tie.xy[1]), COORDINATE_PLACES),
            figure(float(tie.xy[0]), COORDINATE_PLACES),
            figure(tie.elevation, places),
            tie.references[0],
            figure(tie.distances[0], places),
            tie.references[1],
            figure(tie.distances[1], places),
            tie.side,
            f"{tie.angle:.0f}",
            figure(tie.error, places),
            "weak" if tie.weak else "good",
            unit.value,
        )
        for number_, tie in enumerate(record.ties, 1)
    )
    heads = ("number", "lateral", "mark", "northing", "easting", "elevation")
    ties = ("reference_1", "tie_1", "reference_2", "tie_2", "side", "angle", "found_within", "fix")
    write_csv(path, (*heads, *ties, "unit"), rows)
