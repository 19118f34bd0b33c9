"""An enclosure on its stacks of blocks, from undisturbed soil to its lid."""

from __future__ import annotations

from typing import Any

from dripfield.core.units import Unit
from dripfield.preparation.enclosure import EnclosureHeights
from dripfield.sheets.kit.style import INK, PALE, PAPER_WHITE, PENS, WASH, write_text
from dripfield.sheets.preparation.levels import Label, ground_line, write_labels
from dripfield.sheets.preparation.sheet import Rectangle
from dripfield.site.schema.preparation import EnclosureTable

_LABELS = 122.0  # [pt]


def draw_enclosure(
    axes: Any, table: EnclosureTable, heights: EnclosureHeights, unit: Unit, rectangle: Rectangle
) -> None:
    """Draw an enclosure to one scale with its elevations beside it.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    table : EnclosureTable
    heights : EnclosureHeights
    unit : Unit
    rectangle : (left, low, width, height)
        [pt]
    """
    left, low, width, height = rectangle
    inner = (left, left + width - _LABELS - 14.0)
    stone = table.stands_on + unit.from_small(table.stone)
    base = heights.lid - unit.from_small(table.height)
    across = unit.from_small(table.length) if table.length else unit.from_small(table.height) * 1.3
    bottom = table.stands_on - 0.12 * (heights.lid - table.stands_on)
    high = max(heights.lid, table.grade)
    room = inner[1] - inner[0] - 90.0
    scale = min(room / across, (height - 26.0) / (high - bottom))
    x = 0.5 * (inner[0] + inner[1])
    half = 0.5 * scale * across

    def y(elevation: float) -> float:
        return low + 18.0 + scale * (elevation - bottom)

    def box(a: float, b: float, u: float, v: float, face: str) -> None:
        axes.fill([a, b, b, a], [u, u, v, v], fc=face, ec=INK, lw=PENS["medium"], zorder=2)

    axes.plot([x - half - 12.0, x + half + 12.0], [y(table.stands_on)] * 2, color=INK, lw=0.8)
    if table.stone:
        box(x - half - 6.0, x + half + 6.0, y(table.stands_on), y(stone), PALE)
    block = min(0.3 * half, scale * unit.from_small(400.0 if unit.is_metric else 16.0))
    at = stone
    for size, count in heights.blocks:
        for _ in range(count):
            up = at + unit.from_small(size)
            for centre in (x - half + block, x + half - block):
                box(centre - block, centre + block, y(at), y(up), WASH)
            at = up
    box(x - half, x + half, y(base), y(heights.lid), PAPER_WHITE)
    write_text(axes, x, 0.5 * (y(base) + y(heights.lid)) - 3.0, table.name, 8.5, ha="center")
    axes.plot([x - half - 4.0, x + half + 4.0], [y(heights.lid)] * 2, color=INK, lw=3.0)
    ground_line(axes, inner[0], x - half - 6.0, y(table.grade))
    ground_line(axes, x + half + 6.0, inner[1], y(table.grade))
    places, short = unit.places, unit.short
    labels = [
        Label(y(value), f"{name} {value:.{places}f} {short}", bold)
        for name, value, bold in (
            ("finished grade", table.grade, True),
            ("lid", heights.lid, False),
            ("its base", base, False),
            ("top of stone", stone if table.stone else None, False),
            ("undisturbed soil", table.stands_on, False),
        )
        if value is not None
    ]
    for one in labels:
        axes.plot([x + half, inner[1]], [one.y] * 2, color=INK, lw=0.3, ls=(0, (1, 3)), zorder=1)
    write_labels(
        axes, labels, inner[1], (left + width - _LABELS, low + 12.0, left + width, low + height)
    )
