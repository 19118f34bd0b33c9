"""The approved plan as a DXF drawing: laterals, outline and named points found in it."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import LineString, Polygon

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import InputError, input_error
from dripfield.core.lengths import TypedLength, into_unit, system_of
from dripfield.core.limits import check_count
from dripfield.core.units import Unit
from dripfield.core.words import first_few
from dripfield.review.model.plan import Plan, PlanOptions, PlanRun, check_names, ring_of
from dripfield.review.read.drawing import Drawing, Piece, Text, read_drawing
from dripfield.review.read.join import join_pieces
from dripfield.review.read.labels import Label, read_label

_LATERAL_WORDS = re.compile(r"latl|lateral|drip|tubing|dispersal|emitter", re.IGNORECASE)
_OUTLINE_WORDS = re.compile(r"bndy|bound|outline|bed|field|perim|limit", re.IGNORECASE)
_OTHER_WORDS = re.compile(
    r"topo|contour|text|anno|dim|table|ttlb|title|bord|miss|keep|stbk|seam|stak|symb|grid|manif|"
    r"header|supply|return|prop|bldg|build|road",
    re.IGNORECASE,
)
_JOIN = 2e-4  # ends this near, as a share of the drawing of the runs, meet
_LABEL_REACH = 3.0  # a run's name stands within so many text heights of it


def read_plan_dxf(path: Path, unit: Unit, options: PlanOptions) -> Plan:
    """Read the laterals of a drawing, in the drawing's own coordinates.

    The layer is the one named, or the one whose name or content looks like laterals (a note says
    which). Blocks are exploded, arcs and splines flattened, and pieces joined end to end. Names,
    elevations and lengths come from writing within three text heights of a run; a polyline's own
    height is its elevation where no writing gives one.

    Parameters
    ----------
    path : Path
    unit : Unit
        The site's, for what the writing says.
    options : PlanOptions

    Returns
    -------
    Plan
        ``xy`` and ``boundary`` in drawing units.

    Raises
    ------
    InputError
        Not a DXF, no such layer, several layers that could be it, two runs with one name.
    """
    drawing = read_drawing(path)
    layers: dict[str, list[Piece]] = defaultdict(list)
    for piece in drawing.pieces:
        layers[piece.layer].append(piece)
    if not layers:
        raise input_error(
            "the drawing holds no lines", "export the plan's laterals with it", file=path
        )
    layer, notes = _lateral_layer(layers, options.layer, path)
    pieces = layers[layer]
    size = float(np.ptp(np.concatenate([piece.xy for piece in pieces]), axis=0).max())
    lines, repeated = join_pieces([piece.xy for piece in pieces], _JOIN * size)
    if not lines:
        raise input_error(
            f"the layer {layer!r} holds no line with a length",
            "name the laterals' layer with --layer",
            file=path,
        )
    if drawing.skipped:
        notes.append(f"{drawing.skipped} lines of the drawing are damaged and were left out")
    if repeated:
        notes.append(f"{repeated} pieces of layer {layer!r} are drawn twice and count once")
    if len(lines) + repeated < len(pieces):
        notes.append(f"{len(pieces)} pieces of layer {layer!r} join into {len(lines)} runs")
    check_count("runs", len(lines), path, "name the laterals' layer with --layer")
    lines, own_outline = _without_outline(lines)
    heights = _heights(lines, pieces)
    labels = _labels(lines, drawing.texts)
    runs = _runs(lines, labels, heights, _LabelUnits(path, unit, options))
    unnamed = sum(label.name is None for label in labels)
    if unnamed:
        notes.append(
            f"{unnamed} of {len(runs)} runs have no name beside them and are numbered in the "
            "order drawn"
        )
    check_names(runs, path)
    if own_outline is None:
        boundary, outline_layer = _outline(layers, layer, lines, options.boundary_layer, path)
    else:
        boundary, outline_layer = own_outline, layer
    if outline_layer is not None and options.boundary_layer is None:
        notes.append(f"the bed's outline was taken from layer {outline_layer!r}")
    return Plan(
        path,
        runs,
        boundary=boundary,
        points=_named_marks(drawing),
        declared=drawing.declared,
        notes=tuple(notes),
    )


def _lateral_layer(
    layers: dict[str, list[Piece]], wanted: str | None, path: Path
) -> tuple[str, list[str]]:
    """The laterals' layer, and a note when it was found and not named."""
    if wanted is not None:
        match = [name for name in layers if name.lower() == wanted.lower()]
        if match:
            return match[0], []
        raise input_error(
            f"the drawing has no lines on a layer {wanted!r}",
            f"name one of {_listed(layers)}",
            file=path,
            field="--layer",
        )
    # parts out of tolerance, texts and the like may carry a lateral's word too
    named = [n for n in layers if _LATERAL_WORDS.search(n) and not _OTHER_WORDS.search(n)]
    likely = named or [
        name
        for name, pieces in layers.items()
        if not _OTHER_WORDS.search(name)
        and not _OUTLINE_WORDS.search(name)
        and sum(not piece.closed for piece in pieces) > len(pieces) / 2
    ]
    if len(likely) != 1:
        raise _which_layer(layers, likely, path)
    return likely[0], [f"the laterals were taken from layer {likely[0]!r}"]


