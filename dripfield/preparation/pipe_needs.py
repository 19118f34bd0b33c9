"""Pipe, fittings, glue, insulation, wire and tape in the take-off, from the routed runs."""

from __future__ import annotations

from collections.abc import Sequence

from dripfield.core.words import first_few, plural
from dripfield.preparation.fittings import LEAST_TURN, PipeRun, count_fittings
from dripfield.preparation.pipe_sizes import SCHEDULE_40, SDR_35, insulation_for, known_size, rank
from dripfield.preparation.practice import COMMON, Practice
from dripfield.preparation.stock import Need, whole_up


def pipe_needs(runs: Sequence[PipeRun], practice: Practice) -> tuple[tuple[Need, ...], list[str]]:
    """Everything that the routed runs call for, and what is left out.

    A size of pipe is one row over all its uses; fittings are those counted from the lines.
    """
    if not runs:
        return (), ["no pipe is routed: pipe, fittings, insulation, wire and tape are left out"]
    needs: list[Need] = []
    notes = _turn_notes(runs)
    needs += _pipe(runs, practice)
    for name, count in count_fittings(runs).items():
        owners = ", ".join(run.name for run in runs if name in count_fittings([run]))
        needs.append(Need(name, count, "each", f"{count} counted along {owners}", "zones"))
    needs += _couplings(runs, practice)
    needs += _glue(runs, practice)
    needs += _wye(runs, practice, notes)
    needs += _insulation(runs, practice, notes)
    needs += _wire_and_tape(runs, practice)
    return tuple(needs), notes


def _turn_notes(runs: Sequence[PipeRun]) -> list[str]:
    """What the counting of bends took up or could not meet, over all runs."""
    taken = sum(run.taken for run in runs)
    missed = [f"{angle:.0f}° in {run.name}" for run in runs for angle in run.missed]
    notes = []
    if taken:
        turns = plural(taken, "turn is", "turns are")
        notes.append(f"{taken} {turns} below {LEAST_TURN:g}° and taken up by the pipe itself")
    if missed:
        notes.append(f"turns that no stock bend meets: {first_few(missed)}")
    return notes


def _by_size(runs: Sequence[PipeRun]) -> dict[str, list[PipeRun]]:
    sizes = sorted({run.size for run in runs}, key=rank)
    return {size: [run for run in runs if run.size == size] for size in sizes}


def _sum(runs: Sequence[PipeRun], unit: str) -> tuple[float, str]:
    """Total length and its formula by use."""
    uses = dict.fromkeys(run.use for run in runs)
    parts = {use: sum(run.length for run in runs if run.use == use) for use in uses}
    total = sum(parts.values())
    return total, " + ".join(f"{part:,.1f} {unit} {use}" for use, part in parts.items())


def _pipe(runs: Sequence[PipeRun], practice: Practice) -> list[Need]:
    needs = []
    for size, some in _by_size(runs).items():
        total, how = _sum(some, practice.unit.short)
        name = f"Schedule 40 pipe, {size}"
        needs.append(Need(name, total, practice.unit.short, f"{how}, along the pipe", "zones"))
    return needs


def _lengths(some: Sequence[PipeRun], practice: Practice) -> int:
    """Joints between lengths of pipe within the runs of one size."""
    return sum(max(0, whole_up(run.length / practice.pipe_length) - 1) for run in some)


def _couplings(runs: Sequence[PipeRun], practice: Practice) -> list[Need]:
    if practice.table.bell_ends:
        return []
    return [
        Need(
            f"coupling, Schedule 40, {size}",
            joints,
            "each",
            f"{joints} joints between {practice.pipe_length:g} {practice.unit.short} lengths",
            "zones",
        )
        for size, some in _by_size(runs).items()
        if (joints := _lengths(some, practice))
    ]


def _glue(runs: Sequence[PipeRun], practice: Practice) -> list[Need]:
    fitting = sum(run.sockets for run in runs)
    between = sum(_lengths(some, practice) for some in _by_size(runs).values())
    per = 1 if practice.table.bell_ends else 2
    joints = fitting + per * between
    how = f"{fitting} sockets of fittings + {per} x {between} joints between lengths of pipe"
    return [
        Need("primer", joints, "joint", how, f"zones, {COMMON}"),
        Need("solvent cement", joints, "joint", how, f"zones, {COMMON}"),
    ]


def _wye(runs: Sequence[PipeRun], practice: Practice, notes: list[str]) -> list[Need]:
    target, sewer = practice.table.return_to, practice.table.building_sewer
    back = [run for run in runs if run.use in ("return", "gravity return")]
    if not back:
        return []
    if target is None:
        notes.append(
            "whether the return ends in the tank or in the building sewer is not given"
            " ([prepare] return_to): its last fitting is left out"
        )
        return []
    size = back[-1].size
    if target == "tank":
        how = "1 where the return enters the tank's inlet"
        return [Need(f"watertight seal at the tank, {size}", 1, "each", how, "site")]
    if sewer is None:
        notes.append("the building sewer's size is not given ([prepare] building_sewer)")
        return [Need(f"wye into the building sewer, branch {size}", 1, "each", "1", "site")]
    pipe = known_size(sewer)
    if pipe in SDR_35:
        notes.append(
            f"building sewer {pipe}: measure its outside diameter before buying the wye"
            f" (Schedule 40 {SCHEDULE_40[pipe][0]:.3f} in, SDR 35 {SDR_35[pipe][0]:.3f} in)"
        )
    name = f"wye into the building sewer, {pipe} x {pipe} x {size}"
    return [Need(name, 1, "each", "1 where the return enters the building sewer", "site")]


def _insulation(runs: Sequence[PipeRun], practice: Practice, notes: list[str]) -> list[Need]:
    depth, unit = practice.frost_depth, practice.unit.short
    if depth is None:
        notes.append("no frost depth is given ([design] frost_depth): insulation is left out")
        return []
    unknown = [run.name for run in runs if run.shallow is None]
    if unknown:
        notes.append(f"cover over {', '.join(unknown)} is not known: its insulation is left out")
    needs = []
    for size, some in _by_size(runs).items():
        uses = dict.fromkeys(run.use for run in some if run.shallow)
        parts = [(use, sum(run.shallow or 0.0 for run in some if run.use == use)) for use in uses]
        if not parts:
            continue
        fits = insulation_for(size)
        where = " + ".join(f"{length:,.1f} {unit} {name}" for name, length in parts)
        needs.append(
            Need(
                f"foam pipe insulation {fits.text}",
                sum(length for _, length in parts),
                unit,
                f"{where}, less than {depth:g} {unit} deep; {size} PVC pipe",
                "zones; ASTM D1785, B88; iron-pipe sizes from memory",
            )
        )
    return needs


def _wire_and_tape(runs: Sequence[PipeRun], practice: Practice) -> list[Need]:
    outside = [run for run in runs if "manifold" not in run.use]
    if not outside:
        return []
    total, how = _sum(outside, practice.unit.short)
    source = f"zones, {COMMON}"
    how = f"along {how}"
    return [
        Need("tracer wire", total, practice.unit.short, how, source),
        Need("caution tape", total, practice.unit.short, how, source),
    ]
