"""``layout.json``: a layout's figures, and its lines to their last digit, to be read back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from dripfield.core.json_text import to_json
from dripfield.design.layout_file import record_of
from dripfield.design.model import Design


def layout_content(design: Design) -> dict[str, Any]:
    """What ``layout.json`` holds.

    Parameters
    ----------
    design : Design

    Returns
    -------
    dict
        Figures in the site's unit, ``flow`` in ``flow_unit``; ``emitters`` and ``flow`` are None
        where the site does not give them. ``lines`` are the laterals as they are drawn, with
        vertices as (northing, easting); ``panels`` have totals and outline.
    """
    measured, totals, unit = design.measured, design.totals, design.site.unit
    record = record_of(design.layout)
    outlines = {one["panel"]: one["outline"] for one in record.pop("panels")}
    panels = [
        {
            "panel": one.panel,
            "laterals": one.laterals,
            "tubing": one.tubing,
            "shortest": one.shortest,
            "longest": one.longest,
            "emitters": one.emitters,
            "outline": outlines.pop(one.panel, []),
        }
        for one in totals.panels
    ]
    return {
        "name": design.site.name,
        "code": design.code,
        "unit": unit.value,
        "merit": measured.merit,
        "coverage": measured.coverage,
        "share_level": measured.share_level,
        "share_spaced": measured.share_spaced,
        "served_area": measured.served_area,
        "tubing": totals.tubing,
        "connections": totals.connections,
        "shortest": totals.shortest,
        "longest": totals.longest,
        "emitters": totals.emitters,
        "flow": totals.flow,
        "flow_unit": "L/min" if unit.is_metric else "gal/min",
        "missed_level": measured.missed_level,
        "missed_spacing": measured.missed_spacing,
        "panels": panels,
        "bare": [
            {
                "area": one.area.area,
                "northing": one.area.representative_point().y,
                "easting": one.area.representative_point().x,
                "reason": one.reason,
            }
            for one in measured.bare
        ],
        "options": [
            {
                "panels": one.panels,
                "merit": one.merit,
                "connections": one.laterals,
                "tubing": one.tubing,
                "mean": one.mean,
                "shortest": one.shortest,
                "chosen": one.chosen,
            }
            for one in design.layout.options
        ],
        **record,
    }


def write_layout_json(path: Path, design: Design) -> None:
    """Write :func:`layout_content`; the same design gives the same bytes."""
    path.write_text(to_json(layout_content(design)), encoding="utf-8")
