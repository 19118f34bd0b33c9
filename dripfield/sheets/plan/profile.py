"""Profiles: along a lateral, ground against the elevation set; and down the slope, all laterals."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import LineString

from dripfield.core.errors import DripfieldError
from dripfield.core.height_field import HeightField
from dripfield.core.words import number
from dripfield.layout.model import Layout
from dripfield.measures.laterals import LateralMeasure
from dripfield.sheets.kit.style import (
    DIM,
    DOTS_PER_INCH,
    INK,
    PALE,
    PAPER_WHITE,
    PENS,
    WASH,
    drawing_defaults,
    font,
    shorten,
    write_text,
)
from dripfield.site.model import Site

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SIZE = (10.0, 4.2)  # inches


def lateral_profile(site: Site, lateral: LateralMeasure) -> Figure:
    """Figure of the ground along a lateral, its set elevation and the tolerance band."""
    with drawing_defaults():
        figure, axes = _blank()
        draw_lateral_profile(axes, site, lateral)
    return figure


def draw_lateral_profile(axes: Any, site: Site, lateral: LateralMeasure) -> None:
    """Draw the profile of one lateral.

    Parameters
    ----------
    axes : matplotlib Axes
    site : Site
        For the level tolerance and the unit.
    lateral : LateralMeasure
    """
    unit, tolerance = site.unit, site.settings.level_tolerance
    ground, length = lateral.ground, float(lateral.station[-1])
    draw_level(axes, site, lateral, lateral.elevation)
    known = ground[np.isfinite(ground)]
    low = min(lateral.elevation - tolerance, known.min(initial=np.inf))
    high = max(lateral.elevation + tolerance, known.max(initial=-np.inf))
    _finish(
        axes,
        f"{lateral.name}: {ground_name(site)} along the lateral",
        f"distance along the lateral from its start, {unit.short}",
        f"elevation, {unit.short}",
        (0.0, length),
        (low, high),
    )


def draw_level(
    axes: Any, site: Site, lateral: LateralMeasure, level: float, transform: Any = None
) -> list[Any]:
    """Draw the ground along a lateral over the elevation set, which lies at ``level`` on the axes.

    Ground outside the tolerance band is drawn heavy, with the wash of a missed part behind.

    Parameters
    ----------
    axes : matplotlib Axes
        Stations and elevations [site unit].
    site : Site
    lateral : LateralMeasure
    level : float
        On the upright axis [site unit].
    transform : matplotlib Transform, optional
        From stations and elevations to the paper; that of the axes' data unless given.

    Returns
    -------
    list of matplotlib Artist
        What was drawn.
    """
    from matplotlib.lines import Line2D

    to = axes.transData if transform is None else transform
    unit, tolerance = site.unit, site.settings.level_tolerance
    station, ground = lateral.station, lateral.ground + (level - lateral.elevation)
    ends = [0.0, float(station[-1])]
    drawn: list[Any] = [
        axes.fill_between(
            ends,
            level - tolerance,
            level + tolerance,
            fc=PAPER_WHITE,
            ec=PALE,
            hatch="...",
            lw=PENS["hair"],
            zorder=1,
            transform=to,
            label=f"level tolerance ±{tolerance:g} {unit.short}",
        )
    ]

    def line(x: Any, y: Any, lw: float, zorder: float, color: str = INK, **look: Any) -> None:
        # added as it is: axes.plot would look for new limits each time
        drawn.append(
            axes.add_artist(Line2D(x, y, color=color, lw=lw, zorder=zorder, transform=to, **look))
        )

    name = f"set to {number(lateral.elevation, unit.places)} {unit.short}"
    line(ends, [level] * 2, PENS["medium"], 3, ls=(0, (7, 3)), label=name)
    line(station, ground, PENS["lateral"], 4, label=ground_name(site))
    if not lateral.level_ok:
        off = np.where(lateral.level, np.nan, ground)
        line(station, off, 2.5 * PENS["band"], 2, WASH)
        line(station, off, 2.2, 4.5, label="out of level tolerance")
    return drawn


def ground_name(site: Site) -> str:
    """What the laterals lie on: the ground, or the top of sand that the bed is raked to."""
    section = site.file.bed.section
    return "ground" if section is None or section.grade == "ground" else "top of sand"


def slope_profile(
    site: Site, ground: HeightField, layout: Layout, line: LineString | None = None
) -> Figure:
    """Figure of the ground down the slope with every lateral that the section crosses.

    Parameters
    ----------
    site : Site
    ground : HeightField
    layout : Layout
    line : LineString or None
        Section in plan, from its first point [site unit]; None takes :func:`fall_section`.

    Returns
    -------
    matplotlib Figure

    Raises
    ------
    DripfieldError
        No section is given and the bed has no fall to follow.
    """
    with drawing_defaults():
        figure, axes = _blank()
        draw_slope_profile(axes, site, ground, layout, line)
    return figure


def draw_slope_profile(
    axes: Any, site: Site, ground: HeightField, layout: Layout, line: LineString | None = None
) -> None:
    """Draw the section down the slope.

    Parameters
    ----------
    axes : matplotlib Axes
    site : Site
    ground : HeightField
    layout : Layout
    line : LineString, optional
        Section in plan, from its first point; otherwise :func:`fall_section`.

    Raises
    ------
    DripfieldError
        No section is given and the bed has no fall to follow.
    """
    unit = site.unit
    line = line or fall_section(site, ground)
    station = np.linspace(0.0, line.length, 400)
    height = ground.elevation(shapely.get_coordinates(line.interpolate(station)))
    axes.plot(station, height, color=DIM, lw=PENS["lateral"], zorder=3, label=ground_name(site))
    crossed = _crossings(layout, line)
    if crossed:
        at = np.array([(where, elevation) for where, elevation, _ in crossed])
        axes.plot(*at.T, ls="none", marker="o", ms=4.0, color=INK, zorder=5, label="lateral as set")
    known = np.concatenate((height[np.isfinite(height)], [one[1] for one in crossed]))
    bearing = _bearing(line)
    _finish(
        axes,
        f"{site.name}: section down the slope, bearing {bearing:.0f}°",
        f"distance from the upper end, {unit.short}",
        f"elevation, {unit.short}",
        (0.0, line.length),
        (known.min(initial=np.inf), known.max(initial=-np.inf)),
    )
    _name_crossings(axes, crossed, line.length)


def fall_section(site: Site, ground: HeightField) -> LineString:
    """The straight section down the mean fall through the middle of the bed, upper end first.

    Raises
    ------
    DripfieldError
        The bed has no fall.
    """
    bed = site.bed.boundary
    middle = np.asarray(bed.centroid.coords[0])
    left, low, right, high = bed.bounds
    x, y = np.meshgrid(np.linspace(left, right, 40), np.linspace(low, high, 40))
    inside = np.column_stack((x.ravel(), y.ravel()))
    inside = inside[shapely.contains_xy(bed, inside)]
    rise = ground.gradient(inside)
    rise = rise[np.isfinite(rise).all(axis=1)]
    fall = -rise.mean(axis=0) if len(rise) else np.zeros(2)
    if not fall.any():
        raise DripfieldError("the bed has no fall to draw a section along; give the section's line")
    reach = math.hypot(right - left, high - low) * fall / math.hypot(*fall)
    cut = shapely.intersection(bed, LineString([middle - reach, middle + reach]))
    ends = shapely.get_coordinates(cut)
    along = (ends - middle) @ reach
    return LineString([ends[np.argmin(along)], ends[np.argmax(along)]])


def _crossings(layout: Layout, line: LineString) -> list[tuple[float, float, str]]:
    """(station, set elevation, name) of every lateral that the section crosses."""
    crossed = []
    for lateral in layout.laterals:
        points = shapely.intersection(line, shapely.linestrings(lateral.xy))
        for x, y in shapely.get_coordinates(points):
            station = float(line.project(shapely.Point(x, y)))
            crossed.append((station, lateral.elevation, lateral.name))
    return sorted(crossed)


def _name_crossings(axes: Any, crossed: list[tuple[float, float, str]], length: float) -> None:
    """Names above their points, upright where there is no room; those that would touch are left."""
    size = 7.0
    points_wide = axes.get_position().width * axes.figure.get_figwidth() * 72.0
    per_point = length / points_wide
    free_from = -np.inf
    for station, elevation, name in crossed:
        if station / per_point < free_from:
            continue
        free_from = station / per_point + 1.5 * size
        transform = axes.transData + _shift(axes, 0.0, 6.0)
        write_text(
            axes,
            station,
            elevation,
            name,
            size,
            rotation=90.0,
            ha="center",
            va="bottom",
            transform=transform,
            zorder=6,
        )


def _shift(axes: Any, x: float, y: float) -> Any:
    from matplotlib.transforms import ScaledTranslation

    return ScaledTranslation(x / 72.0, y / 72.0, axes.figure.dpi_scale_trans)


def _bearing(line: LineString) -> float:
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    return math.degrees(math.atan2(x1 - x0, y1 - y0)) % 360.0


def _blank() -> tuple[Figure, Any]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE, dpi=DOTS_PER_INCH, facecolor="white")
    return figure, figure.add_axes((0.09, 0.14, 0.88, 0.74))


def _finish(
    axes: Any,
    title: str,
    along: str,
    up: str,
    stations: tuple[float, float],
    heights: tuple[float, float],
) -> None:
    """Limits, labels, grid, legend, and how much heights are exaggerated."""
    low, high = heights if np.isfinite(heights).all() else (0.0, 1.0)
    room = max(high - low, 1e-6)
    axes.set_xlim(*stations)
    axes.set_ylim(low - 0.15 * room, high + 0.45 * room)
    for label in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        label.set_fontproperties(font(8.0))
    axes.set_xlabel(along, fontproperties=font(8.5))
    axes.set_ylabel(up, fontproperties=font(8.5))
    width = axes.get_position().width * axes.figure.get_figwidth() * 72.0
    text = shorten(title, width, 10.0, bold=True)
    axes.set_title(text, fontproperties=font(10.0, bold=True), loc="left", parse_math=False)
    axes.ticklabel_format(useOffset=False)
    axes.grid(color=PALE, lw=PENS["hair"])
    axes.set_axisbelow(True)
    height = axes.get_position().height * axes.figure.get_figheight() * 72.0
    times = ((stations[1] - stations[0]) / width) / (1.6 * room / height)
    axes.legend(
        loc="upper right",
        prop=font(8.0),
        frameon=True,
        facecolor=PAPER_WHITE,
        edgecolor=PALE,
        title=f"heights drawn {times:.0f} times" if times >= 1.5 else None,
        title_fontproperties=font(8.0),
        ncols=2,
    )
