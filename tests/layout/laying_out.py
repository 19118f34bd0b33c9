"""Grounds known in closed form, and laying out on them as the program does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from shapely import Polygon, box

from dripfield.core.height_field import HeightField
from dripfield.core.units import Unit
from dripfield.design.candidates import candidates
from dripfield.design.choose import choose, choose_layout
from dripfield.ground.laying import LayingSurface
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.lines.frame import fit_frame
from dripfield.layout.lines.terrain import Terrain, grid_over, sample_terrain
from dripfield.layout.model import Layout
from dripfield.measures import Measured, measure_layout
from dripfield.site.model import Bed, LayoutSettings, Site
from dripfield.site.reader import layout_settings
from dripfield.site.schema.bed import BedTable
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.site import SiteFile, SiteTable
from dripfield.site.schema.survey import SurveyTable

METHODS = ("straight", "offset", "contour", "balanced")
STATE_PLANE = (2_300_000.0, 780_000.0)  # of the size that US state plane coordinates have


@dataclass(frozen=True)
class Plane:
    """z = 100 + east x + north y about an origin."""

    east: float = 0.0
    north: float = 0.1
    origin: tuple[float, float] = (0.0, 0.0)

    def elevation(self, xy):
        x, y = (np.asarray(xy) - self.origin).T
        return 100.0 + self.east * x + self.north * y

    def gradient(self, xy):
        return np.tile((self.east, self.north), (len(xy), 1)).astype(float)


@dataclass(frozen=True)
class Cone:
    """z = 100 - slope r: level lines are circles about the origin."""

    slope: float = 0.1
    origin: tuple[float, float] = (0.0, 0.0)

    def elevation(self, xy):
        return 100.0 - self.slope * np.hypot(*(np.asarray(xy) - self.origin).T)

    def gradient(self, xy):
        away = np.asarray(xy) - self.origin
        return -self.slope * away / np.hypot(*away.T)[:, None]


@dataclass(frozen=True)
class Hill:
    """Any height function of easting and northing (arrays in, array out)."""

    height: Callable[[np.ndarray, np.ndarray], np.ndarray]

    def elevation(self, xy):
        return self.height(*np.asarray(xy, dtype=float).T)

    def gradient(self, xy):
        a = 1e-4
        x, y = np.asarray(xy, dtype=float).T
        east = self.height(x + a, y) - self.height(x - a, y)
        north = self.height(x, y + a) - self.height(x, y - a)
        return np.column_stack((east, north)) / (2 * a)


def settings_of(unit: Unit = Unit.FOOT, **layout: object) -> LayoutSettings:
    """Rules with the program's defaults; 2 ft or 0.6 m on centre unless given."""
    layout.setdefault("spacing", unit.default(2.0, 0.6))
    return layout_settings(LayoutTable(**layout), unit)


def lay_out(
    site: Site, surface: Surface, method: str | None = None, compare: bool = False
) -> Layout:
    """A site laid out on given triangles, smoothed as the site asks."""
    return choose_layout(site, LayingSurface(surface, site.settings.smoothing), method, compare)


def lay_on(
    ground: HeightField, bed: Bed | Polygon, settings: LayoutSettings, method: str
) -> Layout:
    """Lay out a bed on any ground, choosing among candidates where there are several."""
    bed = bed if isinstance(bed, Bed) else Bed(bed)
    laid = candidates(ground, bed.open_area(settings.edge_clearance), settings, method)
    if method != "balanced":
        return next(iter(laid))
    return choose(laid, ground, settings, bed).layout


def site_on(shots: np.ndarray, bed: Bed | Polygon, unit: Unit = Unit.FOOT, **layout) -> Site:
    """A site in memory."""
    layout.setdefault("spacing", unit.default(2.0, 0.6))
    file = SiteFile(
        site=SiteTable(name="Test", units=unit.value),
        survey=SurveyTable(points="survey.csv"),
        bed=BedTable(boundary="bed.csv"),
        layout=LayoutTable(**layout),
    )
    bed = bed if isinstance(bed, Bed) else Bed(bed)
    return Site(Path("."), file, unit, layout_settings(file.layout, unit), bed)


def lay_on_shots(
    shots: np.ndarray, bed: Bed | Polygon, method: str, unit: Unit = Unit.FOOT, **layout
) -> tuple[Layout, Measured]:
    """Lay out a bed over triangulated shots as the program does, and measure it."""
    site = site_on(shots, bed, unit, **layout)
    surface = Surface.from_points(shots)
    laid = lay_out(site, surface, method)
    return laid, measure_layout(laid, surface, site.settings, site.bed)


def shots_over(
    ground: HeightField, area: Polygon, step: float, seed: int = 1, noise: float = 0.0
) -> np.ndarray:
    """Jittered shots (n, 3) over a rectangle about an area and a step and a half beyond."""
    rng = np.random.default_rng(seed)
    west, south, east, north = area.buffer(1.5 * step, join_style="mitre").bounds
    x, y = np.meshgrid(np.arange(west, east + step, step), np.arange(south, north + step, step))
    xy = np.column_stack((x.ravel(), y.ravel())) + rng.uniform(-0.3, 0.3, (x.size, 2)) * step
    return np.column_stack((xy, ground.elevation(xy) + noise * rng.standard_normal(len(xy))))


def terrain_on(
    ground: HeightField, area: Polygon, step: float = 1.0, margin: float = 8.0
) -> Terrain:
    """A ground sampled over an area in the area's own frame."""
    frame = fit_frame(ground, area)
    return sample_terrain(ground, frame, grid_over(frame.geometry_to_local(area), step, margin))


def rectangle(width: float, depth: float, origin: tuple[float, float] = (0.0, 0.0)) -> Polygon:
    """From an origin to the east and north."""
    return box(origin[0], origin[1], origin[0] + width, origin[1] + depth)
