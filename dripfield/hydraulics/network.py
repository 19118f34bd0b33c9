"""A zone's network as data: nodes, pipes, pump, losses and the throttle at the return's end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints

PUMP, OTHER, THROTTLE = "pump", "other-loss", "throttle"
"""Identifiers of the links that are no pipes."""


@dataclass(frozen=True)
class Pipes:
    """The pipes of a network, one entry each.

    Attributes
    ----------
    ids : tuple of str
    ends : (m, 2) int array
        Node numbers, the first towards the supply.
    length : (m,) float array
        Tubing in plan, other pipe along its slope [length].
    bore : (m,) float array
        [in or mm].
    roughness : (m,) float array
        [in or mm].
    loss : (m,) float array
        Further loss [velocity heads].
    role : tuple of str
        ``supply``, ``feed`` (supply manifold), ``tubing``, ``collect`` (return manifold) or
        ``return``.
    part : (m,) int array
        Which joined lateral, or which pipe of the role, it is a part of.
    shut : (m,) bool array
    """

    ids: tuple[str, ...]
    ends: Ints
    length: Floats
    bore: Floats
    roughness: Floats
    loss: Floats
    role: tuple[str, ...]
    part: Ints
    shut: Bools

    def of(self, *roles: str) -> Ints:
        """Numbers of the pipes of the roles named."""
        return np.flatnonzero(np.isin(np.asarray(self.role), roles))


@dataclass(frozen=True)
class Network:
    """Nodes and links of one zone in one state; junctions come first, then reservoirs.

    Attributes
    ----------
    zone, state : str
    ids : tuple of str
        Of all nodes.
    xyz : (n, 3) float array
        Easting, northing, elevation of all nodes [length].
    junctions : int
        How many of the nodes are junctions.
    emitters : (k,) int array
        Node numbers of the emitters, in order along each joined lateral.
    rated : (k,) float array
        Their rated flows [gal/min or L/min]; 0 where one is blocked.
    owner : (k,) int array
        Number of the joined lateral of each emitter.
    laterals : tuple of str
        Name of the lateral that each emitter is on, (k,).
    joined : tuple of str
        Names of the joined laterals.
    first, last : (j,) int array
        Each joined lateral's first and last pipe.
    pipes : Pipes
    pump : (int, int)
        Nodes before and after the pump.
    curve : tuple of (float, float)
        Of the pump.
    other : (int, int) or None
        Nodes before and after filter, valve and regulator; None where there is none.
    other_loss : tuple of (float, float)
    throttle : (int, int) or None
        Nodes before and after the valve at the return's end; None without a return line.
    throttle_bore : float
        [in or mm].
    setting : float or None
        Loss coefficient of the throttle [velocity heads]; None where it is shut.
    notes : tuple of str
        What was taken for granted in putting it together.
    """

    zone: str
    state: str
    ids: tuple[str, ...]
    xyz: Floats
    junctions: int
    emitters: Ints
    rated: Floats
    owner: Ints
    laterals: tuple[str, ...]
    joined: tuple[str, ...]
    first: Ints
    last: Ints
    pipes: Pipes
    pump: tuple[int, int]
    curve: tuple[tuple[float, float], ...]
    other: tuple[int, int] | None
    other_loss: tuple[tuple[float, float], ...]
    throttle: tuple[int, int] | None
    throttle_bore: float
    setting: float | None
    notes: tuple[str, ...] = ()

    @property
    def links(self) -> tuple[str, ...]:
        """Identifiers of all links in the order of the file: pipes, pump, other loss, throttle."""
        more = [PUMP]
        more += [OTHER] if self.other else []
        more += [THROTTLE] if self.throttle else []
        return (*self.pipes.ids, *more)

    def link(self, name: str) -> int:
        """Number of the pump, other loss or throttle among the links."""
        return self.links.index(name)
