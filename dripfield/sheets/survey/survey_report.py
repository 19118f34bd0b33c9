"""How far a site's survey can be trusted, in figures and in words."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.ground.build import survey_surface
from dripfield.ground.ground import Ground
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.trust import Trust, trust
from dripfield.site.model import Site
from dripfield.site.schema.survey import Exclusion
from dripfield.survey.doubt.blunders import Suspect
from dripfield.survey.doubt.exclude import without_excluded


@dataclass(frozen=True)
class SurveyReport:
    """A site's survey, checked.

    Attributes
    ----------
    ground : Ground
    trust : Trust
    without_suspects : Trust or None
        What the survey would be good for without them; None where there are none, or too few other
        shots.
    points_in_bed : int
        Shots as read, less those excluded, inside the bed or on its edge.
    median_spacing : float
        Median distance from a shot in the bed to the nearest other shot [site unit].
    low, high : float
        Elevations of the surface over the bed [site unit]; NaN where none is covered.
    slope, aspect : float
        Of the best-fit plane over the bed: a fraction, and the direction of fall in degrees
        clockwise from grid north (NaN where flat).
    """

    ground: Ground
    trust: Trust
    without_suspects: Trust | None
    points_in_bed: int
    median_spacing: float
    low: float
    high: float
    slope: float
    aspect: float

    @property
    def site(self) -> Site:
        """The site surveyed."""
        return self.ground.site


def survey_report(ground: Ground) -> SurveyReport:
    """Check the survey that a ground stands on."""
    site, survey, surface = ground.site, ground.shots, ground.surface
    bed = site.bed.boundary
    read = without_excluded(ground.read, site.file.survey.exclude).xyz[:, :2]
    inside = shapely.intersects_xy(bed, survey.xyz[:, :2])
    spacing = _median_spacing(survey.xyz[:, :2], inside)
    low, high = _range(surface, bed)
    slope, aspect = _fall(surface, bed)
    tolerance = site.settings.level_tolerance
    return SurveyReport(
        ground=ground,
        trust=trust(surface, bed, spacing, tolerance),
        without_suspects=_without(ground, tolerance),
        points_in_bed=int(shapely.intersects_xy(bed, read).sum()),
        median_spacing=spacing,
        low=low,
        high=high,
        slope=slope,
        aspect=aspect,
    )


def _without(ground: Ground, tolerance: float) -> Trust | None:
    """What the shots that are not doubted would hold."""
    survey, doubted, bed = ground.shots, ground.suspects, ground.site.bed.boundary
    if not doubted or survey.faces is not None:
        return None
    rest = without_excluded(survey, [Exclusion(point=p, reason="doubted") for p in _names(doubted)])
    try:
        surface = survey_surface(rest, ground.site.unit)
    except InputError:
        return None
    inside = shapely.intersects_xy(bed, rest.xyz[:, :2])
    return trust(surface, bed, _median_spacing(rest.xyz[:, :2], inside), tolerance)


def _names(doubted: Sequence[Suspect]) -> list[str]:
    return list(dict.fromkeys(one.point for one in doubted))


def _median_spacing(xy: Floats, inside: Bools) -> float:
    """Median distance to the nearest other shot, of the shots inside; of all where none is."""
    from scipy.spatial import cKDTree

    near = xy - xy.mean(axis=0)
    asked = near[inside] if inside.any() else near
    return float(np.median(cKDTree(near).query(asked, k=2)[0][:, 1]))


def _range(surface: Surface, bed: Polygon) -> tuple[float, float]:
    """Least and greatest elevation over the bed: at its shots and along its edge."""
    inside = shapely.intersects_xy(bed, surface.vertices[:, :2])
    edge = shapely.get_coordinates(shapely.segmentize(bed.exterior, bed.length / 500.0))
    z = np.concatenate((surface.vertices[inside, 2], surface.elevation(edge)))
    z = z[np.isfinite(z)]
    return (float(z.min()), float(z.max())) if len(z) else (math.nan, math.nan)


def _fall(surface: Surface, bed: Polygon) -> tuple[float, float]:
    """Slope and direction of fall of the plane fitted to the surface's vertices in the bed."""
    xyz = surface.vertices[shapely.intersects_xy(bed, surface.vertices[:, :2])]
    near = xyz[:, :2] - (xyz[:, :2].mean(axis=0) if len(xyz) else 0.0)
    if len(xyz) < 3 or np.linalg.matrix_rank(near) < 2:
        xyz = surface.vertices
        near = xyz[:, :2] - xyz[:, :2].mean(axis=0)
    east, north = np.linalg.lstsq(near, xyz[:, 2] - xyz[:, 2].mean(), rcond=None)[0]
    slope = float(np.hypot(east, north))
    return slope, math.degrees(math.atan2(-east, -north)) % 360.0 if slope > 1e-9 else math.nan


def verdict(report: SurveyReport) -> str:
    """Whether the survey allows the level tolerance, in one sentence or two.

    "Shots 22 ft apart hold level lines to ±0.21 ft; 0.10 ft needs shots about every 12 ft."
    """
    said = _verdict(report.trust, report.site.unit)
    if report.without_suspects is None:
        return said
    count = len(report.ground.suspects)
    shots = "the suspect shot" if count == 1 else f"the {count} suspect shots"
    rest = _verdict(report.without_suspects, report.site.unit)
    return f"{said} Without {shots}, {rest[0].lower()}{rest[1:]}"


