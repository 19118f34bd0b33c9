"""Which candidate layout to take: judged by measurement alone.

The engine makes candidates and knows nothing of the measures; the measures know nothing of how the
lines were made. Here the two meet: every candidate is measured against the ground as surveyed, and
each panel more must gain a stated merit.
"""

from __future__ import annotations

from dataclasses import replace

from dripfield.errors import input_error
from dripfield.layout.engine import candidates
from dripfield.layout.model import Layout, PanelOption
from dripfield.measures.field import Measured, measure_layout
from dripfield.site.model import Site
from dripfield.surface.ground import Ground
from dripfield.surface.smooth import smooth_ground
from dripfield.surface.tin import Surface

_EQUAL = 0.002  # merit: candidates nearer than this are equal, and the plainer one is taken


def lay_out(site: Site, surface: Surface, method: str | None = None) -> Layout:
    """Lay out a site's bed.

    Parameters
    ----------
    site : Site
    surface : Surface
        The surface that the laterals lie on.
    method : str, optional
        In place of the site's own.

    Returns
    -------
    Layout
        With ``balanced`` and no ``panels`` in the site file, the number of panels whose merit is
        greatest when each further panel must gain ``panel_gain``; ``options`` shows them all.

    Raises
    ------
    InputError
        The bed has no room on surveyed ground, or the ground has no contour direction.
    """
    rules = site.rules
    method = method or rules.method
    area = site.bed.open_area(rules.edge_clearance)
    covered = area.intersection(surface.outline)
    if covered.is_empty:
        raise input_error(
            "the bed has no room for a lateral on surveyed ground",
            "check the boundary, the keepouts, the setbacks and edge_clearance",
            file=site.file.bed.boundary,
        )
    ground: Ground = smooth_ground(surface, rules.smoothing) if rules.smoothing else surface
    laid = candidates(ground, covered, rules, method, surveyed=surface)
    if not any(layout.laterals for layout in laid):
        raise input_error(
            f"no lateral of at least {rules.min_length:g} fits the bed at a spacing of "
            f"{rules.spacing:g}",
            "check spacing, edge_clearance and min_length",
            file="site.toml",
            field="layout",
        )
    notes = _notes(site, area.area - covered.area)
    if len(laid) == 1:
        return replace(laid[0], notes=notes)
    measured = [measure_layout(layout, surface, rules, site.bed) for layout in laid]
    best = best_of(measured, rules.panel_gain)
    return replace(
        laid[best], method=method, notes=notes, options=_options(laid, measured, laid[best])
    )


def best_of(measured: list[Measured], gain: float) -> int:
    """The candidate of most merit when each panel beyond the first must gain so much.

    Parameters
    ----------
    measured : list of Measured
        Candidates from the plainest on.
    gain : float
        Least gain in merit for each further panel.

    Returns
    -------
    int
        Its number, the first of equals.
    """
    worth = [one.merit - gain * max(one.panels - 1, 0) for one in measured]
    best = 0
    for number, value in enumerate(worth):
        if value > worth[best] + _EQUAL:
            best = number
    return best


def _options(
    laid: list[Layout], measured: list[Measured], chosen: Layout
) -> tuple[PanelOption, ...]:
    """The best candidate for each number of panels."""
    best: dict[int, int] = {}
    for number, one in enumerate(measured):
        if not one.panels:
            continue
        before = best.get(one.panels)
        if laid[number] is chosen or (
            before is None
            or (laid[before] is not chosen and one.merit > measured[before].merit + _EQUAL)
        ):
            best[one.panels] = number
    return tuple(
        PanelOption(
            panels=panels,
            laterals=len(laid[number].laterals),
            tubing=measured[number].tubing,
            merit=measured[number].merit,
            chosen=laid[number] is chosen,
        )
        for panels, number in sorted(best.items())
    )


def _notes(site: Site, bare: float) -> tuple[str, ...]:
    """What a person should know of the area laid out."""
    unit = site.unit.short
    if bare <= 1e-6 * site.bed.boundary.area:
        return ()
    return (f"{bare:,.0f} sq {unit} of the bed lies beyond the survey: no lateral is laid there",)
