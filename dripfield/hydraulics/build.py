"""A zone plan and the user's figures into the network of one zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.network import Network, Pipes
from dripfield.zones.model import JoinedLateral, Manifold, Pipe, Zone, ZonePlan

DOSE, FLUSH = "dose", "flush"
_LEAST_LENGTH = 0.001  # of a pipe, so that no pipe has none [length]
_LONGEST_ID = 31  # of a node or link in a network file
_SAME_PLACE_FEET = 0.1  # ends nearer than this are one


def missing(plan: ZonePlan, zone: Zone, figures: Figures, state: str) -> list[str]:
    """What has to be entered before a zone can be solved in a state.

    Parameters
    ----------
    plan : ZonePlan
    zone : Zone
    figures : Figures
    state : {"dose", "flush"}

    Returns
    -------
    list of str
        Keys of the site file, or what the plan lacks; empty when nothing is missing.
    """
    lacks = []
    if figures.tubing is None:
        lacks.append("[tubing] bore")
    if figures.pump is None:
        lacks.append("[pump] curve")
    if figures.emitters.compensating and figures.emitters.pressure_least is None:
        lacks.append("[emitters] pressure_least")
    if not plan.supply:
        lacks.append("[supply] route")
    if zone.supply is None:
        lacks.append(f"a supply manifold of {zone.name}")
    if state == FLUSH:
        if not plan.return_:
            lacks.append("[return] route")
        if zone.return_ is None:
            lacks.append(f"a return manifold of {zone.name}")
        if figures.design.flush_velocity is None:
            lacks.append("[zones] flush_velocity")
    return lacks


@dataclass
class _Parts:
    """Nodes and pipes while they are gathered."""

    tolerance: float
    ids: list[str] = field(default_factory=list)
    xyz: list[Floats] = field(default_factory=list)
    pipes: list[tuple[str, int, int, float, float, float, float, str, int]] = field(
        default_factory=list
    )
    notes: list[str] = field(default_factory=list)

    def node(self, name: str, xyz: Floats) -> int:
        """A new node."""
        self.ids.append(name)
        self.xyz.append(np.asarray(xyz, dtype=np.float64))
        return len(self.ids) - 1

    def near(self, xyz: Floats, among: Sequence[int]) -> tuple[int, float]:
        """The nearest of some nodes, and how far it is."""
        away = np.linalg.norm(np.asarray([self.xyz[i] for i in among]) - xyz, axis=1)
        return among[int(np.argmin(away))], float(away.min())

    def pipe(
        self, name: str, ends: tuple[int, int], bore: float, rough: float, role: str, part: int
    ) -> None:
        """A new pipe as long as its ends are apart."""
        apart = float(np.linalg.norm(self.xyz[ends[1]] - self.xyz[ends[0]]))
        length = max(apart, _LEAST_LENGTH)
        self.pipes.append((name, *ends, length, bore, rough, 0.0, role, part))


def build(plan: ZonePlan, zone: Zone, figures: Figures, state: str) -> Network:
    """Put the network of one zone together: its own manifolds and tubing, supply and return lines.

    Parameters
    ----------
    plan : ZonePlan
        With supply, and with return for a flush.
    zone : Zone
        One of its zones, with its manifolds.
    figures : Figures
        With tubing, pump and emitters.
    state : {"dose", "flush"}
        In a dose the throttle at the return's end is shut, in a flush it is open.

    Returns
    -------
    Network
        Every vertex of pipe and blank tubing and every emitter is a node at its own elevation.

    Raises
    ------
    InputError
        Something that :func:`missing` lists is missing, or a name is too long for a network file.
    """
    lacks = missing(plan, zone, figures, DOSE)
    if lacks or figures.tubing is None or figures.pump is None or zone.supply is None:
        raise input_error("the network cannot be put together", "enter " + ", ".join(lacks))
    q, rough = figures.q, figures.pipe_roughness
    parts = _Parts(figures.unit.from_feet(_SAME_PLACE_FEET))

    supply = _line(parts, "supply", plan.supply, q.bores, rough)
    feed = _manifold(parts, "feed", zone.supply, supply, q.bores, rough)
    back: list[int] = []
    collect: list[int] = []
    if plan.return_:
        back = _line(parts, "return", plan.return_, q.bores, rough)
    if zone.return_ is not None:
        collect = _manifold(parts, "collect", zone.return_, back, q.bores, rough)

    emitters: list[int] = []
    owner: list[int] = []
    names: list[str] = []
    first: list[int] = []
    last: list[int] = []
    for number, lateral in enumerate(zone.joined):
        start = feed[_tap(zone.supply, lateral)]
        end = collect[_tap(zone.return_, lateral)] if zone.return_ is not None else None
        first.append(len(parts.pipes))
        found = _tubing(parts, number, lateral, (start, end), figures)
        last.append(len(parts.pipes) - 1)
        emitters += found[0]
        names += found[1]
        owner += [number] * len(found[0])

    pump, level = figures.pump, figures.pump.level
    discharge = supply[0]
    other = None
    if pump.loss_points:
        before = parts.node("pump-outlet", parts.xyz[supply[0]])
        other, discharge = (before, supply[0]), before
    outlet = back[-1] if back and collect else None
    junctions = len(parts.ids)
    tank = parts.node("tank", np.array([*parts.xyz[supply[0]][:2], level]))
    throttle, bore = None, 0.0
    if outlet is not None:
        throttle = (outlet, parts.node("outlet", parts.xyz[outlet]))
        bore = plan.return_[-1].bore * q.bores
    too_long = [name for name in parts.ids if len(name) > _LONGEST_ID]
    if too_long:
        raise input_error(f"the name {too_long[0]} is too long", f"at most {_LONGEST_ID} letters")
    ids, a, b, length, bores, roughness, loss, role, part = zip(*parts.pipes, strict=True)
    return Network(
        zone=zone.name,
        state=state,
        ids=tuple(parts.ids),
        xyz=np.asarray(parts.xyz),
        junctions=junctions,
        emitters=np.asarray(emitters, dtype=np.int64),
        rated=np.full(len(emitters), figures.emitter_flow),
        owner=np.asarray(owner, dtype=np.int64),
        laterals=tuple(names),
        joined=tuple(lateral.name for lateral in zone.joined),
        first=np.asarray(first, dtype=np.int64),
        last=np.asarray(last, dtype=np.int64),
        pipes=Pipes(
            ids,
            np.column_stack((a, b)).astype(np.int64),
            np.asarray(length, dtype=np.float64),
            np.asarray(bores, dtype=np.float64),
            np.asarray(roughness, dtype=np.float64),
            np.asarray(loss, dtype=np.float64),
            role,
            np.asarray(part, dtype=np.int64),
            np.zeros(len(ids), dtype=bool),
        ),
        pump=(tank, discharge),
        curve=pump.curve,
        other=other,
        other_loss=pump.loss_points,
        throttle=throttle,
        throttle_bore=bore,
        setting=0.0 if state == FLUSH else None,
        notes=tuple(parts.notes),
    )


def _line(parts: _Parts, role: str, pipes: Sequence[Pipe], bores: float, rough: float) -> list[int]:
    """Nodes of a line of pipes that follow each other or branch where ends meet."""
    nodes: list[int] = []
    for number, pipe in enumerate(pipes, start=1):
        bore = pipe.bore * bores
        for k, xyz in enumerate(pipe.xyz):
            if k == 0 and nodes:
                at, apart = parts.near(xyz, nodes)
                if apart > parts.tolerance:
                    at = nodes[-1]
                    gap = parts.node(f"{role}-{number}-0", xyz)
                    parts.pipe(f"{role}-{number}-0", (at, gap), bore, rough, role, number - 1)
                    parts.notes.append(
                        f"{pipe.name} does not start where the {role} line before it ends: "
                        f"a straight pipe joins them"
                    )
                    nodes.append(gap)
                    at = gap
            else:
                before = at if nodes else None
                at = parts.node(f"{role}-{number}-{k + 1}", xyz)
                nodes.append(at)
                if before is not None:
                    parts.pipe(f"{role}-{number}-{k}", (before, at), bore, rough, role, number - 1)
    return nodes


def _manifold(
    parts: _Parts, role: str, manifold: Manifold, line: list[int], bores: float, rough: float
) -> list[int]:
    """Node numbers of a manifold's own nodes; node 0 is joined to the nearest node of the line."""
    first = np.asarray(manifold.nodes[0], dtype=np.float64)
    outward = role == "feed"
    start = None
    if line:
        start, apart = parts.near(first, line)
        if apart > parts.tolerance:
            bore = manifold.pipes[0].bore * bores if manifold.pipes else _bore_at(parts, start)
            here = parts.node(f"{role}-0", first)
            ends = (start, here) if outward else (here, start)
            parts.pipe(f"{role}-0-0", ends, bore, rough, role, 0)
            what = "supply" if outward else "return"
            parts.notes.append(
                f"the {what} line does not meet the {what} manifold of {manifold.zone}: "
                "a straight pipe joins them"
            )
            start = here
    at = parts.node(f"{role}-0", first) if start is None else start
    nodes = [at] + [
        parts.node(f"{role}-{k}", xyz) for k, xyz in enumerate(manifold.nodes[1:], start=1)
    ]
    for number, (pipe, ends) in enumerate(zip(manifold.pipes, manifold.ends, strict=True)):
        bore = pipe.bore * bores
        before = nodes[ends[0]]
        inner = pipe.xyz[1:-1]
        for k, xyz in enumerate(inner, start=1):
            here = parts.node(f"{role}-pipe-{number + 1}-{k}", xyz)
            parts.pipe(f"{role}-{number + 1}-{k}", (before, here), bore, rough, role, number)
            before = here
        name = f"{role}-{number + 1}-{len(inner) + 1}"
        parts.pipe(name, (before, nodes[ends[1]]), bore, rough, role, number)
    return nodes


