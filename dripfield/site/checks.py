"""Do the parts of a site belong together?

Spacing, clearance, keepouts and setbacks against the bed.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.model import Site

_SITE_FILE = "site.toml"


def check_site(site: Site) -> None:
    """Refuse a site whose parts do not belong together.

    Raises
    ------
    InputError
        Naming the file and key at fault, and how to mend it.
    """
    _check_spacing(site)
    _check_room(site)


def _check_spacing(site: Site) -> None:
    width = bed_width(site.bed.boundary)
    if site.settings.spacing > width:
        raise input_error(
            f"{site.settings.spacing:g} is wider than the bed, which is "
            f"{length_in_words(width, site.unit)} wide",
            f"give a spacing in {site.unit.value} that fits the bed",
            file=_SITE_FILE,
            field="[layout] spacing",
        )


def bed_width(bed: Polygon) -> float:
    """The least width of a bed between two parallel lines [site unit]."""
    corners = shapely.get_coordinates(shapely.convex_hull(bed))
    corners = corners - corners[0]
    along = np.diff(corners, axis=0)
    across = np.column_stack((-along[:, 1], along[:, 0])) / np.hypot(*along.T)[:, None]
    return float(np.ptp(corners @ across.T, axis=0).min())


def _check_room(site: Site) -> None:
    """Clearance, keepouts and setbacks must leave room for a lateral."""
    bed, clearance = site.bed, site.settings.edge_clearance
    if not bed.open_area(clearance).is_empty:
        return
    inner = bed.boundary.buffer(-clearance) if clearance else bed.boundary
    if inner.is_empty:
        raise input_error(
            f"{clearance:g} leaves nothing of the bed, which is "
            f"{length_in_words(bed_width(bed.boundary), site.unit)} wide",
            "give a smaller clearance",
            file=_SITE_FILE,
            field="[layout] edge_clearance",
        )
    for ring, keepout in zip(site.file.bed.named_keepouts, bed.keepouts, strict=True):
        if keepout.buffer(clearance).covers(inner):
            raise input_error(
                f"the keepout with its clearance of {length_in_words(clearance, site.unit)} "
                "swallows the whole bed",
                "check its corners",
                file=ring.points,
            )
    for table, setback in zip(site.file.bed.setbacks, bed.setbacks, strict=True):
        if setback.feature.buffer(setback.distance).covers(inner):
            raise input_error(
                f"the setback of {length_in_words(setback.distance, site.unit)} from "
                f"{setback.name!r} swallows the whole bed",
                "check its place and its distance",
                file=table.points,
            )
    raise input_error(
        "clearance, keepouts and setbacks together leave nothing of the bed",
        "check their places and distances",
        file=_SITE_FILE,
        field="[bed]",
    )


def length_in_words(length: float, unit: Unit) -> str:
    """A length for a message: decimals only where they say something."""
    return f"{length:,.0f} {unit.short}" if length >= 100 else f"{length:.4g} {unit.short}"
