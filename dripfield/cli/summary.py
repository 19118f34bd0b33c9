"""What the terminal says after a layout: totals first, then what needs a person's eye."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.cli.shared import show
from dripfield.core.words import counted

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

    from dripfield.core.units import Unit
    from dripfield.design.model import Design
    from dripfield.design.offenders import Offenders
    from dripfield.design.what_if import WhatIf
    from dripfield.ground.coverage import Coverage
    from dripfield.layout.model import Layout
    from dripfield.measures.field import Measured
    from dripfield.outputs.expect import Expected
    from dripfield.rules import Finding
    from dripfield.site.model import LayoutSettings

MOST_ROWS = 12  # of the table of faults, the worst; the rest are named
_MOST_BARE = 5  # places named
_WORSE = 0.001  # of the tubing, that may be less level on smoothed ground without a word
_SMOOTHED_MOST = 3.0  # smoothings: how far lines follow smoothed ground off the triangles
_SAME = 1e-6  # an excess below this is rounding [site unit]


def print_summary(
    design: Design,
    findings: Sequence[Finding],
    files: Sequence[Path],
    others: Sequence[WhatIf] = (),
    *,
    laid: Expected | None = None,
) -> None:
    """Print the summary of a layout, plain when standard output is not a terminal.

    Parameters
    ----------
    design : Design
    findings : sequence of Finding
        Of the rules that the site names.
    files : sequence of Path
        Those written.
    others : sequence of WhatIf
        What other settings would give.
    laid : Expected, optional
        What crews are expected to make of it.
    """
    show(summary(design, findings, files, others, laid=laid))


def summary(
    design: Design,
    findings: Sequence[Finding],
    files: Sequence[Path],
    others: Sequence[WhatIf] = (),
    *,
    laid: Expected | None = None,
) -> Iterator[RenderableType]:
    """The parts of the summary, top to bottom; as :func:`print_summary` takes them.

    Parameters
    ----------
    design : Design
    findings : sequence of Finding
    files : sequence of Path
    others : sequence of WhatIf
    laid : Expected, optional

    Yields
    ------
    RenderableType
    """
    from rich.padding import Padding
    from rich.text import Text

    from dripfield.design.offenders import offenders, severity
    from dripfield.rules import rule_lines
    from dripfield.sheets.kit.suspects import suspect_notes

    site, layout, measured = design.site, design.layout, design.measured
    yield Text(f"{site.name}: {layout.method} layout, lengths in {site.unit.label}", style="bold")
    yield _totals(design, laid)
    if len(design.totals.panels) > 1:
        yield _title("By panel, from left to right looking down the slope")
        yield _panel_totals(design)
    if len(layout.options) > 1:
        yield _title("Panels to choose from (panels = under [layout])")
        yield _panel_options(layout, site.unit)
    groups = offenders(design)
    if groups:
        count = sum(len(one.names) for one in groups)
        yield _title(f"Out of tolerance: {counted(count, 'lateral')}")
        margin = site.settings.spacing * site.settings.spacing_tolerance
        worst = sorted(
            groups, key=lambda one: -severity(one, site.settings.level_tolerance, margin)
        )[:MOST_ROWS]
        yield _missed([one for one in groups if one in worst], site.unit)
        rest = [one.shown for one in groups if one not in worst]
        if rest:
            yield Padding(Text(f"by less: {', '.join(rest)}"), (0, 1))
    if others:
        yield _title("Which tolerance binds: merit as it is would be")
        yield _what_if(others, measured.merit, site.unit)
    if measured.bare:
        area = sum(one.area.area for one in measured.bare)
        yield _title(
            f"Bare ground inside the bed: {area:,.0f} {site.unit.short}2 in "
            f"{counted(len(measured.bare), 'place')}, hatched on the plan"
        )
        yield _bullets(_bare_lines(measured, site.unit))
    if findings:
        yield _title(f"Rules: {', '.join(site.file.rules.check)}")
        yield _bullets(rule_lines(findings))
    notes = [
        *_surface_lines(design),
        *_coverage_lines(design.ground.coverage, site.unit),
        *suspect_notes(design.ground.suspects),
        *design.ground.notes,
        *layout.notes,
        *measured.notes,
        *([laid.reserve.sentence] if laid is not None and laid.reserve is not None else []),
    ]
    if notes:
        yield _title("To know")
        yield _bullets(notes)
    yield Text(f"\nWritten into {files[0].parent}: {', '.join(path.name for path in files)}")


def _totals(design: Design, laid: Expected | None = None) -> Table:
    from dripfield.crew.say import percent

    site, layout, measured, totals = design.site, design.layout, design.measured, design.totals
    settings, unit = site.settings, site.unit
    table = _table()
    table.add_column()
    table.add_column(justify="right")
    table.add_column(overflow="fold")
    table.add_row("Laterals", f"{len(measured.laterals):,}", _in_panels(measured))
    table.add_row("Code", design.code, "the same for the same laterals; on every sheet")
    along = ", along the slope" if settings.spacing_measured == "slope" else ""
    table.add_row("Tubing", f"{measured.tubing:,.0f} {unit.short}", f"in all{along}")
    if totals.connections:
        table.add_row(
            "Laterals from",
            f"{totals.shortest:,.0f} {unit.short}",
            f"to {totals.longest:,.0f} {unit.short}",
        )
    if totals.emitters is not None:
        flow = ""
        if totals.flow is not None:
            flow = f"{totals.flow:,.1f} {'L/min' if unit.is_metric else 'gal/min'} together"
        table.add_row("Emitters", f"{totals.emitters:,}", flow)
    table.add_row(
        "Area served",
        f"{measured.served_area:,.0f} {unit.short}2",
        "that could be served, in plan",
    )
    table.add_row(
        "Merit", f"{measured.merit:.3f}", "level and even tubing for that area; 1 is full"
    )
    table.add_row("Coverage", _percent(measured.coverage), "of that area within half a spacing")
    table.add_row(
        "Level",
        _percent(measured.share_level),
        f"of the tubing, within {settings.level_tolerance:g} {unit.short}",
    )
    table.add_row(
        "Evenly spaced",
        _percent(measured.share_spaced),
        f"of the tubing, within {100 * settings.spacing_tolerance:g} % of {settings.spacing:g} "
        f"{unit.short}",
    )
    if measured.smoothed is not None:
        table.add_row(
            "Level, smoothed",
            _percent(measured.smoothed.share_level),
            f"on the ground without its noise, worst {measured.smoothed.worst:.{unit.places}f} off"
            + _why_worse(measured, settings, unit),
        )
    if laid is not None:
        table.add_row(
            "Expected as laid",
            percent(laid.as_laid.share_laid),
            f"of the tubing within both tolerances ({percent(laid.as_laid.share_designed)} as"
            f" designed), by {laid.way}; {laid.as_laid.crews} simulated crews",
        )
    if layout.dropped_count:
        table.add_row(
            "Not laid",
            f"{layout.dropped_length:,.1f} {unit.short}",
            f"{counted(layout.dropped_count, 'piece')} shorter than {settings.min_length:g} "
            f"{unit.short}",
        )
    return table


def _why_worse(measured: Measured, settings: LayoutSettings, unit: Unit) -> str:
    """Why lines are less level on the smoothed ground than on the triangles, where they are."""
    smoothed = measured.smoothed
    if smoothed is None or smoothed.share_level >= measured.share_level - _WORSE:
        return ""
    most = _SMOOTHED_MOST * settings.smoothing
    return (
        f": less than on the shots as they are, since smoothing would leave them by over {most:g} "
        f"{unit.short} somewhere (a step, a bank, far from shots) and lines keep to the shots there"
    )


def _panel_totals(design: Design) -> Table:
    """Laterals, tubing and emitters of each panel."""
    short, with_emitters = design.site.unit.short, design.totals.emitters is not None
    table = _table(header=True)
    table.add_column("panel")
    headings = ["connections", "tubing", "shortest", "longest"]
    for heading in [*headings, *(["emitters"] if with_emitters else [])]:
        table.add_column(heading, justify="right")
    for one in design.totals.panels:
        cells = [
            one.panel,
            str(one.laterals),
            f"{one.tubing:,.0f} {short}",
            f"{one.shortest:,.1f}",
            f"{one.longest:,.1f}",
        ]
        table.add_row(*cells, *([f"{one.emitters:,}"] if with_emitters else []))
    return table


def _panel_options(layout: Layout, unit: Unit) -> Table:
    table = _table(header=True)
    for heading in ("panels", "merit", "connections", "tubing", "mean run", "shortest"):
        table.add_column(heading, justify="right")
    table.add_column()
    for option in layout.options:
        table.add_row(
            str(option.panels),
            f"{option.merit:.3f}",
            str(option.laterals),
            f"{option.tubing:,.0f} {unit.short}",
            f"{option.mean:,.1f}",
            f"{option.shortest:,.1f}",
            "<- laid" if option.chosen else "",
        )
    return table


def _missed(groups: Sequence[Offenders], unit: Unit) -> Table:
    table = _table(header=True)
    table.add_column("laterals")
    for heading in ("out", "off level", "too near", "too far"):
        table.add_column(heading, justify="right")
    table.add_column("cause", overflow="fold")
    for one in groups:
        level = "no survey" if math.isnan(one.level) else _beyond(one.level, unit)
        table.add_row(
            one.shown,
            f"{one.length:,.1f}",
            level,
            _beyond(one.near, unit),
            _beyond(one.far, unit),
            one.cause,
        )
    return table


def _what_if(others: Sequence[WhatIf], merit: float, unit: Unit) -> Table:
    """Merit of the same lines by other tolerances, and of lines laid anew."""
    table = _table(header=True)
    table.add_column("with")
    for heading in ("same lines", "laid anew", "tubing"):
        table.add_column(heading, justify="right")
    changes = dict.fromkeys(one.change for one in others)
    for change in changes:
        same = next((one for one in others if one.change == change and not one.anew), None)
        anew = next((one for one in others if one.change == change and one.anew), None)
        tubing = "" if anew is None or anew.tubing is None else f"{anew.tubing:,.0f} {unit.short}"
        table.add_row(change, _gained(same, merit), _gained(anew, merit), tubing)
    return table


def _gained(one: WhatIf | None, merit: float) -> str:
    if one is None:
        return ""
    return "none fits" if one.merit is None else f"{one.merit:.3f} ({one.merit - merit:+.3f})"


def _bare_lines(measured: Measured, unit: Unit) -> Iterator[str]:
    """Where bare ground lies and why, the largest first."""
    for one in measured.bare[:_MOST_BARE]:
        at = one.area.representative_point()
        yield (
            f"{one.area.area:,.0f} {unit.short}2 near northing {at.y:,.0f}, easting {at.x:,.0f}: "
            f"{one.reason}"
        )
    left = measured.bare[_MOST_BARE:]
    if left:
        yield f"{sum(one.area.area for one in left):,.0f} {unit.short}2 in {len(left)} smaller ones"


def _beyond(excess: float, unit: Unit) -> str:
    """An excess over a tolerance to the places that a crew reads."""
    if math.isnan(excess) or excess < _SAME:
        return ""
    least = 10.0**-unit.places
    return f"{excess:.{unit.places}f}" if excess >= least / 2 else f"<{least:g}"


def _surface_lines(design: Design) -> Iterator[str]:
    """What the laterals are laid on, where it is not the ground."""
    if design.surface.built:
        yield "laid on the top of sand as [bed.section] designs it, not on the ground as it is"


def _coverage_lines(coverage: Coverage, unit: Unit) -> Iterator[str]:
    """Where the survey says nothing of the bed, or says it from afar."""
    far = f"farther than {coverage.reach:.0f} {unit.short} from any shot"
    for gaps, what, so in (
        (coverage.outside, "outside the survey", "nothing is laid there"),
        (coverage.sparse, far, "take shots there before trusting the laterals"),
    ):
        if not gaps:
            continue
        area = sum(gap.area for gap in gaps)
        largest = max(gaps, key=lambda gap: gap.area).representative_point()
        yield (
            f"{area:,.0f} {unit.short}2 of the bed ({_percent(area / coverage.bed_area)}) lie "
            f"{what}, most of it near northing {largest.y:.0f}, easting {largest.x:.0f}: {so} "
            "(hatched on the plan)"
        )


def _in_panels(measured: Measured) -> str:
    return "in one panel" if measured.panels < 2 else f"in {measured.panels} panels"


def _percent(share: float) -> str:
    """A share rounded down, so that 100 % means all of it."""
    return f"{math.floor(share * 1000 + 1e-6) / 10:.1f} %"


def _title(text: str) -> RenderableType:
    from rich.text import Text

    return Text(f"\n{text}", style="bold")


def _table(header: bool = False) -> Table:
    from rich.table import Table

    return Table(
        box=None, show_header=header, header_style="dim", padding=(0, 1, 0, 1), pad_edge=True
    )


def _bullets(lines: Iterable[str]) -> Table:
    from rich.table import Table

    table = Table.grid(padding=(0, 1))
    table.add_column(width=2, justify="right")
    table.add_column(overflow="fold")
    for line in lines:
        table.add_row("-", line)
    return table
