"""The water of what was laid: same zones, pipes and pump, laterals where shots found them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length
from dripfield.core.table import Cell, Table, figures, text
from dripfield.core.verdict import Word
from dripfield.core.words import first_few
from dripfield.design.model import Design
from dripfield.distribution.figures import figures_of, missing_keys
from dripfield.distribution.system import FieldSystem, field_system, system_of
from dripfield.hydraulics.quantities import Quantities
from dripfield.hydraulics.simulate import STATES
from dripfield.hydraulics.state import ZoneState
from dripfield.zones.emitters import emitter_stations
from dripfield.zones.model import JoinedLateral, Piece


@dataclass(frozen=True)
class LaidLine:
    """A lateral as shots found it.

    Attributes
    ----------
    name : str
    xyz : (k, 3) float array
        Easting, northing and elevation of the tubing along it; a height that was not read is NaN
        [site unit].
    length : float or None
        Of the tubing, which bends between shots; None: that from shot to shot [site unit].
    proven : bool
        False where the shots leave open how the tubing lies between them.
    """

    name: str
    xyz: Floats
    length: float | None = None
    proven: bool = True


@dataclass(frozen=True)
class LaidWater:
    """A field's water as designed and as laid.

    Attributes
    ----------
    design, laid : FieldSystem
    as_designed : tuple of str
        Laterals that the shots do not tell of: taken where the design has them.
    not_proven : tuple of str
        Laterals taken straight from shot to shot, though that is not proven.
    """

    design: FieldSystem
    laid: FieldSystem
    as_designed: tuple[str, ...]
    not_proven: tuple[str, ...] = ()

    @property
    def word(self) -> Word:
        """``not proven`` where something lacks or a lateral was taken as designed."""
        if self.laid.failed:
            return "fail"
        is_open = self.laid.not_proven or self.as_designed or self.not_proven
        return "not proven" if is_open else "pass"

    def lines(self) -> Iterator[str]:
        """What is said of it: the word, what fails now, and what was taken as designed."""
        before = {check.requirement for check in self.design.failed}
        failed = [
            f"{check.requirement}: {check.value} {check.unit}, {check.limit}"
            + (", as designed too" if check.requirement in before else "")
            for check in self.laid.failed
        ]
        is_open = [check.requirement for check in self.laid.not_proven]
        if self.as_designed:
            is_open.append(f"no shots tell of {first_few(self.as_designed)}, taken as designed")
        if self.not_proven:
            is_open.append(
                f"how {first_few(self.not_proven)} lie between shots, taken straight from one to "
                "the next"
            )
        why = "; ".join(failed or is_open) or "every check of zones holds"
        yield f"water of what was laid, with the pump and pipe of the design: {self.word}: {why}"


def lacking_for_water(design: Design) -> list[str] | None:
    """Keys that a site lacks for its water to be solved; None where it asks for none of it."""
    file = design.site.file
    if file.pump is None and file.supply is None and file.tubing is None:
        return None
    return missing_keys(file)


def water_as_laid(design: Design, laid: Sequence[LaidLine]) -> LaidWater | None:
    """Solve dose and flush of a field as designed and with its laterals as laid.

    Joins, zones, manifolds, lines and pump are those of the design. A lateral runs straight from
    shot to shot, at the heights of the shots; blank tubing follows the ends that it joins, and an
    end that lies off its tap is joined to it by tubing.

    Parameters
    ----------
    design : Design
    laid : sequence of LaidLine
        The others are taken as designed.

    Returns
    -------
    LaidWater or None
        None where the site does not say enough.

    Raises
    ------
    InputError
        Figures that cannot be true, or routes that lead elsewhere.
    """
    if figures_of(design.site.file) is None or missing_keys(design.site.file):
        return None
    system = field_system(design)
    known = {line.name: line for line in laid if len(line.xyz) > 1}
    spacing = system.settings.emitter_spacing
    zones = tuple(
        replace(zone, joined=tuple(_as_laid(one, known, spacing) for one in zone.joined))
        for zone in system.plan.zones
    )
    moved = replace(system.zones, plan=replace(system.plan, zones=zones))
    found = system_of(design, moved, system.lines, system.settings, system.assumed, system.figures)
    names = [lateral.name for lateral in design.layout.laterals if lateral.name not in known]
    doubtful = tuple(line.name for line in known.values() if not line.proven)
    return LaidWater(system, found, tuple(names), doubtful)


def _as_laid(joined: JoinedLateral, known: dict[str, LaidLine], spacing: float) -> JoinedLateral:
    pieces = [
        piece if piece.lateral not in known else _moved(piece, known[piece.lateral], spacing)
        for piece in joined.pieces
    ]
    for k, piece in enumerate(pieces):
        if piece.lateral is None and 0 < k < len(pieces) - 1:
            pieces[k] = _led(piece, pieces[k - 1].xyz[-1], pieces[k + 1].xyz[0])
    return replace(joined, pieces=tuple(pieces))


def _moved(piece: Piece, line: LaidLine, spacing: float) -> Piece:
    """A lateral's piece through its shots, in the piece's direction of flow."""
    level = float(piece.xyz[:, 2].mean())
    xyz = np.where(np.isnan(line.xyz), level, line.xyz)
    ends = piece.xyz[[0, -1], :2]
    along = np.hypot(*(xyz[[0, -1], :2] - ends).T).sum()
    against = np.hypot(*(xyz[[-1, 0], :2] - ends).T).sum()
    xyz = xyz if along <= against else xyz[::-1]
    straight = line_length(xyz[:, :2])
    length = straight if line.length is None else line.length
    stations = emitter_stations(length, spacing) * (straight / length if length else 1.0)
    return Piece(piece.lateral, xyz, stations)


def _led(blank: Piece, start: Floats, end: Floats) -> Piece:
    """Blank tubing between two ends that have moved; its way between stays."""
    xyz = np.vstack((start, blank.xyz[1:-1], end))
    station = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(xyz[:, :2], axis=0).T))))
    xyz[:, 2] = np.interp(station, station[[0, -1]], (start[2], end[2]))
    return Piece(None, xyz, blank.emitters)


def water_table(water: LaidWater) -> Table:
    """Flow, head, pressure and emission of every zone and state, as designed and as laid.

    Parameters
    ----------
    water : LaidWater

    Returns
    -------
    Table
        A cell is empty where a state has no numbers; a row is marked where they part by more than
        a twentieth.
    """
    before, after = water.design.simulation, water.laid.simulation
    rows: list[tuple[Cell, ...]] = []
    if before is not None and after is not None:
        q = after.figures.q
        for zone in after.plan.zones:
            for state in STATES:
                rows += _rows(before.get(zone.name, state), after.get(zone.name, state), q)
    parts = [
        i
        for i, row in enumerate(rows)
        if isinstance(row[3], float)
        and isinstance(row[4], float)
        and abs(row[4] - row[3]) > 0.05 * max(abs(row[3]), 1e-6)
    ]
    columns = (
        *(text("zone", once=True), text("state", once=True), text("quantity")),
        *(figures("design", 3), figures("laid", 3), text("unit")),
    )
    title = "Water of what was laid, against the design"
    return Table(columns, rows, title, marked=frozenset(parts))


def _rows(
    before: ZoneState | None, after: ZoneState | None, q: Quantities
) -> Iterator[tuple[Cell, ...]]:
    known = after or before
    if known is None:
        return
    first = _told(before, q)
    second = _told(after, q)
    for (what, unit), a, b in zip(_names(known, q), first, second, strict=True):
        yield (known.zone, known.state, what, a, b, unit)


def _names(state: ZoneState, q: Quantities) -> list[tuple[str, str]]:
    last = (
        ("least velocity at far ends", q.velocity)
        if state.state == "flush"
        else ("greatest flow of an emitter", q.emitter_flow)
    )
    return [
        ("flow of the pump", q.flow),
        ("head of the pump", q.head),
        ("least pressure at emitters", q.pressure),
        ("greatest pressure at emitters", q.pressure),
        ("least flow of an emitter", q.emitter_flow),
        last,
    ]


def _told(state: ZoneState | None, q: Quantities) -> list[float | None]:
    if state is None:
        return [None] * 6
    last = (
        min(one.velocity_out for one in state.laterals)
        if state.state == "flush"
        else float(state.emission.max())
    )
    return [
        state.flow,
        state.head,
        float(state.pressure.min()),
        float(state.pressure.max()),
        float(state.emission.min()),
        last,
    ]
