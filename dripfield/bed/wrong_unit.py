"""Shots that are not where the bed is: another unit, swapped columns, or another place."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import InputError, input_error
from dripfield.core.units import Unit
from dripfield.ground.triangles.tin import Surface
from dripfield.survey.shots import Survey

_FOOT = 0.3048
_MOST = 0.5  # share of the shots that must come to lie in the bed for an explanation to hold


def explain_off_bed(
    shots: Survey, inside: Bools, area: Polygon, target: Surface, unit: Unit
) -> None:
    """Refuse shots in another unit than the site's, or of another place.

    Parameters
    ----------
    shots : Survey
        As read.
    inside : (n,) bool array
        Which lie in ``area``.
    area : Polygon
    target : Surface
        Design elevations.
    unit : Unit
        The site's.

    Raises
    ------
    InputError
        Coordinates, or elevations alone, that fit once multiplied by 3.2808 or 0.3048; northing
        and easting that fit once swapped; or no shot in the bed.
    """
    xyz, count = shots.xyz, len(shots.xyz)
    if inside.mean() < _MOST:
        for factor in (1.0 / _FOOT, _FOOT):
            fits = int(shapely.intersects_xy(area, xyz[:, :2] * factor).sum())
            if fits > inside.sum() and fits >= _MOST * count:
                found = (
                    f"{fits} of {count} shots lie in the bed once multiplied by "
                    f"{_say(factor)}, {int(inside.sum())} as they are"
                )
                raise _other_unit(shots, factor, f"the coordinates {{}}: {found}", unit)
        swapped = int(shapely.intersects_xy(area, xyz[:, 1::-1]).sum())
        if swapped > inside.sum() and swapped >= _MOST * count:
            raise input_error(
                f"northing and easting look swapped: {swapped} of {count} shots lie in the bed "
                f"once they are exchanged, {int(inside.sum())} as they are",
                "name the columns northing and easting in a header, in the file's order",
                file=shots.source,
            )
    if not inside.any():
        x, y = np.median(xyz[:, :2], axis=0)
        raise input_error(
            f"none of the {count} shots lies in the bed; they lie about N {y:.1f}, E {x:.1f} and "
            f"the bed about N {area.centroid.y:.1f}, E {area.centroid.x:.1f}",
            "give shots of this bed, in the site's coordinates",
            file=shots.source,
        )
    _check_elevations(shots, xyz[inside], target, unit)


def _check_elevations(shots: Survey, xyz: Floats, target: Surface, unit: Unit) -> None:
    design = target.elevation(xyz[:, :2])
    off = abs(float(np.nanmedian(xyz[:, 2] - design)))
    if off < unit.default(1.0, 0.3):
        return
    for factor in (1.0 / _FOOT, _FOOT):
        left = abs(float(np.nanmedian(xyz[:, 2] * factor - design)))
        if left < 0.05 * off:
            found = (
                f"they are {off:.1f} off the design as they are and {left:.2f} off once "
                f"multiplied by {_say(factor)}"
            )
            raise _other_unit(shots, factor, f"the elevations {{}}: {found}", unit)


def _other_unit(shots: Survey, factor: float, problem: str, unit: Unit) -> InputError:
    """The shots' own unit is told by the factor and the site's."""
    own, other = ("metres", "feet") if unit.is_metric else ("feet", "metres")
    foreign = (factor > 1.0) != unit.is_metric
    look = f"look like {other}" if foreign else f"look converted to {own} twice"
    return input_error(
        problem.format(look),
        f"export them in the site's unit, {unit.label}",
        file=shots.source,
    )


def _say(factor: float) -> str:
    return "3.2808" if factor > 1.0 else "0.3048"
