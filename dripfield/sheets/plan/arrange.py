"""Paper, scale and sheets of a plan: the whole bed on one, parts where it is too small there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon

from dripfield.core.errors import input_error
from dripfield.design.model import Design
from dripfield.sheets.kit.map_frame import MapFrame, fit_frame
from dripfield.sheets.kit.paper import Rectangle, Tiling, tiles_at
from dripfield.sheets.kit.plan_margin import strip_height, title_height
from dripfield.sheets.kit.style import (
    MARGIN,
    POINTS_PER_INCH,
    Paper,
    Scale,
    usual_papers,
    usual_scales,
)
from dripfield.site.model import Site

LEGIBLE = 6.8  # laterals this far apart on the sheet take names of 8 pt and text of 0.08 in [pt]
LABEL_BORDER = (44.0, 26.0)  # round the bed, for names beyond the ends of laterals [pt]


@dataclass(frozen=True)
class Arrangement:
    """How a plan lies on paper.

    Attributes
    ----------
    paper : Paper
        Of the sheet with the whole bed.
    whole : MapFrame
        The whole bed, at the largest usual scale or the one wanted.
    parts : Tiling or None
        Further sheets at a scale at which laterals can be told apart and named, where they cannot
        on the first.
    """

    paper: Paper
    whole: MapFrame
    parts: Tiling | None = None

    @property
    def frames(self) -> tuple[tuple[Paper, MapFrame], ...]:
        """Paper and frame of the sheets that can be read: the parts, or the whole."""
        if self.parts is None:
            return ((self.paper, self.whole),)
        return tuple((self.parts.paper, tile.frame) for tile in self.parts.tiles)


def arrange(design: Design, paper: Paper | None = None, scale: float | None = None) -> Arrangement:
    """Choose paper, orientation, scale and sheets of a plan.

    Parameters
    ----------
    design : Design
    paper : Paper, optional
        Lying or upright as the bed wants it; the smaller of the unit's two usual ones on which
        laterals can be told apart unless given.
    scale : float, optional
        Feet to the inch, or N of 1:N, instead of the largest usual scale that fits.

    Returns
    -------
    Arrangement

    Raises
    ------
    InputError
        The scale is not a usual one, or takes too many sheets.
    """
    site = design.site
    sheets = [paper] if paper is not None else list(usual_papers(site.unit))
    ground = bed_ground(site)
    if scale is not None:
        return _at_scale(site, ground, sheets, _wanted(site, scale))
    options = [_largest(site, ground, sheet) for sheet in sheets]
    spacing = site.settings.spacing
    for sheet, frame in options:
        if frame.scale.paper(spacing) >= LEGIBLE:
            return Arrangement(sheet, frame)
    chosen, frame = options[-1]
    readable = [one for one in usual_scales(site.unit) if one.paper(spacing) >= LEGIBLE]
    if not readable:
        return Arrangement(chosen, frame)
    return Arrangement(chosen, frame, _fewest(site, ground, chosen, readable[-1]))


def bed_ground(site: Site) -> Polygon:
    """What a plan shows at least: the hull of the bed with its keepouts."""
    return shapely.convex_hull(shapely.union_all([site.bed.boundary, *site.bed.keepouts]))


def map_room(paper: Paper) -> Rectangle:
    """What title block, strip and margins leave of a sheet [pt]."""
    low = MARGIN + title_height(paper) + strip_height(paper)
    return MARGIN, low, paper.width - 2.0 * MARGIN, paper.height - MARGIN - low


def _wanted(site: Site, number: float) -> Scale:
    """The usual scale of a number."""
    usual = usual_scales(site.unit)
    inch = 0.0254 if site.unit.is_metric else 1.0
    for one in usual:
        if abs(one.per_point * POINTS_PER_INCH / inch - number) < 1e-6:
            return one
    numbers = ", ".join(f"{one.per_point * POINTS_PER_INCH / inch:.0f}" for one in usual)
    what = "N of 1:N" if site.unit.is_metric else "feet to the inch"
    raise input_error(
        f"{number:g} is not a scale that plans are drawn at",
        f"give one of {numbers} ({what}), or leave it out",
        field="scale",
    )


def _largest(site: Site, ground: Polygon, paper: Paper) -> tuple[Paper, MapFrame]:
    """The way round of a sheet that gives the larger scale; north up and lying where they tie."""
    options = [
        (sheet, fit_frame(site.unit, ground, map_room(sheet), LABEL_BORDER))
        for sheet in (paper, paper.turned())
    ]
    sheet, frame = min(options, key=lambda one: (one[1].scale.per_point, one[1].turn != 0.0))
    wider = _with_benchmark(site, ground)
    if wider is not None:  # shown where it costs nothing
        trial = fit_frame(site.unit, wider, map_room(sheet), LABEL_BORDER)
        if trial.scale.per_point <= frame.scale.per_point and trial.turn == frame.turn:
            return sheet, trial
    return sheet, frame


def _with_benchmark(site: Site, ground: Polygon) -> Polygon | None:
    mark = site.file.benchmark
    if mark is None or mark.easting is None or mark.northing is None:
        return None
    point = shapely.Point(mark.easting, mark.northing)
    return shapely.convex_hull(shapely.union(ground, point))


def _at_scale(site: Site, ground: Polygon, papers: Sequence[Paper], scale: Scale) -> Arrangement:
    """The whole bed at one scale on the first sheet that takes it; else parts on the last."""
    fitting = [_largest(site, ground, paper) for paper in papers]
    for sheet, frame in fitting:
        if frame.scale.per_point <= scale.per_point:
            room = map_room(sheet)
            return Arrangement(sheet, MapFrame(*room, frame.centre, scale, frame.turn))
    sheet, frame = fitting[-1]
    return Arrangement(sheet, frame, _fewest(site, ground, papers[-1], scale))


def _fewest(site: Site, ground: Polygon, paper: Paper, scale: Scale) -> Tiling:
    """The way round of a sheet that takes the fewest parts."""
    options = [
        tiles_at(site.unit, ground, sheet, map_room(sheet), scale, needed=site.bed.boundary)
        for sheet in (paper, paper.turned())
    ]
    return min(options, key=lambda one: len(one.tiles))
