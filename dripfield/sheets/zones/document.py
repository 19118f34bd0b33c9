"""The pictures and the printed set of a field's zones."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.core.cautions import caution
from dripfield.core.table import Table
from dripfield.core.words import plain
from dripfield.distribution.system import FieldSystem
from dripfield.sheets.kit.page import Page, framed
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import drawing_defaults, save_figure, usual_papers
from dripfield.sheets.zones.detail_pages import detail_pages
from dripfield.sheets.zones.loading_sheet import loading_figure
from dripfield.sheets.zones.profile_page import profile_pages
from dripfield.sheets.zones.table_set import (
    air_pages,
    check_pages,
    commissioning_pages,
    day_pages,
    water_pages,
)
from dripfield.sheets.zones.trade_sheet import trade_figure
from dripfield.sheets.zones.zone_sheet import zone_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Writer = Callable[[Path], object]


def pictures(system: FieldSystem, made: dict[str, Table], relief: Relief) -> dict[str, Writer]:
    """What writes each picture and the printed set, by the name of its file.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        The tables of :func:`dripfield.distribution.tables.tables`.
    relief : Relief

    Returns
    -------
    dict of str to callable
    """
    figures: dict[str, Callable[[], Figure]] = {
        "zones.png": partial(zone_figure, system, made, relief),
        "trade.png": partial(trade_figure, system, made),
    }
    if system.load is not None:
        figures["loading.png"] = partial(loading_figure, system, system.load)
    return {
        **{name: partial(_write_figure, draw) for name, draw in figures.items()},
        "zones.pdf": lambda path: _write_set(system, pages_of(system, made, relief, figures), path),
    }


def pages_of(
    system: FieldSystem,
    made: dict[str, Table],
    relief: Relief,
    figures: dict[str, Callable[[], Figure]],
) -> list[Page]:
    """The pages of the printed set, in order.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        The tables of :func:`dripfield.distribution.tables.tables`.
    relief : Relief
    figures : dict of str to callable
        What draws the whole sheets that are pictures too, by the name of their file; drawn anew
        for the set, which numbers them.

    Returns
    -------
    list of Page
    """
    paper = usual_papers(system.design.site.unit)[0]

    def whole(title: str, name: str) -> list[Page]:
        return [Page(title, paper, whole=figures[name])] if name in figures else []

    return [
        *whole("Zones and pipes", "zones.png"),
        *check_pages(made, paper),
        *detail_pages(system, made, relief, paper),
        *profile_pages(system, paper),
        *water_pages(system, made, paper),
        *day_pages(made, paper),
        *whole("Loading", "loading.png"),
        *air_pages(made, paper),
        *commissioning_pages(system, made, paper),
        *whole("Choice of zones", "trade.png"),
    ]


def _write_figure(draw: Callable[[], Figure], path: Path) -> None:
    save_figure(draw(), path)


def _write_set(system: FieldSystem, pages: list[Page], path: Path) -> None:
    from matplotlib.backends.backend_pdf import PdfPages

    site = system.design.site
    metadata = {
        "Title": plain(site.name),
        "Subject": "Zones of a drip field",
        "Creator": "dripfield",
        "Producer": None,
        "CreationDate": None,
    }
    foot = f"Lengths in {site.unit.label}. Cautions stand on the first sheet. {caution('code')}"
    with drawing_defaults(), PdfPages(path, metadata=metadata) as pdf:
        for number, page in enumerate(pages, 1):
            count = f"layout {system.design.code}, sheet {number} of {len(pages)}"
            pdf.savefig(framed(page, site, count, foot))
