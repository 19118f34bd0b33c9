"""The coil plan as bars: each coil with the pieces cut from it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.core.words import counted
from dripfield.preparation.coils import Coil, CoilPlan
from dripfield.preparation.prepared import Prepared
from dripfield.sheets.kit.style import (
    INK,
    PAPER_WHITE,
    PENS,
    WASH,
    Paper,
    shorten,
    text_width,
    write_text,
)
from dripfield.sheets.preparation.sheet import (
    Drawing,
    Page,
    Rectangle,
    body,
    notes_height,
    table_pages,
    write_notes,
)
from dripfield.sheets.preparation.tables import coils_sheet

_ROW = 34.0  # [pt]
_BAR = 20.0
_HEAD = 18.0  # over the coils of one kind
_TYPE = 8.0


def coil_pages(found: Prepared, paper: Paper) -> list[Page]:
    """Coils as bars, then every piece in a table; nothing without tubing."""
    unit = found.design.site.unit.short
    takeoff = found.preparation.takeoff
    kinds = (("Tubing with emitters", takeoff.coils), ("Blank tubing", takeoff.blank_coils))
    known = [(name, plan) for name, plan in kinds if plan is not None]
    if not known:
        return []
    notes = [
        "Cut in this order and lay from the top down. Lengths are with both tails and waste."
        " Grey: what is left of a coil."
    ]
    _, _, width, height = body(paper, ())
    most = max(1, int((height - notes_height(notes, width) - 2 * _HEAD) / _ROW))
    rows = [(name, plan, coil) for name, plan in known for coil in plan.coils]
    pages = []
    for first in range(0, len(rows), most):
        title = "Coil plan" if first == 0 else "Coil plan, continued"
        drawing = _drawing(rows[first : first + most], notes if first == 0 else [], unit)
        pages.append(Page(title, (), drawing))
    return [*pages, *table_pages(coils_sheet(found), paper, (), lines=1)]


def _drawing(
    rows: Sequence[tuple[str, CoilPlan, Coil]], notes: Sequence[str], unit: str
) -> Drawing:
    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        y = write_notes(axes, notes, left, low + height, width) - 4.0
        before = ""
        for name, plan, coil in rows:
            if name != before:
                y -= _HEAD
                words = (
                    f"{name}: {counted(len(plan.coils), 'coil')}, {plan.bought:,.0f} {unit} for"
                    f" {plan.length:,.1f} {unit} cut, {counted(plan.splices, 'splice')}"
                    f" ({plan.quality})"
                )
                write_text(
                    axes, left, y + 5.0, shorten(words, width, 9.0, bold=True), 9.0, bold=True
                )
                before = name
            largest = max(one.size for one in plan.coils)
            _coil(axes, coil, left, y, (width - 92.0) / largest, unit)
            y -= _ROW

    return draw


def _coil(axes: Any, coil: Coil, left: float, top: float, scale: float, unit: str) -> None:
    low = top - _BAR
    write_text(axes, left, low + 7.0, f"coil {coil.number}", 9.0, bold=True)
    write_text(axes, left + 84.0, low + 7.0, f"{coil.size:g} {unit}", _TYPE, ha="right")
    x = left + 92.0
    sides = [low, low, top, top]
    for piece in coil.pieces:
        wide = piece.length * scale
        axes.fill([x, x + wide, x + wide, x], sides, fc=PAPER_WHITE, ec=INK, lw=PENS["thin"])
        full = f"{piece.name} {piece.length:.1f}"
        label = full if text_width(full, _TYPE) <= wide - 3.0 else piece.name
        if text_width(label, _TYPE) <= wide - 3.0:
            write_text(axes, x + 0.5 * wide, low + 7.0, label, _TYPE, ha="center")
        x += wide
    if coil.left > 1e-6:
        wide = coil.left * scale
        axes.fill([x, x + wide, x + wide, x], sides, fc=WASH, ec=INK, lw=PENS["thin"])
        label = f"{coil.left:.1f} left"
        if text_width(label, _TYPE) <= wide - 3.0:
            write_text(axes, x + 0.5 * wide, low + 7.0, label, _TYPE, ha="center")
