"""The approved plan as a DXF drawing: laterals, outline and named points found in it."""

from __future__ import annotations

import re
from collections import defaultdict
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString

from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError, input_error
from dripfield.core.limits import check_count
from dripfield.core.units import Unit
from dripfield.core.words import first_few
from dripfield.review.model.plan import Plan, PlanOptions, check_names
from dripfield.review.read.beside import LABEL_REACH, LabelUnits, labels_beside, written_runs
from dripfield.review.read.drawing import Drawing, Piece, read_drawing
from dripfield.review.read.join import join_pieces
from dripfield.review.read.outline import (
    JOIN,
    OTHER_WORDS,
    OUTLINE_WORDS,
    find_outline,
    without_outline,
)

LATERAL_WORDS = re.compile(r"latl|lateral|drip|tubing|dispersal|emitter", re.IGNORECASE)
"""In the name of a layer that may hold the laterals."""


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
    lines, repeated = join_pieces([piece.xy for piece in pieces], JOIN * size)
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
    lines, own_outline = without_outline(lines)
    heights = _heights(lines, pieces)
    labels, shared = labels_beside(lines, drawing.texts, path, _own_names(lines, pieces))
    runs = written_runs(lines, labels, heights, LabelUnits(path, unit, options))
    unnamed = sum(label.name is None for label in labels)
    if unnamed:
        notes.append(
            f"{unnamed} of {len(runs)} runs have no name beside them and are numbered in the "
            "order drawn"
        )
    notes += shared
    check_names(runs, path)
    if own_outline is None:
        boundary, outline_layer, passed_over = find_outline(
            layers, layer, lines, options.boundary_layer, path
        )
        notes += passed_over
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
    named = [n for n in layers if LATERAL_WORDS.search(n) and not OTHER_WORDS.search(n)]
    likely = named or [
        name
        for name, pieces in layers.items()
        if not OTHER_WORDS.search(name)
        and not OUTLINE_WORDS.search(name)
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
    found: list[set[float]] = [set() for _ in lines]
    flat = [False] * len(lines)
    for piece, run in zip(pieces, _run_of(lines, pieces), strict=True):
        if piece.elevation is None:
            flat[run] = True
        else:
            found[run].add(round(piece.elevation, 6))
    return [
        next(iter(heights)) if len(heights) == 1 and not none else None
        for heights, none in zip(found, flat, strict=True)
    ]


def _run_of(lines: list[Floats], pieces: list[Piece]) -> list[int]:
    """The run that each piece lies on."""
    shapes = [LineString(line) for line in lines]
    middles = [LineString(piece.xy).interpolate(0.5, normalized=True) for piece in pieces]
    return [int(np.argmin(shapely.distance(shapes, middle))) for middle in middles]


def _own_names(lines: list[Floats], pieces: list[Piece]) -> list[str | None]:
    """Each run's own name: that in the data of the pieces that lie on it, where they agree."""
    if all(piece.name is None for piece in pieces):
        return [None for _ in lines]
    found: list[set[str]] = [set() for _ in lines]
    for piece, run in zip(pieces, _run_of(lines, pieces), strict=True):
        if piece.name:
            found[run].add(piece.name)
    return [next(iter(names)) if len(names) == 1 else None for names in found]


def _named_marks(drawing: Drawing) -> dict[str, Floats]:
    """Points with one line of writing beside them that no other point has."""
    if not drawing.marks or not drawing.texts:
        return {}
    from scipy.spatial import cKDTree

    marks = np.unique(np.array(drawing.marks), axis=0)
    distance, nearest = cKDTree(marks).query(np.array([text.xy for text in drawing.texts]))
    found: dict[str, list[int]] = defaultdict(list)
    for text, far, mark in zip(drawing.texts, distance, nearest, strict=True):
        if far <= LABEL_REACH * text.height:
            found[text.text].append(int(mark))
    return {name: marks[own[0]] for name, own in found.items() if len(set(own)) == 1}
