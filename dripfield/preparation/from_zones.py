"""Zones as what is bought: pipe runs with their fittings, blank tubing and connections."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.preparation.fittings import PipeRun, bends_for, run_along, turns
from dripfield.preparation.pipe_sizes import SCHEDULE_40, bore, known_size, rank
from dripfield.preparation.tubing import Joining
from dripfield.zones.model import JoinedLateral, Manifold, Pipe, ZonePlan

TAP_SIZE = "3/4 in"  # of the branch to a lateral: common practice, no source
_BORE_DOUBT = 0.02  # [in]

GroundAt = Callable[[Floats], Floats]
"""Elevation of the ground at places (k, 2) [site unit]."""


@dataclass(frozen=True)
class Routed:
    """Everything that zones say to a take-off.

    Attributes
    ----------
    runs : tuple of PipeRun
    joined : tuple of Joining
    valves : int
        Zones with a supply manifold, each with a valve.
    summits : int
        Highest ends of manifolds, each of which lets air in and out.
    notes : tuple of str
        What could not be taken from them.
    """

    runs: tuple[PipeRun, ...]
    joined: tuple[Joining, ...]
    valves: int
    summits: int
    notes: tuple[str, ...]


def routed_from_zones(
    plan: ZonePlan,
    unit: Unit,
    *,
    ground: GroundAt | None = None,
    frost_depth: float | None = None,
    tap_size: str = TAP_SIZE,
) -> Routed:
    """Runs, fittings and joining tubing of a zone plan.

    Parameters
    ----------
    plan : ZonePlan
    unit : Unit
        The site's.
    ground : callable, optional
        Elevation of finished grade at places (k, 2) [site unit].
    frost_depth : float, optional
        [site unit]
    tap_size : str
        Nominal size of the branch to each lateral.

    Returns
    -------
    Routed

    Raises
    ------
    InputError
        A nominal size that is not in the table.
    """
    at = _Frost(ground, frost_depth)
    runs: list[PipeRun] = []
    notes: list[str] = []
    for use, line in (("supply", plan.supply), ("return", plan.return_)):
        runs += _line(use, line, unit, at, notes)
        if not line:
            notes.append(f"no {use} is routed: its pipe and fittings are left out")
    manifolds = [one for zone in plan.zones for one in (zone.supply, zone.return_) if one]
    for manifold in manifolds:
        runs += _manifold(manifold, unit, at, known_size(tap_size), notes)
    without = [zone.name for zone in plan.zones if not (zone.supply and zone.return_)]
    if without:
        notes.append(f"manifolds of {', '.join(without)} are not routed and left out")
    return Routed(
        tuple(runs),
        tuple(_joining(one) for zone in plan.zones for one in zone.joined),
        sum(zone.supply is not None for zone in plan.zones),
        len(manifolds),
        tuple(notes),
    )


@dataclass(frozen=True)
class _Frost:
    ground: GroundAt | None
    depth: float | None

    def over(self, xyz: Floats) -> Floats | None:
        """Elevation of the ground over a path, where it is asked for and known."""
        if self.ground is None or self.depth is None:
            return None
        heights = self.ground(xyz[:, :2])
        return heights if np.isfinite(heights).all() else None


def nominal_size(pipe: Pipe, unit: Unit) -> str | None:
    """Nominal size of a pipe as written, or that of its bore; None where no size has it."""
    if pipe.size:
        return known_size(pipe.size)
    inches = unit.to_feet(pipe.bore) * 12.0
    closest = min(SCHEDULE_40, key=lambda size: abs(bore(size) - inches))
    return closest if abs(bore(closest) - inches) <= _BORE_DOUBT else None


def _sized(pipe: Pipe, unit: Unit, notes: list[str]) -> str | None:
    size = nominal_size(pipe, unit)
    if size is None:
        notes.append(f"the pipe {pipe.name} has no nominal size of Schedule 40: left out")
    return size


def _line(
    use: str, pipes: tuple[Pipe, ...], unit: Unit, at: _Frost, notes: list[str]
) -> list[PipeRun]:
    """Pipes one after the other, with bends and reducers where they meet."""
    runs: list[PipeRun] = []
    before: tuple[Pipe, str] | None = None
    for pipe in pipes:
        size = _sized(pipe, unit, notes)
        if size is None:
            before = None
            continue
        run = _run(pipe, use, size, at)
        if before is not None:
            last, last_size = before
            meeting = np.vstack([last.xyz[-2], pipe.xyz[0], pipe.xyz[1]])
            if np.allclose(last.xyz[-1], pipe.xyz[0], atol=1e-6):
                run = replace(run, bends=run.bends + bends_for(turns(meeting))[0])
                if last_size != size:
                    large, small = sorted((size, last_size), key=rank, reverse=True)
                    run = replace(run, reducers=((large, small),))
        runs.append(run)
        before = (pipe, size)
    return runs


def _run(pipe: Pipe, use: str, size: str, at: _Frost) -> PipeRun:
    return run_along(pipe.name, use, size, pipe.xyz, ground=at.over(pipe.xyz), frost_depth=at.depth)


def _manifold(
    manifold: Manifold, unit: Unit, at: _Frost, tap: str, notes: list[str]
) -> list[PipeRun]:
    """Its pipes, and at every node the fitting that joins what meets there."""
    use = f"{manifold.side} manifold"
    runs: dict[int, PipeRun] = {}
    for i, pipe in enumerate(manifold.pipes):
        size = _sized(pipe, unit, notes)
        if size is not None:
            runs[i] = _run(pipe, use, size, at)
    taps = list(manifold.taps.values())
    for node in range(len(manifold.nodes)):
        meeting = [i for i, ends in enumerate(manifold.ends) if node in ends and ends[0] != ends[1]]
        known = [i for i in meeting if i in runs]
        if not known:
            continue
        owner = max(known, key=lambda i: (rank(runs[i].size), -i))
        sizes = [runs[i].size for i in known]
        runs[owner] = _with_node(runs[owner], sizes, taps.count(node), node, tap)
        if len(known) == 2 and node != 0 and not taps.count(node):
            path = np.vstack([_inward(manifold, i, node) for i in known])
            bends = bends_for(turns(path[[1, 0, 3]]))[0]
            runs[owner] = replace(runs[owner], bends=runs[owner].bends + bends)
    return list(runs.values())


def _inward(manifold: Manifold, i: int, node: int) -> Floats:
    """A pipe's vertex at a node and the next one from there, (2, 3)."""
    xyz = manifold.pipes[i].xyz
    return xyz[:2] if manifold.ends[i][0] == node else xyz[::-1][:2]


