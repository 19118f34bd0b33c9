"""Zones as data: joined laterals, zones, manifolds, and the lines to and from the tank.

All lengths, places and elevations are in the site's unit; bores too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length, stations_along


@dataclass(frozen=True)
class Piece:
    """A stretch of a joined lateral, in the order of flow from supply to return.

    Attributes
    ----------
    lateral : str or None
        The lateral it is; None for blank tubing without emitters.
    xyz : (k, 3) float array
        Easting, northing, elevation of its vertices [site unit].
    emitters : (m,) float array
        Stations of its emitters along it, from its first vertex [site unit]; empty on blank tubing.
    """

    lateral: str | None
    xyz: Floats
    emitters: Floats

    @property
    def station(self) -> Floats:
        """Distance of each vertex along the piece, in plan, (k,) [site unit]."""
        return stations_along(self.xyz)

    @property
    def length(self) -> float:
        """Length in plan [site unit]."""
        return float(self.station[-1])


@dataclass(frozen=True)
class JoinedLateral:
    """Laterals joined end to end from the supply manifold to the return manifold.

    Attributes
    ----------
    name : str
        ``J01`` … from the top down.
    pieces : tuple of Piece
        Laterals with blank tubing between them; the first piece starts at the supply.
    """

    name: str
    pieces: tuple[Piece, ...]

    @property
    def laterals(self) -> tuple[str, ...]:
        """Names of its laterals in the order of flow."""
        return tuple(piece.lateral for piece in self.pieces if piece.lateral is not None)

    @property
    def length(self) -> float:
        """From supply to return, blank tubing included [site unit]."""
        return sum(piece.length for piece in self.pieces)

    @property
    def blank(self) -> float:
        """Tubing without emitters [site unit]."""
        return sum(piece.length for piece in self.pieces if piece.lateral is None)

    @property
    def tubing(self) -> float:
        """Tubing with emitters [site unit]."""
        return self.length - self.blank

    @property
    def emitters(self) -> int:
        """Number of its emitters."""
        return sum(len(piece.emitters) for piece in self.pieces)

    @property
    def supply_end(self) -> Floats:
        """Easting, northing, elevation where it leaves the supply manifold, (3,)."""
        return np.asarray(self.pieces[0].xyz[0])

    @property
    def return_end(self) -> Floats:
        """Easting, northing, elevation where it meets the return manifold, (3,)."""
        return np.asarray(self.pieces[-1].xyz[-1])


@dataclass(frozen=True)
class Pipe:
    """A stretch of pipe of one bore.

    Attributes
    ----------
    name : str
    xyz : (k, 3) float array
        Its vertices in the order of flow [site unit].
    bore : float
        Inside diameter [site unit].
    size : str
        Nominal size as written ("1-1/4 in"); empty where the bore was entered.
    """

    name: str
    xyz: Floats
    bore: float
    size: str = ""

    @property
    def length(self) -> float:
        """Length in plan [site unit]."""
        return line_length(self.xyz)


@dataclass(frozen=True)
class Manifold:
    """A supply or return manifold of one zone: a path with branches to its joined laterals.

    Attributes
    ----------
    zone : str
    side : str
        ``supply`` or ``return``.
    nodes : (n, 3) float array
        Junctions of the manifold [site unit]; node 0 is where the supply arrives or the return
        leaves.
    pipes : tuple of Pipe
        Between nodes; each runs from node ``ends[i][0]`` to ``ends[i][1]``, away from the supply
        (or towards the return's outlet).
    ends : tuple of (int, int)
        Node numbers of each pipe's first and last vertex.
    taps : dict of str to int
        The node at which each joined lateral of the zone is tapped.
    """

    zone: str
    side: str
    nodes: Floats
    pipes: tuple[Pipe, ...]
    ends: tuple[tuple[int, int], ...]
    taps: dict[str, int]


@dataclass(frozen=True)
class Zone:
    """A group of joined laterals that is dosed together.

    Attributes
    ----------
    name : str
        ``Z1`` … from the top down.
    joined : tuple of JoinedLateral
    area : float
        Loading area that its emitters serve [site unit squared].
    supply, return_ : Manifold or None
        None where no manifold could be routed.
    """

    name: str
    joined: tuple[JoinedLateral, ...]
    area: float
    supply: Manifold | None = None
    return_: Manifold | None = None


@dataclass(frozen=True)
class ZonePlan:
    """All zones of a field with the lines that lead to them and back.

    Attributes
    ----------
    zones : tuple of Zone
    supply : tuple of Pipe
        From the pump to the zones' valves; empty where the site gives no route.
    return_ : tuple of Pipe
        From the zones back to the tank; empty where the site gives no route.
    notes : tuple of str
        What a person should know of how it was made.
    """

    zones: tuple[Zone, ...]
    supply: tuple[Pipe, ...] = ()
    return_: tuple[Pipe, ...] = ()
    notes: tuple[str, ...] = ()
