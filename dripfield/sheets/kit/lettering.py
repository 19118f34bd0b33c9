"""Widths of text from the typeface's own advances, and lines of text that draw fast.

Matplotlib lays every text out anew, with line breaks, mathematics and a bounding box, each time it
is drawn. A sheet's texts are single lines of one face, so their width is the sum of advances.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from dripfield.sheets.kit import pdf_lettering

if TYPE_CHECKING:
    from matplotlib.font_manager import FontProperties

_NO_GLYPH = 0.7  # width of the box that stands for a letter the face lacks, amply
_UNIT = 100.0  # type size that advances are read at [pt]


@lru_cache(maxsize=64)
def font(size: float, *, bold: bool = False, italic: bool = False) -> FontProperties:
    """The sheet's typeface (DejaVu Sans, which matplotlib carries) at a size in points.

    Parameters
    ----------
    size : float
        [pt]
    bold, italic : bool

    Returns
    -------
    matplotlib FontProperties
    """
    from matplotlib.font_manager import FontProperties

    return FontProperties(
        family="DejaVu Sans",
        size=size,
        weight="bold" if bold else "normal",
        style="italic" if italic else "normal",
    )


@lru_cache(maxsize=4096)
def _advance(letter: str, bold: bool) -> float:
    """Advance of a letter over the type size, without kerning."""
    from matplotlib.font_manager import findfont, get_font
    from matplotlib.ft2font import LoadFlags

    face = get_font(findfont(font(_UNIT, bold=bold)))
    if not face.get_char_index(ord(letter)):
        return _NO_GLYPH
    face.set_size(_UNIT, 72.0)
    glyph = face.load_char(ord(letter), flags=LoadFlags.NO_HINTING)
    return float(glyph.linearHoriAdvance) / 65536.0 / _UNIT


@lru_cache(maxsize=16384)
def _em(text: str, bold: bool) -> float:
    return sum(_advance(letter, bold) for letter in text)


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of one line of plain text in points.

    Parameters
    ----------
    text : str
    size : float
        [pt]
    bold : bool

    Returns
    -------
    float
        [pt]
    """
    return _em(text, bold) * size


@lru_cache(maxsize=1)
def line_of_text() -> Any:
    """The class of a line of text: matplotlib's own, but drawn without being laid out.

    A class made late, since matplotlib is imported late. What it cannot do without a layout
    (vertical alignment, boxes) is left to its parent.
    """
    from matplotlib.text import Text

    class LineOfText(Text):  # type: ignore[misc, unused-ignore]
        def draw(self, renderer: Any) -> None:
            text, angle = self.get_text(), self.get_rotation()
            plain = (
                self.get_verticalalignment() == "baseline"
                and self.get_bbox_patch() is None
                and not self.get_path_effects()
                and (angle == 0.0 or self.get_rotation_mode() == "anchor")
            )
            if not plain:
                super().draw(renderer)
                return
            if not self.get_visible() or not text:
                return
            _draw_line(self, renderer, text, angle)

    return LineOfText


def _draw_line(one: Any, renderer: Any, text: str, angle: float) -> None:
    face = one.get_fontproperties()
    x, y = one.get_transform().transform(one.get_unitless_position())
    pen = renderer.new_gc()
    pen.set_foreground(one.get_color())
    pen.set_antialiased(one.get_antialiased())
    share = {"left": 0.0, "center": 0.5, "right": 1.0}[one.get_horizontalalignment()]
    draw_words(renderer, pen, x, y, text, face, angle, share)
    pen.restore()


def draw_words(
    renderer: Any,
    pen: Any,
    x: float,
    y: float,
    text: str,
    face: FontProperties,
    angle: float = 0.0,
    share: float = 0.0,
) -> None:
    """Draw one line of text without laying it out.

    Parameters
    ----------
    renderer : matplotlib renderer
    pen : matplotlib GraphicsContextBase
        Its colour is the text's.
    x, y : float
        On its base line, in the renderer's units from the lower left corner.
    text : str
    face : matplotlib FontProperties
    angle : float
        Counter-clockwise [deg].
    share : float
        Of its width that stands before ``x``: 0 begins there, 1 ends there.
    """
    import math

    if share:
        size = renderer.points_to_pixels(face.get_size_in_points())
        back = share * text_width(text, size, bold=face.get_weight() == "bold")
        x -= back * math.cos(math.radians(angle))
        y -= back * math.sin(math.radians(angle))
    if renderer.flipy():
        y = renderer.get_canvas_width_height()[1] - y
    if not pdf_lettering.show(renderer, pen, x, y, text, face, angle):
        renderer.draw_text(pen, x, y, text, face, angle)
