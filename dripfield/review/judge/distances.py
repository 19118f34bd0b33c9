"""Distances between two drawn lines, and lengths of one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length
from dripfield.measures.laterals import LateralMeasure


def length_through(points: Floats, line: Floats) -> float:
    """Length of tubing through points shot along it, which bends between them as its design does.

    Parameters
    ----------
    points : (k, 2) float array
        At least two, in order along the line [site unit].
    line : (m, 2) float array
        The design [site unit].

    Returns
    -------
    float
        Length of the chords between the points, and what the chords between the places nearest to
        them on the design cut off it [site unit].
    """
    shift = line[0]
    design = shapely.linestrings(line - shift)
    station = np.sort(shapely.line_locate_point(design, shapely.points(points - shift)))
    chords = shapely.get_coordinates(shapely.line_interpolate_point(design, station))
    cut_off = float(station[-1] - station[0]) - line_length(chords)
    return line_length(points) + max(cut_off, 0.0)


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


def mean_gaps(lines: Sequence[Floats], others: Sequence[Floats]) -> Floats:
    """Mean distance from places along each line to each other line, (n, m).

    Parameters
    ----------
    lines, others : sequences of (k, 2) float arrays
        Polylines [site unit]; 21 even places are taken on each of ``lines``.

    Returns
    -------
    (n, m) float array
        [site unit]
    """
    shift = np.round(lines[0][0])
    first, second = (
        np.array([shapely.linestrings(xy - shift) for xy in side]) for side in (lines, others)
    )
    shares = np.linspace(0.0, 1.0, 21)
    places = shapely.line_interpolate_point(first[:, None], shares, normalized=True)
    shapely.prepare(second)
    gaps: Floats = shapely.distance(places[:, :, None], second).mean(axis=1)
    return gaps


def gaps_between(lines: Sequence[Floats]) -> Floats:
    """Mean distance between each two of several lines, from the shorter one, (n, n)."""
    gaps = mean_gaps(lines, lines)
    length = np.array([line_length(xy) for xy in lines])
    from_shorter: Floats = np.where(length[:, None] <= length, gaps, gaps.T)
    return from_shorter


def mean_spacing(measure: LateralMeasure) -> float:
    """Mean on-centre distance of a lateral to its neighbours; NaN where it has none."""
    gaps = np.concatenate((measure.gap_left, measure.gap_right))
    gaps = gaps[np.isfinite(gaps)]
    return float(gaps.mean()) if len(gaps) else math.nan
