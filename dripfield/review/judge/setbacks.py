"""How near the laterals come to what they must keep away from."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.review.model.limits import Band
from dripfield.review.model.plan import Plan
from dripfield.review.model.result import SetbackLine
from dripfield.site.model import Site
from dripfield.site.reader import inside
from dripfield.site.rings import read_line, read_points, read_ring

_SHAPES: dict[str, Callable[..., BaseGeometry]] = {
    "ring": read_ring,
    "line": read_line,
    "point": read_points,
}


@dataclass(frozen=True)
class Requirement:
    """A feature, the least distance to it, and where that is written."""

    feature: str
    kind: str
    geometry: BaseGeometry
    required: float
    source: str | None


def requirements(site: Site) -> list[Requirement]:
    """Every distance that the site file asks for: bed edge, keepouts, both kinds of setback.

    Raises
    ------
    InputError
        A file of ``[[review.setbacks]]`` is missing or wrong.
    """
    clearance = site.settings.edge_clearance
    own = "site file, [layout] edge_clearance"
    found = [Requirement("bed edge", "bed edge", site.bed.boundary.exterior, clearance, own)]
    for one, keepout in zip(site.file.bed.named_keepouts, site.bed.keepouts, strict=True):
        found.append(Requirement(one.shown, "keepout", keepout, clearance, own))
    for setback in site.bed.setbacks:
        found.append(
            Requirement(setback.name, "setback", setback.feature, setback.distance, setback.source)
        )
    return [*found, *_review_setbacks(site)]


def _review_setbacks(site: Site) -> Iterator[Requirement]:
    for number, table in enumerate(site.file.review.setbacks, 1):
        path = inside(site.folder, table.points, f"[[review.setbacks]] {number} points")
        geometry = _SHAPES[table.shape](path, site.unit, site.file.survey.decimal)
        yield Requirement(table.name, table.kind, geometry, table.distance, table.source)


def check_setbacks(
    site: Site, names: list[str], lines: list[Floats], plan: Plan | None = None
) -> list[SetbackLine]:
    """Measure every required distance to the nearest lateral.

    Parameters
    ----------
    site : Site
    names, lines : list of str, list of (k, 2) float arrays
        The laterals [site unit].
    plan : Plan, optional
        Its runs are measured too where they are drawn.

    Returns
    -------
    list of SetbackLine
        A line inside a ring is 0 away from it; one that leaves the bed is 0 away from its edge.
        A distance that is short by less than half of the last figure shown conforms; one short by
        a ten-thousandth more, the roundness of a drawn circle, is within limits and no more.
    """
    if not lines:
        return []
    slack = 0.5 * 10.0**-site.unit.places
    runs = [run.xy for run in plan.runs if run.xy is not None] if plan is not None else []
    result = []
    for one in requirements(site):
        distance = _distances(one, lines, site)
        nearest = int(distance.argmin())
        allowance = Band(slack, slack + 1e-4 * one.required)
        result.append(
            SetbackLine(
                feature=one.feature,
                kind=one.kind,
                required=one.required,
                source=one.source,
                nearest=names[nearest],
                distance=float(distance[nearest]),
                plan_distance=float(_distances(one, runs, site).min()) if runs else None,
                verdict=allowance.judge(max(one.required - float(distance[nearest]), 0.0)),
            )
        )
    return result


def _distances(one: Requirement, lines: list[Floats], site: Site) -> Floats:
    shift = np.round(lines[0][0])
    shapes = np.array([shapely.linestrings(line - shift) for line in lines])
    distance: Floats = shapely.distance(
        shapely.transform(one.geometry, lambda p: p - shift), shapes
    )
    if one.kind == "bed edge":
        bed = shapely.transform(site.bed.boundary, lambda p: p - shift)
        distance = np.where(shapely.covers(bed, shapes), distance, 0.0)
    return distance
