"""Each shot against a surface fitted to the shots around it, as one sparse matrix.

Row i of the matrix takes the elevations to the residual of shot i from a least-squares surface
through its neighbours without it: quadratic where there are shots enough, else a plane. Rows are
scaled so that shots with independent errors of one standard deviation have residuals of that same
standard deviation, at the rim too, where the fit reaches outward.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.core.arrays import Floats, Ints

LEAST_SHOTS = 8  # fewer cannot disagree with each other in any telling way
_QUADRATIC = 20  # shots from which a quadratic is fitted
_CHUNK = 20_000


def residual_matrix(xy: Floats) -> tuple[Any, Ints]:
    """The matrix of residuals.

    Parameters
    ----------
    xy : (n, 2) float array
        Distinct plan points, at least :data:`LEAST_SHOTS`.

    Returns
    -------
    matrix : (n, n) scipy sparse array
        Residuals are ``matrix @ z``.
    neighbours : (n, k) int array
        The shots each fit rests on, nearest first.
    """
    from scipy.sparse import csr_array
    from scipy.spatial import cKDTree

    n = len(xy)
    terms = 6 if n >= _QUADRATIC else 3
    count = min(2 * terms + 2, n - 1)
    near = xy - xy.mean(axis=0)
    distance, found = cKDTree(near).query(near, k=count + 1)
    neighbours = _without_self(found)
    reach = distance[:, -1]
    weights = np.empty((n, count))
    for start in range(0, n, _CHUNK):
        rows = slice(start, start + _CHUNK)
        offset = (near[neighbours[rows]] - near[rows, None]) / reach[rows, None, None]
        weights[rows] = np.linalg.pinv(_terms(offset, terms), rcond=1e-6)[:, 0, :]
    scale = 1.0 / np.sqrt(1.0 + (weights**2).sum(axis=1))
    values = np.column_stack((np.ones(n), -weights)) * scale[:, None]
    columns = np.column_stack((np.arange(n), neighbours))
    rows_at = np.arange(0, (n + 1) * (count + 1), count + 1)
    return csr_array((values.ravel(), columns.ravel(), rows_at), shape=(n, n)), neighbours


def _without_self(found: Ints) -> Ints:
    """Neighbour numbers (n, k) from (n, k + 1) that hold the point itself."""
    n, width = found.shape
    other = found != np.arange(n)[:, None]
    other[other.all(axis=1), -1] = False
    return np.asarray(found[other].reshape(n, width - 1), dtype=np.int64)


def _terms(offset: Floats, count: int) -> Floats:
    """Plane or quadratic terms (…, count) of offsets (…, 2)."""
    x, y = offset[..., 0], offset[..., 1]
    columns = [np.ones_like(x), x, y, x * x, x * y, y * y]
    return np.stack(columns[:count], axis=-1)


def robust_deviation(values: Floats) -> float:
    """Standard deviation that a normal sample with this median absolute value has."""
    return float(1.4826 * np.median(np.abs(values)))
