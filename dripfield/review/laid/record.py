"""What was staked or laid against the design, lateral by lateral, with ties."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from dripfield.core.errors import input_error
from dripfield.design.model import Design
from dripfield.layout.model import Layout
from dripfield.review.judge.setbacks import Lines, check_setbacks
from dripfield.review.laid.answer import record_verdict
from dripfield.review.laid.causes import common_causes
from dripfield.review.laid.lines import laid_lines
from dripfield.review.laid.marks import accuracy_of, check_marks
from dripfield.review.laid.record_notes import not_recorded, record_notes
from dripfield.review.laid.record_result import Record, ShotCheck
from dripfield.review.laid.ties import Tie, tie_line
from dripfield.review.model.limits import Limits
from dripfield.review.model.result import worst_verdict
from dripfield.review.read.shots import LaidShot, laterals_with_printed_places, sort_shots
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
    site = design.site
    shots = sort_shots(survey, site, design.layout)
    marks = check_marks(shots, site, limits)
    lines = laid_lines(design, shots, limits, accuracy_of(marks, limits))
    references = tuple(site.file.review.references)
    _check_references(references)
    ties: list[Tie] = []
    printed = laterals_with_printed_places(shots)
    for line in lines:
        if len(line.xyz) >= 2 and len(references) >= 2 and line.name not in printed:
            ties += tie_line(
                line.name,
                line.xyz,
                references,
                accuracy=limits.tie_accuracy,
                tie_error=limits.tie_error,
            )
    shot = [line for line in lines if len(line.xyz)]
    setbacks = check_setbacks(
        site,
        Lines(
            [one.name for one in design.layout.laterals], [one.xy for one in design.layout.laterals]
        ),
        Lines([line.name for line in shot], [line.xyz[:, :2] for line in shot]),
        limits,
    )
    causes = common_causes(lines, limits, site)
    return Record(
        source=survey,
        lines=tuple(lines),
        shots=tuple(_check_shot(one, design.layout, limits) for one in shots),
        marks=tuple(marks),
        setbacks=tuple(setbacks),
        references=references,
        ties=tuple(ties),
        verdict=record_verdict(lines, marks, setbacks, causes, limits, site),
        causes=tuple(causes),
        notes=tuple(record_notes(site, shots, ties, limits)),
        unchecked=tuple(not_recorded(site, lines, shots, references, limits)),
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
    verdicts = [limits.offset.judge(offset, limits.shot_accuracy)]
    if math.isfinite(difference):
        verdicts.append(limits.elevation.judge(difference, limits.shot_accuracy))
    return ShotCheck(
        shot,
        offset,
        math.degrees(math.atan2(east, north)) % 360.0,
        lateral.elevation,
        difference,
        worst_verdict(verdicts).is_yes,
    )
