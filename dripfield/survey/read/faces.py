"""Triangles that a surveyor's file brings along, as numbers of its shots."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import input_error


def corners_as_shots(corners: Floats) -> tuple[Floats, Ints]:
    """Distinct corners (n, 3) of triangles (m, 3, 3), and the triangles as their numbers."""
    xyz, number = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    return xyz, upward(xyz, number.reshape(-1, 3))


def faces_on_shots(corners: Floats, xyz: Floats, path: Path) -> Ints:
    """Triangles (m, 3, 3) as numbers of the shots (n, 3) they stand on.

    Parameters
    ----------
    corners : (m, 3, 3) float array
        Corners of each triangle: easting, northing, elevation [site unit].
    xyz : (n, 3) float array
        Shots [site unit].
    path : Path
        For messages.

    Returns
    -------
    (k, 3) int array
        Counter-clockwise in plan; triangles of no area in plan are left out.

    Raises
    ------
    InputError
        Where a corner is no shot (farther than a thousandth of a unit from each).
    """
    from scipy.spatial import cKDTree

    apart, number = cKDTree(xyz).query(corners.reshape(-1, 3))
    if apart.max() > 0.001:
        stray = corners.reshape(-1, 3)[apart.argmax()]
        raise input_error(
            f"a 3D face has a corner at northing {stray[1]:.3f}, easting {stray[0]:.3f}, "
            f"elevation {stray[2]:.3f} where no point stands",
            "delete the faces, or name the points' own layer as points_layer under [survey] in "
            "site.toml",
            file=path,
        )
    return upward(xyz, number.reshape(-1, 3))


def upward(xyz: Floats, faces: Ints) -> Ints:
    """Triangles (m, 3) counter-clockwise, those of no area in plan left out."""
    near = xyz[:, :2] - xyz[:, :2].mean(axis=0)
    a, b, c = (near[faces[:, i]] for i in range(3))
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    turned: Ints = np.where((area < 0)[:, None], faces[:, ::-1], faces)
    real: Ints = turned[area != 0]
    return real
