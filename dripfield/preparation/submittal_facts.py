"""What a design shows of the things that a submittal must show: facts by name."""

from __future__ import annotations

import numpy as np

from dripfield.core.words import counted, joined
from dripfield.design.model import Design
from dripfield.preparation.gather import Known
from dripfield.zones.model import Pipe


def facts_shown(design: Design, known: Known, flush_flow: str = "") -> dict[str, str]:
    """Facts for :func:`dripfield.preparation.submittal.submittals`; what is not known is not there.

    Parameters
    ----------
    design : Design
    known : Known
    flush_flow : str
        Of each zone, in words.

    Returns
    -------
    dict of str to str
    """
    site, file, short = design.site, design.site.file, design.site.unit.short
    lengths = [measure.length for _, measure in design.laterals.values()]
    facts = {
        "plan": "plan.pdf of layout",
        "line_lengths": f"{min(lengths):.1f} to {max(lengths):.1f} {short}: laterals.csv",
        "tubing": f"{sum(lengths):,.1f} {short}",
        "line_spacing": f"{site.settings.spacing:g} {short} on centre, in"
        f" {site.settings.spacing_measured}",
        "lines": counted(len(lengths), "lateral"),
        "index": "the cover of prepare.pdf",
        "north_arrow": "on the plan",
        "scale_text": "on the plan",
        "scale_bar": "on the plan",
        "title": site.name,
        "date": file.site.design_date or file.site.survey_date or "",
        "section": "section.pdf of bed" if known.built else "",
        "emitter_spacing": f"{file.emitters.spacing:g} {short}" if file.emitters else "",
        "daily_flow": _daily_flow(design),
        "static_head": _static_head(design),
        "main_sizes": _main_sizes(known),
        "main_lengths": _main_lengths(known, short),
        "flush_flow": flush_flow,
        "lines_per_flush": _per_flush(known),
    }
    if file.site.vertical_datum:
        facts["elevations"] = f"on the plan; datum: {file.site.vertical_datum}"
    if file.site.address and file.site.designer:
        facts["title_block"] = f"{site.name}, {file.site.address}; {file.site.designer}"
    if {"supply", "return"} <= {line.name for line in known.lines}:
        facts["profile"] = "prepare.pdf, supply and return"
    return {name: value for name, value in facts.items() if value}


def _daily_flow(design: Design) -> str:
    table = design.site.file.design
    if table is None or table.daily_flow is None:
        return ""
    return f"{table.daily_flow:,g} {'L' if design.site.unit.is_metric else 'gal'}/day"


def _static_head(design: Design) -> str:
    pump = design.site.file.pump
    if pump is None or pump.level is None:
        return ""
    unit = design.site.unit
    highest = max(lateral.elevation for lateral in design.layout.laterals)
    return (
        f"{highest - pump.level:.{unit.places}f} {unit.short}: highest lateral"
        f" {highest:.{unit.places}f} over water at {pump.level:.{unit.places}f} {unit.short}"
    )


def _mains(known: Known) -> dict[str, tuple[Pipe, ...]] | None:
    """Supply, return and manifolds; None where one of them is not there."""
    if known.plan is None or not (known.plan.supply and known.plan.return_):
        return None
    manifolds: list[Pipe] = []
    for zone in known.plan.zones:
        if zone.supply is None or zone.return_ is None:
            return None
        manifolds += [*zone.supply.pipes, *zone.return_.pipes]
    return {
        "supply": known.plan.supply,
        "return": known.plan.return_,
        "manifolds": tuple(manifolds),
    }


def _main_sizes(known: Known) -> str:
    mains = _mains(known) or {}
    sizes = {use: sorted({pipe.size for pipe in pipes}) for use, pipes in mains.items()}
    if not sizes or any("" in some for some in sizes.values()):
        return ""
    return "; ".join(f"{use} {joined(some)}" for use, some in sizes.items())


def _main_lengths(known: Known, short: str) -> str:
    mains = _mains(known) or {}
    lengths = {
        use: sum(float(np.linalg.norm(np.diff(p.xyz, axis=0), axis=1).sum()) for p in pipes)
        for use, pipes in mains.items()
    }
    return "; ".join(f"{use} {length:,.1f} {short}" for use, length in lengths.items())


def _per_flush(known: Known) -> str:
    if known.plan is None:
        return ""
    return "; ".join(
        f"{zone.name}: {counted(len(zone.joined), 'joined lateral')}" for zone in known.plan.zones
    )
