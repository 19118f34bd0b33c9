"""What was staked or laid against the design, lateral by lateral, with ties."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.lines import line_length
from dripfield.core.units import Unit
from dripfield.design.model import Design
from dripfield.layout.model import Lateral, Layout
from dripfield.measures.laterals import LateralMeasure, measure_laterals
from dripfield.review.judge.distances import length_through, mean_spacing
from dripfield.review.laid.record_notes import not_recorded, record_notes
from dripfield.review.laid.record_result import Record, RecordLine, ShotCheck
from dripfield.review.laid.ties import Tie, tie_line
from dripfield.review.model.limits import Limits, Verdict
from dripfield.review.model.result import Difference, worst_verdict
from dripfield.review.read.shots import LaidShot, sort_shots
from dripfield.site.model import Site
from dripfield.site.schema.review import ReferenceTable
from dripfield.survey.shots import Survey


def make_record(design: Design, survey: Survey, limits: Limits) -> Record:
    """Compare shots with the design and tie what they show.

    Parameters
    ----------
    design : Design
    survey : Survey
        The shots, in the site's coordinates.
    limits : Limits

    Returns
    -------
    Record

    Raises
    ------
    InputError
        No shot belongs to a lateral; the two references of ``[[review.references]]`` are one point.
    """
    shots = sort_shots(survey, design.site, design.layout)
    lines = _lines(design, shots, limits)
    references = tuple(design.site.file.review.references)
    _check_references(references)
    ties: list[Tie] = []
    for line in lines:
        if len(line.xyz) >= 2 and len(references) >= 2:
            ties += tie_line(
                line.name,
                line.xyz,
                references,
                accuracy=limits.tie_accuracy,
                tie_error=limits.tie_error,
            )
    checks = tuple(_check_shot(shot, design.layout, limits) for shot in shots)
    return Record(
        source=survey,
        lines=tuple(lines),
        shots=checks,
        references=references,
        ties=tuple(ties),
        notes=tuple(record_notes(design.site, shots, ties, limits)),
        unchecked=tuple(not_recorded(design.site, lines, shots, references, limits)),
    )


def _check_references(references: Sequence[ReferenceTable]) -> None:
    places = {(one.northing, one.easting) for one in references}
    if len(references) != len({one.name for one in references}) or len(places) < len(references):
        raise input_error(
            "two references have one name or one place",
            "give each permanent point its own name and coordinates",
            file="site.toml",
            field="[[review.references]]",
        )


def _lines(design: Design, shots: Sequence[LaidShot], limits: Limits) -> list[RecordLine]:
    own: dict[str, list[LaidShot]] = {}
    for shot in shots:
        if shot.lateral is not None:
            own.setdefault(shot.lateral, []).append(shot)
    laid = {
        one.name: _in_order(np.array([shot.xyz for shot in own[one.name]]), one.xy)
        for one in design.layout.laterals
        if one.name in own
    }
    spacing = _spacings(design, laid)
    lines = []
    for lateral, measure in design.laterals.values():
        if lateral.name not in laid:
            lines.append(
                RecordLine(
                    lateral.name,
                    lateral,
                    np.empty((0, 3)),
                    Verdict.MISSING,
                    line_length(lateral.xy),
                    None,
                    (),
                    reasons=("no shot belongs to it",),
                )
            )
            continue
        lines.append(
            _line(
                lateral, measure, laid[lateral.name], spacing.get(lateral.name), limits, design.site
            )
        )
    for name, group in own.items():
        if name not in laid:
            xyz = np.array([shot.xyz for shot in group])
            length = line_length(xyz[:, :2]) if len(xyz) > 1 else None
            lines.append(
                RecordLine(
                    name,
                    None,
                    xyz,
                    Verdict.NOT_ON_PLAN,
                    None,
                    length,
                    (),
                    reasons=("the design has no lateral of this name",),
                )
            )
    return lines


def _in_order(xyz: Floats, design: Floats) -> Floats:
    """Shots in order along the design line, doubles of one place once."""
    shift = design[0]
    line = shapely.linestrings(design - shift)
    near = xyz[:, :2] - shift
    station = shapely.line_locate_point(line, shapely.points(near))
    # beyond an end all stations are alike: the distance along the end's own direction tells
    ahead, behind = design[-1] - design[-2], design[0] - design[1]
    past = (near - (design[-1] - shift)) @ ahead / np.hypot(*ahead)
    short = (near - (design[0] - shift)) @ behind / np.hypot(*behind)
    station = station + np.where(station >= line.length, np.maximum(past, 0.0), 0.0)
    station = station - np.where(station <= 0.0, np.maximum(short, 0.0), 0.0)
    ordered = xyz[np.argsort(station, kind="stable")]
    fresh = np.append(True, (np.diff(ordered[:, :2], axis=0) != 0.0).any(axis=1))
    result: Floats = ordered[fresh]
    return result


def _spacings(design: Design, laid: dict[str, Floats]) -> dict[str, LateralMeasure]:
    """Each laid line measured against the other laid lines."""
    lines = [
        Lateral(one.name, one.panel, laid[one.name][:, :2], one.elevation)
        for one in design.layout.laterals
        if one.name in laid and len(laid[one.name]) > 1
    ]
    measures = measure_laterals(
        lines,
        design.surface,
        spacing=design.site.settings.spacing,
        level_tolerance=design.site.settings.level_tolerance,
        spacing_tolerance=design.site.settings.spacing_tolerance,
        spacing_measured=design.site.settings.spacing_measured,
    )
    return {one.name: one for one in measures}


def _line(
    lateral: Lateral,
    design: LateralMeasure,
    xyz: Floats,
    measure: LateralMeasure | None,
    limits: Limits,
    site: Site,
) -> RecordLine:
    offset = shapely.distance(
        shapely.points(xyz[:, :2] - lateral.xy[0]), shapely.linestrings(lateral.xy - lateral.xy[0])
    )
    height = xyz[:, 2] + limits.laid_depth
    height = height[np.isfinite(height)]
    differences = [Difference("offset", None, None, float(offset.max()), limits.offset)]
    length_design = line_length(lateral.xy)
    length_laid = length_through(xyz[:, :2], lateral.xy) if len(xyz) > 1 else None
    end_offset = math.nan
    if length_laid is not None:
        difference = length_laid - length_design
        differences.append(
            Difference("length", length_design, length_laid, difference, limits.length)
        )
        end_offset = float(np.hypot(*(xyz[[0, -1], :2] - lateral.xy[[0, -1]]).T).max())
        differences.append(Difference("end", None, None, end_offset, limits.offset))
    if len(height):
        off = height - lateral.elevation
        worst = float(off[np.abs(off).argmax()])
        differences.append(
            Difference(
                "elevation", lateral.elevation, lateral.elevation + worst, worst, limits.elevation
            )
        )
    spacing_design = mean_spacing(design)
    spacing = math.nan if measure is None else mean_spacing(measure)
    # a lateral that lies in its place is not blamed for a neighbour that does not
    out_of_place = float(offset.max()) > limits.offset.same
    if out_of_place and math.isfinite(spacing) and math.isfinite(spacing_design):
        differences.append(
            Difference("spacing", spacing_design, spacing, spacing - spacing_design, limits.spacing)
        )
    verdict = worst_verdict([one.verdict for one in differences])
    return RecordLine(
        lateral.name,
        lateral,
        xyz,
        verdict,
        length_design,
        length_laid,
        tuple(differences),
        offset_mean=float(offset.mean()),
        offset_max=float(offset.max()),
        end_offset=end_offset,
        level_min=float(height.min()) if len(height) else math.nan,
        level_max=float(height.max()) if len(height) else math.nan,
        spacing_design=spacing_design,
        spacing_min=math.nan if measure is None else measure.spacing_min,
        spacing_mean=spacing,
        spacing_max=math.nan if measure is None else measure.spacing_max,
        reasons=tuple(
            _reason(one, site.unit) for one in differences if one.verdict is not Verdict.CONFORMS
        ),
    )


def _reason(one: Difference, unit: Unit) -> str:
    places, short = unit.places, unit.short
    limit = f"limit {one.band.limit:.{places}f}"
    if one.quantity == "offset":
        return f"up to {one.difference:.{places}f} {short} aside ({limit})"
    if one.quantity == "end":
        return f"an end {one.difference:.{places}f} {short} from where it was to be ({limit})"
    if one.quantity == "elevation":
        word = "high" if one.difference > 0 else "low"
        return f"off level: {abs(one.difference):.{places}f} {short} {word} ({limit})"
    return f"{one.quantity} {one.difference:+.{places}f} {short} ({limit})"


def _check_shot(shot: LaidShot, layout: Layout, limits: Limits) -> ShotCheck:
    lateral = next((one for one in layout.laterals if one.name == shot.lateral), None)
    if lateral is None:
        return ShotCheck(shot, math.nan, math.nan, math.nan, math.nan, shot.how == "mark")
    line = shapely.linestrings(lateral.xy - lateral.xy[0])
    place = shapely.points(shot.xyz[:2] - lateral.xy[0])
    foot = line.interpolate(line.project(place))
    east, north = place.x - foot.x, place.y - foot.y
    offset = math.hypot(east, north)
    difference = float(shot.xyz[2]) + limits.laid_depth - lateral.elevation
    verdicts = [limits.offset.judge(offset)]
    if math.isfinite(difference):
        verdicts.append(limits.elevation.judge(difference))
    return ShotCheck(
        shot,
        offset,
        math.degrees(math.atan2(east, north)) % 360.0,
        lateral.elevation,
        difference,
        not worst_verdict(verdicts).is_no,
    )
