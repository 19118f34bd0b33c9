"""Flags or paint: which laterals are straight pulls, and how a crew lays each with tapes alone.

A lateral may be laid by pulling a string between two flags when the straight line keeps within both
tolerances beside its neighbours as they are laid; all others are painted from stations and offsets.
The numbers are rounded to what a tape is laid to, and the lines that result are measured again, so
that the sheet says what tapes alone give.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from dripfield.core.arrays import Bools, Floats
from dripfield.core.height_field import HeightField
from dripfield.core.lines import line_length
from dripfield.design.model import Design
from dripfield.layout.model import Lateral, Layout
from dripfield.measures.laterals import LateralMeasure, measure_laterals
from dripfield.site.model import LayoutSettings
from dripfield.staking.base_line import BaseLine, ControlPoint, base_line
from dripfield.staking.stakes import Stake

Laying = Literal["pull", "paint"]
_STRAIGHTEST = 0.9  # a chord shorter than this share of its lateral is no pull
_EDGE_SLACK = 1e-3  # share of the spacing by which a pull may leave the open area: no crew sees it


@dataclass(frozen=True)
class Mark:
    """A flag or a paint mark of one lateral.

    ``station`` and ``offset`` are from the base line, rounded to the tape's accuracy; offset is
    positive to the right. ``edge`` and ``distance`` say where a flag stands along its edge base
    line, from that line's upper end; None and NaN for paint, and for flags without edge lines.
    """

    name: str
    station: float
    offset: float
    edge: str | None = None
    distance: float = float("nan")


@dataclass(frozen=True)
class LaidLateral:
    """How one lateral is laid.

    Attributes
    ----------
    name : str
    laying : "pull" or "paint"
    why : str
        For paint: what a straight pull would miss.
    marks : tuple of Mark
        Two flags, or the paint marks in order.
    length : float
        Of the lateral as designed, in plan [site unit].
    """

    name: str
    laying: Laying
    why: str
    marks: tuple[Mark, ...]
    length: float


@dataclass(frozen=True)
class FlagPlan:
    """Flags and paint of a layout, with what tapes alone give.

    Attributes
    ----------
    base : BaseLine
        What stations and offsets are measured from.
    edges : dict of str to BaseLine
        Edge base lines by name; their own ends are laid from ``base``.
    laterals : tuple of LaidLateral
        In the layout's order.
    accuracy : float
        What tapes are laid to, and every number is rounded to [site unit].
    shift : float
        Greatest distance of a laid mark from its design place [site unit].
    level, spacing : float
        Greatest departure of the laid lines from the set elevations [site unit], and from the
        on-centre distance as a fraction.
    within : int
        Laterals that keep both tolerances as laid from the rounded numbers.
    within_design : int
        Laterals that keep both tolerances as designed.
    """

    base: BaseLine
    edges: dict[str, BaseLine]
    laterals: tuple[LaidLateral, ...]
    accuracy: float
    shift: float
    level: float
    spacing: float
    within: int
    within_design: int

    @property
    def flags(self) -> int:
        """How many flags the pulls need."""
        return sum(len(one.marks) for one in self.laterals if one.laying == "pull")

    @property
    def paint(self) -> float:
        """Total length to paint [site unit]."""
        return sum(one.length for one in self.laterals if one.laying == "paint")


def flag_plan(
    design: Design,
    stakes: Sequence[Stake],
    *,
    accuracy: float,
    names: tuple[str, str] | None = None,
) -> FlagPlan:
    """Decide pull or paint for every lateral and work out the crew's numbers.

    Parameters
    ----------
    design : Design
        With at least one lateral.
    stakes : sequence of Stake
        The stakes of the layout: paint marks stand where stakes do.
    accuracy : float
        What tapes are laid to [site unit].
    names : two names, optional
        The base line's ends; chosen when left out.

    Returns
    -------
    FlagPlan

    Raises
    ------
    InputError
        A base line cannot be had from the names given.
    """
    places = [
        np.array([(s.easting, s.northing) for s in stakes if s.lateral == lateral.name])
        for lateral in design.layout.laterals
    ]
    straight, why = straight_pulls(design.layout, design.surface, design.site.settings)
    base = base_line(design.ground, np.concatenate(places), names)
    edges, feet = _edge_lines(design.layout, straight, base, accuracy)
    laid_lines, laterals, shifts = [], [], [0.0]
    for i, lateral in enumerate(design.layout.laterals):
        if straight[i]:
            marks, line = _flags(lateral, base, edges, feet.get(i, {}), accuracy)
        else:
            marks, line = _paint(places[i], base, accuracy)
            shifts.append(float(np.hypot(*(line - places[i]).T).max()))
        length = line_length(lateral.xy)
        laying: Laying = "pull" if straight[i] else "paint"
        laterals.append(LaidLateral(lateral.name, laying, why[i], marks, length))
        laid_lines.append(replace(lateral, xy=line))
        if straight[i]:
            shifts.append(float(np.hypot(*(line - lateral.xy[[0, -1]]).T).max()))
    laid = _measure(laid_lines, design.surface, design.site.settings)
    designed = _measure(design.layout.laterals, design.surface, design.site.settings)
    return FlagPlan(
        base=base,
        edges=edges,
        laterals=tuple(laterals),
        accuracy=accuracy,
        shift=max(shifts),
        level=_worst_level(laid),
        spacing=_worst_spacing(laid, design.site.settings.spacing),
        within=sum(one.level_ok and one.spacing_ok for one in laid),
        within_design=sum(one.level_ok and one.spacing_ok for one in designed),
    )


def straight_pulls(
    layout: Layout, ground: HeightField, settings: LayoutSettings
) -> tuple[Bools, list[str]]:
    """Which laterals (n,) can be laid by a straight pull, and why the others cannot.

    Every lateral whose chord stays in the open area is tried straight, all together, and measured;
    one that is not level is painted; of those not spaced the worst of its neighbourhood is painted,
    and the rest measured again beside it, until every pull left keeps both tolerances.
    """
    laterals = list(layout.laterals)
    chords = [lateral.xy[[0, -1]] for lateral in laterals]
    why = [""] * len(laterals)
    straight = np.array([_is_chord(lateral) for lateral in laterals], dtype=np.bool_)
    area = layout.area.buffer(_EDGE_SLACK * settings.spacing)
    inside = np.asarray(shapely.covers(area, [shapely.linestrings(chord) for chord in chords]))
    for i in range(len(laterals)):
        if not straight[i]:
            why[i] = "it bends too far for a straight pull"
        elif not inside[i]:
            why[i] = "a straight pull would leave the open area"
    straight &= inside
    while straight.any():
        tried = [
            replace(lateral, xy=chords[i]) if straight[i] else lateral
            for i, lateral in enumerate(laterals)
        ]
        measured = _measure(tried, ground, settings)
        fault = np.array([_fault(one, settings) for one in measured])
        fault[~straight] = 0.0
        dropped = np.array([not one.level_ok for one in measured]) & straight
        for at in np.flatnonzero(dropped):
            why[at] = "a straight pull would not be level"
        if not dropped.any():
            padded = np.concatenate(([0.0], fault, [0.0]))
            worst = (fault > 0.0) & (fault >= padded[:-2]) & (fault >= padded[2:])
            dropped = worst & straight
            for at in np.flatnonzero(dropped):
                why[at] = "a straight pull would miss the spacing"
        if not dropped.any():
            break
        straight &= ~dropped
    return straight, why


def _fault(one: LateralMeasure, settings: LayoutSettings) -> float:
    """How far a lateral is out of its spacing, as a fraction; 0 when within tolerance."""
    if one.spacing_ok:
        return 0.0
    return max(_worst_spacing([one], settings.spacing), 1e-9)


def _is_chord(lateral: Lateral) -> bool:
    length = line_length(lateral.xy)
    return float(np.hypot(*(lateral.xy[-1] - lateral.xy[0]))) >= _STRAIGHTEST * length


def _measure(
    laterals: Sequence[Lateral], ground: HeightField, settings: LayoutSettings
) -> tuple[LateralMeasure, ...]:
    return measure_laterals(
        laterals,
        ground,
        spacing=settings.spacing,
        level_tolerance=settings.level_tolerance,
        spacing_tolerance=settings.spacing_tolerance,
        spacing_measured=settings.spacing_measured,
    )


def _worst_level(measured: Sequence[LateralMeasure]) -> float:
    off = [np.abs(one.ground - one.elevation) for one in measured]
    return float(np.nanmax(np.concatenate(off), initial=0.0))


def _worst_spacing(measured: Sequence[LateralMeasure], spacing: float) -> float:
    limits = np.array([(one.spacing_min, one.spacing_max) for one in measured])
    return float(np.nanmax(np.abs(limits / spacing - 1.0), initial=0.0))


def _rounded(values: Floats | float, accuracy: float) -> Floats:
    """To the nearest multiple of the tape's accuracy; never a negative zero."""
    return np.asarray(np.round(np.round(np.asarray(values) / accuracy) * accuracy, 6) + 0.0)


