"""The loading map: water of a day on the ground of each emitter, and along the lower edge."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.cautions import cautions
from dripfield.distribution.ground_load import GroundLoad
from dripfield.distribution.system import FieldSystem
from dripfield.hydraulics.quantities import quantities
from dripfield.sheets.kit.blank import map_sheet
from dripfield.sheets.kit.furniture import write_facts
from dripfield.sheets.kit.labels import Label, Placer
from dripfield.sheets.kit.pen import Pen
from dripfield.sheets.kit.plan_map import KEEPOUT_HATCH
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PAPER_WHITE,
    PENS,
    drawing_defaults,
    write_text,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SHADES = ("#f6f1e7", "#e2d5bd", "#c7b18e", "#a28964", "#775f41", "#453522")
"""From little water to much: lightness falls evenly, so that it reads in grey."""
_BAR = 34.0  # longest stroke of the linear loading [pt]


def loading_figure(system: FieldSystem, load: GroundLoad) -> Figure:
    """Draw the loading of a field.

    Parameters
    ----------
    system : FieldSystem
    load : GroundLoad

    Returns
    -------
    matplotlib Figure
    """
    site = system.design.site
    reach = 1.6 * site.settings.spacing
    ground = site.bed.boundary.buffer(reach + 0.06 * np.sqrt(site.bed.boundary.area))
    sheet = map_sheet(site, ground)
    axes, frame = sheet.axes, sheet.frame
    with drawing_defaults():
        pen = Pen(axes, frame)
        edges = class_edges(load)
        _cells(pen, load, edges)
        pen.area(frame.shape(site.bed.boundary), fc="none", ec=INK, lw=PENS["bold"], zorder=4)
        for keepout in site.bed.keepouts:
            pen.area(
                frame.shape(keepout), fc=PAPER_WHITE, ec=INK, hatch=KEEPOUT_HATCH, lw=0.8, zorder=3
            )
        if load.linear is not None:
            _strokes(pen, system, load)
        _worst(pen, load)
        left = frame.left + frame.width + 12.0
        _beside(axes, system, load, edges, left, frame.low + frame.height, sheet.paper.width)
    return sheet.figure


def class_edges(load: GroundLoad) -> Floats:
    """Bounds of the six shades about the mean [loading]: halves of it up to twice, and beyond."""
    return load.surface.mean * np.array([0.0, 0.6, 0.85, 1.0, 1.15, 1.4, np.inf])


def _cells(pen: Pen, load: GroundLoad, edges: Floats) -> None:
    rate = load.surface.rate
    which = np.clip(np.searchsorted(edges, rate, side="right") - 1, 0, len(_SHADES) - 1)
    for shade in range(len(_SHADES)):
        mine = np.flatnonzero((which == shade) & np.isfinite(rate))
        if len(mine):
            area = shapely.union_all([load.cells[k] for k in mine.tolist()])
            pen.area(pen.frame.shape(area), fc=_SHADES[shade], ec="none", lw=0, zorder=1)
    on_paper = pen.frame.to_paper(load.points)
    pen.line(on_paper, ls="none", marker=".", ms=1.6, mew=0, color=INK, zorder=2)


def _strokes(pen: Pen, system: FieldSystem, load: GroundLoad) -> None:
    """Linear loading as strokes square to the lower edge, outward from it."""
    linear = load.linear
    assert linear is not None
    bed = system.design.site.bed.boundary
    fall = -system.design.surface.gradient(linear.xy)
    size = np.hypot(*fall.T)
    for xy, down, steep, rate in zip(linear.xy, fall, size, linear.rate, strict=True):
        if not np.isfinite(steep) or steep == 0.0:
            outward = np.asarray(xy) - np.array(bed.centroid.coords[0])
            outward = outward / np.hypot(*outward)
        else:
            outward = down / steep
        ends = pen.frame.to_paper(np.array([xy, xy + outward]))
        along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        start = ends[0] + 2.0 * along
        stroke = np.array([start, start + _BAR * rate / max(linear.worst, 1e-12) * along])
        pen.line(stroke, lw=1.3, color=DIM, zorder=3.5)


def _worst(pen: Pen, load: GroundLoad) -> None:
    placer = Placer(pen.frame.window.buffer(-2.0))
    for number, k in enumerate(load.surface.worst.tolist(), 1):
        x, y = pen.frame.to_paper(load.points[[k]])[0]
        pen.line(
            np.array([[x, y]]),
            ls="none",
            marker="s",
            ms=5.0,
            mew=1.0,
            mfc="none",
            color=INK,
            zorder=6,
        )
        choices = [
            (Label(f"{number}", x + 10.0 * dx, y + 10.0 * dy, 0.0, 8.0, True),)
            for dx, dy in (
                (1, 1),
                (-1, 1),
                (1, -1),
                (-1, -1),
                (1.6, 0),
                (-1.6, 0),
                (0, 1.8),
                (0, -1.8),
            )
        ]
        pen.words(placer.first(choices))


def _beside(
    axes: Any,
    system: FieldSystem,
    load: GroundLoad,
    edges: Floats,
    left: float,
    top: float,
    width: float,
) -> None:
    q = quantities(system.design.site.unit)
    site, found = system.design.site, load.surface
    code = system.design.code
    y = top - 14.0
    write_text(axes, left, y, site.name, 13.0, bold=True)
    y -= 14.0
    write_text(axes, left, y, f"Loading of the ground in a day [{q.loading}]", 9.0, bold=True)
    y -= 12.0
    write_text(axes, left, y, f"Layout {code}", 8.0)
    for shade, colour in enumerate(_SHADES):
        y -= 14.0
        axes.fill(
            [left, left + 22, left + 22, left],
            [y - 2, y - 2, y + 8, y + 8],
            fc=colour,
            ec=INK,
            lw=0.4,
        )
        low, high = edges[shade], edges[shade + 1]
        text = f"{low:.3f} to {high:.3f}" if np.isfinite(high) else f"over {low:.3f}"
        share = _share(load, low, high)
        write_text(axes, left + 28.0, y, f"{text}: {share:.0%} of the ground", 8.0)
    q_linear = f"{q.volume}/day/{q.length}"
    facts = [
        f"Mean {found.mean:.3f}, coefficient of variation {found.variation:.2f}, of "
        f"{int(np.isfinite(found.rate).sum())} emitters.",
        "The ground of an emitter is all that is nearer to it than to another. "
        + ("Emission as rated: no dose is solved." if load.rated else "Emission as solved."),
        "Worst places, marked with squares: "
        + "; ".join(
            f"{number}: {found.rate[k]:.3f} on {load.area[k]:.2f} {q.area} of {load.lateral[k]}"
            for number, k in enumerate(found.worst.tolist(), 1)
        )
        + ".",
    ]
    if load.linear is None:
        facts.append(f"Linear loading is not proven: {load.reason}.")
    else:
        facts.append(
            f"Linear loading along the lower edge, strokes: mean {load.linear.mean:.2f}, at most "
            f"{load.linear.worst:.2f} {q_linear}; flow paths down the laid surface meet where "
            f"strokes "
            f"are long. {max(load.linear.missed, 0.0):.0%} of the water leaves elsewhere."
        )
    limit = site.file.design.loading_rate if site.file.design else None
    facts.append(
        f"Of the soil, entered from the permit: {limit:g} {q.loading}."
        if limit is not None
        else "Not held against the soil's: [design] loading_rate is missing."
    )
    facts += cautions("wastewater")
    write_facts(axes, facts, (left, MARGIN, width - MARGIN, y - 8.0), 1.05)


def _share(load: GroundLoad, low: float, high: float) -> float:
    rate = load.surface.rate
    inside = (rate >= low) & (rate < high)
    return float(load.area[inside].sum() / load.area[np.isfinite(rate)].sum())