def _verdict(found: Trust, unit: Unit) -> str:
    places, short = unit.places, unit.short
    tolerance = f"{found.tolerance:.{places}f} {short}"
    lead = (
        f"Shots {_round(found.spacing)} {short} apart hold level lines to "
        f"±{found.hold:.{places}f} {short}"
    )
    if found.needed_spacing is None:
        return (
            f"{lead}; {tolerance} is out of reach of more shots: each stands off a smooth surface "
            f"by ±{found.noise or 0.0:.{places}f} {short} (one standard deviation)."
        )
    if math.isinf(found.needed_spacing):
        return f"{lead}, within the {tolerance} asked for; the ground does not bend."
    every = f"shots about every {_round(found.needed_spacing)} {short}"
    if found.holds:
        return f"{lead}, within the {tolerance} asked for; {every} would do."
    return f"{lead}; {tolerance} needs {every}."


def figures(report: SurveyReport) -> list[tuple[str, str]]:
    """Name and value of each figure, as a person reads them."""
    found, unit = report.trust, report.site.unit
    places, short = unit.places, unit.short

    def length(value: float | None) -> str:
        if value is None or math.isnan(value):
            return "not known"
        return f"{value:.{places}f} {short}"

    aspect = "" if math.isnan(report.aspect) else f", falling toward {report.aspect:.0f}°"
    gaps = report.ground.coverage.outside_area + report.ground.coverage.sparse_area
    share = gaps / report.ground.coverage.bed_area
    return [
        ("Shots used", f"{len(report.ground.shots.xyz)}, {report.points_in_bed} in the bed"),
        ("Median spacing", length(report.median_spacing)),
        ("Elevations in the bed", f"{length(report.low)} to {length(report.high)}"),
        ("Slope", f"{report.slope:.1%}{aspect}"),
        ("Leave-one-out error, root mean square", length(found.rms)),
        ("Leave-one-out error, 9 in 10 within", length(found.p90)),
        ("A shot's own scatter", length(found.noise)),
        ("Level lines hold, at 9 places in 10", f"±{length(found.hold)}"),
        ("Level tolerance asked for", f"±{length(found.tolerance)}"),
        ("Contour interval by the half-interval rule", length(found.contour_interval)),
        ("Bed not covered", f"{gaps:.0f} sq {short} ({share:.1%})" if gaps else "none"),
    ]


def report_data(report: SurveyReport) -> dict[str, Any]:
    """Everything the report found, for ``survey.json``; lengths in the site's unit."""
    found, unit = report.trust, report.site.unit
    places = unit.places + 2

    def tidy(value: float | None) -> float | None:
        return None if value is None or not math.isfinite(value) else round(float(value), places)

    def position(x: float, y: float) -> dict[str, float | None]:
        return {"northing": tidy(y), "easting": tidy(x)}

    gaps = [("outside", gap) for gap in report.ground.coverage.outside]
    gaps += [("sparse", gap) for gap in report.ground.coverage.sparse]
    return {
        "site": report.site.name,
        "unit": unit.value,
        "points": len(report.ground.shots.xyz),
        "points_in_bed": report.points_in_bed,
        "median_spacing": tidy(report.median_spacing),
        "elevation_min": tidy(report.low),
        "elevation_max": tidy(report.high),
        "slope": round(report.slope, 5),
        "aspect": tidy(report.aspect),
        "leave_one_out_count": int(np.isfinite(found.residuals).sum()),
        "leave_one_out_rms": tidy(found.rms),
        "leave_one_out_p90": tidy(found.p90),
        "shot_scatter": tidy(found.noise),
        "level_lines_hold": tidy(found.hold),
        "level_tolerance": tidy(found.tolerance),
        "holds_tolerance": found.holds,
        "needed_spacing": tidy(found.needed_spacing),
        "half_interval_rule_contour_interval": tidy(found.contour_interval),
        "level_lines_hold_without_suspects": tidy(
            None if report.without_suspects is None else report.without_suspects.hold
        ),
        "verdict": verdict(report),
        "suspect_points": [one.point for one in report.ground.suspects],
        "suspects": [
            {
                "point": one.point,
                "row": one.row,
                "residual": tidy(one.residual),
                "reason": one.reason,
            }
            for one in report.ground.suspects
        ],
        "coverage_gaps": [
            {
                "kind": kind,
                "area": tidy(gap.area),
                **position(*gap.representative_point().coords[0]),
            }
            for kind, gap in gaps
        ],
        "coverage_reach": tidy(report.ground.coverage.reach),
        "more_shots": [position(x, y) for x, y in more_shots(report)],
        "notes": list(report.ground.shots.notes),
    }


def more_shots(report: SurveyReport) -> Floats:
    """Where to take more shots (k, 2): the middle of each gap, then where the error is worst."""
    gaps = sorted(
        (*report.ground.coverage.outside, *report.ground.coverage.sparse),
        key=lambda gap: -float(gap.area),
    )
    middles = [shapely.get_coordinates(gap.representative_point())[0] for gap in gaps]
    return np.vstack((np.array(middles).reshape(-1, 2), report.trust.more_shots))


def write_report(report: SurveyReport, path: Path) -> None:
    """Write ``survey.json``."""
    text = json.dumps(report_data(report), indent=2, ensure_ascii=False)
    path.write_text(text + "\n", encoding="utf-8")


def _round(spacing: float) -> str:
    """A spacing as one says it: whole units, or one decimal below ten."""
    return f"{spacing:.0f}" if spacing >= 9.95 else f"{spacing:.1f}"
