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
    from dripfield.ground.coverage import Coverage
    from dripfield.layout.model import Layout
    from dripfield.measures.field import Measured
    from dripfield.measures.laterals import LateralMeasure
    from dripfield.outputs.expect import Expected
    from dripfield.rules import Finding
    from dripfield.site.model import LayoutSettings, Site

MOST_ROWS = 12  # of the table of faults, the worst; the rest are named
_SAME = 1e-6  # an excess below this is rounding [site unit]


def print_summary(
    design: Design,
    findings: Sequence[Finding],
    files: Sequence[Path],
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
    laid : Expected, optional
        What crews are expected to make of it.
    """
    show(summary(design, findings, files, laid=laid))


def summary(
    design: Design,
    findings: Sequence[Finding],
    files: Sequence[Path],
    *,
    laid: Expected | None = None,
) -> Iterator[RenderableType]:
    """The parts of the summary, top to bottom; as :func:`print_summary` takes them."""
    from rich.padding import Padding
    from rich.text import Text

    from dripfield.rules import rule_lines
    from dripfield.sheets.kit.suspects import suspect_notes

    site, layout, measured = design.site, design.layout, design.measured
    yield Text(f"{site.name}: {layout.method} layout, lengths in {site.unit.label}", style="bold")
    yield _totals(site, layout, measured, laid)
    if len(layout.options) > 1:
        yield _title("Panels to choose from (panels = under [layout])")
        yield _panel_options(layout, site.unit)
    missed = [one for one in measured.laterals if not (one.level_ok and one.spacing_ok)]
    if missed:
        yield _title(f"Out of tolerance: {counted(len(missed), 'lateral')}")
        worst = sorted(missed, key=lambda one: -_severity(one, site.settings))[:MOST_ROWS]
        yield _missed([one for one in missed if one in worst], site.settings, site.unit)
        others = [one.name for one in missed if one not in worst]
        if others:
            yield Padding(Text(f"by less: {', '.join(others)}"), (0, 1))
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


def _totals(site: Site, layout: Layout, measured: Measured, laid: Expected | None = None) -> Table:
    from dripfield.crew.say import percent

    settings, unit = site.settings, site.unit
    table = _table()
    table.add_column()
    table.add_column(justify="right")
    table.add_column(overflow="fold")
    table.add_row("Laterals", f"{len(measured.laterals):,}", _in_panels(measured))
    along = ", along the slope" if settings.spacing_measured == "slope" else ""
    table.add_row("Tubing", f"{measured.tubing:,.0f} {unit.short}", f"in all{along}")
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
            f"on the ground without its noise, worst {measured.smoothed.worst:.{unit.places}f} off",
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


def _panel_options(layout: Layout, unit: Unit) -> Table:
    table = _table(header=True)
    for heading in ("panels", "merit", "connections", "tubing"):
        table.add_column(heading, justify="right")
    table.add_column()
    for option in layout.options:
        table.add_row(
            str(option.panels),
            f"{option.merit:.3f}",
            str(option.laterals),
            f"{option.tubing:,.0f} {unit.short}",
            "<- laid" if option.chosen else "",
        )
    return table


def _missed(missed: Sequence[LateralMeasure], settings: LayoutSettings, unit: Unit) -> Table:
    table = _table(header=True)
    table.add_column("lateral")
    for heading in ("length", "off level by", "too near by", "too far by"):
        table.add_column(heading, justify="right")
    for one in missed:
        level, near, far = (_beyond(excess, unit) for excess in _excesses(one, settings))
        if not one.level_ok and not level:
            level = "no survey"  # level where the ground is known, but it is not known everywhere
        table.add_row(one.name, f"{one.length:,.1f}", level, near, far)
    return table


def _excesses(one: LateralMeasure, settings: LayoutSettings) -> tuple[float, float, float]:
    """How far beyond its tolerance a lateral is off level, too near and too far [site unit].

    Negative within tolerance; NaN where the ground, or a neighbour, is not known.
    """
    margin = settings.spacing * settings.spacing_tolerance
    off = max(one.elevation_max - one.elevation, one.elevation - one.elevation_min)
    near, far = settings.spacing - one.spacing_min, one.spacing_max - settings.spacing
    level = off - settings.level_tolerance if not one.level_ok else -1.0
    if one.spacing_ok:
        return level, -1.0, -1.0
    return level, near - margin, far - margin


def _severity(one: LateralMeasure, settings: LayoutSettings) -> float:
    """The worst excess as a multiple of its tolerance; ground that is not known is the worst."""
    level, near, far = _excesses(one, settings)
    if math.isnan(level):
        return math.inf
    spaced = max((excess for excess in (near, far) if not math.isnan(excess)), default=0.0)
    return max(
        level / settings.level_tolerance, spaced / (settings.spacing * settings.spacing_tolerance)
    )


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
