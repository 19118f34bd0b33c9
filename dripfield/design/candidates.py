"""Candidate layouts of one area by any of the methods."""

from __future__ import annotations

from collections.abc import Iterator

from shapely.geometry.base import BaseGeometry

from dripfield.core.errors import input_error
from dripfield.core.height_field import HeightField
from dripfield.layout.balanced.balanced import Balanced
from dripfield.layout.lines.frame import fit_frame
from dripfield.layout.lines.laying import lay
from dripfield.layout.lines.terrain import Terrain, grid_over, sample_terrain
from dripfield.layout.methods.by_name import PLAIN as PLAIN
from dripfield.layout.methods.by_name import lines_by
from dripfield.layout.model import Layout
from dripfield.site.model import LayoutSettings

_GRID_STEP = 0.5  # of the spacing, between nodes at which the ground is sampled
_BETWEEN_SHOTS = 3.0  # of what a shot may be moved: how far lines may leave the triangles between
_BEHIND = 0.05  # of the bed: one field so far behind several leaves no hope for a plain method
_NODES = 1_500_000  # a finer grid than this would be a mistake in the spacing


def candidates(
    ground: HeightField,
    area: BaseGeometry,
    settings: LayoutSettings,
    method: str | None = None,
    surveyed: HeightField | None = None,
) -> Candidates:
    """Lay out an area: one layout, or for ``balanced`` several to choose from.

    Parameters
    ----------
    ground : HeightField
        Elevations, known all over the area.
    area : Polygon or MultiPolygon
        Where a lateral may lie [site coordinates].
    settings : LayoutSettings
    method : str, optional
        In place of the settings' own.
    surveyed : HeightField, optional
        The ground as surveyed, when ``ground`` is smoothed.

    Returns
    -------
    Candidates
        Made one by one as they are asked for.

    Raises
    ------
    InputError
        If the ground is flat and the method needs a contour direction, or the spacing is too small
        for the bed to be drawn.
    """
    method = method or settings.method
    frame = fit_frame(ground, area, settings.bearing if method == "straight" else None)
    local = frame.geometry_to_local(area)
    left, top, right, bottom = local.bounds
    step = _GRID_STEP * settings.spacing
    if (right - left) * (bottom - top) / step**2 > _NODES:
        raise input_error(
            f"{settings.spacing:g} is too small for a bed {right - left:.0f} by {bottom - top:.0f}",
            "check the unit: spacing is in the site's own",
            file="site.toml",
            field="[layout] spacing",
        )
    grid = grid_over(local, step, 4.0 * settings.spacing)
    most = _BETWEEN_SHOTS * settings.smoothing
    terrain = sample_terrain(ground, frame, grid, surveyed, most)
    return Candidates(method, terrain, local, area, settings)


class Candidates:
    """Layouts of one area, made one by one.

    Iterating gives the one layout of a plain method; for ``balanced`` the plain methods, the
    easiest to stake first, then layouts of different numbers of panels, the most promising first.
    Plain methods that curve are left out where even one stripe field, which bends more freely than
    any of their lines, would serve far less than several.

    Parameters
    ----------
    method : str
        A plain method or ``balanced``.
    terrain : Terrain
    local, area : Polygon or MultiPolygon
        The area in local coordinates, and in (easting, northing) [site unit].
    settings : LayoutSettings
    """

    def __init__(
        self,
        method: str,
        terrain: Terrain,
        local: BaseGeometry,
        area: BaseGeometry,
        settings: LayoutSettings,
    ) -> None:
        self._method, self._settings = method, settings
        self._terrain, self._local, self._area = terrain, local, area
        self._balanced: Balanced | None = None

    def __iter__(self) -> Iterator[Layout]:
        settings = self._settings
        if self._method != "balanced":
            yield self._plain(self._method)
            return
        self._balanced = balanced = Balanced(self._terrain, self._local, self._area, settings)
        if settings.panels in (None, 1) and not settings.seams:
            yield self._plain(PLAIN[0])
            served = balanced.whole.served
            if served > 1.0 - _BEHIND or served > balanced.divisions[0].served - _BEHIND:
                for method in PLAIN[1:]:
                    yield self._plain(method)
        yield from balanced.layouts()

    def finer(self, layout: Layout) -> Iterator[Layout]:
        """Layouts of as many panels as one of these, their seams moved; none for a plain one."""
        if self._balanced is not None:
            yield from self._balanced.finer(layout)

    def others(self, most: int) -> Iterator[Layout]:
        """For ``balanced`` a layout for each number of panels, up to a number, that none was made
        of yet."""
        fixed = self._settings.panels or self._settings.seams
        if self._balanced is not None and not fixed:
            yield from self._balanced.others(most)

    def _plain(self, method: str) -> Layout:
        """A layout by one family of lines."""
        lines = lines_by(method, self._terrain, self._local, self._settings)
        laid = lay([lines], self._terrain, self._settings)
        return Layout(
            method=method,
            laterals=laid.laterals,
            area=self._area,
            panels={"A": self._area},
            dropped_count=laid.dropped_count,
            dropped_length=laid.dropped_length,
        )
