"""Every lateral as its shots show it, against its design."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length
from dripfield.core.units import Unit
from dripfield.design.model import Design
from dripfield.layout.model import Lateral
from dripfield.measures.field import measured_laterals
from dripfield.measures.laterals import LateralMeasure
from dripfield.review.judge.distances import length_through, mean_spacing
from dripfield.review.laid.marks import Accuracy
from dripfield.review.laid.proof import unproven
from dripfield.review.laid.record_result import RecordLine
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.result import Difference, worst_verdict
from dripfield.review.read.shots import LaidShot, laterals_with_printed_places
from dripfield.site.model import Site

_NOT_DESIGNED = "the design has no lateral of this name"


def laid_lines(
    design: Design, shots: Sequence[LaidShot], limits: Limits, accuracy: Accuracy
) -> list[RecordLine]:
    """Compare the shots of each lateral with its design.

    Parameters
    ----------
    design : Design
    shots : sequence of LaidShot
    limits : Limits
    accuracy : Accuracy
        Of the shots: what is outside a limit by no more is not proven.

    Returns
    -------
    list of RecordLine
        The design's laterals in their order, then those that it has not.
    """
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
    printed = laterals_with_printed_places(shots)
    lines = []
    for lateral, measure in design.laterals.values():
        xyz = laid.get(lateral.name)
        if xyz is None:
            lines.append(_not_laid(lateral))
            continue
        between = spacing.get(lateral.name)
        line = _line(lateral, measure, xyz, between, limits, accuracy, design.site)
        lines.append(_heights_alone(line) if lateral.name in printed else line)
    lines += [_not_designed(name, group) for name, group in own.items() if name not in laid]
    return lines


def _heights_alone(line: RecordLine) -> RecordLine:
    """What is left of a line whose places are those printed: its heights, and no yes."""
    return replace(
        line,
        verdict=worst_verdict([line.verdict, LineVerdict.NOT_PROVEN]),
        reasons=(
            *line.reasons,
            "its places are those printed, only heights were measured: where it lies is not proven",
        ),
    )


def _not_laid(lateral: Lateral) -> RecordLine:
    return RecordLine(
        lateral.name,
        lateral,
        np.empty((0, 3)),
        LineVerdict.NOT_LAID,
        line_length(lateral.xy),
        None,
        reasons=("no shot belongs to it",),
    )


def _not_designed(name: str, group: Sequence[LaidShot]) -> RecordLine:
    xyz = np.array([shot.xyz for shot in group])
    length = line_length(xyz[:, :2]) if len(xyz) > 1 else None
    return RecordLine(name, None, xyz, LineVerdict.DIFFERS, None, length, reasons=(_NOT_DESIGNED,))


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
    measures = measured_laterals(lines, design.surface, design.site.settings)
    return {one.name: one for one in measures}


def _line(
    lateral: Lateral,
    design: LateralMeasure,
    xyz: Floats,
    measure: LateralMeasure | None,
    limits: Limits,
    accuracy: Accuracy,
    site: Site,
) -> RecordLine:
    offset = shapely.distance(
        shapely.points(xyz[:, :2] - lateral.xy[0]), shapely.linestrings(lateral.xy - lateral.xy[0])
    )
    height = xyz[:, 2] + limits.laid_depth
    height = height[np.isfinite(height)]
    plan = accuracy.plan
    differences = [Difference("offset", None, None, float(offset.max()), limits.offset, plan)]
    length_design = line_length(lateral.xy)
    length_laid = length_through(xyz[:, :2], lateral.xy) if len(xyz) > 1 else None
    end_offset = math.nan
    if length_laid is not None:
        difference = length_laid - length_design
        differences.append(
            Difference("length", length_design, length_laid, difference, limits.length, 2.0 * plan)
        )
        end_offset = float(np.hypot(*(xyz[[0, -1], :2] - lateral.xy[[0, -1]]).T).max())
        differences.append(Difference("end", None, None, end_offset, limits.offset, plan))
    if len(height):
        off = height - lateral.elevation
        worst = float(off[np.abs(off).argmax()])
        differences.append(
            Difference(
                "elevation",
                lateral.elevation,
                lateral.elevation + worst,
                worst,
                limits.elevation,
                accuracy.height,
            )
        )
    spacing_design = mean_spacing(design)
    spacing = math.nan if measure is None else mean_spacing(measure)
    # a lateral that lies in its place is not blamed for a neighbour that does not
    out_of_place = float(offset.max()) > limits.offset.same
    if out_of_place and math.isfinite(spacing) and math.isfinite(spacing_design):
        off_spacing = spacing - spacing_design
        differences.append(
            Difference("spacing", spacing_design, spacing, off_spacing, limits.spacing, 2.0 * plan)
        )
    gap, missing = unproven(xyz, limits, site.unit)
    if not accuracy.sound:
        missing.append("the marks shot along are off, so nothing of it is proven")
    verdict = worst_verdict(
        [one.verdict for one in differences] + [LineVerdict.NOT_PROVEN] * bool(missing)
    )
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
        gap_max=gap,
        reasons=tuple(_reasons(differences, missing, verdict, site.unit)),
    )


def _reasons(
    differences: Sequence[Difference], missing: Sequence[str], verdict: LineVerdict, unit: Unit
) -> list[str]:
    """Why the verdict is what it is: of a no only what is outside a limit, then what is open."""
    wrong = [_reason(one, unit) for one in differences if one.verdict.is_no]
    near = [
        f"{_reason(one, unit)}: outside, but within the survey's accuracy {one.accuracy:g}"
        for one in differences
        if one.verdict is LineVerdict.NOT_PROVEN
    ]
    if verdict is LineVerdict.WITHIN:
        return [_reason(one, unit) for one in differences if one.verdict is LineVerdict.WITHIN]
    return [*wrong, *near, *missing]


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
