"""How near lines come to what they must keep away from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.result import SetbackLine
from dripfield.site.model import Site
from dripfield.site.reader import inside
from dripfield.site.rings import read_line, read_points, read_ring

_SHAPES: dict[str, Callable[..., BaseGeometry]] = {
    "ring": read_ring,
    "line": read_line,
    "point": read_points,
}
_OWN = ("bed edge", "keepout")
_ROUND = 1e-4  # a drawn circle is short of a distance by so much of it


@dataclass(frozen=True)
class Requirement:
    """A feature, the least distance to it, and where that is written."""

    feature: str
    kind: str
    geometry: BaseGeometry
    required: float
    source: str | None

    @property
    def is_own(self) -> bool:
        """True for the site's own clearance of bed edge and keepouts, no rule's distance."""
        return self.kind in _OWN


@dataclass(frozen=True)
class Lines:
    """Drawn lines by name [site unit]."""

    names: Sequence[str]
    xy: Sequence[Floats]


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
    site: Site, layout: Lines, judged: Lines | None = None, limits: Limits | None = None
) -> list[SetbackLine]:
    """Measure every required distance.

    Parameters
    ----------
    site : Site
    layout : Lines
        The laterals as laid out.
    judged : Lines, optional
        What is judged: the runs of a plan, or what was laid. The layout itself where nothing of
        it is drawn.
    limits : Limits, optional
        With them a distance that is short by no more than distances can be known conforms, and so
        does the site's own clearance where it is short by no more than lines that conform may lie
        aside. Without, what is short by half of the last figure shown conforms.

    Returns
    -------
    list of SetbackLine
        A line inside a ring is 0 away from it; one that leaves the bed is 0 away from its edge. One
        that is short of a rule's distance by no more than the declared accuracy of the shots is
        ``not proven``.
    """
    if not layout.xy:
        return []
    slack = 0.5 * 10.0**-site.unit.places
    result = []
    for one in requirements(site):
        own = distances(one, layout.xy, site)
        other = None if judged is None or not judged.xy else distances(one, judged.xy, site)
        names, near = (
            (layout.names, own)
            if other is None or judged is None
            else (
                judged.names,
                other,
            )
        )
        nearest = int(near.argmin())
        short = one.required - float(near[nearest])
        allowed, accuracy = slack, 0.0
        if limits is not None and other is not None:
            allowed = limits.offset.same if one.is_own else limits.distance_accuracy
            accuracy = limits.shot_accuracy
        allowed = max(allowed, slack) + _ROUND * one.required
        result.append(
            SetbackLine(
                feature=one.feature,
                kind=one.kind,
                required=one.required,
                source=one.source,
                nearest=names[nearest],
                distance=float(own.min()),
                plan_distance=None if other is None else float(other.min()),
                verdict=_verdict(short, allowed, accuracy),
            )
        )
    return result


def _verdict(short: float, allowed: float, accuracy: float) -> LineVerdict:
    if short <= allowed:
        return LineVerdict.CONFORMS
    return LineVerdict.NOT_PROVEN if short <= accuracy else LineVerdict.DIFFERS


def distances(one: Requirement, lines: Sequence[Floats], site: Site) -> Floats:
    """Distance of each line (n,) to a feature [site unit]; 0 for one that leaves the bed.

    Parameters
    ----------
    one : Requirement
    lines : sequence of (k, 2) float arrays
        At least one, in (easting, northing) [site unit].
    site : Site

    Returns
    -------
    (n,) float array
        [site unit]
    """
    shift = np.round(lines[0][0])
    shapes = np.array([_shape(line - shift) for line in lines])
    distance: Floats = shapely.distance(
        shapely.transform(one.geometry, lambda p: p - shift), shapes
    )
    if one.kind == "bed edge":
        bed = shapely.transform(site.bed.boundary, lambda p: p - shift)
        distance = np.where(shapely.covers(bed, shapes), distance, 0.0)
    return distance


def _shape(xy: Floats) -> BaseGeometry:
    return shapely.linestrings(xy) if len(xy) > 1 else shapely.points(xy[0])


def setback_reasons(setbacks: Sequence[SetbackLine], site: Site) -> tuple[list[str], list[str]]:
    """What the setbacks say against a yes: those not kept, and those not proven."""
    unit, places = site.unit.short, site.unit.places
    wrong, unproven = [], []
    for one in setbacks:
        if one.verdict is LineVerdict.CONFORMS:
            continue
        at = one.distance if one.plan_distance is None else one.plan_distance
        text = (
            f"{one.nearest} lies {at:.{places}f} {unit} from {one.feature}, "
            f"{one.required:.{places}f} required"
        )
        if one.verdict is LineVerdict.DIFFERS:
            wrong.append(text)
        elif one.verdict is LineVerdict.NOT_PROVEN:
            unproven.append(f"{text}: short, but within the survey's accuracy")
    return wrong, unproven
