"""``balanced``: the most tubing that is level and evenly spaced at once.

The bed is divided into panels along fall lines, each with a stripe field of its own
(:mod:`dripfield.layout.stripes`). One candidate layout is made for each number of panels; whoever
judges them by measurement picks one.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.arrays import Floats
from dripfield.layout.falls import fall_coordinate
from dripfield.layout.laying import lay, panel_name
from dripfield.layout.model import Layout
from dripfield.layout.panels import Divider, Division
from dripfield.layout.stripes import Tolerances
from dripfield.layout.terrain import Terrain
from dripfield.site.model import LayoutRules

STRIPS = 12
_ROUGH = 2.0  # of the spacing: node distance of the rough grids
_WAVE_ALONG = 5.5  # of the spacing: shortest wave wanted along a lateral
_WAVE_ACROSS = 4.0  # of the spacing: shortest wave wanted across the laterals


def balanced_layouts(terrain: Terrain, area: BaseGeometry, rules: LayoutRules) -> Iterator[Layout]:
    """One candidate for each number of panels, from one up, made when asked for.

    Parameters
    ----------
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    rules : LayoutRules
        With ``panels`` given only that number is made.

    Yields
    ------
    Layout
    """
    spacing = rules.spacing
    want = Tolerances(
        spacing,
        rules.level_tolerance,
        rules.spacing_tolerance,
        _WAVE_ALONG * spacing,
        _WAVE_ACROSS * spacing,
    )
    falls = fall_coordinate(terrain, area, 2.0 * spacing, 4.0 * spacing)
    divider = Divider(terrain, area, falls, want, rules.spacing_measured == "slope")
    gap = spacing * (1.0 - rules.spacing_tolerance)
    if rules.panels in (None, 1):
        yield _laid(divider, Division((-np.inf, np.inf)), rules, gap)
    most = rules.panels or rules.max_panels
    if most == 1:
        return
    divisions = divider.divisions(most, max(STRIPS, most), _ROUGH * spacing, gap)
    for division in divisions[(rules.panels or 2) - 1 :]:
        yield _laid(divider, division, rules, gap)


def _laid(divider: Divider, division: Division, rules: LayoutRules, gap: float) -> Layout:
    """Draw and lay one division."""
    frame = divider.terrain.frame
    rim = divider.area.buffer(1e-6 * rules.spacing, join_style="mitre")
    seams = [line for t in division.cuts[1:-1] for line in divider.falls.seam(t)]
    clear = shapely.union_all([shapely.linestrings(seam) for seam in seams]).buffer(gap / 2.0)
    pieces: list[BaseGeometry] = []
    lines: list[list[Floats]] = []
    for low, high in zip(division.cuts[:-1], division.cuts[1:], strict=True):
        piece = rim.intersection(divider.falls.between(low, high)) if seams else rim
        room = piece.difference(clear)
        if room.is_empty:
            continue
        drawn = divider.lines(low, high, room, rules.min_length, rules.bend_radius)
        pieces.append(piece)
        lines.append(drawn)
    laid = lay(lines, divider.terrain, rules)
    return Layout(
        method="balanced",
        laterals=laid.laterals,
        area=frame.geometry_to_site(divider.area),
        panels={
            panel_name(number): frame.geometry_to_site(pieces[k])
            for number, k in enumerate(laid.panels)
        },
        seams=tuple(
            frame.to_site(shapely.get_coordinates(part))
            for seam in seams
            for part in shapely.get_parts(shapely.linestrings(seam).intersection(rim))
            if shapely.get_type_id(part) == 1
        ),
        dropped_count=laid.dropped_count,
        dropped_length=laid.dropped_length,
    )
