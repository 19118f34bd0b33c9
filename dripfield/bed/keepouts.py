"""The shoulder's edge: round the bed, and round keepouts that are kept out of a built bed.

A keepout that is ``kept`` is a hole in the bed with slopes of its own: the finished grade ends at
the shoulder's edge round it and runs down, or up, to the ground inside. One that is ``graded over``
is stripped and filled like the rest; only tubing keeps out of it.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.site.model import Site
from dripfield.site.schema.bed_section import BedSection

_SAME = 1e-6  # [site unit]
_MITRE = 2.0
_LEAST_LEFT = 1e-3  # share of a kept keepout that must stay as it is


def inside_shoulder(site: Site, section: BedSection) -> Polygon:
    """The bed with its shoulder, which is counted from the outermost place of tubing.

    Parameters
    ----------
    site : Site
    section : BedSection

    Returns
    -------
    Polygon
        Counter-clockwise, its holes, the keepouts that are kept, clockwise.

    Raises
    ------
    InputError
        The shoulder does not reach to the bed's edge, a kept keepout has no room for it or parts
        the bed.
    """
    clearance = site.settings.edge_clearance
    width = clearance if section.shoulder is None else section.shoulder
    if width < clearance - 1e-9:
        raise input_error(
            f"the shoulder reaches {width:g} beyond the tubing and the tubing keeps {clearance:g} "
            "from the bed's edge",
            f"give at least {clearance:g}, or leave shoulder out for just that",
            file="site.toml",
            field="[bed.section] shoulder",
        )
    ring = Polygon(site.bed.boundary.exterior)
    if width > clearance:
        ring = ring.buffer(width - clearance, join_style="mitre", mitre_limit=_MITRE)
    whole = Polygon(ring.exterior)
    if section.keepouts == "kept" and _is_built(section):
        whole = _less_keepouts(whole, site, width - clearance)
    return orient(whole.simplify(_SAME))


def _is_built(section: BedSection) -> bool:
    """Whether the section moves earth at all."""
    strips = (section.strip, section.strip_to, section.strip_to_surface)
    as_it_is = section.grade == "ground" and not section.deepen
    return not as_it_is or any(strips) or any(layer.depth for layer in section.cover)


def _less_keepouts(whole: Polygon, site: Site, shoulder: float) -> Polygon:
    """The bed without its keepouts, each less the shoulder that reaches into it."""
    for number, keepout in enumerate(site.bed.keepouts, 1):
        if not keepout.intersects(whole):
            continue
        left = keepout.buffer(-shoulder, join_style="mitre") if shoulder > 0 else keepout
        if left.is_empty:
            raise _no_room(site, number, keepout)
        cut = whole.difference(left)
        if isinstance(cut, MultiPolygon) or cut.is_empty:
            raise input_error(
                f"keepout {number} cuts the built bed in two",
                'draw a bed for each part, or write keepouts = "graded over"',
                file="site.toml",
                field="[bed.section] keepouts",
            )
        whole = cut
    return whole


def check_kept(site: Site, section: BedSection, daylight: Polygon | MultiPolygon) -> None:
    """Refuse a keepout that is to be kept and is buried by the slopes round it.

    Parameters
    ----------
    site : Site
    section : BedSection
    daylight : Polygon or MultiPolygon
        Everything inside the daylight line.
    """
    if section.keepouts != "kept" or not _is_built(section):
        return
    for number, keepout in enumerate(site.bed.keepouts, 1):
        if keepout.difference(daylight).area < _LEAST_LEFT * keepout.area:
            raise _no_room(site, number, keepout)


def left_alone(site: Site, daylight: Polygon | MultiPolygon) -> tuple[float, ...]:
    """Share of each keepout, in the site's order, that lies outside the daylight line."""
    return tuple(
        float(keepout.difference(daylight).area / keepout.area) for keepout in site.bed.keepouts
    )


def _no_room(site: Site, number: int, keepout: Polygon) -> Exception:
    place = keepout.representative_point()
    return input_error(
        f"keepout {number} about N {place.y:.1f}, E {place.x:.1f} is buried: the slopes round it "
        "close over it",
        'draw its ring larger by the run of the slopes, or write keepouts = "graded over"',
        file="site.toml",
        field="[bed.section] keepouts",
    )


def rings_of(area: Polygon) -> list[Floats]:
    """A polygon's rings (k, 2), outline first, each with its first point repeated at the end."""
    return [np.asarray(shapely.get_coordinates(ring)) for ring in (area.exterior, *area.interiors)]