def _paint(places: Floats, base: BaseLine, accuracy: float) -> tuple[tuple[Mark, ...], Floats]:
    values = _rounded(base.station_offset(places), accuracy)
    marks = tuple(Mark(f"{i}", float(s), float(o)) for i, (s, o) in enumerate(values, 1))
    return marks, base.points(values)


def _flags(
    lateral: Lateral,
    base: BaseLine,
    edges: dict[str, BaseLine],
    feet: dict[str, float],
    accuracy: float,
) -> tuple[tuple[Mark, ...], Floats]:
    """Two flags and the line that lies between them, its ends beside the lateral's own ends."""
    ends = lateral.xy[[0, -1]]
    if len(feet) == 2:
        flags = np.concatenate(
            [edges[edge].points(np.array((at, 0.0))) for edge, at in feet.items()]
        )
        values = _rounded(base.station_offset(flags), accuracy)
        named = zip(feet.items(), values, strict=True)
        marks = tuple(
            Mark(f"{i}", float(s), float(o), edge, at)
            for i, ((edge, at), (s, o)) in enumerate(named, 1)
        )
    else:
        values = _rounded(base.station_offset(ends), accuracy)
        marks = tuple(Mark(f"{i}", float(s), float(o)) for i, (s, o) in enumerate(values, 1))
        flags = base.points(values)
    along = (flags[1] - flags[0]) / np.hypot(*(flags[1] - flags[0]))
    return marks, flags[0] + ((ends - flags[0]) @ along)[:, None] * along


