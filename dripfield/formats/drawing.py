"""Opening a DXF drawing: its unit, its layers, the bed's ring on one of them."""

from __future__ import annotations

import logging
import re
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import damage_named, input_error
from dripfield.core.limits import check_count, check_places, most
from dripfield.core.textfile import check_plain_file
from dripfield.core.units import Unit
from dripfield.core.words import plural

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_OUTLINES = ("LWPOLYLINE", "POLYLINE", "CIRCLE", "ELLIPSE", "SPLINE")
_HEADER = 1_000_000  # bytes that a drawing's header lies within
_PIECE = 16_000_000  # bytes looked through at once
_ENTITY = re.compile(rb"\n[ \t]*0[ \t]*\r?\n[ \t]*(?=[A-Z_]|3D)")
_DEEPEST_WAY = 200  # blocks inside each other that are followed to say what is wrong
_MOST = most("vertices") + 1
_FINEST = 1e-5  # chords stay no nearer to an arc than this share of its extent
_UNIT_NAMES = {
    1: "inches", 2: "ft (international)", 3: "miles", 4: "millimetres", 5: "centimetres",
    6: "m", 7: "kilometres", 10: "yards", 14: "decimetres", 21: "US survey ft",
}  # fmt: skip


def open_dxf(path: Path) -> Drawing:
    """Open a drawing.

    Raises
    ------
    InputError
        Not a DXF file, or damaged or cut short.
    """
    from ezdxf.filemanagement import readfile

    check_plain_file(path, most("drawing bytes"))
    _check_entities(path)
    logger = logging.getLogger("ezdxf")
    if not logger.handlers:  # its remarks on odd entities would reach standard error
        logger.addHandler(logging.NullHandler())
    try:
        drawing: Drawing = readfile(path)
        with path.open("rb") as stream:
            names_unit = b"$INSUNITS" in stream.read(_HEADER)
        if (
            not names_unit and "$INSUNITS" in drawing.header
        ):  # metres, which ezdxf takes for granted
            del drawing.header["$INSUNITS"]
        int(drawing.header.get("$INSUNITS", 0))
        drawing.modelspace()  # a drawing whose layouts lost their names has none
    except MemoryError:
        raise
    except Exception:  # a damaged file makes the parser stumble in any way
        raise input_error(
            "it is no DXF drawing, or it is damaged or cut short",
            "export it again as ASCII DXF",
            file=path,
        ) from None
    _check_blocks(drawing, path)
    return drawing


def _check_entities(path: Path) -> None:
    """Refuse a drawing of too many entities before it is parsed."""
    entities = 0
    with path.open("rb") as stream:
        left = b"\n"
        while piece := stream.read(_PIECE):
            cut = piece.rfind(b"\n") + 1
            entities += len(_ENTITY.findall(left + piece[:cut]))
            # a line that may be the mark of an entity whose name comes in the next piece, again
            left = b"\n" + piece[piece.rfind(b"\n", 0, max(cut - 1, 0)) + 1 :]
    check_count("entities", entities, path, "delete what the site does not need")


def _check_blocks(drawing: Drawing, path: Path) -> None:
    """Refuse blocks that hold themselves, lie too deep, or come to too many entities.

    Raises
    ------
    InputError
    """
    with damage_named(path, "a block of the drawing"):
        inserts = {_block_name(block.name): _inserts(block) for block in drawing.blocks}
        spelt = {_block_name(block.name): block.name for block in drawing.blocks}
        layouts = {_block_name(name) for name in ("*Model_Space", "*Paper_Space")}
        own = {name: len(drawing.blocks.get(name) or ()) for name in inserts}
    size: dict[str, int] = {}
    depth: dict[str, int] = {}
    for start in inserts:
        way = [start]
        while way:
            name = way[-1]
            below = [inner for inner, _ in inserts[name] if inner in inserts]
            open_ones = [inner for inner in below if inner not in size]
            again = next((inner for inner in open_ones if inner in way), None)
            if again is not None:
                raise input_error(
                    f"the block {spelt[again]} holds itself", "mend the drawing", file=path
                )
            if open_ones and len(way) <= _DEEPEST_WAY:
                way.append(open_ones[0])
                continue
            size[name] = own[name] + sum(
                copies * size.get(inner, 0) for inner, copies in inserts[name]
            )
            depth[name] = 1 + max((depth.get(inner, 0) for inner in below), default=0)
            if depth[name] > most("nesting") + 1 or open_ones:
                raise input_error(
                    f"the block {spelt[name]} lies more than {most('nesting')} blocks deep",
                    "explode it in the drawing",
                    file=path,
                )
            way.pop()
    for name in layouts & size.keys():
        check_count("expanded entities", size[name], path, "delete what the site does not need")


def _block_name(name: str) -> str:
    return name.casefold()


def _inserts(block: Any) -> list[tuple[str, int]]:
    """Which blocks a block holds, and how many copies of each."""
    return [
        (_block_name(str(entity.dxf.get("name", ""))), max(int(entity.mcount), 1))
        for entity in block
        if entity.dxftype() == "INSERT"
    ]


