"""A text as a QR code."""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.sheets.kit.style import INK

_QUIET = 2  # modules of white round it; the sheet is white beyond


def draw_code(axes: Any, text: str, left: float, top: float, size: float) -> None:
    """Draw a text as a QR code.

    Parameters
    ----------
    axes : Axes
        In points.
    text : str
    left, top, size : float
        Its corner and side, white margin included [pt].
    """
    import segno

    rows = np.array(list(segno.make(text, micro=False, error="m").matrix), dtype=np.bool_)
    count = len(rows) + 2 * _QUIET
    step = size / count
    for i, row in enumerate(rows):
        edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(np.int8), [0]))))
        low = top - (i + 1 + _QUIET) * step
        for start, stop in edges.reshape(-1, 2).tolist():
            x0, x1 = left + (start + _QUIET) * step, left + (stop + _QUIET) * step
            axes.fill([x0, x1, x1, x0], [low, low, low + step, low + step], fc=INK, lw=0, ec="none")
