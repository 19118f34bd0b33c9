"""What each finished lateral is: its length, how level it lies, how far its neighbours are.

The lines are sampled as drawn and compared with the ground and with each other; nothing of how
they were made is used or known here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from dripfield.core.arrays import Bools, Floats
from dripfield.core.height_field import HeightField
from dripfield.layout.model import Lateral
from dripfield.measures.neighbours import SLACK, pairs_near, side_gaps, too_near
from dripfield.measures.sampling import Samples, sample

SAMPLES_PER_SPACING = 8


@dataclass(frozen=True)
class LateralMeasure:
    """One lateral as measured; lengths and elevations in the site's unit.

    Attributes
    ----------
    name, panel : str
    length : float
        In plan when spacing is measured in plan, along the ground when along the slope.
    elevation : float
        The elevation that the crew sets.
    elevation_min, elevation_max : float
        Least and greatest ground elevation along it; NaN where no ground is known.
    spacing_min, spacing_max : float
        Least and greatest on-centre distance to a neighbour; NaN where it has none. The least
        includes any lateral that lies too near, of whatever panel.
    level_ok, spacing_ok : bool
        True when every sample is within tolerance.
    length_level, length_spaced, length_both : float
        The length within each tolerance, and within both.
    xy, station, ground : (k, 2), (k,), (k,) float arrays
        Samples along it: place, distance from its start in plan, ground elevation.
    gap_left, gap_right : (k,) float arrays
        Distance to the neighbour on either side; NaN where there is none.
    level, spaced : (k,) bool arrays
        Whether the sample is within tolerance.
    share : (k,) float array
        The part of ``length`` that each sample stands for.
    """

    name: str
    panel: str
    length: float
    elevation: float
    elevation_min: float
    elevation_max: float
    spacing_min: float
    spacing_max: float
    level_ok: bool
    spacing_ok: bool
    length_level: float
    length_spaced: float
    length_both: float
    xy: Floats
    station: Floats
    ground: Floats
    gap_left: Floats
    gap_right: Floats
    level: Bools
    spaced: Bools
    share: Floats


def measure_laterals(
    laterals: Sequence[Lateral],
    ground: HeightField,
    *,
    spacing: float,
    level_tolerance: float,
    spacing_tolerance: float,
    spacing_measured: Literal["plan", "slope"] = "plan",
    step: float | None = None,
) -> tuple[LateralMeasure, ...]:
    """Measure finished laterals against the ground and against each other.

    Every lateral is sampled at equal distances. A sample is *level* when the ground there is within
    ``level_tolerance`` of the elevation that the crew sets. It is *spaced* when the nearest lateral
    of the same panel on either side, found along the normal, is ``spacing`` away within
    ``spacing_tolerance`` (none within 1.75 spacings: no neighbour, which is no fault), and no other
    lateral of any panel comes nearer than the tolerance allows in any direction, save one that
    carries on in line where this one ends.

    Parameters
    ----------
    laterals : sequence of Lateral
        Polylines of at least two distinct points [site unit].
    ground : HeightField
        Elevations at plan points.
    spacing : float
        Required on-centre distance [site unit].
    level_tolerance : float
        Allowed departure from the lateral's own elevation [site unit].
    spacing_tolerance : float
        Allowed departure from the spacing, as a fraction.
    spacing_measured : {"plan", "slope"}
        ``plan``: horizontal distances and lengths. ``slope``: straight distances between the ground
        at both ends, and lengths along the ground.
    step : float, optional
        Greatest distance between samples [site unit]; an eighth of the spacing unless given.

    Returns
    -------
    tuple of LateralMeasure
        In the order given. Lengths within tolerance are good to about one step at each place where
        a lateral goes in or out of tolerance.
    """
    if not laterals:
        return ()
    samples = sample([lateral.xy for lateral in laterals], step or spacing / SAMPLES_PER_SPACING)
    height = ground.elevation(samples.xy + samples.origin)
    set_height = np.array([lateral.elevation for lateral in laterals])
    level = np.abs(height - set_height[samples.owner]) <= level_tolerance + SLACK

    names = {name: i for i, name in enumerate(dict.fromkeys(one.panel for one in laterals))}
    panel = np.array([names[lateral.panel] for lateral in laterals])
    sloped = spacing_measured == "slope"
    heights = (lambda xy: ground.elevation(xy + samples.origin)) if sloped else None
    margin = spacing_tolerance * spacing
    pairs = pairs_near(samples, spacing, spacing - margin)
    left, right = side_gaps(samples, pairs, panel, spacing, margin, heights)
    near = too_near(samples, pairs, spacing - margin, margin, heights)
    spaced = np.isnan(near)
    for gap in (left, right):
        spaced &= np.isnan(gap) | (np.abs(gap - spacing) <= margin + SLACK)

    share = _ground_share(samples, height) if sloped else samples.share
    measures = []
    for number, lateral in enumerate(laterals):
        part = slice(samples.first[number], samples.first[number + 1])
        gaps = np.concatenate((left[part], right[part]))
        is_level, is_spaced, length = level[part], spaced[part], share[part]
        measures.append(
            LateralMeasure(
                name=lateral.name,
                panel=lateral.panel,
                length=float(length.sum()),
                elevation=lateral.elevation,
                elevation_min=_least(height[part]),
                elevation_max=-_least(-height[part]),
                spacing_min=_least(np.concatenate((gaps, near[part]))),
                spacing_max=-_least(-gaps),
                level_ok=bool(is_level.all()),
                spacing_ok=bool(is_spaced.all()),
                length_level=float(length[is_level].sum()),
                length_spaced=float(length[is_spaced].sum()),
                length_both=float(length[is_level & is_spaced].sum()),
                xy=samples.xy[part] + samples.origin,
                station=samples.station[part],
                ground=height[part],
                gap_left=left[part],
                gap_right=right[part],
                level=is_level,
                spaced=is_spaced,
                share=length,
            )
        )
    return tuple(measures)


def by_level_tolerance(
    measures: Sequence[LateralMeasure], level_tolerance: float
) -> tuple[LateralMeasure, ...]:
    """The same measures, judged by another level tolerance.

    Parameters
    ----------
    measures : sequence of LateralMeasure
    level_tolerance : float
        Allowed departure from the lateral's own elevation [site unit].

    Returns
    -------
    tuple of LateralMeasure
        As :func:`measure_laterals` with that tolerance, and the others unchanged, would give.
    """
    judged = []
    for one in measures:
        level = np.abs(one.ground - one.elevation) <= level_tolerance + SLACK
        judged.append(
            replace(
                one,
                level=level,
                level_ok=bool(level.all()),
                length_level=float(one.share[level].sum()),
                length_both=float(one.share[level & one.spaced].sum()),
            )
        )
    return tuple(judged)


def _ground_share(samples: Samples, height: Floats) -> Floats:
    """Length along the ground that each sample stands for."""
    joined = samples.owner[1:] == samples.owner[:-1]
    run = np.where(joined, np.diff(samples.station), 0.0)
    rise = np.where(joined, np.nan_to_num(np.diff(height)), 0.0)
    half = 0.5 * np.hypot(run, rise)
    return np.concatenate((half, [0.0])) + np.concatenate(([0.0], half))


def _least(values: Floats) -> float:
    """Least of the values that are known; NaN when none is."""
    return float(np.fmin.reduce(values))
