"""The field method: marks, how each is set, and the order of work.

In every panel one guide line is set first, by instrument or by two tapes. Each further line is
gauged with a level stick from the line beside it, whose marks all stand by then. What the crew
holds the stick from is the tube bent through the marks that it has set, so gap and station are
reckoned from the tube through the *printed* marks: what rounding or bending takes away at one line
is given back at the next, and nothing adds up over the bed.

Where it can be, a line is marked abreast of the marks of the line that it is gauged from. Two tubes
with marks abreast bend alike in between, so that what went wrong at a mark moves both and leaves
the distance between them alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.core.cores import side_by_side
from dripfield.core.limits import check_count
from dripfield.design.model import Design
from dripfield.staking.field_settings import FieldSettings, field_settings
from dripfield.staking.gauge import REACH, Gauging, gauge_from, neighbours_within
from dripfield.staking.levelling import plan_levelling
from dripfield.staking.marks import DesignLine, choose_marks, fitted, tube_distance
from dripfield.staking.model import FieldMark, FieldPlan, FindablePoint, Tool
from dripfield.staking.order import Reach, reach_of, setting_order
from dripfield.staking.points import base_line_ends, findable_points, permanent_pair
from dripfield.staking.printing import COORDINATE_PLACES, gauged_marks, taped_mark
from dripfield.staking.rods import own_ground, with_rods
from dripfield.staking.set_line import SetLine, followed, grid_of, places_to_mark, useful
from dripfield.staking.spread import COPIES, Copies, carried, spread
from dripfield.staking.ties import best_ties, check_lengths
from dripfield.staking.tube import Tube

if TYPE_CHECKING:
    from dripfield.layout.model import Lateral

STRAY = 0.046
"""Spacings: most that the tube through the printed marks may stray from a lateral."""

LEAST = 2.0
"""Spacings: marks do not stand closer where they need not."""

SPREAD = 0.15
"""Spacings: a line whose marks may have wandered farther than this is set by the tool."""

_TRIES = ((1.0, True, LEAST), (0.7, False, LEAST), (0.6, False, 0.5 * LEAST), (0.5, False, 0.0))
# of the tolerance, whether neighbours are followed, least step


def field_method(design: Design, settings: FieldSettings | None = None) -> FieldPlan:
    """Choose the marks of a layout and how each is set.

    Parameters
    ----------
    design : Design
        Its surface gives the elevations of the marks.
    settings : FieldSettings, optional
        :func:`dripfield.staking.settings.field_settings` unless given.

    Returns
    -------
    FieldPlan
        A natural cubic spline through the marks of a lateral stays within the settings' tolerance
        of the lateral, and rounding. Every row gives its own coordinates again to the last written
        figure.

    Raises
    ------
    InputError
        A given backsight that puts every mark off the rod.
    """
    chosen = field_settings(design.ground) if settings is None else settings
    return _Work(_Lines(design), chosen).plan()


WAYS: dict[str, tuple[Tool, bool]] = {
    "instrument and gauge": ("instrument", True),
    "tape and gauge": ("tape", True),
    "instrument": ("instrument", False),
    "tape": ("tape", False),
}
"""Tool, and whether a stick sets all other marks, of each way of working."""


def alternatives(design: Design, settings: FieldSettings | None = None) -> dict[str, FieldPlan]:
    """The plans of every way a crew could work.

    Parameters
    ----------
    design : Design
    settings : FieldSettings, optional
        ``tool`` and ``gauged`` are set for each plan.

    Returns
    -------
    dict of str to FieldPlan
        ``instrument and gauge``, ``tape and gauge`` (a laser for level, no instrument),
        ``instrument`` and ``tape`` (every mark).
    """
    base = field_settings(design.ground) if settings is None else settings
    lines = _Lines(design)
    lines.prepare()
    works = [_Work(lines, replace(base, tool=t, gauged=gauged)) for t, gauged in WAYS.values()]
    plans = side_by_side([work.plan for work in works])
    return dict(zip(WAYS, plans, strict=True))


class _Lines:
    """A layout's lines, and what of them is the same whatever tool sets them."""

    def __init__(self, design: Design) -> None:
        self.design = design
        self.spacing = design.site.settings.spacing
        self.lines = [DesignLine.of(lateral.xy) for lateral in design.layout.laterals]
        self.points = findable_points(design)
        self.alone: dict[tuple[int, float, float], tuple[Floats, Floats]] = {}
        """Marks of a line set by itself, along it and as fitted, by its number and how close."""

    @cached_property
    def drawn(self) -> list[Tube]:
        """Each as a tube through many places of it."""
        return [Tube(line.at(line.divided(self.spacing))) for line in self.lines]

    @cached_property
    def beside(self) -> list[Ints]:
        """For each line, those near it."""
        return neighbours_within([line.xy for line in self.lines], REACH * self.spacing)

    @cached_property
    def reach(self) -> Reach:
        """How far each could be gauged from those near it."""
        return reach_of(self.lines, self.beside, self.spacing)

    def prepare(self) -> None:
        """Draw the lines now, and not in every process that works on them."""
        _ = self.drawn, self.reach


