"""What a map file holds: named lines and points with their properties, in one coordinate system."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.core.words import length_text

PHONE_WARNING = (
    "A phone's position is good to several feet (a few metres) at best: use it to find the bed and "
    "the stakes again, never to set a stake, a grade or a setback. Lay out with the tapes, laser "
    "and control points of the printed sheets."
)
DEGREE_PLACES = 8  # about a millimetre

Property = str | float | bool | None
Degrees = Callable[[Floats], Floats]


@dataclass(frozen=True)
class MapLine:
    """A line of one elevation, in the site's coordinates and unit.

    Attributes
    ----------
    name : str
    xy : (k, 2) float array
        Easting and northing.
    elevation : float
        NaN where it has none.
    properties : mapping
        Further facts by name, for the formats that carry them.
    """

    name: str
    xy: Floats
    elevation: float = math.nan
    properties: Mapping[str, Property] = field(default_factory=dict)


@dataclass(frozen=True)
class MapPoint:
    """A point to set or to find, in the site's coordinates and unit; NaN for no elevation."""

    name: str
    easting: float
    northing: float
    elevation: float
    description: str


@dataclass(frozen=True)
class Features:
    """Lines and points of one map file.

    Attributes
    ----------
    title : str
    unit : Unit
        Of coordinates and elevations.
    crs : str or None
        Coordinate system of the site, None for a local grid.
    lines : tuple of MapLine
    points : tuple of MapPoint
    note : str
        What whoever opens the file must know.
    date : str
        Of the survey, empty where not stated.
    """

    title: str
    unit: Unit
    crs: str | None = None
    lines: tuple[MapLine, ...] = ()
    points: tuple[MapPoint, ...] = ()
    note: str = PHONE_WARNING
    date: str = ""

    @property
    def places(self) -> Floats:
        """Easting and northing of the points (k, 2)."""
        return np.array([(one.easting, one.northing) for one in self.points]).reshape(-1, 2)

    def height(self, elevation: float) -> str:
        """An elevation in words."""
        return length_text(elevation, self.unit) or "elevation not known"


def to_degrees(crs: str | None) -> Degrees:
    """A function from site coordinates (k, 2) to longitude and latitude (k, 2) on WGS 84.

    Raises
    ------
    InputError
        There is no coordinate system, or it is not known.
    """
    import pyproj

    try:
        transformer = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except pyproj.exceptions.ProjError:
        raise input_error(
            f"{crs!r} is not a coordinate system that is known here",
            'give a code such as "EPSG:6559", or leave crs out',
            file="site.toml",
            field="[site] crs",
        ) from None

    def degrees(xy: Floats) -> Floats:
        return np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))

    return degrees
