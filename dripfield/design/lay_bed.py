"""A site's bed laid out: accepted, kept from an earlier run, or made and chosen."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from dripfield.core.errors import InputError, input_error
from dripfield.core.height_field import HeightField
from dripfield.design.accepted import (
    accepted_layout,
    laid_round,
    leaving_note,
    without_dropped,
)
from dripfield.design.candidates import candidates
from dripfield.design.choice_notes import area_notes, choice_notes, none_fits, panels_ignored
from dripfield.design.choose import Say, choose
from dripfield.ground.laying import LayingSurface
from dripfield.layout.model import Layout, panel_name
from dripfield.measures.field import measure_merit
from dripfield.site.model import Site

_HAIR = 1e-5  # of the spacing, from the survey's edge to the nearest lateral


def choose_layout(
    site: Site,
    surface: LayingSurface,
    method: str | None = None,
    compare: bool = False,
    say: Say | None = None,
) -> Layout:
    """Lay out a site's bed.

    Parameters
    ----------
    site : Site
    surface : LayingSurface
        What the laterals lie on.
    method : str, optional
        In place of the site's own; an accepted layout is then passed over.
    compare : bool
        Lay and measure every other number of panels allowed as well, for ``options``; the laterals
        are the same.
    say : callable, optional
        Told what each candidate is and measures.

    Returns
    -------
    Layout
        With ``balanced`` and no ``panels`` in the site file, the number of panels whose merit is
        greatest when each further panel must gain ``panel_gain`` and each connection
        ``connection_worth`` of tubing; ``options`` shows what was tried.

    Raises
    ------
    InputError
        The bed has no room on surveyed ground, the ground has no contour direction, or what the
        site file fixes (seams, accepted, locked and dropped laterals) does not fit.
    """
    return layouts_of(site, surface, method, compare, say)[-1]


def layouts_of(
    site: Site,
    surface: LayingSurface,
    method: str | None = None,
    compare: bool = False,
    say: Say | None = None,
) -> list[Layout]:
    """As :func:`choose_layout`; with ``compare`` first the layout as it is without.

    Parameters
    ----------
    site : Site
    surface : LayingSurface
    method : str, optional
    compare : bool
    say : callable, optional
        All as there.

    Returns
    -------
    list of Layout
        One, or two of the same laterals.

    Raises
    ------
    InputError
        As there.
    """
    settings = site.settings
    asked = method or settings.method
    _check(site)
    covered, bare = laying_area(site, surface)
    notes = (*area_notes(site, bare), *panels_ignored(asked, settings))
    if settings.accepted is not None and method is None:
        layout = _accepted(site, surface, covered)
        layout = without_dropped(layout, settings.dropped, site.unit.short)
        return [replace(layout, notes=(*notes, *layout.notes))]
    laid = candidates(surface.smoothed or surface, covered, settings, asked, surveyed=surface)
    if asked == "balanced":
        choice = choose(laid, surface, settings, site.bed, compare, say)
        layouts = [
            replace(
                choice.layout,
                method=asked,
                notes=(*notes, *choice_notes(choice, options, site)),
                options=options,
            )
            for options in (choice.tried, choice.options)[: 2 if compare else 1]
        ]
    else:
        layouts = [replace(next(iter(laid)), notes=notes)]
    if not layouts[0].laterals:
        problem, remedy, field = none_fits(site, layouts[0])
        raise input_error(problem, remedy, file="site.toml", field=field)
    return [without_dropped(layout, settings.dropped, site.unit.short) for layout in layouts]


def laying_area(site: Site, surface: LayingSurface) -> tuple[BaseGeometry, float]:
    """Where a lateral may lie, and how much of the open bed is not surveyed.

    Parameters
    ----------
    site : Site
    surface : LayingSurface

    Returns
    -------
    area : Polygon or MultiPolygon
        Site coordinates.
    bare : float
        [site unit squared]

    Raises
    ------
    InputError
        There is no such place.
    """
    settings = site.settings
    area = site.bed.open_area(settings.edge_clearance)
    covered = _surveyed(area, surface, settings.spacing)
    if covered.is_empty:
        raise input_error(
            "the bed has no room for a lateral on surveyed ground",
            "check the boundary, the keepouts, the setbacks and edge_clearance",
            file=site.file.bed.boundary,
        )
    return covered, float(area.area - covered.area)


def _accepted(site: Site, surface: LayingSurface, covered: BaseGeometry) -> Layout:
    """The accepted layout, as it is or with what is not locked laid anew."""
    settings = site.settings
    accepted = accepted_layout(site, covered)
    if not settings.locked:
        note = leaving_note(accepted.laterals, covered, settings)
        return replace(accepted, notes=(*accepted.notes, *note))
    ground: HeightField = surface.smoothed or surface

    def afresh(room: BaseGeometry) -> Layout | None:
        one_panel = replace(settings, panels=None, seams=(), panel_methods=(), max_panels=1)
        laid = candidates(ground, room, one_panel, settings.method, surveyed=surface)
        try:
            if settings.method == "balanced":
                return choose(laid, surface, one_panel, site.bed).layout
            return next(iter(laid))
        except (InputError, ValueError):
            return None

    def judge(layout: Layout) -> float:
        return measure_merit(layout, surface, settings, site.bed, quick=False).merit

    return laid_round(accepted, settings, afresh, judge, site.unit.short)


def _check(site: Site) -> None:
    """Refuse settings that contradict each other."""
    settings = site.settings
    if settings.locked and settings.accepted is None:
        raise _refused(
            "locked names laterals of an accepted layout, and none is given",
            "name its file with accepted",
            "locked",
        )
    if settings.seams and settings.panels not in (None, len(settings.seams) + 1):
        raise _refused(
            f"panels is {settings.panels} and seams divide the bed into {len(settings.seams) + 1}",
            "leave panels out",
            "panels",
        )
    if settings.panel_methods and not (settings.seams or settings.panels):
        raise _refused(
            "panels that are chosen anew have no fixed letters",
            "fix them with panels or [[layout.seams]]",
            "panel_methods",
        )
    most = settings.panels or len(settings.seams) + 1
    letters = [panel for panel, _ in settings.panel_methods]
    unknown = [one for one in letters if one not in map(panel_name, range(most))]
    if unknown:
        raise _refused(
            f"there is no panel {unknown[0]!r}",
            f"panels are {panel_name(0)} to {panel_name(most - 1)}, from left to right looking "
            "down the slope",
            "panel_methods",
        )


def _refused(problem: str, remedy: str, key: str) -> InputError:
    return input_error(problem, remedy, file="site.toml", field=f"[layout] {key}")


def _surveyed(area: BaseGeometry, surface: LayingSurface, spacing: float) -> BaseGeometry:
    """The part of an area that the survey covers, a hair inside where the survey ends in it.

    A lateral may touch the edge of its area; on the edge of the survey it would have no ground.
    """
    covered = area.intersection(surface.outline)
    if covered.area >= (1.0 - 1e-9) * area.area:
        return covered
    return area.intersection(surface.outline.buffer(-_HAIR * spacing, join_style="mitre"))
