"""What the terminal says after a layout: totals first, then what needs a person's eye."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.cli.shared import console

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

    from dripfield.layout.model import Layout
    from dripfield.measures.field import Measured
    from dripfield.measures.laterals import LateralMeasure
    from dripfield.site.model import LayoutRules, Site
    from dripfield.surface.tin import Surface
    from dripfield.units import Unit

MOST_ROWS = 12  # of a list of faults; the rest is counted


def print_summary(
    site: Site, surface: Surface, layout: Layout, measured: Measured, files: Sequence[Path]
) -> None:
    """Print the summary of a layout, plain when standard output is not a terminal."""
    screen = console()
    for part in summary(site, surface, layout, measured, files):
        screen.print(part)


def summary(
    site: Site, surface: Surface, layout: Layout, measured: Measured, files: Sequence[Path]
) -> Iterable[RenderableType]:
    """The parts of the summary, top to bottom."""
    from rich.text import Text

    yield Text()
    yield Text(f"{site.name}: {layout.method} layout, lengths in {site.unit.label}", style="bold")
    yield _totals(site, layout, measured)
    if len(layout.options) > 1:
        yield _title("Panels to choose from (set panels under [layout])")
        yield _panel_options(layout, site.unit)
    missed = [one for one in measured.laterals if not (one.level_ok and one.spacing_ok)]
    if missed:
        yield _title(f"Out of tolerance: {_count(len(missed), 'lateral')}")
        yield _missed(missed, site.rules, site.unit)
        if len(missed) > MOST_ROWS:
            yield Text(f"  and {len(missed) - MOST_ROWS} more: see laterals.csv")
    notes = [*_site_notes(site, surface), *layout.notes, *measured.notes]
    if notes:
        yield _title("To know")
        yield _bullets(notes)
    yield Text()
    yield Text(f"Written into {files[0].parent}: {', '.join(path.name for path in files)}")


def _totals(site: Site, layout: Layout, measured: Measured) -> Table:
    rules, unit = site.rules, site.unit
    table = _table()
    table.add_column()
    table.add_column(justify="right")
    table.add_column(overflow="fold")
    table.add_row("Laterals", f"{len(measured.laterals):,}", _in_panels(measured))
    along = ", along the slope" if rules.spacing_measured == "slope" else ""
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
        f"of the tubing, within {rules.level_tolerance:g} {unit.short}",
    )
    table.add_row(
        "Evenly spaced",
        _percent(measured.share_spaced),
        f"of the tubing, within {100 * rules.spacing_tolerance:g} % of {rules.spacing:g} "
        f"{unit.short}",
    )
    if layout.dropped_count:
        table.add_row(
            "Not laid",
            f"{layout.dropped_length:,.1f} {unit.short}",
            f"{_count(layout.dropped_count, 'piece')} shorter than {rules.min_length:g} "
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


def _missed(missed: Sequence[LateralMeasure], rules: LayoutRules, unit: Unit) -> Table:
    table = _table(header=True)
    table.add_column("lateral")
    for heading in ("length", "off level by", "too near by", "too far by"):
        table.add_column(heading, justify="right")
    near = rules.spacing * (1 - rules.spacing_tolerance)
    far = rules.spacing * (1 + rules.spacing_tolerance)
    for one in missed[:MOST_ROWS]:
        off = max(one.elevation_max - one.elevation, one.elevation - one.elevation_min)
        table.add_row(
            one.name,
            f"{one.length:,.1f}",
            _beyond(off - rules.level_tolerance, unit) if not one.level_ok else "",
            _beyond(near - one.spacing_min, unit) if not one.spacing_ok else "",
            _beyond(one.spacing_max - far, unit) if not one.spacing_ok else "",
        )
    return table


def _beyond(excess: float, unit: Unit) -> str:
    """By how much a tolerance is exceeded; empty when it is not, ``?`` when it is not known."""
    if math.isnan(excess):
        return "?"
    return f"{excess:.{unit.places}f}" if excess > 0 else ""


def _site_notes(site: Site, surface: Surface) -> Iterable[str]:
    from dripfield.site.checks import notes_on

    return (*notes_on(site), *site.survey.notes)


def _in_panels(measured: Measured) -> str:
    return "in one panel" if measured.panels < 2 else f"in {measured.panels} panels"


def _percent(share: float) -> str:
    """A share rounded down, so that 100 % means all of it."""
    return f"{math.floor(share * 1000 + 1e-6) / 10:.1f} %"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _title(text: str) -> RenderableType:
    from rich.text import Text

    return Text(f"\n{text}", style="bold")


def _table(header: bool = False) -> Table:
    from rich.table import Table

    return Table(
        box=None, show_header=header, header_style="dim", padding=(0, 1, 0, 1), pad_edge=True
    )


def _bullets(lines: Iterable[str]) -> Table:
    table = _table()
    table.add_column(width=1)
    table.add_column(overflow="fold")
    for line in lines:
        table.add_row("-", line)
    return table
