"""What every sensible longest length and number of zones costs and gives: the person's choice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.zones.division import Limits, choose_division
from dripfield.zones.field import Field
from dripfield.zones.friction import far_end_flow, tubing_loss
from dripfield.zones.joining import JoinReport, Joins
from dripfield.zones.links import Links
from dripfield.zones.settings import ZoneSettings

MOST_ZONES = 6


@dataclass(frozen=True)
class TradeRow:
    """One choice. Flows are those of the zone with the greatest [site unit cubed per second].

    Attributes
    ----------
    longest : float
        Of the joined laterals, as they are [site unit].
    zones, joined : int
    connections : int
        Of tubing to manifolds.
    joints : int
        Pieces of blank tubing.
    blank : float
        Blank tubing [site unit].
    dose_flow : float
    flush_nominal : float
        Emission and the flush velocity at every far end: a lower bound.
    flush_flow : float
        As much as all take while the longest of the zone just flushes.
    head : float
        Lost along the longest joined lateral while it flushes [site unit].
    chosen : bool
        Whether this longest length is the one chosen.
    """

    longest: float
    zones: int
    joined: int
    connections: int
    joints: int
    blank: float
    dose_flow: float
    flush_nominal: float
    flush_flow: float
    head: float
    chosen: bool


def trade_table(
    field: Field, links: Links, report: JoinReport, emission: np.ndarray, settings: ZoneSettings
) -> tuple[TradeRow, ...]:
    """A row for every longest length tried and every number of zones up to six.

    Parameters
    ----------
    field : Field
    links : Links
    report : JoinReport
    emission : (n,) float array
        Of each lateral [site unit cubed per second].
    settings : ZoneSettings

    Returns
    -------
    tuple of TradeRow
        The longest first, then by zones; a choice that gives the same joined laterals stands once.
    """
    rows: list[TradeRow] = []
    seen: set[tuple[object, ...]] = set()
    best = report.chosen.columns
    for option in sorted(report.options, key=lambda one: -one.reach):
        if option.columns in seen:
            continue
        seen.add(option.columns)
        for zones in range(1, min(MOST_ZONES, len(option.columns)) + 1):
            rows.append(_row(field, links, option, emission, settings, zones, best))
    return tuple(rows)


def _row(
    field: Field,
    links: Links,
    option: Joins,
    emission: np.ndarray,
    settings: ZoneSettings,
    zones: int,
    best: tuple[object, ...],
) -> TradeRow:
    _groups, flows, tops, bottoms, panels = _figures(field, links, option, emission)
    division = choose_division(flows, tops, bottoms, Limits(), panels, zones)
    dose, nominal, flush, head = 0.0, 0.0, 0.0, 0.0
    for group in division.groups:
        mine = list(group)
        lengths = np.array([option.columns[i].length for i in mine])
        longest = float(lengths.max())
        emitted = float(flows[mine].sum()) if settings.emitter_flow > 0.0 else 0.0
        dose = max(dose, emitted)
        nominal = max(nominal, emitted + len(mine) * settings.flush_flow)
        far = float(far_end_flow(lengths, longest, settings).sum())
        flush = max(flush, emitted + far)
        lost = tubing_loss(np.array(longest), np.array(settings.flush_flow), settings)
        head = max(head, float(lost))
    joints = sum(len(column.links) for column in option.columns)
    count = len(option.columns)
    return TradeRow(
        option.reach,
        len(division.groups),
        count,
        2 * count,
        joints,
        option.blank,
        dose,
        nominal,
        flush,
        head,
        option.columns == best,
    )


def _figures(
    field: Field, links: Links, option: Joins, emission: np.ndarray
) -> tuple[list[list[int]], np.ndarray, np.ndarray, np.ndarray, list[str]]:
    groups = [list(column.laterals(links)) for column in option.columns]
    levels = field.elevations
    weights = emission if emission.sum() > 0.0 else field.lengths
    flows = np.array([float(weights[group].sum()) for group in groups])
    tops = np.array([float(levels[group].max()) for group in groups])
    bottoms = np.array([float(levels[group].min()) for group in groups])
    return groups, flows, tops, bottoms, [main_panel(field, group) for group in groups]


def main_panel(field: Field, group: list[int]) -> str:
    """The panel that most of some laterals' length lies in."""
    share: dict[str, float] = {}
    lengths = field.lengths
    for lateral in group:
        panel = field.laterals[lateral].panel
        share[panel] = share.get(panel, 0.0) + float(lengths[lateral])
    return min(share, key=lambda panel: (-share[panel], panel))
