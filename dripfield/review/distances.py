"""Distances between two drawn lines, and lengths of one."""

from __future__ import annotations

import math

import numpy as np
import shapely

from dripfield.arrays import Floats
from dripfield.measures.laterals import LateralMeasure


def line_length(xy: Floats) -> float:
    """Length of a polyline (k, 2) in plan."""
    return float(np.hypot(*np.diff(xy, axis=0).T).sum())


def offsets(one: Floats, other: Floats, step: float) -> tuple[float, float]:
    """How far two lines lie apart.

    Parameters
    ----------
    one, other : (k, 2) float arrays
        Polylines [site unit].
    step : float
        Greatest distance between the places compared [site unit].

    Returns
    -------
    mean, most : float
        Mean distance from places along each line to the other, both ways, and the greatest
        (Hausdorff) distance, to a step's accuracy between vertices.
    """
    shift = np.round(one[0])
    lines = [shapely.linestrings(xy - shift) for xy in (one, other)]
    both = []
    for line, reference in (lines, lines[::-1]):
        count = max(2, math.ceil(line.length / step) + 1)
        at = np.linspace(0.0, line.length, count)
        even = shapely.distance(shapely.line_interpolate_point(line, at), reference)
        corners = shapely.distance(shapely.points(shapely.get_coordinates(line)), reference)
        both.append((even, corners))
    mean = float(np.concatenate([even for even, _ in both]).mean())
    most = max(float(gap.max()) for pair in both for gap in pair)
    return mean, most


def mean_distance(one: Floats, other: Floats) -> float:
    """Mean distance from the shorter of two lines to the other, over its middle nine tenths."""
    shift = np.round(one[0])
    short, long = sorted((shapely.linestrings(xy - shift) for xy in (one, other)), key=_size)
    places = shapely.line_interpolate_point(short, np.linspace(0.05, 0.95, 41), normalized=True)
    return float(shapely.distance(places, long).mean())


def _size(line: shapely.LineString) -> float:
    return float(line.length)


def mean_spacing(measure: LateralMeasure) -> float:
    """Mean on-centre distance of a lateral to its neighbours; NaN where it has none."""
    gaps = np.concatenate((measure.gap_left, measure.gap_right))
    gaps = gaps[np.isfinite(gaps)]
    return float(gaps.mean()) if len(gaps) else math.nan
