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
from dripfield.core.errors import input_error
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
_DEEPEST = 16  # blocks inside blocks


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
    notes = check_unit(drawing, path, unit)
    _check_layers(drawing, path, options)
    shots, texts, lines, rings, faces = [], [], [], [], []
    held: Counter[str] = Counter()
    for entity in _pieces(drawing.modelspace(), path):
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
            shots.append(_shot(entity))
        elif kind in ("TEXT", "MTEXT") and on_points:
            texts.append(entity)
        elif kind == "3DFACE" and on_points:
            faces.append(_corners(entity))
        elif on_lines or (kind == "POLYLINE" and options.breakline_layer is None):
            line = _vertices(entity) if on_lines or entity.is_3d_polyline else None
            if line is not None and len(line) >= 2:
                lines.append(line)
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
    triangles = None
    if faces:
        corners = np.concatenate(faces)
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


def _pieces(space: Any, path: Path, depth: int = 0) -> Iterator[Any]:
    """Every entity, blocks that hold points taken apart."""
    for entity in space:
        if entity.dxftype() == "INSERT" and not entity.attribs and _holds_points(entity, path):
            if depth >= _DEEPEST:
                raise input_error(
                    f"the block {entity.dxf.name} lies more than {_DEEPEST} blocks deep",
                    "explode it in the drawing",
                    file=path,
                )
            yield from _pieces(entity.virtual_entities(), path, depth + 1)
        else:
            yield entity


def _holds_points(insert: Any, path: Path, depth: int = 0) -> bool:
    """True where a block, or one inside it, holds what a survey is made of."""
    block = insert.block()
    if block is None:
        return False
    if depth > _DEEPEST:
        raise input_error(
            f"the block {insert.dxf.name} holds itself", "mend the drawing", file=path
        )
    for entity in block:
        kind = entity.dxftype()
        if kind in ("POINT", "3DFACE") or (kind == "POLYLINE" and entity.is_3d_polyline):
            return True
        if kind == "INSERT" and (entity.attribs or _holds_points(entity, path, depth + 1)):
            return True
    return False


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
            place = entity.dxf.insert
            if entity.dxftype() == "TEXT":
                place = entity.ocs().to_wcs(place)
            shots.append((np.array((place.x, place.y, float(found.group(1)))), "", ""))
    return shots


def _corners(face: Any) -> Floats:
    """Corners (1 or 2, 3, 3) of the triangles of a 3D face."""
    a, b, c, d = (np.array(face.dxf.get(f"vtx{i}").xyz) for i in range(4))
    if (c == d).all():
        return np.array([[a, b, c]])
    return np.array([[a, b, c], [a, c, d]])


def _vertices(entity: Any) -> Floats | None:
    """Vertices (k, 3) of a line or polyline, the first repeated where it is closed."""
    kind = entity.dxftype()
    if kind == "LINE":
        points = [entity.dxf.start, entity.dxf.end]
    elif kind == "LWPOLYLINE":
        points = list(entity.vertices_in_wcs())
        if entity.closed:
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
