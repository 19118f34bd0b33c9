"""The bed's outline among the lines of a drawing."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, Polygon

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.review.model.plan import ring_of
from dripfield.review.read.drawing import Piece
from dripfield.review.read.join import join_pieces

OUTLINE_WORDS = re.compile(r"bndy|bound|outline|bed|field|perim|limit", re.IGNORECASE)
"""In the name of a layer that may hold the bed."""
OTHER_WORDS = re.compile(
    r"topo|contour|text|anno|dim|table|ttlb|title|bord|miss|keep|stbk|seam|stak|symb|grid|manif|"
    r"header|supply|return|prop|bldg|build|road",
    re.IGNORECASE,
)
"""In the name of a layer that holds neither laterals nor the bed."""
JOIN = 2e-4
"""Ends this near, as a share of the drawing of the runs, meet."""


def without_outline(lines: list[Floats]) -> tuple[list[Floats], Polygon | None]:
    """The lines less one that closes round all others: the bed drawn on the laterals' layer."""
    for i, line in enumerate(lines):
        ring = ring_of(line) if (line[0] == line[-1]).all() else None
        others = lines[:i] + lines[i + 1 :]
        if ring is not None and others:
            runs = shapely.union_all([LineString(other) for other in others])
            if runs.intersection(ring).length > 0.9 * runs.length:
                return others, ring
    return lines, None


def find_outline(
    layers: dict[str, list[Piece]],
    lateral_layer: str,
    lines: list[Floats],
    wanted: str | None,
    path: Path,
) -> tuple[Polygon | None, str | None, list[str]]:
    """The bed's ring: on the layer named, else the least closed line around the laterals.

    Parameters
    ----------
    layers : dict of layer to its pieces
    lateral_layer : str
    lines : list of (k, 2) float arrays
        The runs.
    wanted : str or None
        The layer that a person named.
    path : Path

    Returns
    -------
    ring : Polygon or None
    layer : str or None
    notes : list of str
        Layers with a closed line that was not taken, and why.

    Raises
    ------
    InputError
        The named layer holds no closed line round the laterals.
    """
    runs = shapely.union_all([LineString(line) for line in lines])
    rejected: list[tuple[str, str, float]] = []
    rings: list[tuple[bool, float, Polygon, str]] = []
    for name, pieces in layers.items():
        if name == lateral_layer or (wanted is not None and name.lower() != wanted.lower()):
            continue
        size = float(np.ptp(np.concatenate([piece.xy for piece in pieces]), axis=0).max())
        joined, _ = join_pieces([piece.xy for piece in pieces], JOIN * size)
        for ring in filter(None, (ring_of(line) for line in joined)):
            # runs drawn where the approved bed is not still tell which ring is the bed
            share = runs.intersection(ring).length / runs.length
            if wanted is None and OTHER_WORDS.search(name):
                rejected.append((name, "its name says that it is something else", share))
            elif share > 0.5:
                rings.append((not OUTLINE_WORDS.search(name), ring.area, ring, name))
            else:
                rejected.append((name, f"it holds {share:.0%} of the laterals", share))
    if not rings:
        if wanted is not None:
            raise input_error(
                f"no closed line on layer {wanted!r} holds the laterals",
                "name the layer of the bed's outline",
                file=path,
                field="--boundary-layer",
            )
        return None, None, _rejections(rejected)
    _, _, ring, name = min(rings, key=lambda one: one[:2])
    return ring, name, []


def _rejections(rejected: list[tuple[str, str, float]]) -> list[str]:
    """The closed lines that could have been the bed and were not taken, the likeliest first."""
    named = {name: why for name, why, _ in sorted(rejected, key=lambda one: one[2])}
    return [
        f"the closed line on layer {name!r} was not taken as the bed's outline: {why}; name it "
        "with --boundary-layer if it is the bed"
        for name, why in reversed(list(named.items()))
    ][:3]
