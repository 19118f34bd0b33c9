"""How far the marks of a chain of gauged lines may have wandered when a line is reached.

A few copies of the work with likely errors are carried along from line to line. Where lines bend
sharply an error along a line turns into one square to it and grows from line to line; such a chain
is ended, and the next line is set by the tool again, before it is out of hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from dripfield.arrays import Floats
from dripfield.staking.model import FieldMark
from dripfield.staking.tube import Tube

COPIES = 8
_TOOL, _GAUGE, _STATION = 0.015, 0.01, 0.05  # of the spacing: likely errors of one act
_SQUARE = 3.0  # [degrees]

Copies = tuple[Tube, ...]


def carried(
    rows: Sequence[FieldMark], copies: Mapping[str, Copies], spacing: float, draw: Floats
) -> Copies:
    """Copies of one line as set from the copies of the lines before it.

    Parameters
    ----------
    rows : sequence of FieldMark
        The line's marks in order along it.
    copies : mapping of str to copies
        Of the lines set before.
    spacing : float
        On-centre distance [site unit].
    draw : (COPIES, len(rows), 3) float array
        Normal deviates.
    """
    printed = np.array([(row.easting, row.northing) for row in rows])
    done = []
    for k in range(COPIES):
        places = printed + _TOOL * spacing * draw[k, :, :2]
        for i, row in enumerate(rows):
            if row.method != "gauge":
                continue
            other = copies[row.above][k]
            station = row.above_station + _STATION * spacing * draw[k, i, 0]
            station = np.clip(np.array([station]), 0.0, other.length)
            along = other.tangent(station)[0]
            left = np.array((-along[1], along[0]))
            held = row.gap + _GAUGE * spacing * draw[k, i, 1]
            held = held if row.side == "downhill" else -held
            turn = np.radians(_SQUARE) * draw[k, i, 2]
            places[i] = other.at(station)[0] + held * (np.cos(turn) * left + np.sin(turn) * along)
        done.append(Tube(places))
    return tuple(done)


def spread(tube: Tube, copies: Copies) -> float:
    """Greatest root mean square of what the copies' marks are off, square to the tube [site unit].

    Parameters
    ----------
    tube : Tube
        Through the printed marks.
    copies : copies
        Of the same line.
    """
    along = tube.tangent(tube.mark_stations)
    normal = np.column_stack((-along[:, 1], along[:, 0]))
    off = np.array([((copy.marks - tube.marks) * normal).sum(axis=1) for copy in copies])
    return float(np.sqrt((off**2).mean(axis=0)).max())