def _which_layer(layers: dict[str, list[Piece]], likely: list[str], path: Path) -> InputError:
    found = (
        f"the layers {_listed(likely)} could all be the laterals"
        if likely
        else f"no layer looks like laterals among {_listed(layers)}"
    )
    return input_error(found, "name it with --layer", file=path)


def _listed(names: dict[str, list[Piece]] | list[str]) -> str:
    ordered = sorted(names, key=str.lower)
    return first_few([repr(name) for name in ordered], 8)


def _heights(lines: list[Floats], pieces: list[Piece]) -> list[float | None]:
    """Each run's own height: that of the pieces that lie on it, where they agree."""
    shapes = [LineString(line) for line in lines]
    found: list[set[float]] = [set() for _ in lines]
    flat = [False] * len(lines)
    for piece in pieces:
        middle = LineString(piece.xy).interpolate(0.5, normalized=True)
        run = int(np.argmin(shapely.distance(shapes, middle)))
        if piece.elevation is None:
            flat[run] = True
        else:
            found[run].add(round(piece.elevation, 6))
    return [
        next(iter(heights)) if len(heights) == 1 and not none else None
        for heights, none in zip(found, flat, strict=True)
    ]


def _labels(lines: list[Floats], texts: list[Text]) -> list[Label]:
    """What the writing nearest to each run says, each quantity from the nearest that gives it."""
    result = [Label() for _ in lines]
    read = [(text, read_label(text.text)) for text in texts]
    read = [(text, label) for text, label in read if label != Label()]
    if not read:
        return result
    shapes = np.array([LineString(line) for line in lines])
    places = shapely.points(np.array([text.xy for text, _ in read]))
    nearest, reach = _nearest(places, shapes)
    height = np.array([text.height for text, _ in read])
    for i in np.argsort(reach, kind="stable"):
        if reach[i] > _LABEL_REACH * height[i]:
            continue
        run, label = int(nearest[i]), read[i][1]
        here = result[run]
        result[run] = Label(
            name=here.name or label.name,
            elevation=here.elevation or label.elevation,
            length=here.length or label.length,
        )
    return result


def _nearest(places: Any, shapes: Any) -> tuple[Ints, Floats]:
    """The line nearest to each place, the first of several, and how far it is."""
    (place, line), gap = shapely.STRtree(shapes).query_nearest(places, return_distance=True)
    nearest = np.full(len(places), len(shapes), dtype=np.int64)
    np.minimum.at(nearest, place, line)
    reach = np.empty(len(places))
    reach[place] = gap
    return nearest, reach


