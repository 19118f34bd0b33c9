"""From a survey to its triangulated surface: duplicates, breaklines, voids, own faces."""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import InputError, input_error
from dripfield.core.units import Unit
from dripfield.ground.triangles.edges import Segments, split_segments
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.triangles.triangulate import twice_area
from dripfield.ground.triangles.voids import cut_voids
from dripfield.survey.doubt.clean import elevation_tolerance, plan_tolerance, same_place
from dripfield.survey.shots import Survey


def survey_surface(survey: Survey, unit: Unit) -> Surface:
    """Triangulate a cleaned survey: the surveyor's own faces where it has them, else constrained
    Delaunay with the breaklines as edges; voids are cut out of either.

    Parameters
    ----------
    survey : Survey
        Distinct shots, as :func:`dripfield.survey.doubt.clean.clean` returns [unit].
    unit : Unit
        The site's unit.

    Returns
    -------
    Surface

    Raises
    ------
    InputError
        Fewer than three shots, all on one line, a face without area, or breaklines whose elevations
        disagree with a shot or with each other.
    """
    if len(survey.xyz) < 3 and not survey.breaklines:
        raise _too_few(survey)
    if survey.faces is not None:
        surface = _own_faces(survey)
    else:
        vertices, edges = _with_breaklines(survey, unit)
        surface = Surface.from_points(vertices, edges)
    if not len(surface.triangles):
        raise input_error(
            f"all {len(survey.xyz)} shots lie on one line",
            "a surface needs shots on both sides of it: take some off the line",
            file=survey.source,
        )
    return cut_voids(surface, survey.voids)


def _too_few(survey: Survey) -> InputError:
    return input_error(
        f"{len(survey.xyz)} shots at distinct places",
        "a surface needs at least three, not on one line",
        file=survey.source,
    )


def _own_faces(survey: Survey) -> Surface:
    """The surveyor's triangles, turned counter-clockwise."""
    faces = np.asarray(survey.faces, dtype=np.int64)
    near = survey.xyz[:, :2] - survey.xyz[:, :2].mean(axis=0)
    area = twice_area(near, faces)
    faces = np.where((area < 0.0)[:, None], faces[:, ::-1], faces)
    return Surface(survey.xyz, faces[area != 0.0])


def _with_breaklines(survey: Survey, unit: Unit) -> tuple[Floats, Ints | None]:
    """Vertices and the edges between them that the breaklines ask for."""
    if not survey.breaklines:
        return survey.xyz, None
    points = np.vstack((survey.xyz, *survey.breaklines))
    line = np.repeat(
        np.arange(-1, len(survey.breaklines)),
        [len(survey.xyz)] + [len(b) for b in survey.breaklines],
    )
    group = same_place(points[:, :2], plan_tolerance(unit))
    first = np.unique(group, return_index=True)[1]
    _check_shared(survey, points, line, first[group], unit)
    consecutive = (line[:-1] == line[1:]) & (line[1:] >= 0)
    ends = np.column_stack((group[:-1], group[1:]))[consecutive]
    shift = np.append(np.round(points[:, :2].mean(axis=0)), 0.0)

    def conflict(
        one: int, other: int | None, vertex: int | None, xy: Floats, z: float, other_z: float
    ) -> InputError:
        if other is not None:
            against = f"breakline {other + 1} crosses it"
        else:
            assert vertex is not None
            owner = int(first[vertex]) if vertex < len(first) else -1
            against = f"{_point_name(survey, line, owner)} lies on it"
        return _conflict(survey, f"breakline {one + 1}", against, xy + shift[:2], z, other_z, unit)

    made = split_segments(
        Segments(points[first] - shift, ends, line[1:][consecutive]),
        plan_tolerance(unit),
        elevation_tolerance(unit),
        conflict,
    )
    vertices = made.vertices + shift
    vertices[: len(first)] = points[first]
    return vertices, made.ends


def _check_shared(survey: Survey, points: Floats, line: Ints, leader: Ints, unit: Unit) -> None:
    """A breakline's point at a shot, or at another breakline's point, must have its elevation."""
    off = np.abs(points[:, 2] - points[leader, 2])
    worst = int(off.argmax())
    if off[worst] > elevation_tolerance(unit) + 1e-9:
        raise _conflict(
            survey,
            _point_name(survey, line, worst),
            f"{_point_name(survey, line, int(leader[worst]))} is at the same place",
            points[worst, :2],
            points[worst, 2],
            points[leader[worst], 2],
            unit,
        )


def _point_name(survey: Survey, line: Ints, point: int) -> str:
    """How a message calls a point of shots followed by breakline points; -1 is a crossing."""
    if point < 0:
        return "a crossing of breaklines"
    if line[point] < 0:
        return f"point {survey.names[point]} (row {survey.rows[point]})"
    within = point - int(np.flatnonzero(line == line[point])[0])
    return f"breakline {line[point] + 1} point {within + 1}"


def _conflict(
    survey: Survey, one: str, against: str, xy: Floats, z: float, other_z: float, unit: Unit
) -> InputError:
    places = unit.places
    return input_error(
        f"{one} is at elevation {z:.{places}f} where {against} at elevation {other_z:.{places}f} "
        f"(northing {xy[1]:.{places}f}, easting {xy[0]:.{places}f})",
        f"correct one of them so that they agree within {elevation_tolerance(unit):g} {unit.short}",
        file=survey.source,
    )
