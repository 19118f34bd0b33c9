"""Two layouts of a bed: what changed from one to the other, and what that does to the totals."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from shapely import MultiPolygon

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.core.verdict import Verdict, verdict_of
from dripfield.design.layout_file import layout_from, read_record
from dripfield.design.model import Design
from dripfield.layout.model import Lateral
from dripfield.review.judge.compare import compare_plan
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.plan import Plan, PlanRun
from dripfield.review.model.result import Comparison, Total
from dripfield.review.read.records import read_figure, read_records
from dripfield.staking.tube import Tube

_APART = "the two beds do not touch: these are two fields, not two layouts of one"
_AGAIN = "write the folder again with dripfield layout"
_BENT = 0.05  # of the mean distance of stakes: steps along the tube bent through them

_WHOLE = "layout.json"
_TABLES = ("laterals.csv", "stakes.csv")


@dataclass(frozen=True)
class Revision:
    """One side of a comparison of two layouts.

    ``name`` is its folder; ``volumes`` the net volume of each material, in cubic site units;
    ``written`` the folder its files were read from, when it is not a site: ``site`` is the other
    side's then.
    """

    name: Path
    design: Design
    volumes: dict[str, float]
    written: Path | None


def compare_revisions(before: Revision, after: Revision, limits: Limits) -> Comparison:
    """Compare a layout with a later one, as a plan is compared.

    Parameters
    ----------
    before, after : Revision
        Of one unit and coordinate system.
    limits : Limits

    Returns
    -------
    Comparison
        Lines are paired by where they lie, whatever they are called. Those ``not laid out`` are
        only in the earlier layout, those ``not on plan`` only in the later. Totals are extended by
        panels, the tubing of each, emitters and volumes where both sides have them. It passes when
        every line is the same within the limits.
    """
    runs = tuple(
        PlanRun(one.name, one.xy, elevation=one.elevation) for one in before.design.layout.laterals
    )
    plan = Plan(before.name, runs, boundary=before.design.site.bed.boundary)
    comparison = compare_plan(after.design, plan, limits)
    touch = before.design.site.bed.boundary.intersects(after.design.site.bed.boundary)
    apart = () if touch else (_APART,)
    return replace(
        comparison,
        verdict=_same_or_not(comparison),
        totals=(*comparison.totals, *_more_totals(before, after)),
        notes=(
            *comparison.notes,
            "not laid out: only in the earlier layout; not on plan: only in the later",
            *apart,
        ),
    )


def _same_or_not(comparison: Comparison) -> Verdict:
    """Whether two layouts are one."""
    changed = [line for line in comparison.lines if not line.verdict.is_yes]
    if not changed:
        return verdict_of([], [], [f"the two layouts are the same, {len(comparison.lines)} lines"])
    only = [
        f"{count} only {words}"
        for verdict, words in (
            (LineVerdict.NOT_LAID_OUT, "in the earlier"),
            (LineVerdict.NOT_ON_PLAN, "in the later"),
        )
        if (count := comparison.count(verdict))
    ]
    moved = comparison.count(LineVerdict.DIFFERS)
    only += [f"{moved} moved or of another length"] if moved else []
    same = len(comparison.lines) - len(changed)
    return verdict_of([f"the layouts differ: {', '.join(only)}; {same} lines are the same"], [], [])


def renumbered(comparison: Comparison) -> list[str]:
    """Lines that are the same and carry another name, runs of them together.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    list of str
        As ``L04 – L19 are now L05 – L20``.
    """
    pairs = [
        (line.run.name, line.lateral.name)
        for line in comparison.lines
        if line.run is not None and line.lateral is not None and line.verdict.is_yes
    ]
    groups: list[list[tuple[str, str]]] = []
    for pair in pairs:
        if pair[0] == pair[1]:
            groups.append([])
        elif groups and groups[-1] and _step(groups[-1][-1]) == _step(pair):
            groups[-1].append(pair)
        else:
            groups.append([pair])
    return [
        f"{group[0][0]} – {group[-1][0]} are now {group[0][1]} – {group[-1][1]}"
        if len(group) > 1
        else f"{group[0][0]} is now {group[0][1]}"
        for group in groups
        if group
    ]


def _step(pair: tuple[str, str]) -> tuple[str, str, int]:
    """What two names have before their numbers, and by how much the numbers differ."""
    parts = [re.fullmatch(r"(.*?)(\d*)", name) for name in pair]
    before, after = (part[1] if part else "" for part in parts)
    first, second = (int(part[2] or 0) if part else 0 for part in parts)
    return before, after, second - first


def _more_totals(before: Revision, after: Revision) -> list[Total]:
    """Figures without a limit of their own."""
    unit = after.design.site.unit
    sides = (before, after)
    panels = [_panel_tubing(side) for side in sides]
    totals = [Total("panels", float(len(panels[0])), float(len(panels[1])), 0, "")]
    names = sorted({*panels[0], *panels[1]})
    if len(names) > 1:
        totals += [
            Total(
                f"tubing of panel {name}",
                panels[0].get(name, 0.0),
                panels[1].get(name, 0.0),
                unit.places,
                unit.short,
            )
            for name in names
        ]
    emitters = [_emitters(side) for side in sides]
    if emitters[0] is not None and emitters[1] is not None:
        totals.append(Total("emitters, about", float(emitters[0]), float(emitters[1]), 0, ""))
    heights = [[one.elevation for one in side.design.layout.laterals] for side in sides]
    if all(heights):
        for word, pick in (("highest lateral", max), ("lowest lateral", min)):
            first, second = (float(pick(side)) for side in heights)
            totals.append(Total(word, first, second, unit.places, unit.short))
    for material in before.volumes:
        if material in after.volumes:
            totals.append(
                Total(
                    f"volume, {material}",
                    before.volumes[material],
                    after.volumes[material],
                    1,
                    f"{unit.short}3",
                )
            )
    return totals


def _panel_tubing(side: Revision) -> dict[str, float]:
    tubing: dict[str, float] = {}
    for one in side.design.measured.laterals:
        tubing[one.panel] = tubing.get(one.panel, 0.0) + one.length
    return tubing


def _emitters(side: Revision) -> int | None:
    """About how many emitters the tubing carries: whole spacings of each lateral."""
    table = side.design.site.file.emitters
    if table is None:
        return None
    return sum(int(one.length / table.spacing) for one in side.design.measured.laterals)


def is_layout_folder(folder: Path) -> bool:
    """True for a folder that ``dripfield layout`` wrote into."""
    return all((folder / name).is_file() for name in layout_files(folder))


def layout_files(folder: Path) -> tuple[str, ...]:
    """Names of the files that a written layout is read from: ``layout.json`` where it is there."""
    return (_WHOLE,) if (folder / _WHOLE).is_file() else _TABLES


def read_layout_folder(folder: Path, unit: Unit) -> tuple[Lateral, ...]:
    """Read laterals back from ``layout.json``, to their last digit.

    Of a folder without one, from ``laterals.csv`` and tubes bent through ``stakes.csv``.

    Parameters
    ----------
    folder : Path
    unit : Unit
        That of the site it is compared with.

    Returns
    -------
    tuple of Lateral
        In the file's order.

    Raises
    ------
    InputError
        A column is missing, a value is no number, the unit is another, a lateral has no stakes.
    """
    if layout_files(folder) == (_WHOLE,):
        whole = read_record(folder / _WHOLE, unit.value, "")
        return layout_from(whole, MultiPolygon()).laterals
    path = folder / "stakes.csv"
    stakes: dict[str, list[tuple[float, float]]] = {}
    for row, record in read_records(path, ("northing", "easting", "description"), _AGAIN):
        name = record["description"].split(" ")[0]
        place = (
            read_figure(record, "easting", path, row, _AGAIN),
            read_figure(record, "northing", path, row, _AGAIN),
        )
        stakes.setdefault(name, []).append(place)
    path = folder / "laterals.csv"
    laterals = []
    for row, record in read_records(path, ("lateral", "panel", "elevation", "unit"), _AGAIN):
        if record["unit"] != unit.value:
            raise input_error(
                f"the layout is in {record['unit']!r} and the site in {unit.value!r}",
                "compare layouts of one unit",
                file=path,
                row=row,
                field="unit",
            )
        xy = _line(stakes.get(record["lateral"], []))
        if xy is None:
            raise input_error(
                f"lateral {record['lateral']!r} has fewer than two stakes in stakes.csv",
                "keep both files of one run together",
                file=path,
                row=row,
            )
        elevation = read_figure(record, "elevation", path, row, _AGAIN)
        laterals.append(Lateral(record["lateral"], record["panel"], xy, elevation))
    return tuple(laterals)


def read_volumes(folder: Path) -> dict[str, float]:
    """Net volume of each material from ``volumes.csv``; empty where there is none."""
    path = folder / "volumes.csv"
    if not path.is_file():
        return {}
    return {
        record["material"]: read_figure(record, "net", path, row, _AGAIN)
        for row, record in read_records(path, ("material", "net"), _AGAIN)
    }


def _line(places: list[tuple[float, float]]) -> Floats | None:
    """The tube bent through stakes; None where there are not two apart."""
    xy = np.array(places, dtype=np.float64)
    if len(xy) < 2 or (xy == xy[0]).all():
        return None
    return Tube(xy).line(_BENT * float(np.hypot(*np.diff(xy, axis=0).T).mean()))
