"""Columns of the choice into joined laterals with vertices, elevations and emitters."""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.zones.emitters import emitter_stations
from dripfield.zones.field import Field
from dripfield.zones.links import Links
from dripfield.zones.model import JoinedLateral, Piece
from dripfield.zones.pricing import Column


def joined_laterals(
    field: Field, links: Links, columns: tuple[Column, ...], emitter_spacing: float
) -> tuple[tuple[JoinedLateral, Column], ...]:
    """Joined laterals from the top down, each with the column it was made of.

    Parameters
    ----------
    field : Field
    links : Links
    columns : tuple of Column
    emitter_spacing : float
        [site unit]

    Returns
    -------
    tuple of (JoinedLateral, Column)
    """
    levels = field.elevations
    order = sorted(columns, key=lambda one: (-levels[one.start // 2], one.laterals(links)))
    wide = max(2, len(str(len(order))))
    return tuple(
        (JoinedLateral(f"J{i:0{wide}}", _pieces(field, links, column, emitter_spacing)), column)
        for i, column in enumerate(order, 1)
    )


def _pieces(
    field: Field, links: Links, column: Column, emitter_spacing: float
) -> tuple[Piece, ...]:
    pieces = [_lateral(field, column.start, emitter_spacing)]
    leave = column.start ^ 1
    for link in column.links:
        entry = int(links.to[link])
        heights = field.elevations[[leave // 2, entry // 2]]
        pieces.append(_blank(links.paths[link], heights))
        pieces.append(_lateral(field, entry, emitter_spacing))
        leave = entry ^ 1
    return tuple(pieces)


def _lateral(field: Field, entry: int, emitter_spacing: float) -> Piece:
    lateral = field.laterals[entry // 2]
    xy = lateral.xy if entry % 2 == 0 else lateral.xy[::-1]
    xyz = np.column_stack((xy, np.full(len(xy), lateral.elevation)))
    length = float(np.hypot(*np.diff(xy, axis=0).T).sum())
    return Piece(lateral.name, xyz, emitter_stations(length, emitter_spacing))


def _blank(path: Floats, heights: Floats) -> Piece:
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))))
    z = np.interp(along, [0.0, along[-1]], heights)
    return Piece(None, np.column_stack((path, z)), np.empty(0))