class _LabelUnits:
    """Turns what the writing says into the site's unit, or refuses another one."""

    def __init__(self, path: Path, unit: Unit, options: PlanOptions) -> None:
        self.path, self.unit, self.options = path, unit, options

    def convert(self, typed: TypedLength | None, run: str) -> float | None:
        if typed is None:
            return None
        # what is written on a sheet is in feet or metres, whatever the lines are drawn in
        wanted = system_of(self.options.units or self.unit.value)
        if typed.system not in (None, wanted):
            raise input_error(
                f"the writing beside run {run!r} is in {typed.system} and the plan in {wanted}",
                "give the plan's unit with --plan-units",
                file=self.path,
            )
        return into_unit(typed.value, wanted, self.unit)


def _runs(
    lines: list[Floats], labels: list[Label], heights: list[float | None], units: _LabelUnits
) -> tuple[PlanRun, ...]:
    runs = []
    for number, (line, label, height) in enumerate(zip(lines, labels, heights, strict=True), 1):
        name = label.name or f"run {number}"
        elevation = units.convert(label.elevation, name)
        if elevation is None and height is not None:
            elevation = height * units.options.factor(units.unit)
        run = PlanRun(name, line, elevation=elevation, named=label.name is not None)
        runs.append(replace(run, length=units.convert(label.length, name)))
    return tuple(runs)


def _without_outline(lines: list[Floats]) -> tuple[list[Floats], Polygon | None]:
    """The lines less one that closes round all others: the bed drawn on the laterals' layer."""
    for i, line in enumerate(lines):
        ring = ring_of(line) if (line[0] == line[-1]).all() else None
        others = lines[:i] + lines[i + 1 :]
        if ring is not None and others:
            runs = shapely.union_all([LineString(other) for other in others])
            if runs.intersection(ring).length > 0.9 * runs.length:
                return others, ring
    return lines, None


def _outline(
    layers: dict[str, list[Piece]],
    lateral_layer: str,
    lines: list[Floats],
    wanted: str | None,
    path: Path,
) -> tuple[Polygon | None, str | None]:
    """The bed's ring: on the layer named, else the least closed line around the laterals."""
    runs = shapely.union_all([LineString(line) for line in lines])
    rings: list[tuple[bool, float, Polygon, str]] = []
    for name, pieces in layers.items():
        if name == lateral_layer or (wanted is not None and name.lower() != wanted.lower()):
            continue
        if wanted is None and _OTHER_WORDS.search(name):
            continue
        size = float(np.ptp(np.concatenate([piece.xy for piece in pieces]), axis=0).max())
        joined, _ = join_pieces([piece.xy for piece in pieces], max(_JOIN * size, 1e-12))
        for ring in filter(None, (ring_of(line) for line in joined)):
            # runs drawn where the approved bed is not still tell which ring is the bed
            if runs.intersection(ring).length > 0.5 * runs.length:
                rings.append((not _OUTLINE_WORDS.search(name), ring.area, ring, name))
    if not rings:
        if wanted is not None:
            raise input_error(
                f"no closed line on layer {wanted!r} holds the laterals",
                "name the layer of the bed's outline",
                file=path,
                field="--boundary-layer",
            )
        return None, None
    _, _, ring, name = min(rings, key=lambda one: one[:2])
    return ring, name


def _named_marks(drawing: Drawing) -> dict[str, Floats]:
    """Points with one line of writing beside them that no other point has."""
    if not drawing.marks or not drawing.texts:
        return {}
    from scipy.spatial import cKDTree

    marks = np.unique(np.array(drawing.marks), axis=0)
    distance, nearest = cKDTree(marks).query(np.array([text.xy for text in drawing.texts]))
    found: dict[str, list[int]] = defaultdict(list)
    for text, far, mark in zip(drawing.texts, distance, nearest, strict=True):
        if far <= _LABEL_REACH * text.height:
            found[text.text].append(int(mark))
    return {name: marks[own[0]] for name, own in found.items() if len(set(own)) == 1}
