"""How far the marks of a chain of gauged lines may have wandered when a line is reached.

A few copies of the work with likely errors are carried along from line to line. Where lines bend
sharply an error along a line turns into one square to it and grows from line to line; such a chain
is ended, and the next line is set by the tool again, before it is out of hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.staking.model import FieldMark
from dripfield.staking.tube import Tube

COPIES = 8
_STEPS = 8  # of every chord: copies need no exact lengths
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

    Returns
    -------
    tuple of Tube
    """
    printed = np.array([(row.easting, row.northing) for row in rows])
    station = np.array([row.above_station for row in rows])
    gap = np.array([row.gap for row in rows])
    side = np.array([1.0 if row.side == "downhill" else -1.0 for row in rows])
    by_line: dict[str, list[int]] = {}
    for i, row in enumerate(rows):
        if row.method == "gauge":
            by_line.setdefault(row.above, []).append(i)
    done = []
    for k in range(COPIES):
        places = printed + _TOOL * spacing * draw[k, :, :2]
        for name, which in by_line.items():
            other, own = copies[name][k], draw[k, which]
            at = np.clip(station[which] + _STATION * spacing * own[:, 0], 0.0, other.length)
            along = other.tangent(at)
            left = np.column_stack((-along[:, 1], along[:, 0]))
            held = side[which] * (gap[which] + _GAUGE * spacing * own[:, 1])
            turn = np.radians(_SQUARE) * own[:, 2]
            stick = np.cos(turn)[:, None] * left + np.sin(turn)[:, None] * along
            places[which] = other.at(at) + held[:, None] * stick
        done.append(Tube(places, _STEPS))
    return tuple(done)


def spread(tube: Tube, copies: Copies) -> float:
    """Greatest root mean square of what the copies' marks are off, square to the tube [site unit].

    Parameters
    ----------
    tube : Tube
        Through the printed marks.
    copies : copies
        Of the same line.

    Returns
    -------
    float
    """
    along = tube.tangent(tube.mark_stations)
    normal = np.column_stack((-along[:, 1], along[:, 0]))
    off = np.array([((copy.marks - tube.marks) * normal).sum(axis=1) for copy in copies])
    return float(np.sqrt((off**2).mean(axis=0)).max())
