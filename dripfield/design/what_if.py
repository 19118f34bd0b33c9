"""Which tolerance binds: what merit would be if a setting were a little other."""

from __future__ import annotations

from dataclasses import dataclass, replace

from dripfield.core.errors import InputError
from dripfield.core.threads import one_thread
from dripfield.design.choose import Say
from dripfield.design.lay_bed import choose_layout
from dripfield.design.model import Design
from dripfield.measures.field import measure_merit, measured_laterals, merit_of
from dripfield.measures.laterals import by_level_tolerance
from dripfield.site.model import LayoutSettings

_WIDER = 1.5  # times the tolerance
_SPACINGS = (0.9, 1.1)  # times the spacing
_TURN = 10.0  # degrees of bearing either way


@dataclass(frozen=True)
class WhatIf:
    """Merit with one setting changed.

    Attributes
    ----------
    change : str
        What is other, in words.
    merit : float or None
        None where nothing can be laid so.
    tubing : float or None
        [site unit]
    anew : bool
        Laid out anew for it; else the same lines measured by it.
    """

    change: str
    merit: float | None
    tubing: float | None
    anew: bool


def same_lines(design: Design) -> tuple[WhatIf, ...]:
    """The lines as they are, measured by wider tolerances.

    Parameters
    ----------
    design : Design

    Returns
    -------
    tuple of WhatIf
        The level tolerance wider, the spacing tolerance wider, both.
    """
    found = []
    by_spacing = {design.site.settings.spacing_tolerance: design.measured.laterals}
    for change, settings in _wider(design):
        allowed = settings.spacing_tolerance
        if allowed not in by_spacing:
            by_spacing[allowed] = measured_laterals(
                design.layout.laterals, design.surface, settings
            )
        judged = by_level_tolerance(by_spacing[allowed], settings.level_tolerance)
        merit = merit_of(judged, design.surface, settings, design.site.bed)
        found.append(WhatIf(change, merit.merit, merit.tubing, False))
    return tuple(found)


def laid_anew(design: Design, say: Say | None = None) -> tuple[WhatIf, ...]:
    """The bed laid out anew with wider tolerances, other spacings and, for straight lines, other
    bearings.

    Parameters
    ----------
    design : Design
    say : callable, optional
        Told what is being laid.

    Returns
    -------
    tuple of WhatIf
        Merit counts against the spacing that each is laid at.
    """
    changes = [*_wider(design), *_spacings(design), *_bearings(design)]
    found = []
    for change, settings in changes:
        if say is not None:
            say(change)
        settings = replace(settings, accepted=None, locked=(), dropped=())
        site = replace(design.site, settings=settings)
        try:
            with one_thread():
                layout = choose_layout(site, design.surface, design.layout.method)
        except InputError:
            found.append(WhatIf(change, None, None, True))
            continue
        merit = measure_merit(layout, design.surface, settings, site.bed, quick=False)
        found.append(WhatIf(change, merit.merit, merit.tubing, True))
    return tuple(found)


def _wider(design: Design) -> list[tuple[str, LayoutSettings]]:
    settings, short = design.site.settings, design.site.unit.short
    level = _WIDER * settings.level_tolerance
    spaced = min(_WIDER * settings.spacing_tolerance, 0.5)
    return [
        (f"level within {level:g} {short}", replace(settings, level_tolerance=level)),
        (f"spacing within {100 * spaced:g} %", replace(settings, spacing_tolerance=spaced)),
        ("both", replace(settings, level_tolerance=level, spacing_tolerance=spaced)),
    ]


def _spacings(design: Design) -> list[tuple[str, LayoutSettings]]:
    settings, short = design.site.settings, design.site.unit.short
    return [
        (
            f"{times * settings.spacing:g} {short} on centre",
            replace(settings, spacing=times * settings.spacing),
        )
        for times in _SPACINGS
    ]


def _bearings(design: Design) -> list[tuple[str, LayoutSettings]]:
    settings = design.site.settings
    if design.layout.method != "straight" or settings.bearing is None:
        return []
    return [
        (
            f"bearing {(settings.bearing + turn) % 360:g}",
            replace(settings, bearing=(settings.bearing + turn) % 360.0),
        )
        for turn in (-_TURN, _TURN)
    ]
