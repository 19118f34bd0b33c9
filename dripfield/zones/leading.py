"""Pipe to every zone: each zone's manifolds led, sized and put into it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.zones.corridors import Corridors, find_corridors
from dripfield.zones.field import Field
from dripfield.zones.friction import far_end_flow, tubing_loss
from dripfield.zones.manifolds import Elevation, flows_in, grow_tree, with_sizes
from dripfield.zones.model import Manifold, Zone
from dripfield.zones.settings import Place, ZoneSettings
from dripfield.zones.sizing import HEAD_SHARE, size_pipes

_LANE = 0.15  # between manifolds beside each other, in spacings


def lead_manifolds(
    field: Field,
    ground: HeightField,
    zones: tuple[Zone, ...],
    settings: ZoneSettings,
    places: tuple[Floats | None, Floats | None],
    lane: float,
) -> tuple[tuple[Zone, ...], tuple[str, ...]]:
    """Lead and size the manifolds of all zones.

    Parameters
    ----------
    field : Field
    ground : HeightField
    zones : tuple of Zone
        Without manifolds.
    settings : ZoneSettings
    places : tuple of (3,) float array or None
        Where the supply line arrives and where the return line begins.
    lane : float
        From the ends of laterals to the innermost manifold [site unit].

    Returns
    -------
    tuple of Zone
    tuple of str
        What could not be done.
    """
    tubing = tuple(
        piece.xyz[:, :2]
        for zone in zones
        for joined in zone.joined
        for piece in joined.pieces
        if piece.lateral is None
    )
    number = {lateral.name: i for i, lateral in enumerate(field.laterals)}
    done, faults = [], []
    count = 0
    for zone in zones:
        found: list[Manifold | None] = []
        for side, place in zip(("supply", "return"), places, strict=True):
            offset = lane + count * _LANE * field.spacing
            count += 1
            extra = None if place is None else place[None, :2]
            corridors = find_corridors(field, offset, extra, tubing)
            beside = None if not found or found[0] is None else found[0].nodes[0, :2]
            where = (corridors, place, beside)
            manifold, said = _one(field, ground, zone, side, settings, where, number)
            found.append(manifold)
            faults += said
        done.append(replace(zone, supply=found[0], return_=found[1]))
    return tuple(done), tuple(faults)


def _one(
    field: Field,
    ground: HeightField,
    zone: Zone,
    side: str,
    settings: ZoneSettings,
    where: tuple[Corridors, Floats | None, Floats | None],
    number: dict[str, int],
) -> tuple[Manifold | None, list[str]]:
    corridors, place, beside = where
    ends = 2 * len(field.laterals)
    taps, levels = {}, {}
    for joined in zone.joined:
        name = joined.laterals[0 if side == "supply" else -1]
        at = (joined.supply_end if side == "supply" else joined.return_end)[:2]
        pair = 2 * number[name] + np.array([0, 1])
        apart = np.hypot(*(corridors.nodes[pair] - at).T)
        taps[joined.name] = int(pair[int(np.argmin(apart))])
        levels[joined.name] = field.laterals[number[name]].elevation
    root = len(corridors.nodes) - 1
    if place is None:
        root = _start(corridors, ends, taps, levels, settings.feed_at, beside)
    tree = grow_tree(corridors, ends, root, taps, _elevations(field, ground, place))
    faults = [
        f"no pipe reaches the {side} end of {name}: laterals and keepouts close it in"
        for name in tree.missed
    ]
    if tree.unclear > 0.01 * field.spacing:
        faults.append(
            f"{tree.unclear:.1f} of {zone.name}'s {side} manifold lies within a setback: there is "
            "no other way, or only a much longer one"
        )
    if not tree.taps:
        return None, faults
    lengths = np.array([joined.length for joined in zone.joined])
    longest = float(lengths.max())
    taken = far_end_flow(lengths, longest, settings)
    if side == "supply":
        emitters = np.array([joined.emitters for joined in zone.joined])
        taken = taken + emitters * settings.emitter_flow
    names = [joined.name for joined in zone.joined]
    flows = flows_in(tree, dict(zip(names, taken.tolist(), strict=True)))
    head = tubing_loss(np.array(longest), np.array(settings.flush_flow), settings)
    sizes = size_pipes(tree, flows, HEAD_SHARE * float(head), settings)
    return with_sizes(tree, zone.name, side, sizes), faults


def _start(
    corridors: Corridors,
    ends: int,
    taps: dict[str, int],
    levels: dict[str, float],
    at: Place,
    beside: Floats | None,
) -> int:
    """The node beside the highest, middle or lowest tap, or where the supply arrives."""
    order = sorted(taps, key=lambda name: (-levels[name], name))
    pick = {"top": 0, "centre": len(order) // 2, "bottom": len(order) - 1}[at]
    for name in (order[pick], *order):
        away, _ = corridors.reach(ends, np.array([taps[name]]))
        away = away[0, ends:]
        if beside is not None:
            apart = np.hypot(*(corridors.nodes[ends:] - beside).T)
            away = np.where(np.isfinite(away), apart, np.inf)
        if np.isfinite(away).any():
            return ends + int(np.argmin(away))
    return ends


def _elevations(field: Field, ground: HeightField, place: Floats | None) -> Elevation:
    """Elevations of pipe: of the laterals at their ends, of the line that arrives, else of the
    ground, and of the nearest lateral where the ground is not known."""
    from scipy.spatial import cKDTree

    known = np.column_stack((field.ends, np.repeat(field.elevations, 2)))
    if place is not None:
        known = np.vstack((known, place))
    tree = cKDTree(known[:, :2])

    def elevation(xy: Floats) -> Floats:
        away, which = tree.query(xy)
        found = np.asarray(ground.elevation(xy), dtype=float)
        take = np.isnan(found) | (away < 1e-6)
        return np.where(take, known[which, 2], found)

    return elevation
