"""Lines of text in a PDF, their letters shown as they are.

Matplotlib shapes every text that it writes into a PDF, letter by letter, and a set of sheets has
tens of thousands. A text whose letters the file has met already needs none of that: its typeface
is in the file, printable ASCII keeps its own codes there, and where the text begins was reckoned
from the advances of single letters anyway.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, field
from typing import Any
from weakref import WeakKeyDictionary

_MET: WeakKeyDictionary[Any, dict[tuple[str, str], _Face]] = WeakKeyDictionary()
"""For each file being written, what is in it of each face."""

_JOINED = ("ff", "fi", "fl")  # a typeface may have one glyph for both letters


@dataclass
class _Face:
    """A face in a file: the letters that stand there under their own codes, and its name."""

    letters: set[str] = field(default_factory=set)
    name: Any = None


def show(renderer: Any, pen: Any, x: float, y: float, text: str, face: Any, angle: float) -> bool:
    """Write one line of text into a PDF, if its letters are in the file.

    Parameters
    ----------
    renderer : matplotlib renderer
        Of any kind of file.
    pen : matplotlib GraphicsContextBase
        Its colour is the text's.
    x, y : float
        Where its base line begins [pt].
    text : str
    face : matplotlib FontProperties
    angle : float
        Counter-clockwise [deg].

    Returns
    -------
    bool
        False where nothing was written: not a PDF, or a text that matplotlib has to shape. Its
        letters are taken for met, so the caller must draw it by ``renderer.draw_text``.
    """
    file = _pdf_file(renderer)
    if file is None or not _plain(text):
        return False
    faces = _MET.setdefault(file, {})
    met = faces.setdefault((face.get_weight(), face.get_style()), _Face())
    letters = set(text)
    if not letters <= met.letters:
        met.letters |= letters
        return False
    if met.name is None:
        met.name = file.fontName(face)  # sought in the list of typefaces, so but once
    from matplotlib.backends.backend_pdf import Op

    turn = math.radians(angle)
    cosine, sine = math.cos(turn), math.sin(turn)
    renderer.check_gc(pen, pen.get_rgb())
    file.output(
        Op.begin_text,
        *(met.name, face.get_size_in_points(), Op.selectfont),
        *(cosine, sine, -sine, cosine, x, y, Op.textmatrix),
        *(text.encode("ascii"), Op.show),
        Op.end_text,
    )
    return True


def _pdf_file(renderer: Any) -> Any:
    """The PDF being written, in the kind of typeface that keeps ASCII; None of other renderers."""
    backend = sys.modules.get("matplotlib.backends.backend_pdf")
    if backend is None:
        return None
    file = getattr(renderer, "file", None)
    if not isinstance(file, backend.PdfFile):
        return None
    from matplotlib import rcParams

    own = rcParams["pdf.fonttype"] == 3 and not rcParams["pdf.use14corefonts"]
    return file if own else None


def _plain(text: str) -> bool:
    return text.isascii() and text.isprintable() and not any(pair in text for pair in _JOINED)
