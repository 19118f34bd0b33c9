"""The layout's code, by which papers of one layout know each other, and as a QR code."""

from __future__ import annotations

import hashlib
from typing import Any

import numpy as np

from dripfield.design.model import Design
from dripfield.sheets.kit.style import INK

_PLACES = 3
_LETTERS = 8
_QUIET = 2  # modules of white round it; the sheet is white beyond


def code_of(design: Design) -> str:
    """A short code of a layout: the same for the same laterals, another for others."""
    own = getattr(design, "code", None)
    if isinstance(own, str):
        return own
    text = [design.site.unit.value]
    for lateral in design.layout.laterals:
        xy = np.round(lateral.xy, _PLACES) + 0.0
        text.append(f"{lateral.name} {lateral.elevation:.{_PLACES}f} {xy.tolist()}")
    return hashlib.sha256("\n".join(text).encode()).hexdigest()[:_LETTERS].upper()


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