def check_unit(drawing: Drawing, path: Path, unit: Unit) -> list[str]:
    """Refuse a drawing in another unit; the note where it names none.

    Parameters
    ----------
    drawing : Drawing
    path : Path
        For messages.
    unit : Unit
        The site's.

    Returns
    -------
    list of str
        One note or none.

    Raises
    ------
    InputError
        The drawing is in another unit.
    """
    code = int(drawing.header.get("$INSUNITS", 0))
    if code == 0:
        return [f"{path.name}: the drawing names no unit; read as {unit.label}"]
    if code != unit.insunits:
        drawn = _UNIT_NAMES.get(code, f"unit code {code}")
        raise input_error(
            f"the drawing is in {drawn} ($INSUNITS {code}) and the site in {unit.label}",
            "export it in the site's unit, or correct units under [site] in site.toml",
            file=path,
            field="$INSUNITS",
        )
    return []


def same_layer(layer: str, wanted: str) -> bool:
    """True where two layer names are one, whatever the case of their letters."""
    return layer.casefold() == wanted.casefold()


def check_layer(drawing: Drawing, path: Path, wanted: str, key: str) -> None:
    """Refuse a layer that the drawing does not have; the error lists those it has.

    Parameters
    ----------
    drawing : Drawing
    path : Path
        For messages.
    wanted : str
        Name of the layer.
    key : str
        The key of ``site.toml`` that names it.

    Raises
    ------
    InputError
        There is no such layer.
    """
    layers = {str(layer.dxf.get("name", "0")) for layer in drawing.layers}
    layers |= {layer_of(entity) for entity in drawing.entitydb.values()}
    if not any(same_layer(wanted, layer) for layer in layers):
        shown = ", ".join(sorted(layers)[:8]) + (" …" if len(layers) > 8 else "")
        raise input_error(
            f"the drawing has no layer '{wanted}' (it has {shown})",
            f"correct {key} in site.toml",
            file=path,
        )


def layer_of(entity: Any) -> str:
    """The layer of an entity; 0, the default of the format, where it names none."""
    return str(entity.dxf.get("layer", "0")) if entity.dxf.is_supported("layer") else "0"


def bed_from_dxf(path: Path, layer: str, unit: Unit) -> tuple[Floats, tuple[str, ...]]:
    """The closed polyline on a layer, as the bed's ring.

    Parameters
    ----------
    path : Path
    layer : str
        Layer that holds one closed LWPOLYLINE, POLYLINE, CIRCLE, ELLIPSE or SPLINE.
    unit : Unit
        The site's; ``$INSUNITS`` must agree where it is set.

    Returns
    -------
    ring : (k, 2) float array
        Easting, northing of the corners, not repeated at the end; arcs stand as chords within
        0.01 ft or 0.003 m of them.
    notes : tuple of str
        What was taken for granted.

    Raises
    ------
    InputError
        As :func:`open_dxf`; another unit; no such layer, or none or several closed lines on it.
    """
    from ezdxf.path import make_path

    drawing = open_dxf(path)
    notes = check_unit(drawing, path, unit)
    check_layer(drawing, path, layer, "[bed] boundary_layer")
    rings = []
    open_lines = 0
    for entity in drawing.modelspace():
        if entity.dxftype() not in _OUTLINES or not same_layer(layer_of(entity), layer):
            continue
        with damage_named(path, f"the {entity.dxftype()} on layer '{layer}'", "draw it again"):
            try:
                outline = make_path(entity, segments=16)  # arcs as Bezier curves true to 1e-6
            except TypeError:  # a mesh
                continue
            if not len(outline):
                continue
            if not outline.is_closed:
                open_lines += 1
                continue
            check_places(np.array([tuple(v) for v in outline.control_vertices()]), path, "corner")
            corners = np.array(
                [(p.x, p.y) for p in islice(outline.flattening(_hair(outline, unit)), _MOST)],
                dtype=np.float64,
            )
        check_count("vertices", len(corners), path, "draw the bed with fewer corners")
        rings.append(corners[:-1])
    if len(rings) == 1:
        return rings[0], tuple(notes)
    if not rings:
        found = f"{open_lines} open" if open_lines else "no"
        problem = f"layer '{layer}' holds {found} {plural(open_lines, 'line')}, none closed"
        raise input_error(problem, "close the bed's polyline in the drawing", file=path)
    raise input_error(
        f"layer '{layer}' holds {len(rings)} closed lines",
        "leave only the bed's on it",
        file=path,
    )


def _hair(outline: Any, unit: Unit) -> float:
    """How far chords may lie from a curve [site unit]: 0.01 ft or 0.003 m, more on a huge one."""
    corners = np.array([tuple(vertex) for vertex in outline.control_vertices()])
    return max(unit.default(0.01, 0.003), _FINEST * float(np.ptp(corners, axis=0).max()))
