"""The design grade: the top of sand as a surface, by one of four rules.

``base`` below is the lowest top of sand that leaves the least sand under the tubing: stripped
ground plus sand depth less tubing height. A grade that may not dig deeper lies on or above it; one
that may is set where earth moved, the volume between the two, is least.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import shapely
from shapely import Polygon

from dripfield.bed.pieces import Pieces, overlay, pieces_of, split
from dripfield.bed.volumes import volume_of
from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.ground.triangles.tin import Surface
from dripfield.site.schema.bed_section import BedSection
from dripfield.site.schema.key import setting

_SAMPLES = 5  # of the ground to a smoothing radius
_NODES = 2  # of the smoothed ground to a smoothing radius
_MOST_NODES = 40_000
_LEAST_SAMPLES = 8  # that a node needs
_CELLS = 12  # of a plane, along the longer side of the area
_DIRECTIONS = 180  # sides of the polygon that stands for the circle of slopes


def design_grade(
    section: BedSection, ground: Surface, base: Pieces, area: Polygon, unit: Unit
) -> Surface:
    """The top of sand over an area and a little beyond.

    Parameters
    ----------
    section : BedSection
    ground : Surface
        Existing ground, known all over ``area``.
    base : Pieces
        Over ``area``, with the level ``base``.
    area : Polygon
        What lies inside the shoulder's edge.
    unit : Unit

    Returns
    -------
    Surface

    Raises
    ------
    InputError
        A key that the rule needs is missing, or belongs to another rule.
    """
    _check_keys(section)
    if section.grade == "ground":
        return ground
    if section.grade == "follow":
        radius = setting(section, "smoothing", unit)
        shape = smoothed(ground, area, radius)
        rise = section.rise
    elif section.grade == "plane":
        shape = plane_over(area, *_strike_plane(section, area))
        rise = 0.0 if section.elevation is not None else None
    else:
        slope = fit_slope(base, section.max_slope or 0.0, section.deepen)
        shape = plane_over(area, np.zeros(2), 0.0, slope)
        rise = None
    if rise is None:
        rise = least_rise(base, shape, section.deepen)
    return Surface(shape.vertices + np.array((0.0, 0.0, rise)), shape.triangles)


def _check_keys(section: BedSection) -> None:
    own = {
        "ground": set(),
        "follow": {"smoothing", "rise"},
        "plane": {"strike", "dip", "elevation", "at"},
        "fit": {"max_slope"},
    }
    needed = {"plane": ("strike", "dip"), "fit": ("max_slope",)}
    for key in needed.get(section.grade, ()):
        if getattr(section, key) is None:
            raise input_error(
                f'grade = "{section.grade}" needs {key}',
                f"add {key}",
                file="site.toml",
                field="[bed.section] grade",
            )
    for rule, keys in own.items():
        for key in sorted(keys - own[section.grade]):
            if getattr(section, key) is not None:
                raise input_error(
                    f'{key} goes with grade = "{rule}" and the grade is "{section.grade}"',
                    f'remove {key} or write grade = "{rule}"',
                    file="site.toml",
                    field=f"[bed.section] {key}",
                )


def _strike_plane(section: BedSection, area: Polygon) -> tuple[Floats, float, Floats]:
    """Point, elevation there and gradient of a plane by strike and dip.

    The right-hand rule of structural geology: facing along the strike, the plane falls to the
    right.
    """
    fall = math.radians((section.strike or 0.0) + 90.0)
    gradient = -(section.dip or 0.0) * np.array((math.sin(fall), math.cos(fall)))
    if section.at is not None:
        at = np.array((section.at[1], section.at[0]))
    else:
        at = np.array((area.centroid.x, area.centroid.y))
    return at, section.elevation or 0.0, gradient


def plane_over(area: Polygon, at: Floats, elevation: float, gradient: Floats) -> Surface:
    """A plane over an area's bounding box and a little more, in even triangles.

    Parameters
    ----------
    area : Polygon
    at : (2,) float array
        Easting, northing of a point of the plane [site unit].
    elevation : float
        Of that point [site unit].
    gradient : (2,) float array
        Rise per unit of easting and of northing.

    Returns
    -------
    Surface
    """
    low, high = np.array(area.bounds).reshape(2, 2)
    step = float((high - low).max()) / _CELLS
    count = np.ceil((high - low) / step).astype(int) + 2
    x, y = np.meshgrid(*(np.arange(n + 1) for n in count))
    xy = low - step + step * np.column_stack((x.ravel(), y.ravel()))
    corner = (x + y * (count[0] + 1))[:-1, :-1].ravel()
    right, up = corner + 1, corner + count[0] + 1
    triangles = np.concatenate(
        (np.column_stack((corner, right, up + 1)), np.column_stack((corner, up + 1, up)))
    )
    return Surface(np.column_stack((xy, elevation + (xy - at) @ gradient)), triangles)


def smoothed(ground: Surface, area: Polygon, radius: float) -> Surface:
    """The ground smoothed: at each node a plane fitted to the ground within a radius.

    Parameters
    ----------
    ground : Surface
    area : Polygon
        The result covers it and two node distances beyond.
    radius : float
        Ground farther than this has no say [site unit]; nearer ground weighs more, by the tricube
        function of W. S. Cleveland, "Robust locally weighted regression and smoothing
        scatterplots", J. Am. Stat. Assoc. 74 (1979).

    Returns
    -------
    Surface
        A plane stays that plane.
    """
    from scipy.spatial import cKDTree

    radius = max(radius, _NODES * math.sqrt(area.buffer(radius).area / _MOST_NODES))
    step = radius / _NODES
    origin = np.array(area.bounds[:2])
    samples = _grid_in(area.buffer(2.0 * radius), radius / _SAMPLES)
    z = ground.elevation(samples)
    samples, z = samples[~np.isnan(z)] - origin, z[~np.isnan(z)]
    corners = shapely.get_coordinates(area.exterior)[:-1]
    grid = _grid_in(area.buffer(2.0 * step), step)
    apart = cKDTree(corners).query(grid)[0] > 0.2 * step
    nodes = np.concatenate((corners, grid[apart])) - origin
    pairs = cKDTree(nodes).sparse_distance_matrix(
        cKDTree(samples), radius, output_type="coo_matrix"
    )
    node, sample = pairs.row, pairs.col
    weight = (1.0 - (pairs.data / radius) ** 3) ** 3
    offset = (samples[sample] - nodes[node]) / radius
    columns = np.column_stack((np.ones(len(offset)), offset))
    middle = float(z.mean())
    products = np.einsum("k,ki,kj->kij", weight, columns, columns).reshape(len(node), 9)
    right = weight[:, None] * columns * (z[sample] - middle)[:, None]
    count = len(nodes)
    matrix = np.column_stack([np.bincount(node, part, count) for part in products.T])
    vector = np.column_stack([np.bincount(node, part, count) for part in right.T])
    known = np.bincount(node, minlength=count) >= _LEAST_SAMPLES
    fitted = np.linalg.solve(matrix[known].reshape(-1, 3, 3), vector[known][..., None])[:, 0, 0]
    return Surface.from_points(np.column_stack((nodes[known] + origin, fitted + middle)))


def _grid_in(area: Polygon, step: float) -> Floats:
    """Points (k, 2) of a square grid inside an area."""
    low, high = np.array(area.bounds).reshape(2, 2)
    x = np.arange(low[0], high[0] + step, step)
    y = np.arange(low[1], high[1] + step, step)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    shapely.prepare(area)
    return np.asarray(grid[shapely.contains_xy(area, grid)])


def least_rise(base: Pieces, shape: Surface, deepen: bool) -> float:
    """How far to lift a shape: to lie on or above ``base``, or to move least earth.

    Parameters
    ----------
    base : Pieces
        With the level ``base``.
    shape : Surface
        Known all over the pieces.
    deepen : bool
        False: the least lift that leaves the shape nowhere below ``base``. True: the lift for
        which as much of the area lies below as above, which moves the least earth.

    Returns
    -------
    float
        [site unit]
    """
    pieces = overlay(base.only("base"), pieces_of(shape, "shape"))
    gap = pieces.levels["base"] - pieces.levels["shape"]
    if not deepen:
        return float(gap.max())

    def above(rise: float) -> float:
        lifted = pieces.with_level("shape", pieces.levels["shape"] + rise)
        volume = volume_of(lifted, "base", "shape")
        return volume.fill_area - volume.cut_area

    return _root(above, float(gap.min()), float(gap.max()))


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function that may jump passes zero, between two places."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        if rising(middle) < 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def fit_slope(base: Pieces, steepest: float, deepen: bool) -> Floats:
    """The gradient of the plane that moves the least earth against ``base``.

    Parameters
    ----------
    base : Pieces
        With the level ``base``.
    steepest : float
        Greatest slope allowed, as a fraction.
    deepen : bool
        False: the plane stays on or above ``base``, and the sand under it is least: a linear
        programme, exact but for a slope limit drawn as a polygon inside its circle. True: the sum
        of cut and fill is least, with both and their derivatives exact.

    Returns
    -------
    (2,) float array
        Rise per unit of easting and of northing.
    """
    from scipy.optimize import NonlinearConstraint, linprog, minimize

    areas = base.areas
    origin = np.average(base.centres, axis=0, weights=areas)
    size = math.sqrt(float(areas.sum()))
    z = base.levels["base"]
    middle = float(np.average(z.mean(axis=1), weights=areas))
    corners = (base.xy - origin) / size
    height = (z - middle) / size
    angle = np.arange(_DIRECTIONS) * (2.0 * math.pi / _DIRECTIONS)
    facing = np.column_stack((np.cos(angle), np.sin(angle), np.zeros(_DIRECTIONS)))
    limit = steepest * math.cos(math.pi / _DIRECTIONS)
    flat = corners.reshape(-1, 2)
    start = linprog(
        (0.0, 0.0, 1.0),  # the origin is the area's centroid: the plane's mean is its third term
        A_ub=np.vstack((np.column_stack((-flat, -np.ones(len(flat)))), facing)),
        b_ub=np.concatenate((-height.reshape(-1), np.full(_DIRECTIONS, limit))),
        bounds=[(None, None)] * 3,
        method="highs",
    ).x
    if not deepen:
        return np.asarray(start[:2])
    scaled = Pieces(corners, {"base": height})

    def earth(plane: Floats) -> tuple[float, Floats]:
        level = corners @ plane[:2] + plane[2]
        pieces = split(scaled.with_level("plane", level), "base", "plane")
        depth = (pieces.levels["plane"] - pieces.levels["base"]).mean(axis=1)
        part = pieces.areas * np.sign(depth)
        slope = (part[:, None] * pieces.centres).sum(axis=0)
        return float((part * depth).sum()), np.append(slope, part.sum())

    within = NonlinearConstraint(
        lambda plane: plane[0] ** 2 + plane[1] ** 2,
        -np.inf,
        steepest**2,
        jac=lambda plane: np.array((2 * plane[0], 2 * plane[1], 0.0)),
    )
    start[2] = 0.0
    best = minimize(
        earth,
        start,
        jac=True,
        method="SLSQP",
        constraints=[within],
        options={"ftol": 1e-12, "maxiter": 200},
    ).x[:2]
    return np.asarray(best * min(1.0, steepest / max(float(np.hypot(*best)), 1e-300)))
