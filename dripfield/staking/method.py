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
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from dripfield.arrays import Bools, Floats, Ints
from dripfield.staking.gauge import REACH, Gauging, gauge_from, neighbours_within
from dripfield.staking.marks import DesignLine, choose_marks, fitted
from dripfield.staking.model import FieldMark, FieldPlan, FindablePoint, Tool
from dripfield.staking.order import reach_of, setting_order
from dripfield.staking.points import base_line_ends, findable_points, permanent_pair
from dripfield.staking.rods import with_rods
from dripfield.staking.settings import FieldSettings, field_settings
from dripfield.staking.spread import COPIES, Copies, carried, spread
from dripfield.staking.ties import best_ties, check_lengths, crossing
from dripfield.staking.tube import Tube

if TYPE_CHECKING:
    from dripfield.layout.model import Lateral, Layout
    from dripfield.site.model import Site
    from dripfield.surface.ground import Ground

_STEP = 0.5  # spacings between the places that may be marked
_MERGE = 0.15  # spacings: a place nearer than this to one abreast of a mark is left out
_ABREAST = 1.0  # costs of a mark: abreast of a neighbour's mark,
_GAUGED = 1.25  # gauged between two of them,
_BY_TOOL = 1.8  # beyond the stick
_LEAST = 2.0  # spacings: marks do not stand closer where they need not

FOLLOW = 0.8
_MOST_FOLLOWED = 0.015
SPREAD = 0.06
_PLACES = 4  # decimals of written coordinates


@dataclass(frozen=True)
class _Set:
    """A line whose marks are set."""

    lateral: Lateral
    tube: Tube
    drawn: Tube
    rows: tuple[FieldMark, ...]
    copies: Copies


