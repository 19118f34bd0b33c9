"""Point clouds thinned to the bed: one ground point a grid cell, in bounded memory.

Files are read in chunks; only points in the bed's box and a margin stay. Points classed as ground
(class 2 of the LAS specification) are used where there are any, the one of median height in each
cell; without classes the lowest of each cell, since what stands on the ground only rises above it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, BinaryIO, Literal

import numpy as np
from shapely import Polygon

from dripfield.core.arrays import Bools, Floats
from dripfield.core.crs import parse_crs, unit_of
from dripfield.core.errors import damage_named, input_error
from dripfield.core.limits import FARTHEST, check_places
from dripfield.core.units import Unit
from dripfield.formats.signature import kind_from_content
from dripfield.formats.table import Chunk, Table, split_first
from dripfield.site.schema.key import setting
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.delimited import find_columns
from dripfield.survey.read.las_header import LasHeader, check_las
from dripfield.survey.read.laz import decoded
from dripfield.survey.shots import Survey

CHUNK = 500_000
MOST_KEPT = 20_000_000
"""Points kept in the box before thinning: 29 bytes each, twice while they are joined."""
MOST_CELLS = 250_000
_GROUND = 2

Box = tuple[float, float, float, float]
Piece = tuple[Floats, Bools]
"""Easting, northing, elevation (n, 3), and whether each point is classed as ground."""


@dataclass(frozen=True)
class Thinned:
    """What is left of a cloud: points (n, 3), the cell used, and how each cell's was chosen."""

    xyz: Floats
    cell: float
    chosen: Literal["median ground", "lowest"]
    read: int
    kept: int


