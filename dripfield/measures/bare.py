"""Bare ground: where in the bed a lateral would fit, and none serves.

A lateral serves what lies within half a spacing of it; a gap between two that is within the spacing
tolerance is served by both. What is left is named where it is wide and large enough to matter: the
slivers at the ends of laterals are not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.height_field import HeightField
from dripfield.layout.model import Layout
from dripfield.site.model import LayoutSettings

_NARROW = 0.5  # of the spacing: a strip less wide is a gap between laterals, not ground left bare
_LATERALS = 2.0  # of the least length, that a patch worth a word would hold
_HAIR = 1e-3  # of a length or an area: rounding
_FINE = 2e-3  # of the spacing: how far the drawn strips may leave the true ones
_PLACES = 400  # at which a patch is looked at
_STEEPER = 2.5  # times the mean slope of the bed: a bank


@dataclass(frozen=True)
class BarePatch:
    """A part of the bed that no lateral serves.

    Attributes
    ----------
    area : Polygon
        In site coordinates.
    reason : str
        What the ground or the bed is like there, to read on from "bare, ".
    """

    area: Polygon
    reason: str


def bare_ground(
    layout: Layout, area: Polygon | MultiPolygon, settings: LayoutSettings
) -> tuple[Polygon, ...]:
    """The patches of an area that no lateral serves.

    Parameters
    ----------
    layout : Layout
    area : Polygon or MultiPolygon
        What could be served [site coordinates].
    settings : LayoutSettings

    Returns
    -------
    tuple of Polygon
        Largest first, each at least as large as what two laterals of ``min_length`` serve, nowhere
        narrower than half the spacing, and with room for a lateral a spacing from all others.
    """
    spacing = settings.spacing
    least = _LATERALS * spacing * max(settings.min_length, spacing)
    if area.is_empty:
        return ()
    origin = np.round(area.centroid.coords[0])
    left = shapely.transform(area, lambda xy: xy - origin)
    if layout.laterals:
        lines = [shapely.linestrings(one.xy - origin) for one in layout.laterals]
        drawn = shapely.simplify(
            shapely.multilinestrings(lines), _FINE * spacing, preserve_topology=False
        )
        reach = 0.5 * spacing * (1.0 + settings.spacing_tolerance)
        left = left.difference(shapely.buffer(drawn, reach, quad_segs=4))
    wide = 0.5 * _NARROW * spacing
    left = left.buffer(-wide, quad_segs=4).buffer(wide, quad_segs=4)
    parts = [part for part in shapely.get_parts(left) if part.geom_type == "Polygon"]
    patches = [part for part in parts if part.area >= least]
    if patches and layout.laterals:
        free = shapely.transform(layout.area, lambda xy: xy - origin)
        free = free.difference(shapely.buffer(drawn, spacing * (1.0 - _HAIR), quad_segs=8))
        patches = [part for part in patches if part.intersection(free).area > _HAIR * least]
    patches.sort(key=lambda part: (-round(part.area, 6), part.bounds))
    return tuple(shapely.transform(part, lambda xy: xy + origin) for part in patches)


def bare_patches(
    layout: Layout,
    area: Polygon | MultiPolygon,
    ground: HeightField,
    settings: LayoutSettings,
) -> tuple[BarePatch, ...]:
    """The bare patches with what is to be said of each.

    Parameters
    ----------
    layout : Layout
    area : Polygon or MultiPolygon
        What could be served [site coordinates].
    ground : HeightField
        What the laterals lie on.
    settings : LayoutSettings

    Returns
    -------
    tuple of BarePatch
        Largest first.
    """
    patches = bare_ground(layout, area, settings)
    if not patches:
        return ()
    steep = _slope(area, ground)
    return tuple(BarePatch(one, _reason(one, layout, ground, settings, steep)) for one in patches)


def _reason(
    patch: Polygon,
    layout: Layout,
    ground: HeightField,
    settings: LayoutSettings,
    steep: float,
) -> str:
    """What sets a patch apart, the surest sign first."""
    inside = _places(patch)
    rim = shapely.get_coordinates(patch.exterior.segmentize(settings.spacing))
    z, edge = ground.elevation(inside), ground.elevation(rim)
    z, edge = z[np.isfinite(z)], edge[np.isfinite(edge)]
    if not len(z) or not len(edge):
        return "where the ground is not known"
    if z.max() > edge.max():
        return "round a top of the ground, where level lines close into rings too tight to lay"
    if z.min() < edge.min():
        return "round the bottom of a hollow, where level lines close into rings too tight to lay"
    slope = _slope(patch, ground)
    if steep > 0.0 and slope > _STEEPER * steep:
        return "on a bank steeper than the rest, where level lines crowd"
    if max(z.max(), edge.max()) - min(z.min(), edge.min()) <= 2.0 * settings.level_tolerance:
        return "where the ground is level within the tolerance and gives laterals no direction"
    if any(patch.distance(shapely.linestrings(seam)) < settings.spacing for seam in layout.seams):
        return "beside a seam, where pieces would be shorter than min_length"
    tight = 1.0 - 3.0 * settings.spacing_tolerance  # a lateral more just keeps its spacing there
    if patch.buffer(-0.5 * settings.spacing * max(tight, 0.0)).is_empty:
        return "narrow, between laterals or an edge: no lateral keeps its spacing there"
    return "where lines of this method leave their spacing"


def _places(patch: Polygon | MultiPolygon) -> np.ndarray:
    """A lattice of places (k, 2) inside a patch."""
    west, south, east, north = patch.bounds
    step = np.sqrt(patch.area / _PLACES)
    x, y = np.meshgrid(
        np.arange(west + step / 2.0, east, step), np.arange(south + step / 2.0, north, step)
    )
    xy = np.column_stack((x.ravel(), y.ravel()))
    return np.asarray(xy[shapely.contains_xy(patch, xy)])


def _slope(patch: Polygon | MultiPolygon, ground: HeightField) -> float:
    """Mean slope of the ground over a patch; 0 where it is not known."""
    rise = np.hypot(*ground.gradient(_places(patch)).T)
    rise = rise[np.isfinite(rise)]
    return float(rise.mean()) if len(rise) else 0.0
