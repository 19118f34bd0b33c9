"""The printed figures of marks, rounded as a crew reads them, and where they lead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.staking.gauge import Gauging
from dripfield.staking.model import FieldMark, TwoTapeTie
from dripfield.staking.ties import crossing
from dripfield.staking.tube import Tube

COORDINATE_PLACES = 4
"""Decimals of written coordinates."""


def gauged_marks(
    rows: Sequence[FieldMark], which: Ints, found: Gauging, name: str, tube: Tube, places: int
) -> dict[int, FieldMark]:
    """Marks set by the stick from one line.

    Parameters
    ----------
    rows : sequence of FieldMark
    which : (k,) int array
        Numbers of those to be gauged.
    found : Gauging
        For all rows.
    name : str
        Of the line that the stick is held from.
    tube : Tube
        Through that line's printed marks.
    places : int
        Decimals that a crew reads.

    Returns
    -------
    dict of int to FieldMark
        By number; each stands where its rounded figures lead.
    """
    if not len(which):
        return {}
    most = np.floor(tube.length * 10.0**places) / 10.0**places
    station = np.clip(np.round(found.station[which], places), 0.0, most)
    gap = np.round(np.abs(found.offset[which]), places)
    left = np.sign(found.offset[which])
    xy = np.round(tube.beside(station, left * gap), COORDINATE_PLACES)
    return {
        int(k): replace(
            rows[k],
            method="gauge",
            above=name,
            above_station=float(s),
            gap=float(g),
            side="downhill" if way > 0.0 else "uphill",
            easting=float(x),
            northing=float(y),
        )
        for k, s, g, way, (x, y) in zip(which, station, gap, left, xy, strict=True)
    }


def taped_mark(
    row: FieldMark, tie: TwoTapeTie, known: Mapping[str, Floats], places: int
) -> FieldMark:
    """A mark set by two tapes; it stands where its rounded distances lead.

    Parameters
    ----------
    row : FieldMark
    tie : TwoTapeTie
    known : mapping of str to (2,) float array
        Findable points.
    places : int
        Decimals that a crew reads.

    Returns
    -------
    FieldMark
    """
    r1, r2 = round(tie.distance_1, places), round(tie.distance_2, places)
    (at,) = crossing(
        known[tie.point_1][None],
        np.array([r1]),
        known[tie.point_2][None],
        np.array([r2]),
        np.array([(row.easting, row.northing)]),
    )
    return replace(
        row,
        method="tape",
        point_1=tie.point_1,
        distance_1=r1,
        point_2=tie.point_2,
        distance_2=r2,
        easting=round(float(at[0]), COORDINATE_PLACES),
        northing=round(float(at[1]), COORDINATE_PLACES),
    )
