"""A DXF drawing as plain pieces of line, texts and points, blocks exploded and curves flattened."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import damage_named
from dripfield.core.limits import FARTHEST, check_count, most
from dripfield.formats.drawing import layer_of, open_dxf

_LINEWORK = {"LINE", "LWPOLYLINE", "POLYLINE", "ARC", "SPLINE", "ELLIPSE", "CIRCLE"}
_FINEST = 1e-7  # and by no less than this share of its own
STAKING_DATA = "DRIPFIELD"
"""Application that a staking drawing's extended data are filed under."""
_FLAT = 2e-5  # chords depart from a curve by this share of the drawing's extent
DECLARED = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 21: "ftUS"}
"""``$INSUNITS`` codes (table of the published DXF reference) of units that plans come in."""


@dataclass(frozen=True)
class Piece:
    """One drawn line: layer, vertices, whether it is closed, and height and own name if any."""

    layer: str
    xy: Floats
    closed: bool
    elevation: float | None
    name: str | None = None


@dataclass(frozen=True)
class Text:
    """One line of writing: its layer, what it says, where it stands and how tall it is."""

    layer: str
    text: str
    xy: Floats
    height: float


@dataclass
class Drawing:
    """What a drawing holds, in its own units; ``skipped`` entities have no geometry to read."""

    pieces: list[Piece] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    marks: list[Floats] = field(default_factory=list)
    declared: str | None = None
    skipped: int = 0


def read_drawing(path: Path) -> Drawing:
    """Read a DXF's model space, or its first paper space that holds lines if that holds none.

    Layers that are frozen or off are read too: a person may name one.

    Raises
    ------
    InputError
        Missing, too large, not a DXF, or a damaged one.
    """
    document = open_dxf(path)
    with damage_named(path, "a layout of the drawing"):
        spaces = [
            document.modelspace(),
            *(document.layout(n) for n in list(document.layout_names_in_taborder())[1:]),
        ]
        for space in spaces:
            drawing = _read_space(space, path)
            if drawing.pieces:
                break
        drawing.declared = DECLARED.get(document.header.get("$INSUNITS", 0))
    return drawing


def _read_space(space: Any, path: Path) -> Drawing:
    drawing = Drawing()
    for entity in space:
        _without_doubles(entity)
    tolerance = max(_extent(space), 1e-9) * _FLAT
    vertices = 0
    for entity, layer in _plain_entities(space, None, 0, drawing):
        try:
            piece = _take(entity, layer, tolerance, drawing)
        except MemoryError:
            raise
        except Exception:  # a damaged entity makes the parser stumble in any way
            drawing.skipped += 1
            continue
        if piece is not None:
            drawing.pieces.append(piece)
            vertices += len(piece.xy)
            check_count("vertices", vertices, path, "draw the plan with fewer")
        check_count("writings", len(drawing.texts), path, "delete the writing that is no label")
    return drawing


def _take(entity: Any, layer: str, tolerance: float, drawing: Drawing) -> Piece | None:
    """The line that an entity is, if it is one; texts and marks go into the drawing."""
    kind = entity.dxftype()
    _without_doubles(entity)
    piece = _piece(entity, layer, tolerance) if kind in _LINEWORK else None
    if kind == "CIRCLE":
        drawing.marks.append(_flat(entity.dxf.center))
    elif kind in ("TEXT", "MTEXT", "ATTRIB"):
        drawing.texts.extend(list(_texts(entity, layer)))
    elif kind == "POINT":
        drawing.marks.append(_flat(entity.dxf.location))
    elif kind == "INSERT":
        drawing.marks.append(_flat(entity.dxf.insert))
    return piece


def _without_doubles(entity: Any) -> None:
    """Take the fit points of a spline that repeat the one before them out: no curve bends there."""
    given = getattr(entity, "fit_points", ())
    if entity.dxftype() != "SPLINE" or len(given) < 2:
        return
    points = [tuple(point) for point in given]
    fresh = [points[0]] + [b for a, b in itertools.pairwise(points) if a != b]
    if len(fresh) < len(points):
        entity.fit_points = fresh


def _extent(space: Any) -> float:
    """The larger side of the box around all that can be drawn."""
    from ezdxf import bbox

    def side(entities: Any) -> float:
        try:
            box = bbox.extents(entities, fast=True)
            size = float(max(box.size.x, box.size.y)) if box.has_data else 0.0
        except MemoryError:
            raise
        except Exception:  # a damaged entity among them
            return math.nan
        return size if size <= FARTHEST else math.nan

    whole = side(space)
    if whole >= 0.0:
        return whole or 1.0
    return max((size for size in (side([entity]) for entity in space) if size >= 0.0), default=1.0)


