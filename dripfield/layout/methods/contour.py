"""``contour``: true level lines, as nearly the spacing apart as the ground allows.

From one line the next is taken at the elevation where half of the ground lies one spacing away,
but never so near that the steepest place falls under the spacing by more than the tolerance. On a
plane or a cone that is the spacing itself.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.layout.lines.fairing import eased_within
from dripfield.layout.lines.laying import VERTEX_STEP
from dripfield.layout.lines.start import best_start, starts
from dripfield.layout.lines.terrain import Terrain
from dripfield.layout.lines.tracing import Field, clip, clipped_lengths

_LADDER = 28  # level lines at which the step is found; between them it is interpolated


def plan_spacing(terrain: Terrain, uv: Floats, spacing: float, along_slope: bool) -> Floats:
    """On-centre distance in plan at places (k, 2): the spacing, less on a slope if so measured.

    Parameters
    ----------
    terrain : Terrain
    uv : (k, 2) float array
        Local coordinates.
    spacing : float
        [site unit]
    along_slope : bool
        The spacing is measured along the slope.

    Returns
    -------
    (k,) float array
        [site unit]
    """
    if not along_slope:
        return np.full(len(uv), spacing)
    slope = np.hypot(*terrain.gradient(uv).T)
    return np.asarray(spacing / np.hypot(1.0, slope))


def step_down(
    terrain: Terrain,
    line: Floats,
    level: float,
    area: BaseGeometry,
    spacing: float,
    tolerance: float,
    along_slope: bool,
) -> float:
    """How far below a level line the next one lies.

    Parameters
    ----------
    terrain : Terrain
    line : (k, 2) float array
        Places on the level line (all its parts) within the area, the ends of the parts among them.
    level : float
        Its elevation.
    area : Polygon or MultiPolygon
        Ground for the usual step counts only inside it; the steepest place counts wherever the
        next line would be, for it may yet cross the area beside.
    spacing, tolerance : float
        On-centre distance and the fraction it may fall short by.
    along_slope : bool
        Distance measured along the slope.

    Returns
    -------
    float
        Difference in elevation, NaN when there is no place.
    """
    if not len(line):
        return float("nan")
    rise = terrain.gradient(line)
    steep = np.maximum(np.hypot(*rise.T), 1e-9)
    down = -rise / steep[:, None]
    apart = plan_spacing(terrain, line, spacing, along_slope)[:, None]
    ahead = line + apart * down
    counted = shapely.contains_xy(area, ahead)
    if not counted.any():
        counted = np.ones(len(line), dtype=bool)
    usual = np.median(level - terrain.elevation(ahead)[counted])
    nearest = terrain.elevation(line + (1.0 - tolerance) * apart * down)
    return float(max(usual, (level - nearest).max(), 1e-6))


def contour_levels(first: float, lowest: float, at: Floats, step: Floats) -> Floats:
    """Elevations from the first down to the lowest, stepping by a step known at some elevations.

    Parameters
    ----------
    first, lowest : float
        Elevations [site unit].
    at : (n,) float array
        Elevations where the step is known, rising [site unit].
    step : (n,) float array
        The step at each [site unit].

    Returns
    -------
    (m,) float array
        Falling; the last may lie below ``lowest`` [site unit].
    """
    levels = [first]
    while levels[-1] > lowest and len(levels) < 5000:
        levels.append(levels[-1] - float(np.interp(levels[-1], at, step)))
    return np.array(levels)


def contour_lines(
    terrain: Terrain,
    area: BaseGeometry,
    spacing: float,
    tolerance: float,
    least: float,
    radius: float,
    along_slope: bool = False,
) -> list[Floats]:
    """True level lines for laterals, the first placed so that the most tubing fits.

    Parameters
    ----------
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    spacing : float
        On-centre distance.
    tolerance : float
        Fraction by which the spacing may fall short.
    least : float
        Pieces shorter than this do not count for the start.
    radius : float
        Least bend radius.
    along_slope : bool
        Measure the on-centre distance along the slope instead of in plan.

    Returns
    -------
    list of (k, 2) float arrays
    """
    field = Field(terrain.grid, terrain.z)
    rim = shapely.get_coordinates(area.segmentize(spacing))
    z = terrain.elevation(rim)
    nodes = terrain.grid.nodes.reshape(-1, 2)
    within = terrain.z.ravel()[shapely.contains_xy(area, nodes)]
    high, low = max(z.max(), within.max(initial=-np.inf)), min(z.min(), within.min(initial=np.inf))
    ladder = np.linspace(low, high, _LADDER + 2)[1:-1]
    steps = np.array(
        [
            step_down(terrain, _places(field, at, area), at, area, spacing, tolerance, along_slope)
            for at in ladder
        ]
    )
    known = np.isfinite(steps)
    ladder, steps = ladder[known], steps[known]
    usual = float(np.interp(high, ladder, steps))

    def lengths(first: float) -> Floats:
        levels = contour_levels(first, low, ladder, steps)
        return clipped_lengths(
            [line for level in levels for line in field.rough_lines(level)], area
        )

    # starts that put a line just through the highest or, counted back, the lowest place
    lowest_on = contour_levels(high, low, ladder, steps)
    fit_low = high - (lowest_on[-2] - low if len(lowest_on) > 1 else 0.0)
    candidates = high - starts(np.array((0.0, high - fit_low)), usual)
    start = best_start(candidates, lengths, least)
    levels = contour_levels(start, low, ladder, steps)
    lines = field.lines(levels.tolist(), VERTEX_STEP * spacing)
    return eased_within(lines, area, radius)


def _places(field: Field, level: float, area: BaseGeometry) -> Floats:
    """Places on a level line within an area, (k, 2)."""
    parts = clip(field.rough_lines(level), area)
    return field.settle(np.concatenate(parts), level) if parts else np.empty((0, 2))
