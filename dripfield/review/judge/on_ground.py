"""The plan by itself on the surveyed ground, with the measures that a layout is measured by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.layout.model import Lateral
from dripfield.measures.field import measured_laterals
from dripfield.measures.laterals import LateralMeasure
from dripfield.measures.neighbours import REACH, SLACK
from dripfield.review.judge.distances import gaps_between
from dripfield.review.judge.setbacks import distances, requirements
from dripfield.review.model.plan import Plan
from dripfield.review.model.result import GroundWord, RunOnGround
from dripfield.site.model import Site


def runs_on_ground(plan: Plan, site: Site, ground: HeightField) -> list[RunOnGround]:
    """Judge each drawn run of a plan by the site's tolerances.

    Parameters
    ----------
    plan : Plan
        In site coordinates.
    site : Site
    ground : HeightField
        What laterals lie on.

    Returns
    -------
    list of RunOnGround
        In the plan's order. A run is level when all ground along it lies within the level tolerance
        of the middle between its highest and lowest; evenly spaced when the plan's runs beside it
        are the site's spacing away within the spacing tolerance. Nothing is known of a plan that
        draws no lines, nor of a run that leaves the surveyed ground.
    """
    lines = [run.xy for run in plan.runs if run.xy is not None]
    if len(lines) < len(plan.runs) or not lines:
        return [RunOnGround() for _ in plan.runs]
    settings = site.settings
    apart = gaps_between(lines)
    np.fill_diagonal(apart, math.inf)
    own_spacing = _own_spacing(apart, settings.spacing)
    beside = _side_by_side(apart, REACH * max(own_spacing, settings.spacing))
    laterals = [Lateral(str(i), f"{beside[i]}", xy, 0.0) for i, xy in enumerate(lines)]
    measures = measured_laterals(laterals, ground, replace(settings, spacing=own_spacing))
    short = np.min(
        [distances(one, lines, site) - one.required for one in requirements(site)], axis=0
    )
    return [_judged(one, float(short[i]), site) for i, one in enumerate(measures)]


def _own_spacing(apart: Floats, spacing: float) -> float:
    """The plan's own distance between neighbours, where it is far from the site's."""
    nearest = apart.min(axis=1)
    nearest = nearest[np.isfinite(nearest)]
    own = float(np.median(nearest)) if len(nearest) else spacing
    return own if not 0.75 * spacing <= own <= 1.3 * spacing and own > 0.0 else spacing


def _side_by_side(apart: Floats, reach: float) -> list[int]:
    """A number for each group of runs that lie beside each other."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    links = coo_array(apart <= reach)
    return [int(number) for number in connected_components(links, directed=False)[1]]


def _judged(one: LateralMeasure, setback_least: float, site: Site) -> RunOnGround:
    settings = site.settings
    high, low = one.elevation_max, one.elevation_min
    margin = settings.spacing_tolerance * settings.spacing + SLACK
    gaps = [gap for gap in (one.spacing_min, one.spacing_max) if math.isfinite(gap)]
    spaced = all(abs(gap - settings.spacing) <= margin for gap in gaps)
    half = 0.5 * (high - low)
    known = bool(np.isfinite(one.ground).all())
    return RunOnGround(
        level_off=half if math.isfinite(half) else None,
        spacing_min=one.spacing_min if math.isfinite(one.spacing_min) else None,
        spacing_max=one.spacing_max if math.isfinite(one.spacing_max) else None,
        setback_least=setback_least,
        word=_word(half > settings.level_tolerance + SLACK, not spaced, known),
        height=0.5 * (high + low) if math.isfinite(half) else None,
    )


def _word(unlevel: bool, uneven: bool, known: bool) -> GroundWord:
    """What is said of a run; a miss where the ground is known is a miss though the rest is not."""
    if unlevel and uneven:
        return "misses both"
    if unlevel or uneven:
        return "misses level" if unlevel else "misses spacing"
    return "holds" if known else "not known"


def ground_counts(found: Sequence[RunOnGround]) -> dict[GroundWord, int]:
    """How many runs have each word, in the order from best to worst."""
    words: tuple[GroundWord, ...] = (
        "holds",
        "misses level",
        "misses spacing",
        "misses both",
        "not known",
    )
    return {word: sum(one.word == word for one in found) for word in words}
