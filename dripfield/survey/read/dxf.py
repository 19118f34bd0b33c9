"""A survey out of a DXF drawing: points, spot texts, 3D polylines, 3D faces.

``ezdxf`` parses the file. A shot is a POINT, an INSERT of a symbol (a block without points of its
own), or, where the drawing has neither, a TEXT or MTEXT that reads as an elevation. Blocks that
hold points are taken apart, however deep.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import damage_named, input_error
from dripfield.core.limits import check_places
from dripfield.core.units import Unit
from dripfield.formats.drawing import check_layer, check_unit, layer_of, open_dxf, same_layer
from dripfield.formats.table import ROLES, plain_name
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.faces import corners_as_shots, faces_on_shots
from dripfield.survey.shots import Survey

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_ELEVATION = re.compile(
    r"^(?:EL(?:EV)?\.?[\s:=]*)?([+-]?\d+(\.\d+)?)\s*(?:'|ft|m)?$", re.IGNORECASE
)


def read_dxf(path: Path, options: SurveyTable, unit: Unit) -> Survey:
    """Read the shots, breaklines, voids and faces of a drawing.

    Parameters
    ----------
    path : Path
        ASCII or binary DXF.
    options : SurveyTable
        ``points_layer`` limits shots, texts and faces to a layer; ``breakline_layer`` limits
        breaklines to a layer, and lets level polylines and lines on it count as breaklines;
        ``void_layer`` names the layer of rings inside which the survey says nothing.
    unit : Unit
        The site's; the drawing's own ``$INSUNITS`` must agree where it is set.

    Returns
    -------
    Survey
        ``rows`` number the shots as the drawing lists them, from 1.

    Raises
    ------
    InputError
        Not a DXF file, damaged or cut short, another unit, an unknown layer, nothing with an
        elevation in it, or 3D faces that do not stand on the points.
    """
    drawing = open_dxf(path)
    with damage_named(path, "an entity of the drawing"):
        return _read(drawing, path, options, unit)


def _read(drawing: Drawing, path: Path, options: SurveyTable, unit: Unit) -> Survey:
    notes = check_unit(drawing, path, unit)
    _check_layers(drawing, path, options)
    placeless = 0
    shots, texts, lines, rings, faces = [], [], [], [], []
    held: Counter[str] = Counter()
    for entity in _pieces(drawing.modelspace(), {}):
        kind = entity.dxftype()
        held[kind] += 1
        layer = layer_of(entity)
        on_points = options.points_layer is None or same_layer(layer, options.points_layer)
        on_lines = options.breakline_layer is not None and same_layer(
            layer, options.breakline_layer
        )
        if options.void_layer is not None and same_layer(layer, options.void_layer):
            ring = _vertices(entity)
            if ring is not None and len(ring) >= 3:
                rings.append(ring[:, :2])
        elif kind in ("POINT", "INSERT") and on_points:
            if not entity.dxf.hasattr("location" if kind == "POINT" else "insert"):
                placeless += 1
                continue
            shots.append(_shot(entity))
        elif kind in ("TEXT", "MTEXT") and on_points:
            texts.append(entity)
        elif kind == "3DFACE" and on_points:
            corners = _corners(entity)
            placeless += corners is None
            if corners is not None:
                faces.append(corners)
        elif on_lines or (kind == "POLYLINE" and options.breakline_layer is None):
            line = _vertices(entity) if on_lines or entity.is_3d_polyline else None
            if line is not None and len(line) >= 2:
                lines.append(line)
    if placeless:
        notes.append(f"{path.name}: {placeless} entities without a place were passed over")
    if not shots and not faces:
        shots = _spot_texts(texts, options.points_layer is not None)
    elif any(_ELEVATION.match(_text(entity)) for entity in texts):
        notes.append(f"{path.name}: texts were taken as labels, since the drawing has points")
    if not shots and not faces and not lines:
        raise _nothing(path, held, options)
    if not shots and not faces:  # level lines drawn in space: their vertices are the shots
        vertices = np.unique(np.concatenate(lines), axis=0)
        shots = [(vertex, "", "") for vertex in vertices]
    xyz = np.array([place for place, _, _ in shots], dtype=np.float64).reshape(-1, 3)
    names = [name or str(i) for i, (_, name, _) in enumerate(shots, 1)]
    descriptions = [description for _, _, description in shots]
    check_places(xyz, path)
    for line in (*lines, *rings):
        check_places(line, path, "vertex")
    triangles = None
    if faces:
        corners = np.concatenate(faces)
        check_places(corners.reshape(-1, 3), path, "face corner")
        if not shots:
            xyz, triangles = corners_as_shots(corners)
            names = [str(i) for i in range(1, len(xyz) + 1)]
            descriptions = [""] * len(xyz)
        else:
            triangles = faces_on_shots(corners, xyz, path)
    return Survey(
        xyz=xyz,
        names=tuple(names),
        descriptions=tuple(descriptions),
        rows=np.arange(1, len(xyz) + 1),
        source=path,
        breaklines=tuple(lines),
        voids=tuple(rings),
        faces=triangles,
        notes=tuple(notes),
    )


def _check_layers(drawing: Drawing, path: Path, options: SurveyTable) -> None:
    for key in ("points_layer", "breakline_layer", "void_layer"):
        wanted = getattr(options, key)
        if wanted is not None:
            check_layer(drawing, path, wanted, f"[survey] {key}")


def _pieces(space: Any, holds: dict[str, bool]) -> Iterator[Any]:
    """Every entity, blocks that hold points taken apart; ``holds`` remembers which do."""
    for entity in space:
        if entity.dxftype() != "INSERT" or entity.attribs or not _holds_points(entity, holds):
            yield entity
            continue
        for copy in entity.multi_insert() if entity.mcount > 1 else [entity]:
            yield from _pieces(copy.virtual_entities(), holds)


def _holds_points(insert: Any, holds: dict[str, bool]) -> bool:
    """True where a block, or one inside it, holds what a survey is made of.

    How deep blocks lie was looked at when the drawing was opened.
    """
    name = str(insert.dxf.get("name", "")).casefold()
    if name not in holds:
        block = insert.block() if name else None
        holds[name] = any(_is_surveyed(entity, holds) for entity in block or ())
    return holds[name]


def _is_surveyed(entity: Any, holds: dict[str, bool]) -> bool:
    kind = entity.dxftype()
    if kind in ("POINT", "3DFACE") or (kind == "POLYLINE" and entity.is_3d_polyline):
        return True
    return kind == "INSERT" and (bool(entity.attribs) or _holds_points(entity, holds))


def _shot(entity: Any) -> tuple[Floats, str, str]:
    """Place, name and description of a POINT or an INSERT."""
    if entity.dxftype() == "POINT":
        return np.array(entity.dxf.location.xyz), "", ""
    place = np.array(entity.ocs().to_wcs(entity.dxf.insert).xyz)
    values = {
        role: attribute.dxf.text.strip()
        for attribute in entity.attribs
        if (role := ROLES.get(plain_name(attribute.dxf.tag))) is not None
    }
    written = _ELEVATION.match(values.get("elevation", ""))
    if place[2] == 0.0 and written:  # symbols often stand at zero and carry the height as text
        place[2] = float(written.group(1))
    return place, values.get("point", ""), values.get("description", "")


def _text(entity: Any) -> str:
    text = entity.dxf.text if entity.dxftype() == "TEXT" else entity.plain_text()
    return " ".join(text.split())


def _spot_texts(texts: list[Any], chosen: bool) -> list[tuple[Floats, str, str]]:
    """Shots from texts that read as elevations; whole numbers count only on a chosen layer."""
    shots = []
    for entity in texts:
        found = _ELEVATION.match(_text(entity))
        if found and (chosen or found.group(2)):
            if not entity.dxf.hasattr("insert"):
                continue
            place = entity.dxf.insert
            if entity.dxftype() == "TEXT":
                place = entity.ocs().to_wcs(place)
            shots.append((np.array((place.x, place.y, float(found.group(1)))), "", ""))
    return shots


def _corners(face: Any) -> Floats | None:
    """Corners (1 or 2, 3, 3) of the triangles of a 3D face; None where it has fewer than three."""
    given = [face.dxf.get(f"vtx{i}") for i in range(4)]
    if any(corner is None for corner in given[:3]):
        return None
    a, b, c, d = (np.array((corner or given[2]).xyz) for corner in given)
    if (c == d).all():
        return np.array([[a, b, c]])
    return np.array([[a, b, c], [a, c, d]])


def _vertices(entity: Any) -> Floats | None:
    """Vertices (k, 3) of a line or polyline, the first repeated where it is closed."""
    kind = entity.dxftype()
    if kind == "LINE":
        if not (entity.dxf.hasattr("start") and entity.dxf.hasattr("end")):
            return None
        points = [entity.dxf.start, entity.dxf.end]
    elif kind == "LWPOLYLINE":
        points = list(entity.vertices_in_wcs())
        if entity.closed and points:
            points.append(points[0])
    elif kind == "POLYLINE" and (entity.is_3d_polyline or entity.is_2d_polyline):
        points = list(entity.points_in_wcs())
        if entity.is_closed and points:
            points.append(points[0])
    else:
        return None
    line = np.array([(p[0], p[1], p[2]) for p in points], dtype=np.float64).reshape(-1, 3)
    return line[np.append(True, (np.diff(line, axis=0) != 0).any(axis=1))] if len(line) else line


def _nothing(path: Path, held: Counter[str], options: SurveyTable) -> Exception:
    what = ", ".join(f"{count} {kind}" for kind, count in sorted(held.items())) or "nothing"
    where = f" on layer '{options.points_layer}'" if options.points_layer else ""
    return input_error(
        f"no point, symbol or text with an elevation was found{where} (the drawing holds {what})",
        "draw the shots as POINT or as texts of their elevations, or name points_layer under "
        "[survey] in site.toml",
        file=path,
    )