class _Work:
    """One layout on its way to marks."""

    def __init__(self, shared: _Lines, settings: FieldSettings) -> None:
        design = shared.design
        self.site, self.layout, self.ground = design.site, design.layout, design.surface
        self.settings, self.shared = settings, shared
        self.spacing, self.lines, self.points = shared.spacing, shared.lines, shared.points
        self.set: dict[int, SetLine] = {}
        self.unreached: list[str] = []
        self.renewed: list[str] = []

    def plan(self) -> FieldPlan:
        """Set every line in turn."""
        laterals, settings = self.layout.laterals, self.settings
        beside = self.shared.beside
        order, guides = list(range(len(self.lines))), list[int]()
        if settings.gauged:
            order, guides = self._order()
        for number in order:
            self.set[number] = self._set_line(number, beside[number])
        marks = [row for number in order for row in self.set[number].rows]
        check_count(
            "stakes", len(marks), "site.toml", "lay out a smaller bed", subject="the layout"
        )
        first = np.cumsum([settings.first] + [len(self.set[i].rows) for i in range(len(laterals))])
        numbers = {
            lateral.name: iter(range(first[i], first[i + 1])) for i, lateral in enumerate(laterals)
        }
        rows = [
            replace(row, order=k, mark=int(next(numbers[row.lateral])))
            for k, row in enumerate(marks, 1)
        ]
        levelling = plan_levelling(
            self.site, [own_ground(rows)], settings.rod_length, settings.backsight
        )
        read = with_rods(rows, levelling)
        return self._finished(read, [laterals[i].name for i in guides])

    def _order(self) -> tuple[list[int], list[int]]:
        """Panel by panel, in the layout's order of panels."""
        reach = self.shared.reach
        lengths = [line.length for line in self.lines]
        panels: dict[str, list[int]] = {}
        for i, lateral in enumerate(self.layout.laterals):
            panels.setdefault(lateral.panel, []).append(i)
        order: list[int] = []
        guides: list[int] = []
        for members in panels.values():
            own_order, own_guides = setting_order(members, lengths, reach, self.spacing)
            order += own_order
            guides += own_guides
        return order, guides

    def _set_line(self, number: int, beside: Ints) -> SetLine:
        """Mark one line from those of its panel that are set, or by the tool alone.

        Another panel hangs on a guide of its own: what is gauged across a seam would bring the
        wanderings of one chain into the other.
        """
        panel = self.layout.laterals[number].panel
        near = [self.set[i] for i in beside if i in self.set and self.settings.gauged]
        near = [other for other in near if other.lateral.panel == panel]
        near = useful(self.lines[number], near, self.spacing)
        done = self._kept_near(number, near)
        if near and spread(done.tube, done.copies) > SPREAD * self.spacing:
            self.renewed.append(self.layout.laterals[number].name)
            done = self._kept_near(number, [])
        return done

    def _kept_near(self, number: int, near: Sequence[SetLine]) -> SetLine:
        """Marks of one line whose tube keeps to it: closer ones where the first do not do."""
        best: tuple[float, SetLine] | None = None
        for tighter, follow, least in _TRIES:
            done = self._marked(number, near, tighter, follow, least)
            stray = tube_distance(self.lines[number], done.tube)
            if best is None or stray < best[0]:
                best = stray, done
            if stray <= STRAY * self.spacing:
                break
        assert best is not None
        return best[1]

    def _marked(
        self, number: int, near: Sequence[SetLine], tighter: float, follow: bool, least: float
    ) -> SetLine:
        """Marks of one line, gauged from lines that are set."""
        line, lateral = self.lines[number], self.layout.laterals[number]
        drawn = self.shared.drawn[number]
        if follow:
            line = followed(line, near, self.spacing)
        alone = (number, tighter, least)
        known = None if near else self.shared.alone.get(alone)
        if known is None:
            station = self._stations(line, near, tighter, least)
            known = station, fitted(line, station)
            if not near:
                self.shared.alone[alone] = known
        rows = self._rows(line, lateral, *known, near)
        tube = Tube(np.array([(row.easting, row.northing) for row in rows]))
        copies: Copies = ()
        if self.settings.gauged:
            draw = np.random.default_rng(number).normal(size=(COPIES, len(rows), 3))
            before = {other.lateral.name: other.copies for other in near}
            copies = carried(rows, before, self.spacing, draw)
        return SetLine(lateral, tube, drawn, tuple(rows), copies)

    def _stations(
        self, line: DesignLine, near: Sequence[SetLine], tighter: float, least: float
    ) -> Floats:
        """Where along a line marks are set."""
        grid = grid_of(line, self.spacing)
        along = line.tangent(grid, 0.25 * self.spacing)
        gauged = [self._gauging(line.at(grid), along, other).ok for other in near]
        station, cost = places_to_mark(line, near, gauged, self.spacing)
        chosen = choose_marks(
            line,
            station,
            cost,
            tighter * self.settings.tolerance,
            self.settings.longest,
            least * self.spacing,
        )
        return np.asarray(station[chosen])

    def _gauging(self, places: Floats, along: Floats, other: SetLine) -> Gauging:
        return gauge_from(other.tube, places, along, self.spacing, self.site.bed.keepouts)

    def _rows(
        self,
        line: DesignLine,
        lateral: Lateral,
        station: Floats,
        places: Floats,
        near: Sequence[SetLine],
    ) -> list[FieldMark]:
        """The marks at distances along the line, and places, with the figures that set them."""
        rows = [
            FieldMark(
                order=0,
                mark=0,
                lateral=lateral.name,
                panel=lateral.panel,
                method="instrument",
                easting=round(float(x), COORDINATE_PLACES),
                northing=round(float(y), COORDINATE_PLACES),
                elevation=float("nan"),
                set_elevation=lateral.elevation,
                station=float(s),
            )
            for s, (x, y) in zip(station, places, strict=True)
        ]
        waiting = np.ones(len(rows), dtype=np.bool_)
        along = line.tangent(station, 0.25 * self.spacing)
        for other in near:
            found = self._gauging(places, along, other)
            which = np.flatnonzero(found.ok & waiting)
            done = gauged_marks(
                rows, which, found, other.lateral.name, other.tube, self.site.unit.places
            )
            rows = [done.get(k, row) for k, row in enumerate(rows)]
            waiting &= ~found.ok
        if self.settings.tool == "tape":
            rows = self._taped(rows, waiting)
        height = self.ground.elevation(np.array([(row.easting, row.northing) for row in rows]))
        return [replace(row, elevation=float(z)) for row, z in zip(rows, height, strict=True)]

    def _taped(self, rows: Sequence[FieldMark], which: Bools) -> list[FieldMark]:
        """The marks with those that no stick reaches tied by two tapes."""
        done = list(rows)
        numbers = np.flatnonzero(which)
        xy = np.array([(rows[k].easting, rows[k].northing) for k in numbers.tolist()]).reshape(
            -1, 2
        )
        names = [rows[k].lateral for k in numbers.tolist()]
        ties = best_ties(names, xy, self.points, self.settings.tape, self.site.bed.keepouts)
        known = {p.name: p.xy for p in self.points}
        for k, tie in zip(numbers.tolist(), ties, strict=True):
            if tie is None:
                self.unreached.append(rows[k].lateral)
            else:
                done[k] = taped_mark(rows[k], tie, known, self.site.unit.places)
        return done

    def _finished(self, rows: Sequence[FieldMark], guides: Sequence[str]) -> FieldPlan:
        settings, points = self.settings, self.points
        by_tool = np.array([(r.easting, r.northing) for r in rows if r.method != "gauge"])
        base = base_line_ends(points, by_tool, settings.base_line) if len(by_tool) else None
        pair = permanent_pair(points)
        tied = [p for p in points if p.name not in {q.name for q in pair}]
        ties = best_ties(
            [p.name for p in tied],
            np.array([p.xy for p in tied]).reshape(-1, 2),
            pair,
            settings.tape,
        )
        return FieldPlan(
            tool=settings.tool,
            gauged=settings.gauged,
            rows=tuple(rows),
            guides=tuple(guides),
            points=_with_base(points, base),
            ties=tuple(tie for tie in ties if tie is not None),
            checks=check_lengths(points),
            base_line=base,
            tolerance=settings.tolerance,
            notes=self._notes(pair),
        )

    def _notes(self, pair: Sequence[FindablePoint]) -> tuple[str, ...]:
        notes = []
        if self.settings.gauged and self.site.settings.spacing_measured == "slope":
            notes.append(
                "Gaps are plan distances for a stick held level, although the spacing is measured "
                "along the slope."
            )
        if len(pair) < 2:
            have = (
                "no permanent point" if not pair else f"only one permanent point, {pair[0].name},"
            )
            notes.append(
                f"There is {have} with coordinates to tie the corners to: give the benchmark a "
                "northing and an easting and a second permanent point under [[review.references]]."
            )
        if self.renewed:
            notes.append(
                "Gauged from line to line the marks would wander too far by "
                f"{', '.join(self.renewed)}: set by {self.settings.tool} once more."
            )
        if self.unreached:
            names = ", ".join(dict.fromkeys(self.unreached))
            notes.append(
                f"No two findable points reach some marks of {names}: set them by coordinates."
            )
        return tuple(notes)


def _with_base(
    points: Sequence[FindablePoint], base: tuple[str, str] | None
) -> tuple[FindablePoint, ...]:
    """The points, those at the ends of the base line described as such."""
    ends = base or ()
    return tuple(
        replace(p, description=f"{p.description}, end of base line") if p.name in ends else p
        for p in points
    )