def _bore_at(parts: _Parts, node: int) -> float:
    """Bore of a pipe that ends at a node."""
    return next(pipe[4] for pipe in reversed(parts.pipes) if node in pipe[1:3])


def _tap(manifold: Manifold, lateral: JoinedLateral) -> int:
    """Node of a manifold at which a joined lateral is tapped."""
    if lateral.name not in manifold.taps:
        raise input_error(
            f"{lateral.name} is not tapped by the {manifold.side} manifold of {manifold.zone}",
            "give every joined lateral of the zone a tap",
        )
    return manifold.taps[lateral.name]


def _tubing(
    parts: _Parts,
    number: int,
    lateral: JoinedLateral,
    taps: tuple[int, int | None],
    figures: Figures,
) -> tuple[list[int], list[str]]:
    """Nodes and links of a joined lateral; its emitters' nodes and the laterals they are on."""
    assert figures.tubing is not None
    bore, rough, loss = figures.tubing.bore, figures.tubing_roughness, figures.emitters.loss
    places, steps, on = _stations(lateral)
    gaps = [0.0, 0.0]
    for k, (tap, end) in enumerate(zip(taps, (0, -1), strict=True)):
        apart = 0.0 if tap is None else float(np.linalg.norm(parts.xyz[tap] - places[end]))
        gaps[k] = apart if apart > parts.tolerance else 0.0
    emitters: list[int] = []
    names: list[str] = []
    before = taps[0]
    after_emitter = False
    link = count = 0

    def lay(end: int, length: float) -> None:
        nonlocal before, link, after_emitter
        link += 1
        lost = loss if after_emitter else 0.0
        parts.pipes.append(
            (f"{lateral.name}_{link}", before, end, max(length, _LEAST_LENGTH), bore, rough, lost,
             "tubing", number)
        )  # fmt: skip
        before, after_emitter = end, False

    if gaps[0]:
        lay(parts.node(f"{lateral.name}-in", places[0]), gaps[0])
    for k in range(1, len(places)):
        ending = k == len(places) - 1
        if ending and taps[1] is not None and not gaps[1]:
            lay(taps[1], steps[k])
            break
        if on[k] is None:
            name = f"{lateral.name}-{'out' if ending else k}"
        else:
            count += 1
            name = f"{lateral.name}-e{count:04d}"
        node = parts.node(name, places[k])
        lay(node, steps[k])
        if on[k] is not None:
            emitters.append(node)
            names.append(str(on[k]))
            after_emitter = True
    if gaps[1] and taps[1] is not None:
        lay(taps[1], gaps[1])
    return emitters, names


def _stations(lateral: JoinedLateral) -> tuple[Floats, Floats, list[str | None]]:
    """Places of a joined lateral that become nodes, the step to each, the lateral of an emitter."""
    places = [lateral.pieces[0].xyz[:1]]
    steps = [np.zeros(1)]
    on: list[str | None] = [None]
    for piece in lateral.pieces:
        along = piece.station
        at = along[1:-1] if piece.lateral is None else np.asarray(piece.emitters)
        at = np.append(at, along[-1])
        places.append(np.column_stack([np.interp(at, along, piece.xyz[:, i]) for i in range(3)]))
        steps.append(np.diff(at, prepend=0.0))
        on += [piece.lateral if len(piece.emitters) else None] * (len(at) - 1) + [None]
    return np.concatenate(places), np.concatenate(steps), on
