"""From drawn lines to laterals: cut, drop the short ones, give each its elevation and name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length, stations_along
from dripfield.layout.lines.cutting import cut_to_length as cut_to_length
from dripfield.layout.lines.cutting import cut_together
from dripfield.layout.lines.terrain import Terrain
from dripfield.layout.lines.tracing import evened, split
from dripfield.layout.model import Lateral
from dripfield.layout.model import panel_name as panel_name
from dripfield.site.model import LayoutSettings

VERTEX_STEP = 0.25  # of the spacing, between a lateral's vertices
_LEVEL_STEP = 0.5  # of the spacing, between places at which the ground is looked up
_THIN = 2e-4  # of the spacing: how far a lateral's chords may leave the curve
_SLIVER = 0.05  # of the spacing: a shorter piece is a touch of the edge, not a lateral


@dataclass(frozen=True)
class Laid:
    """The laterals laid, which of the panels given hold one, and what was dropped."""

    laterals: tuple[Lateral, ...]
    panels: tuple[int, ...]
    dropped_count: int
    dropped_length: float


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


def lay(
    lines_by_panel: Sequence[Sequence[Floats]], terrain: Terrain, settings: LayoutSettings
) -> Laid:
    """Turn clipped lines into laterals.

    Parameters
    ----------
    lines_by_panel : sequence of sequences of (k, 2) float arrays
        Local coordinates, panels from left to right looking down the slope.
    terrain : Terrain
    settings : LayoutSettings

    Returns
    -------
    Laid
        Laterals panel by panel, from the highest down, named ``L01`` …, with the panel's letter
        before it when there is more than one.
    """
    gap = settings.spacing * (1.0 - settings.spacing_tolerance)
    pieces: list[Floats] = []
    panel_of: list[int] = []
    for panel, lines in enumerate(lines_by_panel):
        whole = [opened(line, gap) for line in lines]
        for parts in cut_together(whole, settings.max_length, gap, settings.min_length):
            for piece in parts:
                pieces.append(piece if piece[-1, 0] >= piece[0, 0] else piece[::-1])
                panel_of.append(panel)
    pieces, owner = uncrossed(pieces, gap)
    panel_of = [panel_of[k] for k in owner]
    lengths = [line_length(piece) for piece in pieces]
    dropped = [
        length for length in lengths if _SLIVER * settings.spacing <= length < settings.min_length
    ]
    long = [
        k
        for k, length in enumerate(lengths)
        if length >= max(settings.min_length, _SLIVER * settings.spacing)
    ]
    pieces, panel_of = [pieces[k] for k in long], [panel_of[k] for k in long]
    elevations = elevations_to_set(pieces, terrain, settings)
    order = sorted(
        range(len(pieces)),
        key=lambda k: (panel_of[k], -round(elevations[k], 6), float(pieces[k][:, 0].mean())),
    )
    held = sorted(set(panel_of))
    drawn = thinned(pieces, _THIN * settings.spacing)
    laterals: list[Lateral] = []
    for number, panel in enumerate(held):
        mine = [k for k in order if panel_of[k] == panel]
        prefix = f"{panel_name(number)}-" if len(held) > 1 else ""
        digits = max(2, len(str(len(mine))))
        for place, k in enumerate(mine, start=1):
            laterals.append(
                Lateral(
                    f"{prefix}L{place:0{digits}d}",
                    panel_name(number),
                    terrain.frame.to_site(drawn[k]),
                    elevations[k],
                )
            )
    return Laid(tuple(laterals), tuple(held), len(dropped), float(sum(dropped)))


def elevations_to_set(
    pieces: Sequence[Floats], terrain: Terrain, settings: LayoutSettings
) -> list[float]:
    """The elevation to set for each line, by the ground that it follows and as surveyed.

    It is one that the surveyed ground has somewhere along the line.

    Parameters
    ----------
    pieces : sequence of (k, 2) float arrays
        The lines, local coordinates.
    terrain : Terrain
    settings : LayoutSettings
        Its spacing and level tolerance count.

    Returns
    -------
    list of float
        One for each line [site unit].
    """
    if not pieces:
        return []
    places, count = evened(pieces, _LEVEL_STEP * settings.spacing)
    followed = split(terrain.elevation(places), count)
    surveyed = split(terrain.rough_elevation(places), count)
    return [
        float(
            np.clip(
                set_elevation(np.concatenate((smooth, shot)), settings.level_tolerance),
                shot.min(),
                shot.max(),
            )
        )
        for smooth, shot in zip(followed, surveyed, strict=True)
    ]


def thinned(lines: Sequence[Floats], within: float) -> list[Floats]:
    """Lines less the vertices that a chord passes within a distance of."""
    if not lines:
        return []
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    fewer = shapely.simplify(
        shapely.linestrings(np.concatenate(lines), indices=owner), within, preserve_topology=False
    )
    ends = np.cumsum(shapely.get_num_coordinates(fewer))[:-1]
    return np.split(shapely.get_coordinates(fewer), ends)


def uncrossed(lines: list[Floats], gap: float) -> tuple[list[Floats], list[int]]:
    """Lines none of which crosses another: the shorter of two ends a gap before the longer.

    Returns
    -------
    lines : list of (k, 2) float arrays
    owner : list of int
        Which of the given lines each is part of.
    """
    whole = np.array([shapely.linestrings(line) for line in lines], dtype=object)
    one, other = shapely.STRtree(whole).query(whole, predicate="intersects")
    pairs = one < other
    if not pairs.any():
        return lines, list(range(len(lines)))
    length = shapely.length(whole)
    for i, j in zip(one[pairs], other[pairs], strict=True):
        short, long = (i, j) if length[i] < length[j] else (j, i)
        if shapely.intersects(whole[short], whole[long]):
            whole[short] = shapely.difference(whole[short], whole[long].buffer(gap))
    parts, owner = shapely.get_parts(whole, return_index=True)
    kept = ~shapely.is_empty(parts)
    return (
        [shapely.get_coordinates(part) for part in parts[kept]],
        owner[kept].tolist(),
    )


def opened(line: Floats, gap: float) -> Floats:
    """A line that runs into its own start, ended a gap before it; other lines as they are."""
    if len(line) < 4 or np.hypot(*(line[0] - line[-1])) > 1e-9 * gap:
        return line
    station = stations_along(line)
    stop = station[-1] - gap
    if stop <= 0.0:
        return line[:2]
    at = np.append(station[station < stop], stop)
    return np.column_stack([np.interp(at, station, line[:, axis]) for axis in (0, 1)])
