"""Volumes between two surfaces, by the exact overlay of their triangles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon, Polygon

from dripfield.bed.pieces import LEVEL, Pieces, overlay, pieces_of, pieces_of_area, split
from dripfield.ground.triangles.tin import Surface


@dataclass(frozen=True)
class Volume:
    """What lies between an existing surface and a design surface.

    Attributes
    ----------
    cut, fill : float
        Volume where the design lies below, and above, the existing surface [cubic site unit].
    area, cut_area, fill_area : float
        Plan area compared, and the parts of it in cut and in fill [square site unit]; the rest is
        where the two agree.
    greatest_cut, greatest_fill : float
        Greatest depths, both positive [site unit].
    """

    cut: float
    fill: float
    area: float
    cut_area: float
    fill_area: float
    greatest_cut: float
    greatest_fill: float

    @property
    def net(self) -> float:
        """Fill less cut: positive is material to bring, negative to take away."""
        return self.fill - self.cut

    @property
    def mean_depth(self) -> float:
        """Net volume over the area where the two differ [site unit]; 0 where they never do."""
        differing = self.cut_area + self.fill_area
        return self.net / differing if differing else 0.0


def volume_between(
    existing: Surface, design: Surface, within: Polygon | MultiPolygon | None = None
) -> Volume:
    """Cut and fill from one triangulated surface to another.

    Parameters
    ----------
    existing, design : Surface
        Any two; they are compared where both are known.
    within : Polygon or MultiPolygon, optional
        Compare only inside it.

    Returns
    -------
    Volume
        Exact but for rounding: each piece of the overlay is a prism of plan area A and depths d1,
        d2, d3 at its corners, of volume A (d1 + d2 + d3) / 3, cut first along the line of no
        change.
    """
    pieces = overlay(pieces_of(existing, "existing"), pieces_of(design, "design"))
    if within is not None:
        pieces = overlay(pieces, pieces_of_area(within))
    return volume_of(pieces, "existing", "design")


def volume_of(pieces: Pieces, existing: str, design: str) -> Volume:
    """Cut and fill from one level to another of the same pieces.

    Parameters
    ----------
    pieces : Pieces
    existing, design : str
        Names of two of its levels.

    Returns
    -------
    Volume
        Volumes [cubic site unit], areas in plan [square site unit], depths [site unit].
    """
    if not len(pieces):
        return Volume(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    pieces = split(pieces, existing, design)
    depth = pieces.levels[design] - pieces.levels[existing]
    depth = np.where(np.abs(depth) <= LEVEL, 0.0, depth)
    areas, mean = pieces.areas, depth.mean(axis=1)
    return Volume(
        cut=float(-(areas * mean)[mean < 0].sum()) + 0.0,
        fill=float((areas * mean)[mean > 0].sum()),
        area=float(areas.sum()),
        cut_area=float(areas[mean < 0].sum()),
        fill_area=float(areas[mean > 0].sum()),
        greatest_cut=float(max(0.0, -depth.min())),
        greatest_fill=float(max(0.0, depth.max())),
    )
