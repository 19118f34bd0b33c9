"""What a drawing says in words: the site, how it is laid out, what is missed."""

from __future__ import annotations

from shapely import Polygon

from dripfield.core.words import counted, number
from dripfield.design.model import Design
from dripfield.ground.ground import Ground
from dripfield.sheets.kit.suspects import suspect_notes
from dripfield.site.model import Site


def bare_ground(design: Design) -> tuple[Polygon, ...]:
    """Parts of the bed that no lateral serves, where the measures tell them."""
    return tuple(one.area for one in design.measured.bare)


def site_facts(site: Site, ground: Ground) -> list[str]:
    """Unit, datum, coordinates and survey, one line each."""
    table = site.file.site
    surveyor = f" by {table.surveyor}" if table.surveyor else ""
    shots = len(ground.read.xyz)
    facts = [
        f"Unit: {site.unit.label}",
        f"Vertical datum: {table.vertical_datum or 'not stated'}",
        f"Coordinates: {table.crs or 'local grid, no reference system stated'}",
        f"Survey: {table.survey_date or 'date not stated'}{surveyor}, {shots} shots",
    ]
    if table.address:
        facts.insert(0, table.address)
    return facts


def layout_facts(design: Design) -> list[str]:
    """Method, spacing, tolerances and totals, one line each."""
    settings, short = design.site.settings, design.site.unit.short
    where = "in plan" if settings.spacing_measured == "plan" else "along the slope"
    panels = "" if design.measured.panels < 2 else f" in {design.measured.panels} panels"
    return [
        f"Method: {design.layout.method}; code of this layout: {design.code}",
        f"Spacing: {settings.spacing:g} {short} on centre, measured {where}",
        f"Clear of edge and keepouts: {settings.edge_clearance:g} {short}",
        f"Tolerances: level ±{settings.level_tolerance:g} {short}, spacing "
        f"±{settings.spacing_tolerance:.0%}",
        f"Totals: {counted(len(design.measured.laterals), 'lateral')}{panels}, "
        f"{design.measured.tubing:.0f} {short} of tubing",
        f"Merit {design.measured.merit:.2f}, coverage {design.measured.coverage:.2f}",
    ]


def missed_facts(design: Design, gap_area: float = 0.0) -> list[str]:
    """What is out of tolerance, not laid, not surveyed or doubted, and the makers' own notes."""
    short = design.site.unit.short
    facts = []
    for missed, share, what in (
        (design.measured.missed_level, design.measured.share_level, "level"),
        (design.measured.missed_spacing, design.measured.share_spaced, "spacing"),
    ):
        if missed:
            facts.append(
                f"Out of {what} tolerance: {counted(missed, 'lateral')}, "
                f"{_percent(1.0 - share)} of the tubing."
            )
    if not design.measured.laterals:
        facts.append("No lateral is laid.")
    elif not facts:
        facts.append("Every lateral is level and evenly spaced within both tolerances.")
    if design.layout.dropped_count:
        facts.append(
            f"Not laid, shorter than {design.site.settings.min_length:g} {short}: "
            f"{counted(design.layout.dropped_count, 'piece')}, "
            f"{number(design.layout.dropped_length, design.site.unit.places)} {short} in all."
        )
    bare = sum(patch.area.area for patch in design.measured.bare)
    if bare > 0.0:
        facts.append(f"Bare ground in the bed: {bare:.0f} sq {short} (hatched).")
    if gap_area > 0.0:
        facts.append(f"No survey over {gap_area:.0f} sq {short} of the bed (hatched).")
    notes = (*suspect_notes(design.ground.suspects), *design.layout.notes, *design.measured.notes)
    return [*facts, *(f"{note[:1].upper()}{note[1:].rstrip('.')}." for note in notes)]


def _percent(share: float) -> str:
    return f"{share:.1%}" if share >= 0.0005 else "under 0.1%"
