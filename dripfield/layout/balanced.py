"""``balanced``: the most tubing that is level and evenly spaced at once.

The bed is divided into panels along fall lines, each with a stripe field of its own
(:mod:`dripfield.layout.stripes`). One candidate layout is made for each number of panels; whoever
judges them by measurement picks one.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

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
from dripfield.layout.tracing import clip, with_rim
from dripfield.site.model import LayoutRules

STRIPS = 14
_ROUGH = 2.0  # of the spacing: node distance of the rough grids
_FINER = (2.0, 1.5)  # the same, when the seams of the chosen division are moved
_WAVE_ALONG = 5.5  # of the spacing: shortest wave wanted along a lateral
_WAVE_ACROSS = 4.0  # of the spacing: shortest wave wanted across the laterals


class Balanced:
    """Balanced layouts of one bed, made when asked for.

    Parameters
    ----------
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    site_area : Polygon or MultiPolygon
        The same in site coordinates.
    rules : LayoutRules
        With ``panels`` given only that number is made.
    """

    def __init__(
        self,
        terrain: Terrain,
        area: BaseGeometry,
        site_area: BaseGeometry,
        rules: LayoutRules,
    ) -> None:
        spacing = rules.spacing
        want = Tolerances(
            spacing,
            rules.level_tolerance,
            rules.spacing_tolerance,
            _WAVE_ALONG * spacing,
            _WAVE_ACROSS * spacing,
        )
        falls = fall_coordinate(terrain, area, 2.0 * spacing, 4.0 * spacing)
        self._rules, self._site_area = rules, site_area
        self._rim = with_rim(area, spacing)
        self._gap = spacing * (1.0 - rules.spacing_tolerance)
        along_slope = rules.spacing_measured == "slope"
        narrowest = rules.min_length + self._gap
        self._divider = Divider(terrain, area, falls, want, along_slope, narrowest)
        self._made: list[tuple[Layout, Division]] = []

    def layouts(self) -> Iterator[Layout]:
        """One layout for each number of panels, from one up."""
        rules = self._rules
        if rules.panels in (None, 1):
            yield self._laid(Division((-np.inf, np.inf)))
        most = rules.panels or rules.max_panels
        if most == 1:
            return
        rough = _ROUGH * rules.spacing
        divisions = self._divider.divisions(most, max(STRIPS, most), rough, self._gap)
        for division in divisions[(rules.panels or 2) - 1 :]:
            yield self._laid(division)

    def finer(self, layout: Layout) -> Iterator[Layout]:
        """The same number of panels with their seams moved, in case that serves more."""
        division = next((one for made, one in self._made if made is layout), None)
        if division is None or len(division.cuts) < 3:
            return
        for step in _FINER:
            moved = self._divider.refined(division, step * self._rules.spacing, self._gap)
            if moved != division:
                yield self._laid(moved)

    def _laid(self, division: Division) -> Layout:
        """Draw and lay one division."""
        divider, rules, rim = self._divider, self._rules, self._rim
        frame = divider.terrain.frame
        seams = [line for t in division.cuts[1:-1] for line in divider.falls.seam(t)]
        clear = shapely.union_all([shapely.linestrings(seam) for seam in seams])
        clear = clear.buffer(self._gap / 2.0)
        pieces: list[BaseGeometry] = []
        lines: list[list[Floats]] = []
        for low, high in pairwise(division.cuts):
            piece = rim.intersection(divider.falls.between(low, high)) if seams else rim
            room = piece.difference(clear)
            if room.is_empty:
                continue
            pieces.append(piece)
            lines.append(divider.lines(low, high, room, rules.min_length, rules.bend_radius))
        laid = lay(lines, divider.terrain, rules)
        layout = Layout(
            method="balanced",
            laterals=laid.laterals,
            area=self._site_area,
            panels={
                panel_name(number): frame.geometry_to_site(pieces[k])
                for number, k in enumerate(laid.panels)
            },
            seams=tuple(frame.to_site(seam) for seam in clip(seams, rim)),
            dropped_count=laid.dropped_count,
            dropped_length=laid.dropped_length,
        )
        self._made.append((layout, division))
        return layout
