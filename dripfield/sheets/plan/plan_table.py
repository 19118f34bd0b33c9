"""The lateral table beside a plan, in the largest type with which it fits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dripfield.core.units import Unit
from dripfield.measures.field import Measured
from dripfield.sheets.kit.lateral_tables import lateral_table
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.style import write_text

TYPE_SIZES = (8.0, 7.5, 7.0, 6.5, 6.0)
_LEADING = 1.42  # row height over type size
_NOTE = 1.5  # height of the line that says what is left out, over type size


@dataclass(frozen=True)
class PlanTable:
    """A table that has found its size.

    Attributes
    ----------
    setting : PaperTable
    blocks : tuple of range
        Rows of each of its columns.
    """

    setting: PaperTable
    blocks: tuple[range, ...]

    @property
    def size(self) -> float:
        """Type size [pt]."""
        return self.setting.look.size

    @property
    def columns(self) -> int:
        """Blocks side by side."""
        return max(len(self.blocks), 1)

    @property
    def left_out(self) -> int:
        """Rows at the end for which there is no room."""
        shown = self.blocks[-1].stop if self.blocks else 0
        return len(self.setting.table.rows) - shown

    @property
    def width(self) -> float:
        """Width of the whole table [pt]."""
        return self.setting.width_of(self.columns)

    def draw(self, axes: Any, left: float, top: float) -> None:
        """Draw it on axes in points from its upper left corner."""
        low = self.setting.draw(axes, self.blocks or (range(0),), left, top)
        if self.left_out:
            words = f"and {self.left_out} more: see laterals.csv"
            write_text(axes, left, low - 0.9 * _NOTE * self.size, words, self.size, bold=True)


def fit_table(
    measured: Measured, unit: Unit, height: float, columns: int, type_scale: float = 1.0
) -> PlanTable:
    """Find the largest type with which all laterals fit a height in so many columns.

    Parameters
    ----------
    measured : Measured
    unit : Unit
    height : float
        [pt]
    columns : int
        Rows that do not fit in so many columns of the smallest type are left out and counted.
    type_scale : float
        Of the largest type.

    Returns
    -------
    PlanTable
    """
    table = lateral_table(measured, unit)
    wide = float("inf")
    for size in (TYPE_SIZES[0] * type_scale, 0.5 * (1.0 + type_scale) * TYPE_SIZES[0], *TYPE_SIZES):
        setting = PaperTable(table, Look(size, _LEADING, gap=7.0, between=14.0))
        found = PlanTable(setting, setting.blocks(0, (wide, height), columns))
        if not found.left_out:
            return found
    room = (wide, height - _NOTE * size)
    return PlanTable(setting, setting.blocks(0, room, columns))
