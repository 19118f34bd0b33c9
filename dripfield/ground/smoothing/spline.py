"""Uniform bicubic B-splines on a square grid: a surface with continuous curvature.

Cell (i, j) of the grid is shaped by the 4 x 4 coefficients from (i, j) to (i + 3, j + 3). The
pieces of the cubic B-spline are standard (C. de Boor, *A Practical Guide to Splines*, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats, Ints

# rows: powers 0..3 of the place in the cell; columns: the four pieces
_PIECES = np.array(
    [[1.0, 4.0, 1.0, 0.0], [-3.0, 0.0, 3.0, 0.0], [3.0, -6.0, 3.0, 0.0], [-1.0, 3.0, -3.0, 1.0]]
) / 6.0  # fmt: skip


@dataclass(frozen=True)
class SplineGrid:
    """A grid of square cells: lower corner ``low`` (2,), side ``cell``, ``shape`` cells along x, y.

    There are shape + 3 coefficients each way.
    """

    low: Floats
    cell: float
    shape: tuple[int, int]

    @property
    def size(self) -> tuple[int, int]:
        """Coefficients along x and y."""
        return self.shape[0] + 3, self.shape[1] + 3

    def place(self, xy: Floats) -> tuple[Ints, Ints, Floats, Floats]:
        """Cell numbers i, j (k,) of plan points (k, 2) and where in the cell they are, 0 to 1.

        A point outside the grid gets the nearest cell and a place beyond it.
        """
        u = (xy - self.low) / self.cell
        i = np.clip(u[:, 0], 0, self.shape[0] - 1).astype(np.int64)
        j = np.clip(u[:, 1], 0, self.shape[1] - 1).astype(np.int64)
        return i, j, u[:, 0] - i, u[:, 1] - j

    def row(self, xy: Floats) -> tuple[Ints, Floats]:
        """Flat numbers (k, 16) of the coefficients of each plan point, and their weights."""
        i, j, s, t = self.place(xy)
        corner = i * self.size[1] + j
        number = corner[:, None] + (np.arange(4)[:, None] * self.size[1] + np.arange(4)).ravel()
        return number, (pieces(s)[:, :, None] * pieces(t)[:, None, :]).reshape(-1, 16)

    def value(self, coefficients: Floats, xy: Floats) -> Floats:
        """Spline (k,) at plan points (k, 2)."""
        number, weight = self.row(xy)
        return np.asarray(np.einsum("ij,ij->i", coefficients.ravel()[number], weight))

    def derivative(self, coefficients: Floats, xy: Floats, along_x: int, along_y: int) -> Floats:
        """A derivative (k,) of the spline of these orders along x and y.

        Parameters
        ----------
        coefficients : float array
            Of the spline, as the grid has them.
        xy : (k, 2) float array
            Places about the grid's own origin [site unit].
        along_x, along_y : int
            Orders of the derivative.

        Returns
        -------
        (k,) float array
        """
        i, j, s, t = self.place(xy)
        corner = i * self.size[1] + j
        step = np.arange(4)[:, None] * self.size[1] + np.arange(4)
        near = coefficients.ravel()[corner[:, None, None] + step]
        bent = np.einsum("ka,kab,kb->k", pieces(s, along_x), near, pieces(t, along_y))
        return np.asarray(bent / self.cell ** (along_x + along_y))


def pieces(place: Floats, derivative: int = 0) -> Floats:
    """The four B-spline pieces (k, 4), or a derivative of them, at a place in the cell (k,)."""
    powers = np.arange(4)
    factor = np.ones(4)
    for d in range(derivative):
        factor = factor * np.maximum(powers - d, 0)
    exponent = np.maximum(powers - derivative, 0)
    return np.asarray((place[:, None] ** exponent * factor) @ _PIECES)


def bending(weights: Floats) -> tuple[Ints, Ints, Floats]:
    """Bending energy of the spline, the integral of fxx^2 + 2 fxy^2 + fyy^2, as a matrix.

    Parameters
    ----------
    weights : (nx, ny) float array
        How much the bending of each cell counts.

    Returns
    -------
    row, column : (m,) int arrays
        Flat coefficient numbers of the lower half, with repeats to be added.
    value : (m,) float array
        For a cell of side 1.
    """
    nodes, share = np.polynomial.legendre.leggauss(4)
    gram = []
    for derivative in range(3):
        basis = pieces((nodes + 1.0) / 2.0, derivative)
        gram.append(np.einsum("ka,kb,k->ab", basis, basis, share / 2.0))
    element = np.kron(gram[2], gram[0]) + 2.0 * np.kron(gram[1], gram[1])
    element = element + np.kron(gram[0], gram[2])
    nx, ny = weights.shape
    step = (np.arange(4)[:, None] * (ny + 3) + np.arange(4)).ravel()
    corner = (np.arange(nx)[:, None] * (ny + 3) + np.arange(ny)).ravel()
    a, b = np.tril_indices(16)
    row = (corner[:, None] + step[a]).ravel()
    column = (corner[:, None] + step[b]).ravel()
    return row, column, (weights.ravel()[:, None] * element[a, b]).ravel()
