"""Lines, areas and words in points of the sheet, cut off at the edge of a map."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.sheets.kit.labels import Words
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.style import INK


class Pen:
    """Draws in paper points on the axes, cut off at the frame.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    frame : MapFrame
    type_scale : float
        Type on this sheet over usual type.
    """

    def __init__(self, axes: Any, frame: MapFrame, type_scale: float = 1.0) -> None:
        from matplotlib.patches import Rectangle
        from matplotlib.transforms import Bbox, TransformedBbox

        self.axes, self.frame, self.type_scale = axes, frame, type_scale
        bounds = Bbox.from_bounds(frame.left, frame.low, frame.width, frame.height)
        self._window = TransformedBbox(bounds, axes.transData)
        self.window_patch = Rectangle(
            (frame.left, frame.low), frame.width, frame.height, transform=axes.transData
        )

    def line(self, points: Floats, **look: Any) -> None:
        """Draw a line through points (k, 2) that are already on the sheet."""
        from matplotlib.lines import Line2D

        look.setdefault("color", INK)
        look.setdefault("solid_capstyle", "butt")
        drawn = Line2D(*points.T, **look)  # axes.plot would look for new limits each time
        self.axes.add_artist(drawn)
        drawn.set_clip_box(self._window)

    def lines(self, lines: Sequence[Floats], *, width: float, colour: str, zorder: float) -> None:
        """Draw many lines (k, 2) of one look that are already on the sheet, as one artist.

        Parameters
        ----------
        lines : sequence of (k, 2) float arrays
            [pt]
        width : float
            [pt]
        colour : str
        zorder : float
            Drawn over what has a lower one.
        """
        from matplotlib.collections import LineCollection

        drawn = LineCollection(lines, linewidths=width, colors=colour, zorder=zorder)
        drawn.set_capstyle("butt")
        self.axes.add_artist(drawn)
        drawn.set_clip_box(self._window)

    def area(self, shape: Polygon | MultiPolygon, **look: Any) -> None:
        """Fill or hatch a shape that is already on the sheet; its edge is drawn too."""
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
        rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
        if not rings:
            return
        path = Path.make_compound_path(*(Path(np.asarray(r.coords), closed=True) for r in rings))
        patch = PathPatch(path, **look)
        self.axes.add_artist(patch)
        patch.set_clip_path(self.window_patch)

    def words(self, words: Words, *, over: float = 8.0, colour: str = INK) -> bool:
        """Write words on white; False when there are none.

        Parameters
        ----------
        words : Words
        over : float
            Drawn over what has a lower ``zorder``.
        colour : str

        Returns
        -------
        bool
        """
        for label in words:
            label.draw(self.axes, over=over, colour=colour)
        return bool(words)
