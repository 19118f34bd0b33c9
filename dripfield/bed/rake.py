"""Grade stakes for raking: a grid down and across the slope with the heights to work to."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from dripfield.bed.design import BedDesign
from dripfield.bed.section import fall_direction
from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.schema.key import setting

_MOST_STAKES = 2000
_LETTERS = 26


@dataclass(frozen=True)
class GradeStakes:
    """Grade stakes in rows from the top of the bed down: ``A1``, ``A2`` …, ``B1`` ….

    Attributes
    ----------
    names : tuple of str, length n
    xy : (n, 2) float array
        Easting, northing [site unit].
    levels : dict of str to (n,) float array
        ``ground``, ``stripped``, ``sand`` and ``finished`` at each stake [site unit].
    spacing : float
        Of the grid [site unit].
    """

    names: tuple[str, ...]
    xy: Floats
    levels: dict[str, Floats]
    spacing: float

    def above_ground(self, level: str) -> Floats:
        """Height of a level over existing ground, (n,): positive is fill, negative cut."""
        return np.asarray(self.levels[level] - self.levels["ground"])


def grade_stakes(design: BedDesign, unit: Unit) -> GradeStakes:
    """Grade stakes on a grid over the bed and its shoulder.

    Rows run across the slope and are spaced down it, about the middle of the bed.

    Raises
    ------
    InputError
        The spacing asks for more stakes than a crew could set, or for none.
    """
    spacing = setting(design.section, "stake_spacing", unit)
    fall = fall_direction(design)
    right = np.array((fall[1], -fall[0]))
    axes = np.column_stack((fall, right))
    middle = np.array((design.inner.centroid.x, design.inner.centroid.y))
    corners = (shapely.get_coordinates(design.inner) - middle) @ axes
    low = np.ceil(corners.min(axis=0) / spacing).astype(int)
    high = np.floor(corners.max(axis=0) / spacing).astype(int)
    count = np.prod(np.maximum(high - low + 1, 0), dtype=float)
    if count > _MOST_STAKES:
        raise input_error(
            f"a grid of {spacing:g} makes {count:.0f} grade stakes",
            f"give a stake_spacing of at least {_tidy_up(spacing, float(count)):g}",
            file="site.toml",
            field="[bed.section] stake_spacing",
        )
    down, across = (
        part.ravel()
        for part in np.meshgrid(
            np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1), indexing="ij"
        )
    )
    xy = middle + spacing * np.column_stack((down, across)) @ axes.T
    inside = shapely.intersects_xy(design.inner, xy)
    if not inside.any():
        raise input_error(
            f"no point of a grid of {spacing:g} lies in the bed",
            "give a smaller stake_spacing",
            file="site.toml",
            field="[bed.section] stake_spacing",
        )
    xy, down, across = xy[inside], down[inside], across[inside]
    rows = {row: _row_name(i) for i, row in enumerate(np.unique(down).tolist())}
    first = int(across.min())
    names = tuple(
        f"{rows[row]}{column - first + 1}"
        for row, column in zip(down.tolist(), across.tolist(), strict=True)
    )
    levels = {
        name: design.surfaces[name].elevation(xy)
        for name in ("ground", "stripped", "sand", "finished")
    }
    return GradeStakes(names, xy, levels, spacing)


def _row_name(number: int) -> str:
    """``A`` … ``Z``, ``AA`` ….  Letters that read as figures on a stake are kept: rows are few."""
    letters = chr(ord("A") + number % _LETTERS)
    return letters if number < _LETTERS else _row_name(number // _LETTERS - 1) + letters


def _tidy_up(spacing: float, count: float) -> float:
    """A spacing, rounded up, that makes no more stakes than allowed."""
    least = spacing * math.sqrt(count / _MOST_STAKES)
    return math.ceil(least * 2.0) / 2.0
