"""A local frame for one bed: u along the strike, v down the slope, origin in the bed's middle.

Working near the origin keeps the digits that state-plane coordinates would cost, and a grid lined
up with the strike is the smallest that holds the bed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.height_field import HeightField

FLAT = 2e-4  # a best-fit plane under this fall (0.02 %) has no strike worth the name


@dataclass(frozen=True)
class Frame:
    """Turn and shift between site coordinates and the bed's own.

    Attributes
    ----------
    origin : (2,) float array
        Site coordinates of the local origin.
    turn : (2, 2) float array
        Rows are the unit vectors of u (to the right for somebody looking down the slope) and v
        (down the slope) in site coordinates.
    """

    origin: Floats
    turn: Floats

    def to_local(self, xy: Floats) -> Floats:
        """Site (k, 2) to local (k, 2)."""
        return (np.asarray(xy) - self.origin) @ self.turn.T

    def to_site(self, uv: Floats) -> Floats:
        """Local (k, 2) to site (k, 2)."""
        return np.asarray(uv) @ self.turn + self.origin

    def geometry_to_local(self, geometry: BaseGeometry) -> BaseGeometry:
        """The same for a shapely geometry."""
        return shapely.transform(geometry, self.to_local)

    def geometry_to_site(self, geometry: BaseGeometry) -> BaseGeometry:
        """The same for a shapely geometry."""
        return shapely.transform(geometry, self.to_site)


def points_inside(area: BaseGeometry, about: int = 900) -> Floats:
    """A regular lattice of about so many points inside an area, (k, 2)."""
    west, south, east, north = area.bounds
    box = max((east - west) * (north - south), 1e-12)
    share = max(area.area / box, 1e-3)
    step = np.sqrt(box * share / about)
    x = np.arange(west + step / 2, east, step)
    y = np.arange(south + step / 2, north, step)
    lattice = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return np.asarray(lattice[shapely.contains_xy(area, lattice)])


def best_fit_plane(xy: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Least-squares plane: its centre (3,) and its rise per unit of easting and northing (2,)."""
    centre = np.append(xy.mean(axis=0), z.mean())
    offsets = xy - centre[:2]
    slopes, *_ = np.linalg.lstsq(offsets, z - centre[2], rcond=None)
    return centre, slopes


def fit_frame(ground: HeightField, area: BaseGeometry, bearing: float | None = None) -> Frame:
    """The frame of an area: best-fit plane of the ground inside it, or a given bearing.

    Parameters
    ----------
    ground : HeightField
    area : Polygon or MultiPolygon
        Where laterals may lie [site coordinates].
    bearing : float, optional
        Direction of the laterals, degrees clockwise from grid north; without it the strike of the
        best-fit plane.

    Returns
    -------
    Frame

    Raises
    ------
    InputError
        If the ground is flat and no bearing is given.
    """
    inside = points_inside(area)
    z = ground.elevation(inside)
    known = np.isfinite(z)
    if known.sum() < 3:
        raise input_error(
            "the bed holds no ground with a known elevation",
            "survey the bed, or mend its boundary",
            file="site.toml",
            field="[bed] boundary",
        )
    centre, rise = best_fit_plane(inside[known], z[known])
    fall = -rise
    if bearing is not None:
        angle = np.radians(bearing)
        along = np.array((np.sin(angle), np.cos(angle)))
        down = np.array((along[1], -along[0]))
        down = down if down @ fall >= 0 else -down
    elif np.hypot(*fall) < FLAT:
        raise input_error(
            f"the survey is flat over the bed (best-fit fall {100 * np.hypot(*fall):.3f} %), so it "
            "has no contour direction",
            'set method = "straight" and a bearing [degrees clockwise from grid north]',
            file="site.toml",
            field="[layout] method",
        )
    else:
        down = fall / np.hypot(*fall)
    right = np.array((down[1], -down[0]))  # clockwise from down: the right hand of who faces down
    return Frame(centre[:2].copy(), np.array((right, down)))
