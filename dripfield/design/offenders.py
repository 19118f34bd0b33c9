"""Laterals out of tolerance: neighbours that miss in the same way together, with the cause."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.design.model import Design
from dripfield.measures.laterals import LateralMeasure

_SAME = 1e-6  # an excess below this is rounding [site unit]


@dataclass(frozen=True)
class Offenders:
    """Neighbouring laterals of one panel that miss the same tolerances.

    Attributes
    ----------
    panel : str
    names : tuple of str
        From the highest down.
    length : float
        Of their tubing that is out of tolerance [site unit].
    level, near, far : float
        Greatest excess over the tolerance off level, too near and too far [site unit]; 0 for none,
        NaN where the ground is not known.
    cause : str
    """

    panel: str
    names: tuple[str, ...]
    length: float
    level: float
    near: float
    far: float
    cause: str

    @property
    def shown(self) -> str:
        """``A-L03``, or ``A-L03 to A-L07`` for several."""
        first, last = self.names[0], self.names[-1]
        return first if first == last else f"{first} to {last}"


def offenders(design: Design) -> tuple[Offenders, ...]:
    """Every lateral out of tolerance, in groups, in the layout's order.

    Parameters
    ----------
    design : Design

    Returns
    -------
    tuple of Offenders
    """
    groups: list[list[LateralMeasure]] = []
    before: LateralMeasure | None = None
    for one in design.measured.laterals:
        if one.level_ok and one.spacing_ok:
            before = None
            continue
        joins = before is not None and _kind(before) == _kind(one) and before.panel == one.panel
        if joins:
            groups[-1].append(one)
        else:
            groups.append([one])
        before = one
    return tuple(_group(design, group) for group in groups)


def severity(group: Offenders, level: float, spacing: float) -> float:
    """The worst excess of a group as a multiple of its tolerance; unknown ground is the worst.

    Parameters
    ----------
    group : Offenders
    level, spacing : float
        The tolerances [site unit].

    Returns
    -------
    float
    """
    if math.isnan(group.level):
        return math.inf
    return max(group.level / level, group.near / spacing, group.far / spacing)


def _kind(one: LateralMeasure) -> tuple[bool, bool]:
    return one.level_ok, one.spacing_ok


def _group(design: Design, group: list[LateralMeasure]) -> Offenders:
    settings = design.site.settings
    margin = settings.spacing * settings.spacing_tolerance
    level = near = far = 0.0
    unknown = False
    for one in group:
        if not one.level_ok:
            off = max(one.elevation_max - one.elevation, one.elevation - one.elevation_min)
            beyond = off - settings.level_tolerance
            unknown = unknown or math.isnan(off) or beyond < _SAME
            level = max(level, 0.0 if math.isnan(beyond) else beyond)
        if not one.spacing_ok:
            near = max(near, _known(settings.spacing - one.spacing_min - margin))
            far = max(far, _known(one.spacing_max - settings.spacing - margin))
    lost = unknown and level < _SAME
    return Offenders(
        panel=group[0].panel,
        names=tuple(one.name for one in group),
        length=sum(one.length - one.length_both for one in group),
        level=math.nan if lost else level,
        near=near,
        far=far,
        cause="no survey" if lost else _cause(design, group, near, far),
    )


def _known(excess: float) -> float:
    return 0.0 if math.isnan(excess) or excess < _SAME else excess


def _cause(design: Design, group: list[LateralMeasure], near: float, far: float) -> str:
    """Why they miss, the surest sign first."""
    bad = np.concatenate([one.xy[~(one.level & one.spaced)] for one in group])
    off_level = [one for one in group if not one.level_ok]
    ground = np.concatenate([one.ground[~one.level] for one in group])
    if len(ground) and not np.isfinite(ground).any():
        return "no survey"
    if not design.surface.built and _at_step(design, bad):
        return "step of the ground"
    if off_level and _level_when_smoothed(design, off_level):
        return "scatter of the shots"
    lines = {"straight": "straight", "offset": "parallel"}.get(design.layout.method)
    if off_level:
        return f"{lines} on bent ground" if lines else "ground bends sharply"
    if near > 0.0 and far > 0.0:
        return "lines close up and spread"
    return "lines close up" if near > 0.0 else "lines spread"


def _at_step(design: Design, bad: Floats) -> bool:
    """Most of what misses lies at a step of the ground."""
    reach = 2.0 * design.site.settings.spacing
    areas = [step.area.buffer(reach) for step in design.ground.steps]
    if not areas or not len(bad):
        return False
    return bool(shapely.contains_xy(shapely.union_all(areas), bad).mean() > 0.5)


def _level_when_smoothed(design: Design, group: list[LateralMeasure]) -> bool:
    """Whether all of it is level on the ground without the shots' scatter."""
    smoothed = design.surface.smoothed
    if smoothed is None:
        return False
    tolerance = design.site.settings.level_tolerance
    return all(
        bool((np.abs(smoothed.elevation(one.xy) - one.elevation) <= tolerance).all())
        for one in group
    )