def _with_node(run: PipeRun, sizes: list[str], taps: int, node: int, tap: str) -> PipeRun:
    """A run with the fittings of one node: tees for branches, reducers for changes of size."""
    branches = sizes.copy()
    branches.remove(run.size)
    arriving = 1 if node == 0 else 0
    through = arriving or bool(branches)
    tees: list[str] = []
    bends, reducers = run.bends, run.reducers
    if not arriving and branches:
        straight = max(branches, key=rank)
        branches.remove(straight)
        if straight != run.size:
            reducers = (*reducers, (run.size, straight))
    tees += branches
    if through:
        tees += [tap] * taps
    elif taps:  # the manifold ends here: all taps but the last are tees, the last an elbow
        tees += [tap] * (taps - 1)
        bends = (*bends, 90.0)
        if run.size != tap:
            reducers = (*reducers, (run.size, tap))
    return replace(
        run,
        tees=run.tees + tuple(tees),
        bends=bends,
        reducers=reducers,
        unions=run.unions + arriving,
    )


def _joining(one: JoinedLateral) -> Joining:
    """Blank stretches of a joined lateral and its connections."""
    blanks = tuple(piece.length for piece in one.pieces if piece.lateral is None)
    return Joining(one.name, blanks, len(one.pieces) - 1)