def _edge_lines(
    layout: Layout, straight: Bools, base: BaseLine, accuracy: float
) -> tuple[dict[str, BaseLine], dict[int, dict[str, float]]]:
    """Two edge base lines for each panel with at least two pulls, and where its flags stand.

    Each line touches the pulls' ends from outside; its own ends are laid from the base line, hence
    rounded to the tape's accuracy, and the distances of the flags along it are rounded likewise.
    """
    edges: dict[str, BaseLine] = {}
    feet: dict[int, dict[str, float]] = {}
    for panel in dict.fromkeys(lateral.panel for lateral in layout.laterals):
        pulled = [i for i in np.flatnonzero(straight) if layout.laterals[i].panel == panel]
        if len(pulled) < 2:
            continue
        chords = np.array([layout.laterals[i].xy[[0, -1]] for i in pulled])
        along = chords[:, 1] - chords[:, 0]
        along /= np.hypot(*along.T)[:, None]
        mean = along.sum(axis=0) / np.hypot(*along.sum(axis=0))
        flip = along @ mean < 0.0
        chords[flip] = chords[flip][:, ::-1]
        down = chords[-1].mean(axis=0) - chords[0].mean(axis=0)
        # looking down the slope, the lateral's start is on the left when its direction points right
        from_left = mean[0] * down[1] - mean[1] * down[0] > 0.0
        sides = ("left", "right") if from_left else ("right", "left")
        pair = {
            f"{panel} {side}": _edge_line(f"{panel} {side}", chords, end, base, accuracy)
            for end, side in enumerate(sides)
        }
        edges.update(pair)
        for row, i in enumerate(pulled):
            order = list(pair)[::-1] if flip[row] else list(pair)
            feet[int(i)] = {
                edge: float(_rounded(_crossing(pair[edge], chords[row]), accuracy))
                for edge in order
            }
    return edges, feet


def _edge_line(name: str, chords: Floats, end: int, base: BaseLine, accuracy: float) -> BaseLine:
    """The line that touches one end of every chord (n, 2, 2) from outside, at its middle."""
    ends, others = chords[:, end], chords[:, 1 - end]
    out = (ends - others).mean(axis=0)
    out /= np.hypot(*out)
    down = np.array((-out[1], out[0]))
    if (ends[-1] - ends[0]) @ down < 0.0:
        down = -down
    near = ends - ends[0]
    a, b = near @ out, near @ down
    hull = _outer_hull(a, b)
    at = int(np.clip(np.searchsorted(b[hull], np.median(b)), 1, len(hull) - 1))
    first, second = hull[at - 1], hull[at]
    slope = (a[second] - a[first]) / (b[second] - b[first])
    tip = np.array((b.min(), b.max()))
    corners = ends[0] + (a[first] + slope * (tip - b[first]))[:, None] * out + tip[:, None] * down
    top, bottom = base.points(_rounded(base.station_offset(corners), accuracy))
    return BaseLine(
        ControlPoint(f"{name} top", float(top[0]), float(top[1])),
        ControlPoint(f"{name} bottom", float(bottom[0]), float(bottom[1])),
    )


def _outer_hull(a: Floats, b: Floats) -> list[int]:
    """Numbers of the points on the hull's side of greatest ``a``, in order of rising ``b``."""
    hull: list[int] = []
    for i in np.lexsort((-a, b)):
        if hull and b[i] - b[hull[-1]] < 1e-9:
            continue
        while len(hull) > 1:
            j, k = hull[-2], hull[-1]
            if (a[k] - a[j]) * (b[i] - b[j]) > (a[i] - a[j]) * (b[k] - b[j]):
                break
            hull.pop()
        hull.append(int(i))
    return hull


def _crossing(edge: BaseLine, chord: Floats) -> float:
    """Distance along an edge line, from its upper end, where a chord (2, 2) drawn on meets it."""
    u = edge.end.xy - edge.start.xy
    v = chord[1] - chord[0]
    w = chord[0] - edge.start.xy
    return float((w[0] * v[1] - w[1] * v[0]) / (u[0] * v[1] - u[1] * v[0]) * np.hypot(*u))
