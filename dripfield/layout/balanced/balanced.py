"""``balanced``: the most tubing that is level and evenly spaced at once.

The bed is divided into panels by straight seams down the slope, each with a stripe field of its own
(:mod:`dripfield.layout.balanced.stripes`). One candidate layout is made for each number of panels;
whoever judges them by measurement picks one.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.layout.balanced.division import DOUBT, Divider, Division
from dripfield.layout.balanced.panels import Panels
from dripfield.layout.balanced.seams import Seams
from dripfield.layout.balanced.stripes import Tolerances
from dripfield.layout.lines.laying import lay, panel_name
from dripfield.layout.lines.terrain import Terrain
from dripfield.layout.lines.tracing import clip, with_rim
from dripfield.layout.model import Layout
from dripfield.site.model import LayoutSettings

STRIPS = 14
_ROUGH = 2.5  # of the spacing: node distance of the rough grids
_LEANS = ((0.9, (-0.35, 0.35)), (0.75, (-1.0, 1.0)))  # where the divisions found are expected to be
# worth less than this of the bed, seams that run so far to the side for each unit down are tried
_SURER = 0.004  # of the bed, that leaning seams must be expected to serve more
_WAVE_ALONG = 5.0  # of the spacing: shortest wave wanted along a lateral
_WAVE_ACROSS = 5.0  # of the spacing: shortest wave wanted across the laterals


class Balanced:
    """Balanced layouts of one bed, made when asked for.

    Parameters
    ----------
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    site_area : Polygon or MultiPolygon
        The same in site coordinates.
    settings : LayoutSettings
        With ``panels`` given only that number is made.
    """

    def __init__(
        self,
        terrain: Terrain,
        area: BaseGeometry,
        site_area: BaseGeometry,
        settings: LayoutSettings,
    ) -> None:
        spacing = settings.spacing
        want = Tolerances(
            spacing,
            settings.level_tolerance,
            settings.spacing_tolerance,
            _WAVE_ALONG * spacing,
            _WAVE_ACROSS * spacing,
        )
        self._settings, self._site_area = settings, site_area
        self._rim = with_rim(area, spacing)
        self._gap = spacing * (1.0 - settings.spacing_tolerance)
        along_slope = settings.spacing_measured == "slope"
        narrowest = settings.min_length + self._gap
        self._panels = Panels(terrain, area, Seams(area), want, along_slope, narrowest)
        self._divider = Divider(self._panels, self._gap, settings.panel_gain)
        self._made: list[tuple[Layout, Division]] = []

    @cached_property
    def whole(self) -> Division:
        """The bed in one panel."""
        return self._divider.whole()

    @cached_property
    def divisions(self) -> list[Division]:
        """The best division for each number of panels allowed, the most promising first."""
        settings = self._settings
        most = settings.panels or settings.max_panels
        if most == 1:
            return [self.whole]
        strips, step = max(STRIPS, most), _ROUGH * settings.spacing
        found = self._divider.divisions(most, strips, step)
        for hard, leans in _LEANS:
            if max(self._worth(one) for one in found) >= hard:
                break
            for lean in leans:
                leaning = self._divider.divisions(most, strips, step, lean)
                found = [
                    other if other.served > one.served + _SURER else one
                    for one, other in zip(found, leaning, strict=True)
                ]
        if settings.panels:
            return found[-1:]
        return sorted(found, key=self._worth, reverse=True)

    def layouts(self) -> Iterator[Layout]:
        """Layouts of different numbers of panels, the most promising first, as far as any other
        may be as good."""
        likely = self.divisions[0]
        for division in self.divisions:
            if self._worth(division) > self._worth(likely) - DOUBT:
                yield self._laid(division)

    def others(self, most: int) -> Iterator[Layout]:
        """A layout for each number of panels that none was made of, from one up to a number."""
        made = {len(division.parts) for _, division in self._made}
        for division in sorted(self.divisions, key=lambda one: len(one.parts)):
            if len(division.parts) <= most and len(division.parts) not in made:
                yield self._laid(division)

    def finer(self, layout: Layout) -> Iterator[Layout]:
        """The same number of panels with their seams moved, in case that serves more."""
        division = next((one for made, one in self._made if made is layout), None)
        if division is None or len(division.parts) == 1:
            return
        moved = self._divider.moved(division)
        if moved.cuts != division.cuts:
            yield self._laid(moved)

    def _worth(self, division: Division) -> float:
        """What a division is expected to serve, each panel weighed at what it must gain."""
        return division.served - self._settings.panel_gain * len(division.parts)

    def _laid(self, division: Division) -> Layout:
        """Draw and lay one division."""
        panels, settings, rim = self._panels, self._settings, self._rim
        frame = panels.terrain.frame
        seams = [panels.seams.line(cut) for cut in division.cuts[1:-1]]
        clear = shapely.union_all([shapely.linestrings(seam) for seam in seams])
        clear = clear.buffer(self._gap / 2.0)
        pieces: list[BaseGeometry] = []
        lines: list[list[Floats]] = []
        for part in division.parts:
            piece = rim.intersection(panels.seams.between(part)) if seams else rim
            room = piece.difference(clear)
            if room.is_empty:
                continue
            pieces.append(piece)
            lines.append(panels.lines(part, room, settings.min_length, settings.bend_radius))
        laid = lay(lines, panels.terrain, settings)
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
