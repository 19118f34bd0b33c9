"""How good a whole layout is: merit, coverage and the shares within tolerance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.layout.model import Lateral, Layout
from dripfield.measures.bare import BarePatch, bare_ground, bare_patches
from dripfield.measures.laterals import LateralMeasure, measure_laterals
from dripfield.measures.neighbours import SLACK
from dripfield.site.model import Bed, LayoutSettings

_QUICK = 2.0  # samples in a spacing for a quick measure
_CHORD = 0.005  # of the spacing: how far chords may leave a lateral for a quick measure
_FINE = 2000.0  # coverage is drawn to this part of its half width: good to about 0.00002


@dataclass(frozen=True)
class SmoothedLevel:
    """The level measure taken against the smoothed ground that the lines follow.

    The layout itself is measured on the bare triangles of the survey, noise and clods included.

    Attributes
    ----------
    share_level : float
        Share of the tubing within the level tolerance of the elevation set.
    missed_level : int
        Laterals that leave the tolerance somewhere.
    worst : float
        Greatest departure of any sample from its lateral's elevation [site unit]; NaN when nowhere
        known.
    rms : float
        Root mean square departure over all samples [site unit]; NaN when nowhere known.
    """

    share_level: float
    missed_level: int
    worst: float
    rms: float


@dataclass(frozen=True)
class Measured:
    """A layout as measured; lengths in the site's unit, shares as fractions.

    Attributes
    ----------
    laterals : tuple of LateralMeasure
        In the layout's order.
    merit : float
        Length both level and evenly spaced, times the spacing, over the area that could be served;
        1 is about the most that fits.
    coverage : float
        Share of that area within half the spacing of a lateral.
    share_level, share_spaced, share_both : float
        Shares of the tubing within each tolerance, and within both.
    panels : int
        How many panels hold a lateral.
    tubing : float
        Total length, in plan or along the ground as the spacing is measured.
    served_area : float
        The area that could be served, in plan [site unit squared].
    missed_level, missed_spacing : int
        Laterals out of each tolerance somewhere.
    smoothed : SmoothedLevel or None
        None when the layout was made on the bare triangles themselves.
    bare : tuple of BarePatch
        Where a lateral would fit and none serves, largest first.
    notes : tuple of str
        What a person should know of the figures.
    """

    laterals: tuple[LateralMeasure, ...]
    merit: float
    coverage: float
    share_level: float
    share_spaced: float
    share_both: float
    panels: int
    tubing: float
    served_area: float
    missed_level: int
    missed_spacing: int
    smoothed: SmoothedLevel | None = None
    bare: tuple[BarePatch, ...] = ()
    notes: tuple[str, ...] = ()


def served_area(bed: Bed, spacing: float) -> Polygon | MultiPolygon:
    """The area that could be served: the bed and its keepouts cleared by a quarter of the spacing.

    Parameters
    ----------
    bed : Bed
        Boundary, keepouts and setbacks (these cleared by their own distances).
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    Polygon or MultiPolygon
        Possibly empty.
    """
    return bed.open_area(spacing / 4.0)


def measure_layout(
    layout: Layout,
    ground: HeightField,
    settings: LayoutSettings,
    bed: Bed,
    smoothed: HeightField | None = None,
) -> Measured:
    """Measure a finished layout.

    Parameters
    ----------
    layout : Layout
    ground : HeightField
        The ground that the laterals are measured on.
    settings : LayoutSettings
        Spacing and tolerances.
    bed : Bed
        What could be served: :func:`served_area`.
    smoothed : HeightField, optional
        The smoothed ground that the lines follow, to measure their level on as well.

    Returns
    -------
    Measured
        With ``spacing_measured = "slope"`` merit and coverage compare with the area along the
        slope: the plan area times the mean of sqrt(1 + |gradient|^2) over it.
    """
    laterals = measured_laterals(layout.laterals, ground, settings)
    area = served_area(bed, settings.spacing)
    stretch = _stretch(area, ground, settings)
    found = _merit(laterals, settings.spacing, area.area * stretch)
    return Measured(
        laterals=laterals,
        merit=found.merit,
        coverage=_coverage(layout, area, 0.5 * settings.spacing / stretch),
        share_level=_ratio(sum(one.length_level for one in laterals), found.tubing),
        share_spaced=_ratio(sum(one.length_spaced for one in laterals), found.tubing),
        share_both=found.share_both,
        panels=found.panels,
        tubing=found.tubing,
        served_area=float(area.area),
        missed_level=sum(not one.level_ok for one in laterals),
        missed_spacing=sum(not one.spacing_ok for one in laterals),
        smoothed=None
        if smoothed is None
        else _level_on(smoothed, laterals, settings.level_tolerance),
        bare=bare_patches(layout, area, ground, settings),
        notes=_notes(laterals),
    )


@dataclass(frozen=True)
class Merit:
    """The figures that layouts of one bed are compared by; as in :class:`Measured`.

    ``bare`` is the share of the area that could be served which lies bare, in patches that a
    lateral would fit; ``served_area`` that area as merit counts it.
    """

    merit: float
    share_both: float
    panels: int
    tubing: float
    bare: float = 0.0
    served_area: float = 0.0


def measure_merit(
    layout: Layout, ground: HeightField, settings: LayoutSettings, bed: Bed, quick: bool = True
) -> Merit:
    """Merit alone.

    Parameters
    ----------
    layout : Layout
    ground : HeightField
    settings : LayoutSettings
    bed : Bed
    quick : bool
        From chords and samples far coarser than :func:`measure_layout` takes; within a few
        thousandths of it.

    Returns
    -------
    Merit
    """
    step = None
    if quick:
        layout, step = _coarser(layout, _CHORD * settings.spacing), settings.spacing / _QUICK
    laterals = measured_laterals(layout.laterals, ground, settings, step)
    area = served_area(bed, settings.spacing)
    found = _merit(laterals, settings.spacing, area.area * _stretch(area, ground, settings))
    bare = sum(patch.area for patch in bare_ground(layout, area, settings))
    return replace(found, bare=_ratio(bare, area.area))


def merit_of(
    laterals: tuple[LateralMeasure, ...], ground: HeightField, settings: LayoutSettings, bed: Bed
) -> Merit:
    """Merit of laterals measured already.

    Parameters
    ----------
    laterals : tuple of LateralMeasure
    ground : HeightField
        What they were measured on.
    settings : LayoutSettings
    bed : Bed

    Returns
    -------
    Merit
        ``bare`` is not looked for, and 0.
    """
    area = served_area(bed, settings.spacing)
    return _merit(laterals, settings.spacing, area.area * _stretch(area, ground, settings))


def _coarser(layout: Layout, within: float) -> Layout:
    """The layout with its laterals drawn by fewer chords."""
    if not layout.laterals:
        return layout
    lines = [lateral.xy for lateral in layout.laterals]
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    origin = np.round(lines[0][0])
    fewer = shapely.simplify(
        shapely.linestrings(np.concatenate(lines) - origin, indices=owner),
        within,
        preserve_topology=False,
    )
    ends = np.cumsum(shapely.get_num_coordinates(fewer))[:-1]
    drawn = np.split(shapely.get_coordinates(fewer) + origin, ends)
    laterals = zip(layout.laterals, drawn, strict=True)
    return replace(layout, laterals=tuple(replace(lateral, xy=xy) for lateral, xy in laterals))


def measured_laterals(
    laterals: Sequence[Lateral],
    ground: HeightField,
    settings: LayoutSettings,
    step: float | None = None,
) -> tuple[LateralMeasure, ...]:
    """Laterals measured by settings.

    Parameters
    ----------
    laterals : sequence of Lateral
    ground : HeightField
    settings : LayoutSettings
        Spacing and tolerances.
    step : float, optional
        As :func:`dripfield.measures.laterals.measure_laterals` takes it.

    Returns
    -------
    tuple of LateralMeasure
    """
    return measure_laterals(
        laterals,
        ground,
        spacing=settings.spacing,
        level_tolerance=settings.level_tolerance,
        spacing_tolerance=settings.spacing_tolerance,
        spacing_measured=settings.spacing_measured,
        step=step,
    )


def _merit(laterals: tuple[LateralMeasure, ...], spacing: float, served: float) -> Merit:
    """Merit of measured laterals over the area that could be served."""
    tubing = sum(one.length for one in laterals)
    both = sum(one.length_both for one in laterals)
    return Merit(
        merit=_ratio(both * spacing, served),
        share_both=_ratio(both, tubing),
        panels=len({one.panel for one in laterals}),
        tubing=tubing,
        served_area=served,
    )


def _coverage(layout: Layout, area: Polygon | MultiPolygon, half: float) -> float:
    """Share of the area within ``half`` of a lateral."""
    if area.is_empty or not layout.laterals:
        return 0.0
    x, y = area.centroid.coords[0]
    origin = np.round((x, y))  # overlays keep their digits near the origin
    lines = [shapely.linestrings(lateral.xy - origin) for lateral in layout.laterals]
    drawn = shapely.simplify(shapely.multilinestrings(lines), half / _FINE, preserve_topology=False)
    strips = shapely.buffer(drawn, half, quad_segs=8)
    near = shapely.transform(area, lambda xy: xy - origin)
    return min(1.0, float(near.intersection(strips).area / near.area))


def _stretch(area: Polygon | MultiPolygon, ground: HeightField, settings: LayoutSettings) -> float:
    """Mean area, as spacing is measured, per unit of plan area: 1 where that is in plan, else from
    a grid of points over the area."""
    if settings.spacing_measured == "plan" or area.is_empty:
        return 1.0
    x0, y0, x1, y1 = area.bounds
    x, y = np.meshgrid(_middles(x0, x1), _middles(y0, y1))
    inside = shapely.contains_xy(area, x, y)
    rise = np.hypot(*ground.gradient(np.column_stack((x[inside], y[inside]))).T)
    rise = rise[np.isfinite(rise)]
    return float(np.sqrt(1.0 + rise**2).mean()) if len(rise) else 1.0


def _middles(low: float, high: float, cells: int = 100) -> Floats:
    return low + (np.arange(cells) + 0.5) * (high - low) / cells


def _level_on(
    other: HeightField, laterals: tuple[LateralMeasure, ...], level_tolerance: float
) -> SmoothedLevel:
    """The level measure of the same samples on other ground."""
    if not laterals:
        return SmoothedLevel(0.0, 0, float("nan"), float("nan"))
    xy = np.concatenate([one.xy for one in laterals])
    first = np.cumsum([0] + [len(one.xy) for one in laterals])
    set_height = np.repeat([one.elevation for one in laterals], np.diff(first))
    off = np.abs(other.elevation(xy) - set_height)
    level = off <= level_tolerance + SLACK
    share = np.concatenate([one.share for one in laterals])
    known = off[np.isfinite(off)]
    return SmoothedLevel(
        share_level=_ratio(share[level].sum(), share.sum()),
        missed_level=int((~np.logical_and.reduceat(level, first[:-1])).sum()),
        worst=float(known.max()) if len(known) else float("nan"),
        rms=float(np.sqrt((known**2).mean())) if len(known) else float("nan"),
    )


def _notes(laterals: tuple[LateralMeasure, ...]) -> tuple[str, ...]:
    unknown = [one.name for one in laterals if not np.isfinite(one.ground).all()]
    if not unknown:
        return ()
    return (
        f"{len(unknown)} laterals run partly where the ground is not known, which counts as not "
        f"level: {', '.join(unknown)}",
    )


def _ratio(part: float, whole: float) -> float:
    return float(part / whole) if whole > 0.0 else 0.0
