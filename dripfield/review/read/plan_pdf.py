"""The approved plan as a page of a PDF: laterals, outline and writing found on it."""

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
from dripfield.review.model.plan import Picture, Plan, PlanOptions, check_names
from dripfield.review.read.beside import LabelUnits, labels_beside, written_runs
from dripfield.review.read.drawing import Piece, Text
from dripfield.review.read.join import join_pieces
from dripfield.review.read.outline import JOIN, find_outline, without_outline
from dripfield.review.read.page import Page, read_page
from dripfield.review.read.paper_scale import scale_on_sheet, stated_scale
from dripfield.review.read.plan_dxf import LATERAL_WORDS

_SHORT = 0.02  # of the drawing: shorter pieces are ticks and letters
_LEAST_NAMED = 2


def read_plan_pdf(path: Path, unit: Unit, options: PlanOptions) -> Plan:
    """Read the laterals of a page, in inches of paper (millimetres for a site in metres).

    The lines are those of the layer or of the stroke that is named, else of the one layer whose
    name says laterals, else of the stroke beside whose lines most names of laterals stand. What
    lies outside the bed's outline is no run.

    Parameters
    ----------
    path : Path
    unit : Unit
        The site's.
    options : PlanOptions
        With the ``page``.

    Returns
    -------
    Plan
        From the page's lower left corner; a page without lines is a picture.

    Raises
    ------
    InputError
        No PDF, no such page, or no telling which lines are the laterals.
    """
    page = read_page(path, options.page, metric=unit.is_metric)
    if not page.pieces:
        picture = Picture(path, page.size, page=options.page)
        said = f"page {options.page} of {path.name} holds no lines: it is a picture"
        return Plan(path, (), picture=picture, notes=(said,))
    layers: dict[str, list[Piece]] = defaultdict(list)
    for piece in page.pieces:
        layers[piece.layer].append(piece)
    layer, notes = _lateral_layer(layers, page, options.layer, path)
    lines = _joined(layers[layer], page)
    check_count("runs", len(lines), path, "name the laterals' lines with --layer")
    lines, own_outline = without_outline(lines)
    labels, _ = labels_beside(lines, page.texts, path)
    named = [line for line, label in zip(lines, labels, strict=True) if label.name is not None]
    if own_outline is None:
        known = named if len(named) >= _LEAST_NAMED else lines
        boundary, outline_layer, passed_over = find_outline(
            layers, layer, known, options.boundary_layer, path
        )
        notes += passed_over
        if outline_layer is not None and options.boundary_layer is None:
            notes.append(f"the bed's outline was taken from the lines {outline_layer!r}")
    else:
        boundary = own_outline
    if boundary is not None:
        inside = [_share_inside(line, boundary) > 0.5 for line in lines]
        if not all(inside):
            left = len(lines) - sum(inside)
            notes.append(f"{left} lines like laterals lie outside the bed's outline: no runs")
        lines = [line for line, within in zip(lines, inside, strict=True) if within]
    labels, shared = labels_beside(lines, page.texts, path)
    runs = written_runs(lines, labels, [None] * len(lines), LabelUnits(path, unit, options))
    check_names(runs, path)
    unnamed = sum(label.name is None for label in labels)
    if unnamed:
        notes.append(f"{unnamed} of {len(runs)} runs have no name beside them and are numbered")
    notes += shared
    scale: float | None
    if options.stated_scale is not None:
        scale = stated_scale(options.stated_scale, unit)
    else:
        scale = scale_on_sheet([text.text for text in page.texts], unit)
    if page.pages > 1:
        notes.append(f"page {options.page} of {page.pages} was read")
    return Plan(path, tuple(runs), boundary=boundary, paper_scale=scale, notes=tuple(notes))


def _joined(pieces: list[Piece], page: Page) -> list[Floats]:
    """The pieces of a layer joined into lines, less ticks and letters."""
    size = max(page.size)
    lines, _ = join_pieces([piece.xy for piece in pieces], JOIN * size)
    return [line for line in lines if LineString(line).length > _SHORT * size]


def _share_inside(line: Floats, ring: shapely.Polygon) -> float:
    drawn = LineString(line)
    return float(drawn.intersection(ring).length / drawn.length)


def _lateral_layer(
    layers: dict[str, list[Piece]], page: Page, wanted: str | None, path: Path
) -> tuple[str, list[str]]:
    """The laterals' layer or stroke, and a note when it was found and not named."""
    if wanted is not None:
        match = [name for name in layers if name.lower() == wanted.lower()]
        if match:
            return match[0], []
        raise _which(layers, f"the page has no lines {wanted!r}", path)
    named = [name for name in layers if LATERAL_WORDS.search(name)]
    if len(named) == 1:
        return named[0], [f"the laterals were taken from layer {named[0]!r}"]
    counts = {name: _named_lines(pieces, page, path) for name, pieces in layers.items()}
    order = sorted(counts, key=lambda name: -counts[name])
    best = order[0]
    second = counts[order[1]] if len(order) > 1 else 0
    if counts[best] < _LEAST_NAMED or 2 * second > counts[best]:
        raise _which(layers, "no lines stand out as the laterals", path)
    return best, [
        f"the laterals were taken from the lines {best!r}, {counts[best]} of which have names"
    ]


def _named_lines(pieces: list[Piece], page: Page, path: Path) -> int:
    """How many of a layer's lines have the name of a lateral beside them."""
    lines = _joined(pieces, page)
    if not lines:
        return 0
    labels, _ = labels_beside(lines, _label_texts(page.texts), path)
    return sum(label.name is not None for label in labels)


def _label_texts(texts: list[Text]) -> list[Text]:
    """Writing that names a lateral with a letter, so that numbers of a table do not count."""
    return [text for text in texts if re.match(r"\s*[A-Za-z]+[\s.#-]*[A-Za-z-]*\d", text.text)]


def _which(layers: dict[str, list[Piece]], problem: str, path: Path) -> InputError:
    ordered = sorted(layers, key=lambda name: -_length(layers[name]))
    more = f" and {len(ordered) - 8} more" if len(ordered) > 8 else ""
    listed = ", ".join(repr(name) for name in ordered[:8]) + more
    return input_error(problem, f"name them with --layer: {listed}", file=path)


def _length(pieces: list[Piece]) -> float:
    return float(sum(np.hypot(*np.diff(piece.xy, axis=0).T).sum() for piece in pieces))
