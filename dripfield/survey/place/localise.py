"""Site localisation: fit a local survey to control points of known coordinates."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.survey.shots import Survey


@dataclass(frozen=True)
class Localisation:
    """A shift, a turn and a scale, and what they leave over.

    Attributes
    ----------
    rotation : float
        Degrees clockwise from the local to the known grid.
    scale : float
        Known length over local length.
    local_middle, known_middle : (2,) float arrays
        Middle of the control points, before and after.
    residuals : (n, 2) float array
        Fitted less known easting and northing of each control point.
    """

    rotation: float
    scale: float
    local_middle: Floats
    known_middle: Floats
    residuals: Floats

    @property
    def shift(self) -> Floats:
        """Easting and northing (2,) by which the control points' middle moves."""
        return self.known_middle - self.local_middle

    def apply(self, xy: Floats) -> Floats:
        """Carry plan points (k, 2) from the local to the known grid."""
        turn = np.radians(self.rotation)
        east, north = (xy - self.local_middle).T
        return self.known_middle + self.scale * np.column_stack(
            (
                east * np.cos(turn) + north * np.sin(turn),
                north * np.cos(turn) - east * np.sin(turn),
            )
        )


def localise(local_xy: Floats, known_xy: Floats) -> Localisation:
    """Best similarity between pairs of plan points, by least squares.

    Parameters
    ----------
    local_xy, known_xy : (n, 2) float arrays, n >= 2
        The same points in both grids, in one unit.

    Returns
    -------
    Localisation
        The closed least-squares solution of the four-parameter (conformal) transformation; see
        B. K. P. Horn, "Closed-form solution of absolute orientation", 1987, for its proof in
        three dimensions.

    Raises
    ------
    ValueError
        Fewer than two pairs, or all local points in one place.
    """
    if len(local_xy) < 2 or len(local_xy) != len(known_xy):
        raise ValueError("two pairs of points or more are needed")
    local_middle, known_middle = local_xy.mean(axis=0), known_xy.mean(axis=0)
    local = (local_xy - local_middle) @ (1.0, 1j)
    known = (known_xy - known_middle) @ (1.0, 1j)
    spread = float((np.abs(local) ** 2).sum())
    if spread == 0.0:
        raise ValueError("the local points lie in one place")
    factor = (local.conj() * known).sum() / spread
    fit = Localisation(
        rotation=float(-np.degrees(np.angle(factor))),
        scale=float(np.abs(factor)),
        local_middle=local_middle,
        known_middle=known_middle,
        residuals=np.empty((0, 2)),
    )
    return replace(fit, residuals=fit.apply(local_xy) - known_xy)


_SCALE_SLACK = 0.001
"""A scale farther than this from 1 (beyond what the residuals allowed can do) is another unit or a
wrong pair: a grid factor stays nearer (common practice, no source)."""


def localise_survey(survey: Survey, control: Survey, unit: Unit, tolerance: float) -> Survey:
    """Carry a survey into the control points' grid.

    Parameters
    ----------
    survey : Survey
        In local coordinates [unit]; it holds shots of the control points under their names.
    control : Survey
        The control points as known [unit].
    unit : Unit
    tolerance : float
        Largest residual allowed [unit].

    Returns
    -------
    Survey
        Turned, scaled and shifted in plan; elevations shifted by the mean difference. Notes tell
        the fit and each residual.

    Raises
    ------
    InputError
        Fewer than two control points found, a name used twice, residuals beyond the tolerance, or
        a scale that is no grid factor.
    """
    local, known, names = _pairs(survey, control)
    places = unit.places + 1
    if (local[:, :2] == local[0, :2]).all():
        raise input_error(
            f"the control points {', '.join(names)} lie in one place",
            "correct the survey",
            file=survey.source,
        )
    fit = localise(local[:, :2], known[:, :2])
    rises = known[:, 2] - local[:, 2]
    rise = float(rises.mean())
    off = np.hypot(*fit.residuals.T)
    for values, what in ((off, "in plan"), (np.abs(rises - rise), "in elevation")):
        worst = int(values.argmax())
        if values[worst] > tolerance:
            raise input_error(
                f"control point {names[worst]} misses its place by {values[worst]:.{places}f} "
                f"{unit.short} {what}, more than {tolerance:g}",
                "check that point, or allow more with control_tolerance under [survey]",
                file=control.source,
                row=int(control.rows[list(control.names).index(names[worst])]),
            )
    reach = float(np.hypot(*(local[:, :2] - fit.local_middle).T).max())
    if abs(fit.scale - 1.0) > _SCALE_SLACK + tolerance / reach:
        raise input_error(
            f"the survey fits its control points only when scaled by {fit.scale:.6f}",
            "check the unit of both files and the names of the control points",
            file=control.source,
        )
    left = np.column_stack((fit.residuals, rise - rises)).round(places) + 0.0  # no -0.000
    residuals = ", ".join(
        f"{name} {east:+.{places}f} E {north:+.{places}f} N {up:+.{places}f} up"
        for name, (east, north, up) in zip(names, left.tolist(), strict=True)
    )
    east, north = fit.shift
    notes = [
        f"localised on {len(names)} control points: turned {fit.rotation:+.5f}° clockwise, scale "
        f"{fit.scale:.8f}, shifted {east:+.{places}f} E {north:+.{places}f} N "
        f"{rise:+.{places}f} up; residuals {residuals}"
    ]
    if len(names) == 2:
        notes.append("two control points leave no check in plan: a third would")
    return survey.moved(fit.apply, *notes, rise=rise)


def _pairs(survey: Survey, control: Survey) -> tuple[Floats, Floats, list[str]]:
    """Local (n, 3) and known (n, 3) places of the control points, and their names."""
    places: dict[str, list[int]] = {}
    wanted = set(control.names)
    for i, name in enumerate(survey.names):
        if name in wanted:
            places.setdefault(name, []).append(i)
    names = list(dict.fromkeys(name for name in control.names if name in places))
    if len(names) < 2:
        raise input_error(
            f"the survey holds {len(names)} of its {len(wanted)} control points by name",
            "name two or more as the survey does",
            file=control.source,
        )
    for name in names:
        if len(places[name]) > 1 or control.names.count(name) > 1:
            file, rows = (
                (survey.source, survey.rows[places[name]])
                if len(places[name]) > 1
                else (control.source, control.rows[[n == name for n in control.names]])
            )
            raise input_error(
                f"control point {name} is there twice",
                "keep one of them",
                file=file,
                row=int(rows[1]),
            )
    local = survey.xyz[[places[name][0] for name in names]]
    known = control.xyz[[control.names.index(name) for name in names]]
    return local, known, names
