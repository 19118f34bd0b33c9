"""Findable points: what a crew may measure from, and where it is found again."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.staking.model import FindablePoint, PointKind
from dripfield.staking.ties import tape_ellipse

if TYPE_CHECKING:
    from dripfield.core.height_field import HeightField
    from dripfield.design.model import Design

_PERMANENT = re.compile(
    r"\b(cp|control|ctrl|bm|tbm|bench ?mark|hub|nail|monument|mon|iron|pin|rebar)\b", re.IGNORECASE
)
_MOST_CORNERS = 16
_BEND = 0.05  # spacings: a vertex nearer than this to the line past it is no corner
_MOST_PERMANENT = 6


def findable_points(design: Design) -> tuple[FindablePoint, ...]:
    """Everything on a site that may be measured from.

    Parameters
    ----------
    design : Design
        Its surface gives the elevations of the corners.

    Returns
    -------
    tuple of FindablePoint
        The benchmark where it has a position, other permanent points (``[[review.references]]``,
        then survey shots described as control), bed corners, keepout corners. Of a ring drawn with
        many points only those that can be told as corners, at most sixteen.
    """
    site, shots, ground = design.site, design.ground.read, design.surface
    found: list[FindablePoint] = []
    mark = site.file.benchmark
    if mark is not None and mark.easting is not None and mark.northing is not None:
        found.append(
            FindablePoint(
                mark.name,
                mark.easting,
                mark.northing,
                mark.elevation,
                "benchmark",
                f"benchmark{': ' + mark.description if mark.description else ''}",
            )
        )
    for one in site.file.review.references:
        if all(np.hypot(one.easting - p.easting, one.northing - p.northing) > 1e-3 for p in found):
            text = f"permanent point{': ' + one.description if one.description else ''}"
            found.append(
                FindablePoint(one.name, one.easting, one.northing, float("nan"), "permanent", text)
            )
    for name, text, (x, y, z) in zip(shots.names, shots.descriptions, shots.xyz, strict=True):
        apart = all(np.hypot(x - p.easting, y - p.northing) > 1e-3 for p in found)
        if _PERMANENT.search(text) and apart and len(found) < _MOST_PERMANENT:
            found.append(
                FindablePoint(
                    name, float(x), float(y), float(z), "permanent", f"permanent point: {text}"
                )
            )
    for name in site.file.crew.base_line or ():
        if name in shots.names and name not in {p.name for p in found}:
            x, y, z = (float(v) for v in shots.xyz[shots.names.index(name)])
            found.append(FindablePoint(name, x, y, z, "base line", f"survey point {name}"))
    least = _BEND * site.settings.spacing
    found += _corners(site.bed.boundary, least, "BED", "bed corner", ground)
    for k, keepout in enumerate(site.bed.keepouts, 1):
        found += _corners(keepout, least, f"KEEP{k}-", "keepout corner", ground)
    return _named_once(found)


def base_line_ends(
    points: Sequence[FindablePoint], marks: Floats, named: tuple[str, str] | None = None
) -> tuple[str, str] | None:
    """The two points that a base line runs between: from them the marks are tied best.

    Parameters
    ----------
    points : sequence of FindablePoint
    marks : (k, 2) float array
        What is to be tied [site unit].
    named : two names, optional
        As the site gives them.

    Returns
    -------
    two names or None
        None where there are no two points apart.

    Raises
    ------
    InputError
        A name that is no point of the site with a position; two names of one place.
    """
    known = {p.name: p for p in points}
    if named is not None:
        for name in named:
            if name not in known:
                raise _unknown(name)
        if np.hypot(*(known[named[0]].xy - known[named[1]].xy)) < 1e-3:
            raise input_error(
                f"{named[0]!r} and {named[1]!r} are one place",
                "name two points apart from each other",
                file="site.toml",
                field="[crew] base_line",
            )
        return named
    best: tuple[float, tuple[str, str]] | None = None
    for one, two in combinations(points, 2):
        if np.hypot(*(one.xy - two.xy)) < 1e-3:
            continue
        ways = [marks - p.xy for p in (one, two)]
        size = [np.maximum(np.hypot(*way.T), 1e-9) for way in ways]
        cosine = (ways[0] * ways[1]).sum(axis=1) / (size[0] * size[1])
        angle = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
        error = np.maximum(*tape_ellipse(np.clip(angle, 1.0, 179.0)))
        price = float(error.mean())
        if best is None or price < best[0] - 1e-9:
            best = price, (one.name, two.name)
    return None if best is None else best[1]


def _unknown(name: str) -> Exception:
    return input_error(
        f"{name!r} is no point of the site with a position",
        "name a survey point, the benchmark (with northing and easting), a permanent point of "
        "[[review.references]] or a corner: BED1, BED2 …",
        file="site.toml",
        field="[crew] base_line",
    )


def permanent_pair(points: Sequence[FindablePoint]) -> tuple[FindablePoint, ...]:
    """The benchmark and a second permanent point, or as many of them as there are."""
    return tuple(p for p in points if p.kind in ("benchmark", "permanent"))[:2]


def _corners(
    ring: shapely.Polygon, least: float, prefix: str, kind: PointKind, ground: HeightField
) -> list[FindablePoint]:
    """Corners of a ring, numbered as its vertices are."""
    xy = shapely.get_coordinates(ring.exterior)[:-1]
    before, after = np.roll(xy, 1, axis=0) - xy, np.roll(xy, -1, axis=0) - xy
    across = after - before
    size = np.maximum(np.hypot(*across.T), 1e-9)
    bend = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) / size
    kept = np.flatnonzero(bend > least)
    if len(kept) > _MOST_CORNERS:
        drawn = xy - xy[0]
        tolerance = least
        while len(kept) > _MOST_CORNERS:
            tolerance *= 1.5
            simple = shapely.get_coordinates(
                shapely.simplify(shapely.polygons(drawn), tolerance).exterior
            )[:-1]
            away = np.hypot(*(drawn[:, None] - simple[None]).transpose(2, 0, 1))
            kept = np.unique(np.argmin(away, axis=0))
    height = ground.elevation(xy[kept])
    return [
        FindablePoint(f"{prefix}{i + 1}", float(x), float(y), float(z), kind, kind)
        for i, (x, y), z in zip(kept, xy[kept], height, strict=True)
    ]


def _named_once(points: Sequence[FindablePoint]) -> tuple[FindablePoint, ...]:
    """The points without a second one of any name: what comes first keeps it."""
    known: dict[str, FindablePoint] = {}
    for point in points:
        known.setdefault(point.name, point)
    return tuple(known.values())
