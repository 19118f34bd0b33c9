"""What a drawing says in words: the site, how it is laid out, what is missed, the cautions.

The cautions here are the short ones that fit beside a plan; the crew's sheets carry them in full.
811 as the number to call before digging: the United States' one-call services (49 CFR 196.103 and
196.107 ask excavators to use them and to wait for the marks).
"""

from __future__ import annotations

from collections.abc import Sequence

from dripfield.core.words import counted, number
from dripfield.layout.model import Layout
from dripfield.measures.field import Measured
from dripfield.sheets.kit.suspects import suspect_notes
from dripfield.site.model import Site
from dripfield.survey.doubt.blunders import Suspect

CAUTIONS = (
    "Before digging have buried utilities located and marked: call 811 (United States) or the "
    "local one-call service and wait for the marks. Private and septic lines are usually not "
    "marked.",
    "Wastewater and the soil it has wetted carry disease: gloves, clean hands. Never enter a tank.",
    "Local code, the permit and licensed practice govern over this drawing.",
)


def site_facts(site: Site) -> list[str]:
    """Unit, datum, coordinates and survey, one line each."""
    table = site.file.site
    surveyor = f" by {table.surveyor}" if table.surveyor else ""
    shots = len(site.survey.xyz)
    facts = [
        f"Unit: {site.unit.label}",
        f"Vertical datum: {table.vertical_datum or 'not stated'}",
        f"Coordinates: {table.crs or 'local grid, no reference system stated'}",
        f"Survey: {table.survey_date or 'date not stated'}{surveyor}, {shots} shots",
    ]
    if table.address:
        facts.insert(0, table.address)
    return facts


def layout_facts(site: Site, layout: Layout, measured: Measured) -> list[str]:
    """Method, spacing, tolerances and totals, one line each."""
    rules, short = site.rules, site.unit.short
    where = "in plan" if rules.spacing_measured == "plan" else "along the slope"
    panels = "" if measured.panels < 2 else f" in {measured.panels} panels"
    return [
        f"Method: {layout.method}",
        f"Spacing: {rules.spacing:g} {short} on centre, measured {where}",
        f"Clear of edge and keepouts: {rules.edge_clearance:g} {short}",
        f"Tolerances: level ±{rules.level_tolerance:g} {short}, spacing "
        f"±{rules.spacing_tolerance:.0%}",
        f"Totals: {counted(len(measured.laterals), 'lateral')}{panels}, "
        f"{measured.tubing:.0f} {short} of tubing",
        f"Merit {measured.merit:.2f}, coverage {measured.coverage:.2f}",
    ]


def missed_facts(
    site: Site,
    layout: Layout,
    measured: Measured,
    gap_area: float = 0.0,
    suspects: Sequence[Suspect] = (),
) -> list[str]:
    """What is out of tolerance, not laid, not surveyed or doubted, and the makers' own notes."""
    short = site.unit.short
    facts = []
    for missed, share, what in (
        (measured.missed_level, measured.share_level, "level"),
        (measured.missed_spacing, measured.share_spaced, "spacing"),
    ):
        if missed:
            facts.append(
                f"Out of {what} tolerance: {counted(missed, 'lateral')}, "
                f"{_percent(1.0 - share)} of the tubing."
            )
    if not measured.laterals:
        facts.append("No lateral is laid.")
    elif not facts:
        facts.append("Every lateral is level and evenly spaced within both tolerances.")
    if layout.dropped_count:
        facts.append(
            f"Not laid, shorter than {site.rules.min_length:g} {short}: "
            f"{counted(layout.dropped_count, 'piece')}, "
            f"{number(layout.dropped_length, site.unit.places)} {short} in all."
        )
    if gap_area > 0.0:
        facts.append(f"No survey over {gap_area:.0f} sq {short} of the bed (hatched).")
    notes = (*suspect_notes(suspects), *layout.notes, *measured.notes)
    return [*facts, *(f"{note[:1].upper()}{note[1:].rstrip('.')}." for note in notes)]


def _percent(share: float) -> str:
    return f"{share:.1%}" if share >= 0.0005 else "under 0.1%"