def thin(pieces: Iterator[Piece], box: Box, cell: float, path: Path) -> Thinned:
    """Thin a cloud to one point a cell.

    Parameters
    ----------
    pieces : iterator of ((n, 3) float array, (n,) bool array)
        Points and whether they are classed as ground [site unit].
    box : (west, south, east, north)
        What to keep.
    cell : float
        Side of a square cell; made larger where the box would hold more than 250,000.
    path : Path
        For messages.

    Returns
    -------
    Thinned
        Points that are in the cloud, not averages, row of cells by row from the south-west.

    Raises
    ------
    InputError
        No point in the box, or more than 20,000,000.
    """
    west, south, east, north = box
    cell = max(cell, float(np.sqrt((east - west) * (north - south) / MOST_CELLS)))
    columns = int((east - west) / cell) + 1
    corner = np.array((west, south))
    places, numbers, grounds = [], [], []
    read = kept = 0
    for xyz, ground in pieces:
        read += len(xyz)
        x, y = xyz[:, 0], xyz[:, 1]
        inside = (x >= west) & (x <= east) & (y >= south) & (y <= north)
        if not inside.any():
            continue
        near = xyz[inside]
        place = ((near[:, :2] - corner) / cell).astype(np.int64)
        places.append(near)
        numbers.append(place[:, 1] * columns + place[:, 0])
        grounds.append(ground[inside])
        kept += len(near)
        if kept > MOST_KEPT:
            raise input_error(
                f"more than {MOST_KEPT / 1e6:.0f} million points lie around the bed",
                "thin the cloud first",
                file=path,
            )
    if not kept:
        raise input_error(
            f"none of its {read:,} points lies around the bed (northing {south:.0f} to "
            f"{north:.0f}, easting {west:.0f} to {east:.0f})",
            "check the cloud's coordinates and the order of its columns",
            file=path,
        )
    is_ground = np.concatenate(grounds)
    classed = bool(is_ground.any())
    if classed:
        places = [place[ground] for place, ground in zip(places, grounds, strict=True)]
        numbers = [number[ground] for number, ground in zip(numbers, grounds, strict=True)]
    xyz, number = np.concatenate(places), np.concatenate(numbers)
    order = np.lexsort((xyz[:, 2], number))
    number = number[order]
    first = np.flatnonzero(np.append(True, np.diff(number) != 0))
    count = np.diff(np.append(first, len(number)))
    pick = order[first + (count - 1) // 2 if classed else first]
    return Thinned(xyz[pick], cell, "median ground" if classed else "lowest", read, kept)


def read_cloud(
    path: Path, options: SurveyTable, unit: Unit, crs: str | None, around: Polygon | None
) -> Survey:
    """Read a LAS or LAZ file, or a large text file of points, thinned to the bed.

    Parameters
    ----------
    path : Path
    options : SurveyTable
        ``cell``, else 2 ft or 0.6 m; ``order`` for text.
    unit : Unit
        The site's, and the cloud's.
    crs : str or None
        The site's; a LAS file that names another is refused.
    around : Polygon or None
        The bed: points in its box and a margin of a fifth of it (five cells at least) are kept;
        all points where None.

    Returns
    -------
    Survey
        Points named after their order; a note says how they were chosen.

    Raises
    ------
    InputError
        Another system or unit, ``laspy`` or a LAZ decoder not installed, a damaged file, no point
        around the bed.
    """
    cell = setting(options, "cell", unit)
    with path.open("rb") as stream:
        is_las = kind_from_content(stream.read(64)) == "a LAS point cloud"
    if is_las:
        header = check_las(path)
        with path.open("rb") as stream:
            reader = _open_las(path, stream)
            _check_las_system(reader, path, unit, crs)
            box = _box(around, cell) or _las_box(reader, path)
            thinned = thin(_las_pieces(reader, header, path), box, cell, path)
    else:
        box = _box(around, cell) or _text_box(path, options, unit)
        thinned = thin(_text_pieces(path, options, unit), box, cell, path)
    n = len(thinned.xyz)
    wider = "" if thinned.cell == cell else f" (not {cell:g}: too many cells)"
    note = (
        f"{path.name}: {thinned.read:,} points, {thinned.kept:,} around the bed, thinned to {n:,}: "
        f"the {thinned.chosen} point of each {thinned.cell:.3g} {unit.short} cell{wider}"
    )
    names = tuple(map(str, range(1, n + 1)))
    return Survey(thinned.xyz, names, ("",) * n, np.arange(1, n + 1), path, notes=(note,))


def _box(around: Polygon | None, cell: float) -> Box | None:
    if around is None:
        return None
    west, south, east, north = around.bounds
    margin = max(5 * cell, 0.2 * max(east - west, north - south))
    return west - margin, south - margin, east + margin, north + margin


def _open_las(path: Path, stream: BinaryIO) -> Any:
    try:
        import laspy
    except ImportError:
        raise input_error(
            "reading LAS files needs the extra 'cloud'",
            'run: pip install "dripfield[cloud]"',
            file=path,
        ) from None
    try:
        return laspy.open(stream, closefd=False)
    except Exception:  # damaged: MemoryError too, for what a count asks for
        raise _damaged(path) from None


def _damaged(path: Path) -> Exception:
    return input_error("the LAS file is damaged or cut short", "export it again", file=path)


def _check_las_system(reader: Any, path: Path, unit: Unit, crs: str | None) -> None:
    """Refuse a cloud in another system than the site's, where both are named."""
    try:
        found = reader.header.parse_crs()
    except Exception:  # a record that names no system, in any of many ways
        found = None
    if found is None:
        return
    own = unit_of(found)
    if own is not unit:
        spelt = own.label if own is not None else found.axis_info[0].unit_name
        raise input_error(
            f"the cloud is in {spelt} ({found.name}) and the site in {unit.label}",
            "carry the cloud into the site's system first",
            file=path,
        )
    if crs is not None:
        site = parse_crs(crs, "[site] crs")
        plan = found.sub_crs_list[0] if found.is_compound else found
        if not plan.equals(site, ignore_axis_order=True) and plan.name != site.name:
            raise input_error(
                f"the cloud is in {plan.name} and the site in {site.name}",
                "carry the cloud into the site's system first",
                file=path,
            )


def _las_pieces(reader: Any, header: LasHeader, path: Path) -> Iterator[Piece]:
    import laspy

    if reader.header.are_points_compressed and not laspy.LazBackend.detect_available():
        raise input_error(
            "its points are compressed (LAZ) and no decoder is installed",
            'run: pip install "laspy[lazrs]", or export it as LAS',
            file=path,
        )
    if header.compressed:
        pieces = decoded(path, header.points, CHUNK)
    else:
        pieces = _plain_pieces(reader, path)
    read = 0
    for xyz, ground in pieces:
        check_places(xyz, path)
        read += len(xyz)
        yield xyz, ground
    if read < header.points:
        raise input_error(
            f"it stops after {read:,} of {header.points:,} points",
            "copy or export it again",
            file=path,
        )


def _plain_pieces(reader: Any, path: Path) -> Iterator[Piece]:
    points = iter(reader.chunk_iterator(CHUNK))
    while True:
        with damage_named(path, "the LAS file"):
            piece = next(points, None)
            if piece is None:
                return
            xyz = np.column_stack((piece.x, piece.y, piece.z))
            ground = np.asarray(piece.classification) == _GROUND
        yield xyz, ground


def _las_box(reader: Any, path: Path) -> Box:
    (west, south, _), (east, north, _) = reader.header.mins, reader.header.maxs
    if not (-FARTHEST < west <= east < FARTHEST and -FARTHEST < south <= north < FARTHEST):
        raise _damaged(path)
    return float(west), float(south), float(east), float(north)


def _text_box(path: Path, options: SurveyTable, unit: Unit) -> Box:
    """Extent of all points of a text file."""
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    for xyz, _ in _text_pieces(path, options, unit):
        low, high = np.minimum(low, xyz.min(axis=0)), np.maximum(high, xyz.max(axis=0))
    return low[0], low[1], high[0], high[1]


def _text_pieces(path: Path, options: SurveyTable, unit: Unit) -> Iterator[Piece]:
    """Points of a text file, some 500,000 rows at a time."""
    with path.open(encoding="utf-8-sig", errors="replace") as stream:
        head = [next(stream, "").rstrip("\n") for _ in range(20)]
        table = split_first(path, head, options.decimal)
        columns, header, _ = find_columns(table, options, unit)
        stream.seek(0)
        after = table.first_row if header else table.first_row - 1
        for _ in range(after):
            next(stream, None)
        use = [columns[role] for role in ("easting", "northing", "elevation")]
        while lines := list(islice(stream, CHUNK)):
            xyz = _numbers(table, lines, use, after)
            after += len(lines)
            if len(xyz):
                yield xyz, np.zeros(len(xyz), dtype=bool)


def _numbers(table: Table, lines: list[str], use: list[int], after: int) -> Floats:
    """Chosen columns of some lines; the careful way only to name the row that cannot be read."""
    if all(line.isspace() for line in lines[:1000]):
        return np.empty((0, 3))
    try:
        if table.decimal == ".":
            xyz: Floats = np.loadtxt(
                lines, delimiter=table.delimiter, usecols=use, comments="#", ndmin=2
            )
            if np.isfinite(xyz).all():
                return xyz
    except ValueError:
        pass
    fields = [line.rstrip("\n").split(table.delimiter) for line in lines]
    rows = [i for i, row in enumerate(fields) if any(f.strip() for f in row) and row[0][:1] != "#"]
    chunk = Chunk([fields[i] for i in rows], np.array(rows, dtype=np.int64) + after + 1)
    names = ("easting", "northing", "elevation")
    return np.column_stack(
        [table.numbers(chunk, column, name) for column, name in zip(use, names, strict=True)]
    )
