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
_LEAST_PIVOT = 1e-6  # of a diagonal, below which normal equations lose too many digits


def residual_matrix(xy: Floats) -> Any:
    """The matrix of residuals.

    Parameters
    ----------
    xy : (n, 2) float array
        Distinct plan points, at least :data:`LEAST_SHOTS`.

    Returns
    -------
    (n, n) scipy sparse array
        Residuals are ``matrix @ z``.
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
        weights[rows] = _at_centre(_terms(offset, terms))
    scale = 1.0 / np.sqrt(1.0 + (weights**2).sum(axis=1))
    values = np.column_stack((np.ones(n), -weights)) * scale[:, None]
    columns = np.column_stack((np.arange(n), neighbours))
    rows_at = np.arange(0, (n + 1) * (count + 1), count + 1)
    return csr_array((values.ravel(), columns.ravel(), rows_at), shape=(n, n))


def _without_self(found: Ints) -> Ints:
    """Neighbour numbers (n, k) from (n, k + 1) that hold the point itself."""
    n, width = found.shape
    other = found != np.arange(n)[:, None]
    other[other.all(axis=1), -1] = False
    return np.asarray(found[other].reshape(n, width - 1), dtype=np.int64)


def _at_centre(terms: Floats) -> Floats:
    """Weights (m, k) of the shots in the fitted value at the centre, from terms (m, k, t).

    The normal equations are eliminated for all fits at once, the constant last, so that its own
    column is the answer; fits whose shots nearly lie on one curve of the kind take the
    pseudo-inverse.
    """
    count = terms.shape[2]
    order = [*range(1, count), 0]
    part = [np.ascontiguousarray(terms[:, :, k]) for k in order]
    gram = np.empty((count, count, len(terms)))
    for i in range(count):
        for j in range(i + 1):
            gram[i, j] = gram[j, i] = np.einsum("mk,mk->m", part[i], part[j])
    whole = gram[range(count), range(count)].copy()
    poor = np.zeros(len(terms), dtype=bool)
    for k in range(count):
        poor |= gram[k, k] <= _LEAST_PIVOT * whole[k]
        pivot = np.where(poor, 1.0, gram[k, k])
        for i in range(k + 1, count):
            gram[i, k + 1 :] -= gram[i, k] / pivot * gram[k, k + 1 :]
    solution = np.zeros((count, len(terms)))
    for k in range(count - 1, -1, -1):
        right = (k == count - 1) - (gram[k, k + 1 :] * solution[k + 1 :]).sum(axis=0)
        solution[k] = right / np.where(poor, 1.0, gram[k, k])
    weights: Floats = np.einsum("kmn,km->mn", np.asarray(part), solution)
    if poor.any():
        weights[poor] = np.linalg.pinv(terms[poor], rcond=1e-6)[:, 0, :]
    return weights


def _terms(offset: Floats, count: int) -> Floats:
    """Plane or quadratic terms (…, count) of offsets (…, 2)."""
    x, y = offset[..., 0], offset[..., 1]
    columns = [np.ones_like(x), x, y, x * x, x * y, y * y]
    return np.stack(columns[:count], axis=-1)


def robust_deviation(values: Floats) -> float:
    """Standard deviation that a normal sample with this median absolute value has."""
    return float(1.4826 * np.median(np.abs(values)))
