"""A page of a PDF as plain pieces of line and texts, in inches or millimetres of paper."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import damage_named, input_error
from dripfield.core.limits import check_count, most
from dripfield.core.textfile import check_plain_file
from dripfield.review.read.drawing import Piece, Text

_CURVE = 12  # chords of a curve between two of its points
_POINTS_PER_INCH = 72.0
_ALONE = "export the plan's sheet alone, without hatching and pictures"


@dataclass
class Page:
    """What a page holds; ``size`` is its width and height, all in units of the paper."""

    size: tuple[float, float]
    pieces: list[Piece] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    pages: int = 1


def read_page(path: Path, number: int, *, metric: bool) -> Page:
    """Read the stroked lines and the writing of one page.

    Lines are told apart by the drawing's own layers where the page carries them, else by how they
    are stroked, as in ``0.70 pt, 0 0 0, dashed``.

    Parameters
    ----------
    path : Path
    number : int
        Of the page, from 1.
    metric : bool
        Millimetres of paper instead of inches.

    Returns
    -------
    Page
        From the page's lower left corner.

    Raises
    ------
    InputError
        Missing, too large, no PDF, locked, damaged, without such a page, or with far more lines
        than a plan has.
    """
    document = open_pdf(path)
    try:
        if not 1 <= number <= len(document):
            raise input_error(
                f"there is no page {number}: it has {len(document)}",
                "name one of its pages with --page",
                file=path,
            )
        with damage_named(path, f"page {number}"):
            page = document[number - 1]
            scale = (25.4 if metric else 1.0) / _POINTS_PER_INCH
            left, low, right, top = page.get_cropbox()
            result = Page(((right - left) * scale, (top - low) * scale), pages=len(document))
            _Reader(path, page, np.array((left, low)), scale, result).read()
        return result
    finally:
        document.close()


def open_pdf(path: Path) -> Any:
    """Open a PDF.

    Raises
    ------
    InputError
        Missing, too large, no PDF, or locked.
    """
    check_plain_file(path, most("page bytes"))
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(path)
        pages = len(document)
    except pypdfium2.PdfiumError as problem:
        locked = "password" in str(problem).lower()
        raise input_error(
            "the PDF is locked" if locked else "this is no PDF that can be read",
            "save it without a password" if locked else "export or print it again",
            file=path,
        ) from None
    if not pages:
        raise input_error("the PDF has no page", "export it again", file=path)
    return document


class _Reader:
    """Walks the objects of a page, those of its forms too."""

    def __init__(self, path: Path, page: Any, origin: Floats, scale: float, into: Page) -> None:
        self.path, self.page, self.into = path, page, into
        self.origin, self.scale = origin, scale
        self.text = page.get_textpage()
        self.objects = self.points = 0

    def read(self) -> None:
        import pypdfium2.raw as pdfium

        count = pdfium.FPDFPage_CountObjects(self.page.raw)
        found = (pdfium.FPDFPage_GetObject(self.page.raw, i) for i in range(count))
        self._walk(found, np.eye(3), "", 0)

    def _walk(self, objects: Iterator[Any], outer: Floats, layer: str, depth: int) -> None:
        import pypdfium2.raw as pdfium

        for one in objects:
            self.objects += 1
            check_count("page objects", self.objects, self.path, _ALONE)
            check_count("page vertices", self.points, self.path, _ALONE)
            kind = pdfium.FPDFPageObj_GetType(one)
            matrix = _matrix(one) @ outer
            own = _layer(one) or layer
            if kind == pdfium.FPDF_PAGEOBJ_FORM and depth < most("nesting"):
                count = max(pdfium.FPDFFormObj_CountObjects(one), 0)
                inner = (pdfium.FPDFFormObj_GetObject(one, i) for i in range(count))
                self._walk(inner, matrix, own, depth + 1)
            elif kind == pdfium.FPDF_PAGEOBJ_PATH:
                self._path(one, matrix, own)
            elif kind == pdfium.FPDF_PAGEOBJ_TEXT:
                self._writing(one, matrix, own)

    def _path(self, one: Any, matrix: Floats, layer: str) -> None:
        import ctypes

        import pypdfium2.raw as pdfium

        fill, stroke = ctypes.c_int(), ctypes.c_int()
        pdfium.FPDFPath_GetDrawMode(one, fill, stroke)
        if not stroke.value:
            return
        style = layer or _style(one, matrix)
        for line in _lines(one):
            xy = self._placed(line, matrix)
            xy = xy[np.append(True, (np.diff(xy, axis=0) != 0.0).any(axis=1))]
            self.points += len(xy)
            if len(xy) > 1 and np.isfinite(xy).all():
                closed = bool((xy[0] == xy[-1]).all())
                self.into.pieces.append(Piece(style, xy, closed, None))

    def _writing(self, one: Any, matrix: Floats, layer: str) -> None:
        import ctypes

        import pypdfium2.raw as pdfium

        length = pdfium.FPDFTextObj_GetText(one, self.text.raw, None, 0)
        if length <= 2:
            return
        buffer = ctypes.create_string_buffer(length)
        raw = ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort))
        pdfium.FPDFTextObj_GetText(one, self.text.raw, raw, length)
        words = buffer.raw.decode("utf-16-le", errors="ignore").strip("\0").strip()
        size = ctypes.c_float()
        pdfium.FPDFTextObj_GetFontSize(one, size)
        height = size.value * float(np.hypot(matrix[1, 0], matrix[1, 1])) * self.scale
        if not words or not math.isfinite(height) or height <= 0.0:
            return
        # a line of writing is as near as the nearest of its start, its middle and its end
        wide = _width(one) or 0.5 * size.value * len(words)
        middle = 0.35 * size.value
        along = np.array([(0.0, middle), (0.5 * wide, middle), (wide, middle)])
        for place in self._placed(along, matrix):
            if np.isfinite(place).all():
                self.into.texts.append(Text(layer, words, place, height))

    def _placed(self, xy: Floats, matrix: Floats) -> Floats:
        at: Floats = np.column_stack((xy, np.ones(len(xy)))) @ matrix
        return (at[:, :2] - self.origin) * self.scale


def _width(one: Any) -> float | None:
    """Width of a line of writing before it is turned, where its box is not turned either."""
    import ctypes

    import pypdfium2.raw as pdfium

    matrix = _matrix(one)
    box = [ctypes.c_float() for _ in range(4)]
    if not pdfium.FPDFPageObj_GetBounds(one, *box):
        return None
    left, low, right, top = (side.value for side in box)
    scale = float(np.hypot(matrix[0, 0], matrix[0, 1]))
    if scale <= 0.0:
        return None
    # of a box round a slim line of writing the diagonal is its length at any turn
    return math.hypot(right - left, top - low) / scale


def _matrix(one: Any) -> Floats:
    """Row vectors (x, y, 1) of an object times this are those of what holds it."""
    import pypdfium2.raw as pdfium

    found = pdfium.FS_MATRIX()
    if not pdfium.FPDFPageObj_GetMatrix(one, found):
        return np.eye(3)
    return np.array(((found.a, found.b, 0.0), (found.c, found.d, 0.0), (found.e, found.f, 1.0)))


def _layer(one: Any) -> str:
    """The name of the optional content that an object belongs to; empty for none."""
    import pypdfium2.raw as pdfium

    for number in range(max(pdfium.FPDFPageObj_CountMarks(one), 0)):
        mark = pdfium.FPDFPageObj_GetMark(one, number)
        if _string(pdfium.FPDFPageObjMark_GetName, mark) == "OC":
            name = _string(pdfium.FPDFPageObjMark_GetParamStringValue, mark, b"Name")
            if name:
                return name
    return ""


def _string(ask: Any, *of: Any) -> str:
    """A text of PDFium, which wants to be asked for its length first."""
    import ctypes

    length = ctypes.c_ulong()
    if not ask(*of, None, 0, length) or length.value <= 2:
        return ""
    buffer = ctypes.create_string_buffer(length.value)
    raw = ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort))
    if not ask(*of, raw, length.value, length):
        return ""
    return buffer.raw.decode("utf-16-le", errors="ignore").strip("\0")


def _style(one: Any, matrix: Floats) -> str:
    """How a line is stroked, in words."""
    import ctypes

    import pypdfium2.raw as pdfium

    width = ctypes.c_float()
    pdfium.FPDFPageObj_GetStrokeWidth(one, width)
    size = width.value * math.sqrt(abs(float(np.linalg.det(matrix[:2, :2]))))
    colour = [ctypes.c_uint() for _ in range(4)]
    pdfium.FPDFPageObj_GetStrokeColor(one, *colour)
    red, green, blue = (part.value for part in colour[:3])
    dashed = ", dashed" if pdfium.FPDFPageObj_GetDashCount(one) > 0 else ""
    return f"{size:.2f} pt, {red} {green} {blue}{dashed}"


def _lines(one: Any) -> list[Floats]:
    """The lines of a path, curves (cubic Bezier) as chords, (k, 2) each."""
    import ctypes

    import pypdfium2.raw as pdfium

    lines: list[list[tuple[float, float]]] = []
    waiting: list[tuple[float, float]] = []
    share = np.linspace(0.0, 1.0, _CURVE + 1)[1:, None]
    x, y = ctypes.c_float(), ctypes.c_float()
    for number in range(max(pdfium.FPDFPath_CountSegments(one), 0)):
        segment = pdfium.FPDFPath_GetPathSegment(one, number)
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        point = (float(x.value), float(y.value))
        kind = pdfium.FPDFPathSegment_GetType(segment)
        if kind == pdfium.FPDF_SEGMENT_MOVETO or not lines:
            lines.append([point])
        elif kind == pdfium.FPDF_SEGMENT_BEZIERTO:
            waiting.append(point)
            if len(waiting) == 3:
                a, b, c, d = (np.array(p) for p in (lines[-1][-1], *waiting))
                rest = 1.0 - share
                curve = rest**3 * a + 3 * rest**2 * share * b + 3 * rest * share**2 * c
                lines[-1] += [(float(u), float(v)) for u, v in curve + share**3 * d]
                waiting = []
        else:
            lines[-1].append(point)
        if pdfium.FPDFPathSegment_GetClose(segment) and lines[-1][0] != lines[-1][-1]:
            lines[-1].append(lines[-1][0])
    return [np.array(line, dtype=np.float64) for line in lines if len(line) > 1]
