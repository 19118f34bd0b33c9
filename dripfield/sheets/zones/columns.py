"""Columns of a file's table as a sheet shows them: fewer, with headings and units."""

from __future__ import annotations

from dataclasses import replace

from dripfield.core.table import Cell, Column, Figure, Table

_UNIT_OF = {
    "unit": "tubing length blank longest elevation width elevation_min elevation_max northing "
    "easting",
    "flow_unit": "dose_flow flush_flow flush_nominal flow flow_in flow_out",
    "head_unit": "head throttle other_loss head_lost",
    "pressure_unit": "pressure_in pressure_out pressure_least pressure_most",
    "velocity_unit": "velocity velocity_out",
    "emitter_unit": "emitter_least emitter_most emission",
    "bore_unit": "bore",
    "volume_unit": "volume daily dose pumped drain_back flush_returned",
    "time_unit": "fill run rest flush_time",
    "small_unit": "draw_down entered least",
}
_KEY_OF = {key: unit for unit, keys in _UNIT_OF.items() for key in keys.split()}
_PLACES = {
    "tubing": 1, "length": 1, "blank": 1, "area": 0, "share": 3, "dose_flow": 2, "flush_flow": 1,
    "flow": 2, "head": 1, "throttle": 1, "other_loss": 1, "flow_in": 2, "flow_out": 2,
    "pressure_in": 1, "pressure_out": 1, "pressure_least": 1, "pressure_most": 1,
    "velocity_out": 2, "velocity": 2, "emitter_least": 3, "emitter_most": 3, "head_lost": 2,
    "elevation_min": 2, "elevation_max": 2, "lowest_over_mean": 2, "greatest_over_mean": 2,
    "lowest_by_head": 2, "greatest_by_head": 2,
    "daily": 0, "dose": 0, "pumped": 0, "drain_back": 1, "multiple": 1, "fill": 1, "run": 1,
    "rest": 0, "pressurised": 2, "flush_time": 1, "flush_returned": 0, "received_over_mean": 2,
    "expected": 2, "least": 2, "most": 2, "change": 3, "longest": 0, "flush_nominal": 1,
}  # fmt: skip
_MOST = {"requirement": 30, "value": 22, "limit": 22, "source": 24}  # letters


def picked(
    table: Table,
    title: str,
    heads: dict[str, str],
    *,
    notes: tuple[str, ...] = (),
    wide: str = "",
    group: str = "",
    rows: list[int] | None = None,
) -> Table:
    """Some columns of a table for a sheet, each with a heading and its unit.

    Parameters
    ----------
    table : Table
    title : str
    heads : dict of str to str
        Heading of each key that is kept, in order.
    notes : tuple of str
    wide : str
        Key of the column that takes the width that is left.
    group : str
        Key where a change is ruled off.
    rows : list of int, optional
        The rows that are kept; all unless given.

    Returns
    -------
    Table
    """
    keys = table.keys
    kept = list(range(len(table.rows))) if rows is None else rows
    first = dict(zip(keys, table.rows[0], strict=True)) if table.rows else {}

    def unit(key: str) -> str:
        name = str(first.get("unit", ""))
        if key == "area":
            return f"{name}2" if name else ""
        return str(first.get(_KEY_OF.get(key, "-"), ""))

    columns: list[Column] = [
        replace(
            table.columns[keys.index(key)],
            head=head,
            unit=unit(key),
            wide=key == wide,
            most=200 if key == wide else _MOST.get(key, 60),
        )
        for key, head in heads.items()
    ]
    body = [[_shown(key, table.rows[row][keys.index(key)]) for key in heads] for row in kept]
    groups = [table.rows[row][keys.index(group)] for row in kept] if group else ()
    return Table(columns, body, title, notes, groups=[str(one) for one in groups])


def _shown(key: str, cell: Cell) -> Cell:
    """A figure with no more decimals than a sheet needs."""
    places = _PLACES.get(key)
    if isinstance(cell, Figure) and places is not None:
        return Figure(cell.value, min(places, cell.places))
    return cell
