"""A blank sheet, and one with a map on it and room for words beside the map."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from shapely.geometry.base import BaseGeometry

from dripfield.sheets.kit.furniture import STRIP_HEIGHT, box, north_arrow, scale_bar
from dripfield.sheets.kit.map_frame import MapFrame, fit_frame
from dripfield.sheets.kit.style import (
    MARGIN,
    POINTS_PER_INCH,
    Paper,
    drawing_defaults,
    usual_papers,
)
from dripfield.site.model import Site

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PANEL = 236.0  # words beside the map [pt]
_GUTTER = 12.0
_BORDER = (16.0, 16.0)  # round what the map must show [pt]


class MapSheet(NamedTuple):
    """A sheet with a map: what to draw on, how ground goes to paper, where its key may begin."""

    figure: Figure
    axes: Any
    frame: MapFrame
    paper: Paper
    key_left: float


def blank_sheet(paper: Paper, dots: float | None = None) -> tuple[Figure, Any]:
    """A figure of the paper's size with axes in points from its lower left corner.

    Parameters
    ----------
    paper : Paper
    dots : float, optional
        In an inch, where the figure is measured before it is saved.

    Returns
    -------
    figure : Figure
    axes : Axes
    """
    from matplotlib.figure import Figure

    with drawing_defaults():
        figure = Figure(
            figsize=(paper.width / POINTS_PER_INCH, paper.height / POINTS_PER_INCH),
            dpi=dots,
            facecolor="white",
        )
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_axis_off()
        axes.set_autoscale_on(False)
        axes.set_xlim(0.0, paper.width)
        axes.set_ylim(0.0, paper.height)
    return figure, axes


def map_sheet(site: Site, ground: BaseGeometry) -> MapSheet:
    """A sheet with a map frame that shows ``ground``, a north arrow and a scale bar under it.

    The smaller of the unit's two usual papers, upright or lying, whichever gives the larger scale.
    A strip of :data:`~dripfield.sheets.kit.furniture.STRIP_HEIGHT` is left under the map, and one
    of :data:`PANEL` beside it.
    """
    small, _ = usual_papers(site.unit)
    frame, paper = min(
        ((_frame(site, ground, sheet), sheet) for sheet in (small, small.turned())),
        key=lambda option: option[0].scale.per_point,
    )
    figure, axes = blank_sheet(paper)
    low = frame.low
    box(axes, (frame.left, low, frame.width, frame.height))
    north_arrow(axes, frame.left + 16.0, low - 0.5 * STRIP_HEIGHT - 3.0, frame.turn)
    key_left = scale_bar(axes, frame, paper, site.unit, frame.left + 44.0, low - STRIP_HEIGHT)
    return MapSheet(figure, axes, frame, paper, key_left)


def _frame(site: Site, ground: BaseGeometry, paper: Paper) -> MapFrame:
    low = MARGIN + STRIP_HEIGHT
    width = paper.width - 2.0 * MARGIN - PANEL - _GUTTER
    rectangle = (MARGIN, low, width, paper.height - MARGIN - low)
    return fit_frame(site.unit, ground.convex_hull, rectangle, _BORDER)
