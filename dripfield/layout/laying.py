"""From drawn lines to laterals: cut, drop the short ones, give each its elevation and name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.arrays import Floats
from dripfield.layout.fairing import eased
from dripfield.layout.model import Lateral
from dripfield.layout.terrain import Terrain
from dripfield.layout.tracing import evened
from dripfield.site.model import LayoutRules

VERTEX_STEP = 0.25  # of the spacing, between a lateral's vertices
_SLIVER = 0.05  # of the spacing: a shorter piece is a touch of the edge, not a lateral


@dataclass(frozen=True)
class Laid:
    """The laterals laid and what was dropped."""

    laterals: tuple[Lateral, ...]
    dropped_count: int
    dropped_length: float


def length_of(line: Floats) -> float:
    """Plan length of a polyline (k, 2)."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def set_elevation(z: Floats, tolerance: float) -> float:
    """The elevation to set so that the most of a lateral is level within a tolerance.

    Parameters
    ----------
    z : (k,) float array
        Ground at evenly spaced places along the lateral.
    tolerance : float
        Allowed departure either way [same unit].

    Returns
    -------
    float
        Middle of the range when all of it fits; else the middle of the band of twice the tolerance
        that holds the most places.
    """
    ordered = np.sort(z)
    last = np.searchsorted(ordered, ordered + 2.0 * tolerance, side="right")
    held = last - np.arange(len(ordered))
    best = np.flatnonzero(held == held.max())
    first = best[len(best) // 2]
    return float((ordered[first] + ordered[last[first] - 1]) / 2.0)


def cut_to_length(line: Floats, longest: float, gap: float) -> list[Floats]:
    """Cut a line into equal parts no longer than allowed, ends a gap apart (0: no limit)."""
    total = length_of(line)
    if longest <= 0.0 or total <= longest:
        return [line]
    count = int(np.ceil((total + gap) / (longest + gap)))
    part = (total - (count - 1) * gap) / count
    station = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    pieces = []
    for i in range(count):
        start = i * (part + gap)
        stop = start + part
        inner = station[(station > start) & (station < stop)]
        at = np.concatenate(([start], inner, [stop]))
        pieces.append(np.column_stack([np.interp(at, station, line[:, axis]) for axis in (0, 1)]))
    return pieces


def lay(lines_by_panel: Sequence[Sequence[Floats]], terrain: Terrain, rules: LayoutRules) -> Laid:
    """Turn clipped lines into laterals.

    Parameters
    ----------
    lines_by_panel : sequence of sequences of (k, 2) float arrays
        Local coordinates, panels from left to right looking down the slope.
    terrain : Terrain
    rules : LayoutRules

    Returns
    -------
    Laid
        Laterals panel by panel, from the highest down, named ``L01`` …, with the panel's letter
        before it when there is more than one.
    """
    gap = rules.spacing * (1.0 - rules.spacing_tolerance)
    dropped: list[float] = []
    panels: list[list[tuple[float, float, Floats]]] = []
    for lines in lines_by_panel:
        kept: list[tuple[float, float, Floats]] = []
        for line in lines:
            for piece in cut_to_length(line, rules.max_length, gap):
                length = length_of(piece)
                if length < _SLIVER * rules.spacing:
                    continue
                if length < rules.min_length:
                    dropped.append(length)
                    continue
                piece = eased(piece, rules.bend_radius)
                if piece[-1, 0] < piece[0, 0]:
                    piece = piece[::-1]
                elevation = _elevation_to_set(piece, terrain, rules)
                kept.append((elevation, float(piece[:, 0].mean()), piece))
        if kept:
            kept.sort(key=lambda item: (-round(item[0], 6), item[1]))
            panels.append(kept)
    laterals = []
    for number, kept in enumerate(panels):
        panel = panel_name(number)
        prefix = f"{panel}-" if len(panels) > 1 else ""
        digits = max(2, len(str(len(kept))))
        for place, (elevation, _, piece) in enumerate(kept, start=1):
            name = f"{prefix}L{place:0{digits}d}"
            laterals.append(Lateral(name, panel, terrain.frame.to_site(piece), elevation))
    return Laid(tuple(laterals), len(dropped), float(sum(dropped)))


def _elevation_to_set(line: Floats, terrain: Terrain, rules: LayoutRules) -> float:
    """The elevation to set for a line, by the ground that it follows and as surveyed."""
    even = evened(line, VERTEX_STEP * rules.spacing)
    z = np.concatenate((terrain.elevation(even), terrain.rough_elevation(even)))
    return set_elevation(z, rules.level_tolerance)


def panel_name(number: int) -> str:
    """``A``, ``B`` … for panel 0, 1 …"""
    return chr(ord("A") + number)
