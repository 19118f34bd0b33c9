"""Stations and offsets from a line between two named points, as a crew lays them with tapes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.ground.ground import Ground
from dripfield.site.model import Site
from dripfield.survey.shots import Survey

_CONTROL = re.compile(
    r"\b(cp|control|ctrl|bm|tbm|bench ?mark|hub|nail|monument|mon|iron|pin|rebar)\b", re.IGNORECASE
)
_MOST_CANDIDATES = 24


@dataclass(frozen=True)
class ControlPoint:
    """A named point that can be found on the ground: easting, northing [site unit]."""

    name: str
    easting: float
    northing: float

    @property
    def xy(self) -> Floats:
        """(2,) easting, northing."""
        return np.array((self.easting, self.northing))


@dataclass(frozen=True)
class BaseLine:
    """A tape from one named point towards another.

    Stations run from ``start``; offsets are square to the line, positive to the right as seen
    from ``start`` towards ``end``. All distances are horizontal [site unit].
    """

    start: ControlPoint
    end: ControlPoint

    @property
    def length(self) -> float:
        """Distance between the two points."""
        return float(np.hypot(*(self.end.xy - self.start.xy)))

    @property
    def _along(self) -> Floats:
        return np.asarray((self.end.xy - self.start.xy) / self.length)

    def station_offset(self, xy: Floats) -> Floats:
        """Station and offset, (k, 2), of plan points (k, 2)."""
        along = self._along
        away = np.atleast_2d(xy) - self.start.xy
        right = np.array((along[1], -along[0]))
        return np.column_stack((away @ along, away @ right))

    def points(self, station_offset: Floats) -> Floats:
        """Plan points (k, 2) at stations and offsets (k, 2)."""
        along = self._along
        right = np.array((along[1], -along[0]))
        values = np.atleast_2d(station_offset)
        return np.asarray(self.start.xy + values[:, :1] * along + values[:, 1:] * right)


def bed_corners(site: Site) -> list[ControlPoint]:
    """The corners of the bed's ring in its own order: ``BED1``, ``BED2`` …."""
    ring = shapely.get_coordinates(site.bed.boundary.exterior)[:-1]
    return [ControlPoint(f"BED{i}", float(x), float(y)) for i, (x, y) in enumerate(ring, 1)]


def control_points(site: Site, survey: Survey) -> list[ControlPoint]:
    """Every named point that a base line may run between: benchmark, shots, bed corners."""
    points = [
        ControlPoint(name, float(x), float(y))
        for name, (x, y) in zip(survey.names, survey.xyz[:, :2], strict=True)
    ]
    return [*_benchmark(site), *points, *bed_corners(site)]


def base_line(ground: Ground, marks: Floats, names: tuple[str, str] | None = None) -> BaseLine:
    """The base line between two named points, or the one that serves the marks best.

    Parameters
    ----------
    ground : Ground
    marks : (k, 2) float array
        What is to be laid from it [site unit].
    names : two names, optional
        As ``[crew] base_line`` gives them. Without them the bed's corners, the benchmark and the
        shots described as control are tried in pairs, and the pair is taken whose line keeps
        clear of the keepouts and needs the shortest tape: the least sum of longest offset and
        twice the longest run beyond its ends. A line across the bed is taken only when it halves
        that.

    Returns
    -------
    BaseLine

    Raises
    ------
    InputError
        A name that is not a point of the site, or two names of one place.
    """
    site, survey = ground.site, ground.read
    if names is not None:
        known: dict[str, ControlPoint] = {}
        for point in control_points(site, survey):
            known.setdefault(point.name, point)
        return _named(known, names)
    best: tuple[bool, float, BaseLine] | None = None
    for start, end in combinations(_candidates(site, survey), 2):
        line = BaseLine(start, end)
        if line.length < site.settings.spacing:
            continue
        station, offset = line.station_offset(marks).T
        beyond = max(0.0, -float(station.min()), float(station.max()) - line.length)
        reach = float(np.abs(offset).max()) + 2.0 * beyond
        sight = shapely.linestrings((start.xy, end.xy))
        if shapely.crosses(sight, site.bed.boundary) or shapely.within(sight, site.bed.boundary):
            reach *= 2.0
        blocked = any(shapely.crosses(sight, keepout) for keepout in site.bed.keepouts)
        if best is None or (blocked, reach) < (best[0], best[1] - 1e-6):
            best = (blocked, reach, line)
    if best is None:
        raise input_error(
            "no two control points lie far enough apart for a base line",
            "name two points as [crew] base_line",
            file="site.toml",
            field="[crew] base_line",
        )
    return best[2]


def _candidates(site: Site, survey: Survey) -> list[ControlPoint]:
    corners = bed_corners(site)
    if len(corners) > _MOST_CANDIDATES:  # a bed drawn with many points: the outermost corners
        hull = shapely.get_coordinates(site.bed.boundary.convex_hull.exterior)[:-1]
        keep = {(float(x), float(y)) for x, y in hull[:: max(1, len(hull) // _MOST_CANDIDATES)]}
        corners = [c for c in corners if (c.easting, c.northing) in keep]
    shots = [
        ControlPoint(name, float(x), float(y))
        for name, text, (x, y) in zip(
            survey.names, survey.descriptions, survey.xyz[:, :2], strict=True
        )
        if _CONTROL.search(text)
    ]
    return [*corners, *_benchmark(site), *shots[:_MOST_CANDIDATES]]


def _benchmark(site: Site) -> list[ControlPoint]:
    mark = site.file.benchmark
    if mark is None or mark.easting is None or mark.northing is None:
        return []
    return [ControlPoint(mark.name, mark.easting, mark.northing)]


def _named(known: dict[str, ControlPoint], names: tuple[str, str]) -> BaseLine:
    for name in names:
        if name not in known:
            raise input_error(
                f"{name!r} is not a point of this site",
                "name two survey points, the benchmark (with northing and easting) or bed corners"
                " such as BED1",
                file="site.toml",
                field="[crew] base_line",
            )
    line = BaseLine(known[names[0]], known[names[1]])
    if line.length == 0.0:
        raise input_error(
            f"{names[0]!r} and {names[1]!r} are one place",
            "name two points apart from each other",
            file="site.toml",
            field="[crew] base_line",
        )
    return line
