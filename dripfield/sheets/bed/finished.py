"""The finished grade for the machine and the stakes: toe and shoulder, 3D faces, earth balance."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from dripfield.bed.balance import BalanceRow
from dripfield.bed.materials import STRIPPED
from dripfield.bed.toe import GradeLine
from dripfield.core.table import Table, figures, text
from dripfield.core.units import Unit
from dripfield.core.words import COORDINATE_PLACES
from dripfield.ground.triangles.tin import Surface
from dripfield.sheets.kit.dxf_document import GREY, Layer, new_drawing, save_drawing

FINISHED_LAYERS = {
    "C-TOPO-FACE": Layer("faces of the finished grade", width=13, colour=GREY),
    "C-TOPO-TOE": Layer("toe: where the finished grade meets existing ground", width=35),
    "C-TOPO-SHLD": Layer("shoulder's edge", width=25, linetype="DASHED"),
}
_LINE_LAYERS = {"toe": "C-TOPO-TOE", "shoulder": "C-TOPO-SHLD"}
_LETTERS = {"toe": "T", "shoulder": "S"}


def toe_file(lines: Sequence[GradeLine], unit: Unit) -> Table:
    """``toe.csv``: toe stakes T1 …, then shoulder stakes S1 …, in order along each line.

    The description names the line and, where there are several rings of it, the ring.
    """
    columns = (
        *(text("point"), figures("northing", COORDINATE_PLACES)),
        *(figures("easting", COORDINATE_PLACES), figures("elevation", unit.places + 1)),
        text("description"),
    )
    rows = []
    count = dict.fromkeys(_LETTERS, 0)
    for line in lines:
        rings = sum(other.kind == line.kind for other in lines)
        description = line.kind if rings == 1 else f"{line.kind} ring {line.ring}"
        for x, y, z in line.xyz.tolist():
            count[line.kind] += 1
            rows.append((f"{_LETTERS[line.kind]}{count[line.kind]}", y, x, z, description))
    return Table(columns, rows, "Toe and shoulder")


def write_finished_dxf(
    path: Path, surface: Surface, lines: Sequence[GradeLine], unit: Unit
) -> None:
    """Write ``finished.dxf``: a 3D face a triangle of the finished grade, toe and shoulder.

    Parameters
    ----------
    path : Path
    surface : Surface
        The finished grade from daylight line to daylight line.
    lines : sequence of GradeLine
    unit : Unit
    """
    low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    size = float(np.max((high - low)[:2]))
    document = new_drawing(unit, FINISHED_LAYERS, size / 8.0)
    space = document.modelspace()
    for corners in surface.vertices[surface.triangles].tolist():
        space.add_3dface([*corners, corners[2]], dxfattribs={"layer": "C-TOPO-FACE"})
    for line in lines:
        space.add_polyline3d(
            line.xyz.tolist(), close=True, dxfattribs={"layer": _LINE_LAYERS[line.kind]}
        )
    space.reset_extents(low.tolist(), high.tolist())
    middle = 0.5 * (low + high)
    document.set_modelspace_vport(height=1.1 * size, center=(float(middle[0]), float(middle[1])))
    save_drawing(document, path)


def earth_file(balance: Sequence[BalanceRow], unit: Unit) -> Table:
    """``earth.csv``: what is stripped and used again, what is brought and taken away.

    Volumes of stripped soil are in the bank, of other materials in place, but for ``loose``.
    """
    columns = (
        *(text("material"), figures("wanted", 2), figures("from_site", 2), figures("rest", 2)),
        *(text("rest_is"), figures("waste", 2), figures("to_order", 2), figures("loose", 2)),
        *(figures("truck_loads", 0), figures("tonnes", 2), text("unit")),
    )
    rows = [
        (
            *(row.material, row.wanted, row.from_site, row.rest),
            "to take away" if row.material == STRIPPED else "to bring",
            *(row.waste, row.to_order, row.loose, row.loads, row.tonnes, f"{unit.value}3"),
        )
        for row in balance
    ]
    return Table(columns, rows, "Earth balance")
