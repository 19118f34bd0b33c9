"""A sheet for each zone: its own map at a larger scale, with its joined laterals beside it."""

from __future__ import annotations

from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.table import Table
from dripfield.distribution.system import FieldSystem
from dripfield.sheets.kit.furniture import STRIP_HEIGHT, box, north_arrow, scale_bar
from dripfield.sheets.kit.map_frame import fit_frame
from dripfield.sheets.kit.page import Page, Rectangle
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import Paper, wrap, write_text
from dripfield.sheets.zones.columns import picked
from dripfield.sheets.zones.zone_map import ZoneMap, zone_ground
from dripfield.zones.model import Zone

_BORDER = (20.0, 18.0)
_GUTTER = 12.0


def detail_pages(
    system: FieldSystem, made: dict[str, Table], relief: Relief, paper: Paper
) -> list[Page]:
    """A page for each zone.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        The tables of :func:`dripfield.distribution.tables.tables`.
    relief : Relief
    paper : Paper

    Returns
    -------
    list of Page
    """
    return [_page(system, made, relief, paper, zone) for zone in system.plan.zones]


def _page(
    system: FieldSystem, made: dict[str, Table], relief: Relief, paper: Paper, zone: Zone
) -> Page:
    rows = [k for k, row in enumerate(made["joined.csv"].rows) if row[1] == zone.name]
    table = picked(
        made["joined.csv"],
        "Joined laterals",
        {
            "joined": "joined", "laterals": "laterals", "length": "length", "blank": "blank",
            "emitters": "emit-\nters",
        },
        rows=rows,
    )  # fmt: skip

    def draw(axes: Any, room: Rectangle) -> None:
        left, low, width, height = room
        setting = PaperTable(table, Look(8.0, 1.5, 6.0, lines=4), min(250.0, 0.36 * width))
        map_width = width - setting.width - _GUTTER
        rectangle = (left, low + STRIP_HEIGHT, map_width, height - STRIP_HEIGHT)
        unit = system.design.site.unit
        frame = fit_frame(unit, _shown(zone, system).convex_hull, rectangle, _BORDER)
        unnamed = ZoneMap(axes, frame, system, relief, zone.name).draw()
        box(axes, rectangle)
        north_arrow(axes, left + 16.0, low + 0.5 * STRIP_HEIGHT - 5.0, frame.turn)
        scale_bar(axes, frame, paper, unit, left + 44.0, low)
        at, top = left + map_width + _GUTTER, low + height
        write_text(axes, at, top - 9.0, table.title, 9.0, bold=True)
        blocks = setting.blocks(0, (setting.width, height - 60.0), 1)
        bottom = setting.draw(axes, blocks, at, top - 13.0)
        notes = [
            "Laterals are named in the order of flow; blank tubing is dotted and has no emitters. "
            "AR: air and vacuum release, see their list.",
        ]
        if unnamed:
            notes.append(f"No room on the map for {', '.join(unnamed)}.")
        y = bottom - 14.0
        for note in notes:
            for line in wrap(note, setting.width, 8.0, 6):
                write_text(axes, at, y, line, 8.0)
                y -= 10.5

    return Page(f"Zone {zone.name}", paper, draw)


def _shown(zone: Zone, system: FieldSystem) -> BaseGeometry:
    parts = [zone_ground(system, zone)]
    for manifold in (zone.supply, zone.return_):
        if manifold is not None:
            parts += [shapely.linestrings(pipe.xyz[:, :2]) for pipe in manifold.pipes]
    return shapely.union_all(parts)