def field_method(
    site: Site, layout: Layout, ground: Ground, settings: FieldSettings | None = None
) -> FieldPlan:
    """Choose the marks of a layout and how each is set.

    Parameters
    ----------
    site : Site
        Rules, bed, benchmark, and the points that can be measured from.
    layout : Layout
    ground : Ground
        Elevations of the marks.
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
    chosen = field_settings(site) if settings is None else settings
    return _Work(site, layout, ground, chosen).plan()


def alternatives(
    site: Site, layout: Layout, ground: Ground, settings: FieldSettings | None = None
) -> dict[str, FieldPlan]:
    """The plans of every way a crew could work.

    Parameters
    ----------
    site : Site
    layout : Layout
    ground : Ground
    settings : FieldSettings, optional
        ``tool`` and ``gauged`` are set for each plan.

    Returns
    -------
    dict of str to FieldPlan
        ``instrument and gauge``, ``tape and gauge`` (a laser for level, no instrument),
        ``instrument`` and ``tape`` (every mark).
    """
    base = field_settings(site) if settings is None else settings
    return {
        "instrument and gauge": field_method(
            site, layout, ground, replace(base, tool="instrument", gauged=True)
        ),
        "tape and gauge": field_method(
            site, layout, ground, replace(base, tool="tape", gauged=True)
        ),
        "instrument": field_method(
            site, layout, ground, replace(base, tool="instrument", gauged=False)
        ),
        "tape": field_method(site, layout, ground, replace(base, tool="tape", gauged=False)),
    }


class _Work:
    """One layout on its way to marks."""

    def __init__(self, site: Site, layout: Layout, ground: Ground, settings: FieldSettings) -> None:
        self.site, self.layout, self.ground, self.settings = site, layout, ground, settings
        self.spacing = site.rules.spacing
        self.lines = [DesignLine.of(lateral.xy) for lateral in layout.laterals]
        self.points = findable_points(site, ground)
        self.set: dict[int, _Set] = {}
        self.unreached: list[str] = []
        self.renewed: list[str] = []

    def plan(self) -> FieldPlan:
        """Set every line in turn."""
        laterals, settings = self.layout.laterals, self.settings
        beside = neighbours_within([line.xy for line in self.lines], REACH * self.spacing)
        order, guides = self._order(beside) if settings.gauged else (range(len(self.lines)), [])
        for number in order:
            self.set[number] = self._set_line(number, beside[number])
        marks = [row for number in order for row in self.set[number].rows]
        first = np.cumsum([settings.first] + [len(self.set[i].rows) for i in range(len(laterals))])
        numbers = {
            lateral.name: iter(range(first[i], first[i + 1])) for i, lateral in enumerate(laterals)
        }
        rows = [
            replace(row, order=k, mark=next(numbers[row.lateral])) for k, row in enumerate(marks, 1)
        ]
        return self._finished(
            with_rods(rows, self.site, settings), [laterals[i].name for i in guides]
        )

    def _order(self, beside: Sequence[Ints]) -> tuple[list[int], list[int]]:
        """Panel by panel, in the layout's order of panels."""
        reach = reach_of(self.lines, beside, self.spacing)
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

    def _set_line(self, number: int, beside: Ints) -> _Set:
        """Mark one line from those that are set."""
        line, lateral = self.lines[number], self.layout.laterals[number]
        near = [
            self.set[i]
            for i in beside
            if self.settings.gauged
            and i in self.set
            and self.set[i].lateral.panel == lateral.panel
        ]
        near = self._useful(line, near)
        done = self._marked(number, near)
        if near and spread(done.tube, done.copies) > SPREAD * self.spacing:
            self.renewed.append(lateral.name)
            done = self._marked(number, [])
        return done

    def _marked(self, number: int, near: Sequence[_Set]) -> _Set:
        """Marks of one line, gauged from lines that are set."""
        line, lateral = self.lines[number], self.layout.laterals[number]
        drawn = Tube(line.at(line.divided(self.spacing)))
        line = self._followed(line, near)
        station, cost = self._places(line, near)
        chosen = choose_marks(
            line,
            station,
            cost,
            self.settings.tolerance,
            self.settings.longest,
            _LEAST * self.spacing,
        )
        rows = self._rows(line, lateral, station[chosen], near)
        tube = Tube(np.array([(row.easting, row.northing) for row in rows]))
        draw = np.random.default_rng(number).normal(size=(COPIES, len(rows), 3))
        before = {other.lateral.name: other.copies for other in near}
        copies = carried(rows, before, self.spacing, draw)
        return _Set(lateral, tube, drawn, tuple(rows), copies)

    def _gauging(self, line: DesignLine, station: Floats, other: _Set) -> Gauging:
        return gauge_from(
            other.tube,
            line.at(station),
            line.tangent(station, 0.25 * self.spacing),
            self.spacing,
            self.site.bed.keepouts,
        )

    def _followed(self, line: DesignLine, near: Sequence[_Set]) -> DesignLine:
        """The line moved part of the way that the tubes beside it stray from their own lines."""
        if not near or FOLLOW == 0.0:
            return line
        station = line.divided(0.25 * self.spacing)
        places, along = line.at(station), line.tangent(station, 0.25 * self.spacing)
        shift = np.full(len(station), np.nan)
        for other in near:
            bent = gauge_from(other.tube, places, along, self.spacing)
            drawn = gauge_from(other.drawn, places, along, self.spacing)
            way = np.sign((other.tube.tangent(bent.station) * along).sum(axis=1))
            own = np.isnan(shift) & bent.ok & drawn.ok
            shift[own] = (way * (drawn.offset - bent.offset))[own]
        known = np.isfinite(shift)
        if not known.any():
            return line
        most = _MOST_FOLLOWED * self.spacing
        moved = np.interp(station, station[known], np.clip(FOLLOW * shift[known], -most, most))
        normal = np.column_stack((-along[:, 1], along[:, 0]))
        return DesignLine.of(places + moved[:, None] * normal)

    def _useful(self, line: DesignLine, near: Sequence[_Set]) -> list[_Set]:
        """Lines that some of this one can be gauged from: most first."""
        grid = line.divided(self.spacing)
        reached = [int(self._gauging(line, grid, other).ok.sum()) for other in near]
        rank = sorted(
            (-count, k) for k, count in enumerate(reached) if count
        )
        return [near[k] for _, k in rank]

    def _places(self, line: DesignLine, near: Sequence[_Set]) -> tuple[Floats, Floats]:
        """Where marks may stand along the line, and what a mark costs there."""
        grid = line.divided(_STEP * self.spacing)
        cost = np.full(len(grid), _BY_TOOL if near else 1.0)
        abreast = np.array([])
        open_ = np.ones(len(grid), dtype=np.bool_)
        for other in near:
            found = self._gauging(line, grid, other)
            taken = found.ok & open_
            if taken.any():
                abreast = np.append(abreast, _abreast(grid, found.station, taken, other))
            cost[taken] = _GAUGED
            open_ &= ~found.ok
        abreast = abreast[(abreast > 0.0) & (abreast < line.length)]
        far = np.ones(len(grid), dtype=np.bool_)
        if len(abreast):
            far = np.abs(grid[:, None] - abreast).min(axis=1) > _MERGE * self.spacing
        far[[0, -1]] = True
        station = np.concatenate((grid[far], abreast))
        price = np.concatenate((cost[far], np.full(len(abreast), _ABREAST)))
        rank = np.argsort(station, kind="stable")
        station, price = station[rank], price[rank]
        apart = np.diff(station, prepend=-np.inf) > 0.02 * self.spacing
        apart[-1] = True
        if len(station) > 2 and station[-1] - station[-2] <= 0.02 * self.spacing:
            apart[-2] = False
        apart[0] = True
        return station[apart], price[apart]

    def _rows(
        self, line: DesignLine, lateral: Lateral, station: Floats, near: Sequence[_Set]
    ) -> list[FieldMark]:
        """The marks at distances along the line with the figures that set them."""
        places = fitted(line, station)
        height = self.ground.elevation(places)
        rows = [
            FieldMark(
                order=0,
                mark=0,
                lateral=lateral.name,
                panel=lateral.panel,
                method="instrument",
                easting=round(float(x), _PLACES),
                northing=round(float(y), _PLACES),
                elevation=float(z),
                set_elevation=lateral.elevation,
                station=float(s),
            )
            for s, (x, y), z in zip(station, places, height, strict=True)
        ]
        waiting = np.ones(len(rows), dtype=np.bool_)
        for other in near:
            along = line.tangent(station, 0.25 * self.spacing)
            found = gauge_from(other.tube, places, along, self.spacing, self.site.bed.keepouts)
            self._gauge(rows, np.flatnonzero(found.ok & waiting), found, other)
            waiting &= ~found.ok
        if self.settings.tool == "tape":
            self._tape(rows, waiting)
        return rows

    def _gauge(self, rows: list[FieldMark], which: Ints, found: Gauging, other: _Set) -> None:
        """Round the stick's figures as they are printed and put the marks where they lead."""
        if not len(which):
            return
        places = self.site.unit.places
        most = np.floor(other.tube.length * 10.0**places) / 10.0**places
        station = np.clip(np.round(found.station[which], places), 0.0, most)
        gap = np.round(np.abs(found.offset[which]), places)
        left = np.sign(found.offset[which])
        xy = np.round(other.tube.beside(station, left * gap), _PLACES)
        for k, s, g, way, (x, y) in zip(which, station, gap, left, xy, strict=True):
            rows[k] = replace(
                rows[k],
                method="gauge",
                above=other.lateral.name,
                above_station=float(s),
                gap=float(g),
                side="downhill" if way > 0.0 else "uphill",
                easting=float(x),
                northing=float(y),
            )

    def _tape(self, rows: list[FieldMark], which: Bools) -> None:
        """Tie marks by two tapes, rounded as printed."""
        numbers = np.flatnonzero(which)
        if not len(numbers):
            return
        xy = np.array([(rows[k].easting, rows[k].northing) for k in numbers])
        names = [rows[k].lateral for k in numbers]
        ties = best_ties(names, xy, self.points, self.settings.tape, self.site.bed.keepouts)
        known = {p.name: p.xy for p in self.points}
        for k, place, tie in zip(numbers, xy, ties, strict=True):
            if tie is None:
                self.unreached.append(rows[k].lateral)
                continue
            r1 = round(tie.distance_1, self.site.unit.places)
            r2 = round(tie.distance_2, self.site.unit.places)
            at = crossing(
                known[tie.point_1][None],
                np.array([r1]),
                known[tie.point_2][None],
                np.array([r2]),
                place[None],
            )[0]
            rows[k] = replace(
                rows[k],
                method="tape",
                point_1=tie.point_1,
                distance_1=r1,
                point_2=tie.point_2,
                distance_2=r2,
                easting=round(float(at[0]), _PLACES),
                northing=round(float(at[1]), _PLACES),
            )

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
        if self.settings.gauged and self.site.rules.spacing_measured == "slope":
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
                "northing and an easting and describe a second shot in the survey as control."
            )
        if self.unreached:
            names = ", ".join(dict.fromkeys(self.unreached))
            notes.append(
                f"No two findable points reach some marks of {names}: set them by coordinates."
            )
        return tuple(notes)


def _abreast(grid: Floats, found: Floats, taken: Bools, other: _Set) -> Floats:
    """Distances along a line that lie abreast of another line's marks, where it is gauged from it.

    Each run of gauged places is taken by itself; within one the foot moves along steadily.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], taken, [False])).astype(np.int8)))
    places = []
    for low, high in edges.reshape(-1, 2):
        foot, own = found[low:high], grid[low:high]
        if len(foot) > 1 and foot[0] > foot[-1]:
            foot, own = foot[::-1], own[::-1]
        marks = other.tube.mark_stations
        marks = marks[(marks >= foot[0]) & (marks <= foot[-1])]
        places.append(np.interp(marks, foot, own))
    return np.concatenate(places)


def _with_base(
    points: Sequence[FindablePoint], base: tuple[str, str] | None
) -> tuple[FindablePoint, ...]:
    """The points, those at the ends of the base line described as such."""
    return tuple(
        replace(p, description=f"{p.description}, end of base line")
        if base and p.name in base
        else p
        for p in points
    )