def _plain_entities(
    entities: Iterable[Any], inherited: str | None, depth: int, drawing: Drawing
) -> Iterator[tuple[Any, str]]:
    """Every entity with its layer, blocks exploded; what is on layer 0 takes the block's layer."""
    for entity in entities:
        layer = layer_of(entity)
        if layer == "0" and inherited is not None:
            layer = inherited
        yield entity, layer
        if entity.dxftype() == "INSERT" and depth < most("nesting"):
            for attribute in entity.attribs:
                yield attribute, layer_of(attribute)
            copies = entity.multi_insert() if entity.mcount > 1 else [entity]
            for copy in copies:
                yield from _plain_entities(_opened(copy, drawing), layer, depth + 1, drawing)


def _opened(insert: Any, drawing: Drawing) -> list[Any]:
    """What a block holds, in its place; nothing where it is missing or damaged."""
    try:
        return list(insert.virtual_entities())
    except MemoryError:
        raise
    except Exception:  # no block of that name, no place, a scale that is none
        drawing.skipped += 1
        return []


def _piece(entity: Any, layer: str, tolerance: float) -> Piece | None:
    points = _vertices(entity, tolerance)
    if len(points) < 2:
        return None
    if not (np.abs(points) <= FARTHEST).all():
        raise ValueError("no place on earth")
    xy = points[np.append(True, (np.diff(points[:, :2], axis=0) != 0.0).any(axis=1)), :2]
    if len(xy) < 2:
        return None
    heights = points[:, 2]
    level = bool(np.ptp(heights) < 1e-6 and heights[0] != 0.0)
    return Piece(
        layer,
        xy,
        bool((xy[0] == xy[-1]).all()),
        float(heights[0]) if level else None,
        _own_name(entity),
    )


def _own_name(entity: Any) -> str | None:
    """The name that a staking drawing writes into the data of a lateral's line."""
    if not entity.has_xdata(STAKING_DATA):
        return None
    said = (str(tag.value) for tag in entity.get_xdata(STAKING_DATA) if tag.code == 1000)
    names = [text.removeprefix("lateral=") for text in said if text.startswith("lateral=")]
    return names[0] or None if names else None


def _vertices(entity: Any, tolerance: float) -> Floats:
    """Points of a curve whose chords stay within a tolerance of it, (k, 3); none for a mesh."""
    from ezdxf.path import make_path

    kind = entity.dxftype()
    if kind in ("ARC", "CIRCLE"):  # on the arc itself: a path would replace it by a cubic
        if not 0.0 < abs(entity.dxf.radius) <= FARTHEST:
            raise ValueError("no radius")
        finest = max(tolerance, _FINEST * abs(entity.dxf.radius))
        return np.array([tuple(point) for point in entity.flattening(finest)])
    if kind in ("LWPOLYLINE", "POLYLINE") and getattr(entity, "has_arc", False):
        parts = [_vertices(part, tolerance) for part in entity.virtual_entities()]
        return _chained(parts)
    try:
        path = make_path(entity)
    except TypeError:  # a mesh that calls itself a polyline
        return np.empty((0, 3))
    corners = np.array([tuple(vertex) for vertex in path.control_vertices()]).reshape(-1, 3)
    if not len(corners) or not (np.abs(corners) <= FARTHEST).all():
        return corners
    finest = max(tolerance, _FINEST * float(np.ptp(corners, axis=0).max()))
    found = itertools.islice(path.flattening(finest), most("vertices"))
    return np.array([(p.x, p.y, p.z) for p in found])


def _chained(parts: list[Floats]) -> Floats:
    """Parts of a polyline in order, each turned to begin where the one before it ends."""
    chain = parts[0]
    if len(parts) > 1 and _gap(chain[0], parts[1]) < _gap(chain[-1], parts[1]):
        chain = chain[::-1]
    for part in parts[1:]:
        turned = np.hypot(*(part[0] - chain[-1])[:2]) > np.hypot(*(part[-1] - chain[-1])[:2])
        chain = np.vstack((chain, part[::-1] if turned else part))
    return chain


def _gap(end: Floats, part: Floats) -> float:
    """Distance from an end to the nearer end of a part."""
    return float(min(np.hypot(*(part[k] - end)[:2]) for k in (0, -1)))


def _texts(entity: Any, layer: str) -> Iterator[Text]:
    """Each line of a text entity; the lines of a paragraph share its place."""
    if entity.dxftype() == "MTEXT":
        height = entity.dxf.char_height
        for line in entity.plain_text(split=True):
            if line.strip():
                yield Text(layer, line.strip(), _flat(entity.dxf.insert), height)
        return
    text = entity.plain_text().strip()
    if text:
        place = entity.dxf.insert
        if entity.dxf.hasattr("align_point") and (entity.dxf.halign or entity.dxf.valign):
            place = entity.dxf.align_point
        yield Text(layer, text, _flat(entity.ocs().to_wcs(place)), entity.dxf.height)


def _flat(point: Any) -> Floats:
    place = np.array((point[0], point[1]), dtype=np.float64)
    if not (np.abs(place) <= FARTHEST).all():
        raise ValueError("no place on earth")
    return place
