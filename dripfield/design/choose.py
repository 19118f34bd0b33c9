"""Which candidate layout to take: judged by measurement alone.

The engine makes candidates and knows nothing of the measures; the measures know nothing of how the
lines were made. Here the two meet: every candidate is measured against the ground as surveyed, and
each panel more must gain a stated merit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol

from shapely.geometry.base import BaseGeometry

from dripfield.core.errors import input_error
from dripfield.core.height_field import HeightField
from dripfield.core.words import counted
from dripfield.design.candidates import PLAIN, candidates
from dripfield.ground.laying import LayingSurface
from dripfield.layout.model import Layout, PanelOption
from dripfield.measures.field import Merit, measure_merit
from dripfield.site.model import Bed, LayoutSettings, Site

_TRIES = 2  # divisions running that may fall behind the best before no more are tried
_WORTH_REFINING = 3.0  # panels' gains still to be had, for the seams to be moved
_UNSURE = 0.003  # merit: what measuring by few samples may be off
_EQUAL = 2e-4  # merit: candidates nearer than this are equal, and the plainer one is taken
_HAIR = 1e-5  # of the spacing, from the survey's edge to the nearest lateral


class Source(Protocol):
    """Candidates made as they are asked for."""

    def __iter__(self) -> Iterator[Layout]:
        """The plainest first, then the most promising."""
        ...

    def finer(self, layout: Layout) -> Iterable[Layout]:
        """More beside one of these."""
        ...

    def others(self, most: int) -> Iterable[Layout]:
        """One for each number of panels, up to a number, that none was made of yet."""
        ...


def choose_layout(
    site: Site, surface: LayingSurface, method: str | None = None, compare: bool = False
) -> Layout:
    """Lay out a site's bed.

    Parameters
    ----------
    site : Site
    surface : LayingSurface
        What the laterals lie on.
    method : str, optional
        In place of the site's own.
    compare : bool
        Lay and measure every other number of panels allowed as well, for ``options``; the layout
        is the same.

    Returns
    -------
    Layout
        With ``balanced`` and no ``panels`` in the site file, the number of panels whose merit is
        greatest when each further panel must gain ``panel_gain``; ``options`` shows what was tried.

    Raises
    ------
    InputError
        The bed has no room on surveyed ground, or the ground has no contour direction.
    """
    settings = site.settings
    method = method or settings.method
    area = site.bed.open_area(settings.edge_clearance)
    covered = _surveyed(area, surface, settings.spacing)
    if covered.is_empty:
        raise input_error(
            "the bed has no room for a lateral on surveyed ground",
            "check the boundary, the keepouts, the setbacks and edge_clearance",
            file=site.file.bed.boundary,
        )
    ground: HeightField = surface.smoothed or surface
    notes = _notes(site, area.area - covered.area)
    laid = candidates(ground, covered, settings, method, surveyed=surface)
    if method == "balanced":
        choice = choose(laid, surface, settings, site.bed, compare)
        layout = replace(
            choice.layout,
            method=method,
            notes=(*notes, *_notes_on(choice, settings)),
            options=choice.options,
        )
    else:
        layout = replace(next(iter(laid)), notes=notes)
    if not layout.laterals:
        raise input_error(
            f"no lateral of at least {settings.min_length:g} fits the bed at a spacing of "
            f"{settings.spacing:g}",
            "check spacing, edge_clearance and min_length",
            file="site.toml",
            field="[layout]",
        )
    return layout


@dataclass(frozen=True)
class Choice:
    """The layout chosen, and the best candidate for each number of panels.

    Attributes
    ----------
    layout : Layout
    options : tuple of PanelOption
        Panels rising.
    settled : bool
        No further panel could gain what it must.
    """

    layout: Layout
    options: tuple[PanelOption, ...]
    settled: bool


def choose(
    laid: Source,
    ground: HeightField,
    settings: LayoutSettings,
    bed: Bed,
    compare: bool = False,
) -> Choice:
    """Take the candidate of most merit when each panel beyond the first must gain so much.

    Candidates are asked for one by one. No more are made once all that is out of tolerance together
    is worth less than a panel must gain, or two divisions running fall behind the best. Then, where
    much is still amiss, finer candidates beside the best one are tried.

    Parameters
    ----------
    laid : Source
    ground : HeightField
        What the laterals are measured against.
    settings : LayoutSettings
    bed : Bed
    compare : bool
        Measure the other numbers of panels as well, once the choice is made; more panels than
        chosen only if they may yet gain what they must.

    Returns
    -------
    Choice
    """
    gain = settings.panel_gain
    best: _Judged | None = None
    plain: list[_Judged] = []
    by_panels: dict[int, _Judged] = {}
    behind = 0

    def judged(layout: Layout) -> _Judged:
        here = _Judged(layout, measure_merit(layout, ground, settings, bed), gain)
        rival = by_panels.setdefault(here.panels, here)
        if here.measured.merit > rival.measured.merit + _EQUAL:
            by_panels[here.panels] = here
        return here

    for layout in laid:
        here = judged(layout)
        if best is None or here.worth > best.worth + _EQUAL:
            best, behind = here, 0
        elif layout.method not in PLAIN:
            behind += 1
        if layout.method in PLAIN:
            plain.append(here)
        plain_to_come = layout.method in PLAIN[:-1]
        if behind == _TRIES or (best.to_gain < gain and not plain_to_come):
            break
    if best is None:
        raise ValueError("there is no candidate to choose from")
    if best.to_gain >= _WORTH_REFINING * gain:
        for layout in laid.finer(best.layout):
            here = judged(layout)
            if here.worth > best.worth + _EQUAL:
                best = here
    best = _not_below_plain(best, plain, ground, settings, bed)
    settled = best.to_gain < gain
    if compare:
        for layout in laid.others(best.panels if settled else settings.max_panels):
            judged(layout)
    by_panels[best.panels] = best
    options = tuple(
        PanelOption(
            panels=panels,
            laterals=len(one.layout.laterals),
            tubing=one.measured.tubing,
            merit=one.measured.merit,
            chosen=one is best,
        )
        for panels, one in sorted(by_panels.items())
    )
    return Choice(best.layout, options, settled)


def _not_below_plain(
    best: _Judged, plain: list[_Judged], ground: HeightField, settings: LayoutSettings, bed: Bed
) -> _Judged:
    """The best candidate, or a plain one that the full measure puts above it.

    Merit is compared from few samples; where a plain layout comes as near as they may err, both are
    measured in full.
    """

    def in_full(one: _Judged) -> float:
        return measure_merit(one.layout, ground, settings, bed, quick=False).merit

    near = [one for one in plain if one.worth > best.worth - _UNSURE and one is not best]
    if not near or best.layout.method in PLAIN[:1]:
        return best
    rival = max(near, key=lambda one: one.worth)
    return rival if in_full(rival) > in_full(best) else best


@dataclass(frozen=True)
class _Judged:
    """A candidate with its merit, each panel beyond the first weighed at ``gain``."""

    layout: Layout
    measured: Merit
    gain: float

    @property
    def panels(self) -> int:
        return max(self.measured.panels, 1)

    @property
    def worth(self) -> float:
        return self.measured.merit - self.gain * (self.panels - 1)

    @property
    def to_gain(self) -> float:
        """Merit of all that is out of tolerance: the most that a further panel can add."""
        share = max(self.measured.share_both, 1e-9)
        return self.measured.merit * (1.0 - share) / share


def _surveyed(area: BaseGeometry, surface: LayingSurface, spacing: float) -> BaseGeometry:
    """The part of an area that the survey covers, a hair inside where the survey ends in it.

    A lateral may touch the edge of its area; on the edge of the survey it would have no ground.
    """
    covered = area.intersection(surface.outline)
    if covered.area >= (1.0 - 1e-9) * area.area:
        return covered
    return area.intersection(surface.outline.buffer(-_HAIR * spacing, join_style="mitre"))


def _notes_on(choice: Choice, settings: LayoutSettings) -> tuple[str, ...]:
    """Why no more panels were tried, or that another number of them turned out better."""
    if settings.panels:
        return ()
    tried = choice.options[-1].panels
    if choice.settled and tried < settings.max_panels:
        return (
            f"tried with up to {counted(tried, 'panel')}: none more could gain the "
            f"{settings.panel_gain:g} of merit that panel_gain asks of each",
        )

    def worth(option: PanelOption) -> float:
        return option.merit - settings.panel_gain * option.panels

    laid = next(option for option in choice.options if option.chosen)
    most = max(choice.options, key=worth)
    if worth(most) <= worth(laid) + _UNSURE:
        return ()
    return (
        f"{counted(most.panels, 'panel')} would reach a merit of "
        f"{most.merit:.3f} against {laid.merit:.3f}: panels = {most.panels} under [layout] takes "
        "that",
    )


def _notes(site: Site, bare: float) -> tuple[str, ...]:
    """What a person should know of the area laid out."""
    unit = site.unit.short
    if bare <= 1e-6 * site.bed.boundary.area:
        return ()
    return (
        f"{bare:,.0f} sq {unit} of the open bed lie beyond the survey: no lateral is laid there",
    )
