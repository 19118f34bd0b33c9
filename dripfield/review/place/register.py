"""Placing a drawn plan on the site: as it stands, by common points, or by the bed's outline."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError, input_error
from dripfield.core.height_field import HeightField
from dripfield.core.similarity import Similarity, fit_similarity, identity
from dripfield.design.model import Design
from dripfield.layout.model import Layout
from dripfield.review.model.limits import Limits
from dripfield.review.model.plan import Plan, PlanOptions
from dripfield.review.place.outline_fit import fit_outlines
from dripfield.review.place.plan_scale import name_scale, other_unit_error
from dripfield.review.place.way_round import FAR_BETTER, WayRound, drawn
from dripfield.site.model import Site

_SAME_PLACE = 0.5  # outlines that share this much of their area stand in the same coordinates
_SAME_SHAPE = 0.9  # outlines that share so much once shifted are the same way round
_STATED = 0.025  # a stated scale may be off by so much (log)

Pairs = Mapping[str, tuple[Floats, Floats]]
"""Common points: name to place on the plan and place on the site."""


@dataclass(frozen=True)
class Placement:
    """How the plan was placed.

    ``misfit`` is the greatest distance between common points, or the rms between outlines
    [site unit]; None where nothing could be compared. ``unchecked`` says what the placing rests on,
    ``ambiguous`` why the way round is not settled, where it is not.
    """

    move: Similarity
    misfit: float | None
    notes: tuple[str, ...]
    unchecked: tuple[str, ...] = ()
    ambiguous: str = ""


def place_plan(
    plan: Plan, design: Design, limits: Limits, options: PlanOptions, common: Pairs | None = None
) -> tuple[Plan, Placement]:
    """Find the plan's place and scale on the site.

    Common points given by a person decide. Else a plan whose outline lies on the bed as drawn is
    never moved or turned, so that a fit hides nothing. Else points that plan and site both name
    decide, else the bed's outline, else the plan stands in the site's coordinates already. A scale
    near 1, or near a usual plan scale, is taken as exactly that.

    Parameters
    ----------
    plan : Plan
        Every run drawn.
    design : Design
    limits : Limits
    options : PlanOptions
    common : mapping, optional
        Common points given by a person; else those whose names the plan and the site share.

    Returns
    -------
    plan : Plan
        In site coordinates.
    placement : Placement

    Raises
    ------
    InputError
        Another unit, a mirrored plan, a scale without a name, common points that disagree, or a
        plan that cannot be placed.
    """
    job = _Job(plan, design.site, design.layout, design.surface, limits, options)
    pairs = dict(common) if common is not None else _shared_points(plan, design)
    on_bed = job.lies_on_bed()
    if common is None and on_bed is not None:
        placement = job.stands(on_bed, "the bed's outline")
    elif len(pairs) >= 2:
        placement = job.by_points(pairs)
    elif plan.boundary is not None:
        placement = job.by_outline()
    else:
        placement = job.as_it_stands()
    plan = replace(_moved(plan, placement.move), ambiguous=placement.ambiguous)
    return plan, replace(
        placement,
        notes=(*placement.notes, *_declared_note(plan, design.site, placement.move, options)),
    )


def _shared_points(plan: Plan, design: Design) -> Pairs:
    """Points that the plan and the site both name: survey shots, benchmark, references."""
    known = {
        name.casefold(): xyz[:2]
        for name, xyz in zip(design.ground.read.names, design.ground.read.xyz, strict=True)
    }
    mark = design.site.file.benchmark
    if mark is not None and mark.northing is not None and mark.easting is not None:
        known[mark.name.casefold()] = np.array((mark.easting, mark.northing))
    for one in design.site.file.review.references:
        known[one.name.casefold()] = np.array((one.easting, one.northing))
    return {
        name: (xy, known[name.casefold()])
        for name, xy in plan.points.items()
        if name.casefold() in known
    }


@dataclass(frozen=True)
class _Job:
    plan: Plan
    site: Site
    layout: Layout
    ground: HeightField
    limits: Limits
    options: PlanOptions

    @property
    def size(self) -> float:
        """Greatest extent of the bed [site unit]."""
        x0, y0, x1, y1 = self.site.bed.boundary.bounds
        return float(max(x1 - x0, y1 - y0))

    @property
    def way(self) -> WayRound:
        """What tells which way round the plan lies."""
        return WayRound(self.plan, self.site, self.layout, self.ground, self.limits, self.size)

    def by_points(self, pairs: Pairs) -> Placement:
        names = list(pairs)
        source = np.array([pairs[name][0] for name in names])
        target = np.array([pairs[name][1] for name in names])
        tolerance = max(2.0 * self.limits.offset.limit, 0.002 * self.size)
        if np.ptp(source, axis=0).max() == 0.0 or np.ptp(target, axis=0).max() == 0.0:
            raise input_error(
                "the common points stand at one place",
                "give two that are far apart",
                file=self.plan.source,
            )
        still = identity(self.options.factor(self.site.unit))
        if _worst(still, source, target)[1] <= tolerance:
            return self.stands(_worst(still, source, target)[1], f"{len(names)} common points")
        plain = fit_similarity(source, target)
        mirror = fit_similarity(source, target, mirrored=True)
        off, mirror_off = (_worst(move, source, target)[1] for move in (plain, mirror))
        flat = np.linalg.matrix_rank(source - source.mean(axis=0), tol=0.02 * np.ptp(source)) < 2
        unchecked: tuple[str, ...] = ()
        if flat:
            mirrored = self.way.stray(plain) > 0.5 * self.site.settings.spacing and (
                self.way.stray(mirror) < FAR_BETTER * self.way.stray(plain)
            )
            unchecked = (
                "whether the plan is mirrored: its common points lie on one line, so the laterals "
                "themselves decided",
            )
        else:
            mirrored = off > tolerance and mirror_off < FAR_BETTER * off
        if mirrored:
            self._check_mirrored()
        scale, note = self._named((mirror if mirrored else plain).scale)
        move = fit_similarity(source, target, scale=scale, mirrored=mirrored)
        worst, off = _worst(move, source, target)
        if off > tolerance:
            raise input_error(
                f"the {len(names)} common points disagree: {names[worst]!r} is off by "
                f"{off:.{self.site.unit.places}f} {self.site.unit.short} when the others fit best",
                "check its name and place, or give the points with --common",
                file=self.plan.source,
            )
        return self._placed(move, off, f"{len(names)} common points", note, unchecked)

    def lies_on_bed(self) -> float | None:
        """How far the plan's outline is from the bed's where it lies there as drawn, else None.

        It does when the two share half of what they cover, or when it is the bed's outline beside
        the bed by a shift alone: a shift is for the comparison to show.
        """
        plan, bed = self.plan.boundary, self.site.bed.boundary
        if plan is None:
            return None
        still = identity(self.options.factor(self.site.unit))
        here = shapely.transform(plan, still.apply)
        if not here.intersects(bed):
            return None
        if here.intersection(bed).area < _SAME_PLACE * here.union(bed).area:
            moved = shapely.transform(here, lambda xy: xy + _middle(bed) - _middle(here))
            if moved.intersection(bed).area < _SAME_SHAPE * moved.union(bed).area:
                return None
        return float(shapely.hausdorff_distance(here.exterior, bed.exterior, densify=0.02))

    def by_outline(self) -> Placement:
        plan, bed = self.plan.boundary, self.site.bed.boundary
        assert plan is not None
        plain = fit_outlines(plan, bed)
        mirror = fit_outlines(plan, bed, mirrored=True)
        fit, ambiguous = self.way.choose(plain, mirror)
        if fit.move.mirrored:
            self._check_mirrored()
        scale, note = self._named(fit.move.scale)
        turn = fit.move.turn
        fit = min(
            fit_outlines(plan, bed, scale=scale, mirrored=fit.move.mirrored),
            key=lambda one: abs(math.remainder(one.move.turn - turn, math.tau)),
        )
        if fit.rms > 0.05 * self.size:
            raise input_error(
                f"the plan's outline misses the bed's by {fit.rms:.1f} {self.site.unit.short} "
                "wherever it is laid",
                "check that it is this bed's plan, or give two common points with --common",
                file=self.plan.source,
            )
        placed = self._placed(fit.move, fit.rms, "the bed's outline", note, ())
        return replace(placed, ambiguous=ambiguous)

    def as_it_stands(self) -> Placement:
        bed = self.site.bed.boundary.buffer(self.site.settings.spacing)
        lines = shapely.union_all([shapely.linestrings(r.xy) for r in self.plan.runs])

        def inside(scale: float) -> float:
            placed = shapely.transform(lines, lambda xy: xy * scale)
            return float(placed.intersection(bed).length / placed.length)

        if inside(self.options.factor(self.site.unit)) >= 0.5:
            return self.stands(None, None)
        if self.options.units is None:
            for name in ("m", "ft", "in", "cm", "mm"):
                ratio = PlanOptions(units=name).factor(self.site.unit)
                if inside(ratio) >= 0.5:
                    found = f"its coordinates fall on the bed when multiplied by {ratio:.6g}"
                    raise other_unit_error(self.plan.source, name, self.site.unit, found)
        raise input_error(
            "the plan lies off the bed and has neither a closed outline around its laterals nor "
            "two points named as on the site",
            "name the outline's layer with --boundary-layer or give common points with --common",
            file=self.plan.source,
        )

    def stands(self, misfit: float | None, against: str | None) -> Placement:
        unit = self.site.unit
        if against is None:
            note = "the plan was taken to stand in the site's coordinates"
            unchecked: tuple[str, ...] = (
                "the plan's place and scale: it has neither an outline nor named points to compare",
            )
        else:
            note = (
                f"the plan stands in the site's coordinates, {against} within "
                f"{misfit:.{unit.places}f} {unit.short}; it was not moved"
            )
            unchecked = ()
        return Placement(identity(self.options.factor(unit)), misfit, (note,), unchecked)

    def _placed(
        self,
        move: Similarity,
        misfit: float,
        against: str,
        scale_note: str,
        unchecked: tuple[str, ...],
    ) -> Placement:
        unit = self.site.unit
        turn = -math.degrees(math.remainder(move.turn, math.tau))
        mirrored = ", mirrored" if move.mirrored else ""
        note = (
            f"the plan was placed by {against}: turned {abs(turn):.2f} degrees "
            f"{'clockwise' if turn >= 0 else 'anticlockwise'}{mirrored}, {scale_note}; "
            f"left over {misfit:.{unit.places}f} {unit.short}"
        )
        return Placement(move, misfit, (note,), unchecked)

    def _named(self, fitted: float) -> tuple[float, str]:
        """The scale to use and how it is written; refuses another unit and odd scales."""
        stated = self.plan.paper_scale
        if stated is not None and not self.options.any_scale:
            if abs(math.log(fitted / stated)) > _STATED:
                raise input_error(
                    f"the plan fits the site at {fitted:.4g} {self.site.unit.short} to a unit of "
                    f"paper and is said to be drawn at {stated:.4g}",
                    "check --scale; accept a page printed to another size with --any-scale",
                    file=self.plan.source,
                )
            return stated, f"at the stated scale, {stated:g} {self.site.unit.short} to a unit"
        named = name_scale(fitted, self.site.unit, self.options)
        if named is not None and named.kind == "unit":
            ratio = named.scale
            found = f"it fits the site when multiplied by {fitted:.5g} (near {ratio:.6g})"
            raise other_unit_error(self.plan.source, named.text, self.site.unit, found)
        if named is not None:
            word = "in" if named.kind == "same" else "at paper scale"
            return named.scale, f"drawn {word} {named.text}"
        if not self.options.any_scale:
            raise input_error(
                f"the plan fits the site only at a scale of {fitted:.5g}, which is no unit's ratio "
                "and no usual plan scale",
                "export it to scale, or accept the scale with --any-scale",
                file=self.plan.source,
            )
        return fitted, f"scaled by {fitted:.5g}, which was accepted"

    def _check_mirrored(self) -> None:
        if not self.options.allow_mirrored:
            raise _mirrored(self.plan)


def _mirrored(plan: Plan) -> InputError:
    return input_error(
        "the plan fits the site only as its mirror image",
        "export it the right way round, or accept it with --allow-mirrored",
        file=plan.source,
    )


def _middle(polygon: Polygon) -> Floats:
    return np.array(polygon.centroid.coords[0])


def _worst(move: Similarity, source: Floats, target: Floats) -> tuple[int, float]:
    gap = np.hypot(*(move.apply(source) - target).T)
    return int(gap.argmax()), float(gap.max())


def _moved(plan: Plan, move: Similarity) -> Plan:
    boundary = plan.boundary
    return replace(
        plan,
        runs=tuple(replace(run, xy=move.apply(drawn(run.xy))) for run in plan.runs),
        boundary=None if boundary is None else shapely.transform(boundary, move.apply),
        points={name: move.apply(xy[None, :])[0] for name, xy in plan.points.items()},
    )


def _declared_note(
    plan: Plan, site: Site, move: Similarity, options: PlanOptions
) -> tuple[str, ...]:
    """A word on a unit that the file declares and the fit does not bear out."""
    if plan.declared is None or options.units is not None or plan.declared == site.unit.value:
        return ()
    if abs(move.scale - 1.0) < 1e-9:
        return (
            f"the plan's file says its unit is {plan.declared}; at 1 to 1 it fits the site in "
            f"{site.unit.value}, and was taken so",
        )
    return (f"the plan's file says its unit is {plan.declared}",)
