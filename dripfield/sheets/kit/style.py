"""One look for every sheet: papers, scales, pens, fonts, text that cannot be taken for markup.

Everything reads in black-and-white print: meaning is carried by line style, width and words, never
by hue alone. Pink marks temporary survey marks and white proposed excavation, as the APWA Uniform
Color Code has them; its utility colours are not used. Lengths on paper are in points, 72 to the
inch.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dripfield.core.units import Unit
from dripfield.core.words import plain
from dripfield.sheets.kit.lettering import font as font
from dripfield.sheets.kit.lettering import line_of_text
from dripfield.sheets.kit.lettering import text_width as text_width

if TYPE_CHECKING:
    from matplotlib.figure import Figure

POINTS_PER_INCH = 72.0
DOTS_PER_INCH = 200  # of a PNG: small type stays legible when a phone zooms in
MARGIN = 25.0  # white border of a sheet, wider than an office printer's unprintable edge

INK = "#000000"
DIM = "#6e6e6e"  # level lines, dimensions, notes
PALE = "#b4b4b4"  # minor level lines, hatching, rules of a table
LEVEL_GREY = "#949494"  # level lines under laterals
WASH = "#cccccc"  # band under what is out of tolerance
PAPER_WHITE = "#ffffff"
SURVEY_PINK = "#d6278f"  # dark enough to print grey

PENS = {  # line widths in points: thin enough to measure on, apart enough to tell
    "hair": 0.35,
    "thin": 0.5,
    "medium": 0.8,
    "lateral": 1.1,
    "bold": 1.5,
    "band": 5.0,
}


@dataclass(frozen=True)
class Paper:
    """A sheet, landscape: width and height in points and how it is called."""

    name: str
    width: float
    height: float
    label: str

    @property
    def type_scale(self) -> float:
        """Type on a large sheet is larger, since it is looked at from farther away."""
        return 1.25 if max(self.width, self.height) > 1000.0 else 1.0

    def turned(self) -> Paper:
        """The same sheet turned a quarter (portrait)."""
        return Paper(self.name, self.height, self.width, self.label)


def _inches(name: str, width: float, height: float, label: str) -> Paper:
    return Paper(name, width * POINTS_PER_INCH, height * POINTS_PER_INCH, label)


def _millimetres(name: str, width: float, height: float, label: str) -> Paper:
    return _inches(name, width / 25.4, height / 25.4, label)


PAPERS = {  # ANSI/ASME Y14.1 and ISO 216 sizes
    "letter": _inches("letter", 11.0, 8.5, "letter (11 x 8.5 in)"),
    "tabloid": _inches("tabloid", 17.0, 11.0, "tabloid (17 x 11 in)"),
    "A4": _millimetres("A4", 297.0, 210.0, "A4 (297 x 210 mm)"),
    "A3": _millimetres("A3", 420.0, 297.0, "A3 (420 x 297 mm)"),
}


def usual_papers(unit: Unit) -> tuple[Paper, Paper]:
    """The small and the large sheet that the unit's crews have at hand."""
    if unit.is_metric:
        return PAPERS["A4"], PAPERS["A3"]
    return PAPERS["letter"], PAPERS["tabloid"]


@dataclass(frozen=True)
class Scale:
    """A drawing scale: site units per point of paper, and how it is written."""

    per_point: float
    text: str

    def paper(self, length: float) -> float:
        """Points on paper of a length on the ground [site unit]."""
        return length / self.per_point


_FEET_PER_INCH = (1, 2, 3, 4, 5, 6, 10, 20, 30, 40, 50, 60, 100, 200, 300, 400, 500, 600, 1000)
_METRIC_RATIOS = (10, 20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000, 2000, 5000)


def _scale(unit: Unit, number: int) -> Scale:
    if unit.is_metric:
        return Scale(number * 0.0254 / POINTS_PER_INCH, f"1:{number}")
    return Scale(number / POINTS_PER_INCH, f"1 in = {number} ft")


def usual_scales(unit: Unit) -> tuple[Scale, ...]:
    """The scales of an engineer's or a metric scale rule, largest first."""
    return tuple(_scale(unit, n) for n in (_METRIC_RATIOS if unit.is_metric else _FEET_PER_INCH))


def fitting_scale(unit: Unit, size: tuple[float, float], room: tuple[float, float]) -> Scale:
    """The largest usual scale at which a ground size (width, height) fits the room in points.

    Usual are those of an engineer's or a metric scale rule; beyond the last, its doubles follow.

    Parameters
    ----------
    unit : Unit
        The site's.
    size : (width, height)
        On the ground [site unit].
    room : (width, height)
        On the sheet [pt].

    Returns
    -------
    Scale
    """
    numbers = list(_METRIC_RATIOS if unit.is_metric else _FEET_PER_INCH)
    for number in numbers:
        scale = _scale(unit, number)
        if scale.paper(size[0]) <= room[0] and scale.paper(size[1]) <= room[1]:
            break
        if number == numbers[-1]:
            numbers.append(2 * number)
    return scale


def round_length(about: float) -> float:
    """The greatest length of the series 1, 2, 5, 10 … not above ``about`` (which is positive)."""
    power = 10.0 ** math.floor(math.log10(about))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= about * (1 + 1e-9))


# --- text -------------------------------------------------------------------------------------


def write_text(axes: Any, x: float, y: float, text: str, size: float, **options: Any) -> Any:
    """Put one line of plain text on axes: ``$``, ``\\`` and ``_`` stand for themselves.

    ``bold`` and ``italic`` choose the face; other options go to ``Axes.text``. Alignment is left
    and baseline unless said otherwise.

    Parameters
    ----------
    axes : matplotlib Axes or Figure
    x, y : float
        In data coordinates of the axes, or shares of the figure, unless a ``transform`` is given.
    text : str
    size : float
        [pt]
    **options

    Returns
    -------
    matplotlib Text
    """
    face = font(size, bold=options.pop("bold", False), italic=options.pop("italic", False))
    options.setdefault("ha", "left")
    options.setdefault("va", "baseline")
    options.setdefault("color", INK)
    line = line_of_text()(
        x, y, plain(text), fontproperties=face, parse_math=False, usetex=False, **options
    )
    if "transform" not in options:
        line.set_transform(axes.transData if hasattr(axes, "transData") else axes.transSubfigure)
    return axes.add_artist(line) if hasattr(axes, "transData") else _on_figure(axes, line)


def _on_figure(figure: Any, line: Any) -> Any:
    """Put a line of text on a figure, in shares of its width and height."""
    line.set_figure(figure)
    figure.texts.append(line)
    return line


def shorten(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """Text cut to a width in points, with an ellipsis where it was cut.

    Parameters
    ----------
    text : str
    width : float
        [pt]
    size : float
        Of the type [pt].
    bold : bool

    Returns
    -------
    str
    """
    text = plain(text)
    if text_width(text, size, bold=bold) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(text[:middle].rstrip() + "…", size, bold=bold) <= width:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"


def wrap(text: str, width: float, size: float, lines: int, *, bold: bool = False) -> list[str]:
    """Break text at spaces into at most so many lines of a width; the last may be cut short.

    Parameters
    ----------
    text : str
    width : float
        [pt]
    size : float
        Of the type [pt].
    lines : int
        At most.
    bold : bool

    Returns
    -------
    list of str
    """
    words = plain(text).split(" ")
    result: list[str] = []
    while words and len(result) < lines:
        if len(result) == lines - 1:
            result.append(shorten(" ".join(words), width, size, bold=bold))
            break
        count = 1
        while count < len(words) and (
            text_width(" ".join(words[: count + 1]), size, bold=bold) <= width
        ):
            count += 1
        line = " ".join(words[:count])
        words = words[count:]
        if text_width(line, size, bold=bold) > width:  # one word longer than the line
            cut = shorten(line, width, size, bold=bold).removesuffix("…") or line[0]
            words.insert(0, line[len(cut) :])
            line = cut
        result.append(line)
    return result


@contextmanager
def _missing_glyphs_as_boxes() -> Iterator[None]:
    """A character that the typeface lacks is drawn as a box, without a warning for each."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        yield


@contextmanager
def drawing_defaults() -> Iterator[None]:
    """Draw and save with matplotlib's own defaults, whatever the caller or a settings file set."""
    import matplotlib

    with matplotlib.rc_context(), _missing_glyphs_as_boxes():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(
            {
                "hatch.linewidth": PENS["hair"],
                "svg.hashsalt": "dripfield",
                "svg.fonttype": "path",
                "pdf.fonttype": 3,
            }
        )
        yield


def save_figure(figure: Figure, path: Path) -> None:
    """Save a figure as PNG, PDF or SVG by the file's ending; the same figure gives the same bytes.

    Program names and dates are left out of the file, and nothing is trimmed: a figure sized to
    its paper stays true to scale.
    """
    metadata = {
        ".png": {"Software": None},
        ".pdf": {"CreationDate": None, "Producer": None, "Creator": None},
        ".svg": {"Date": None, "Creator": None},
    }[path.suffix]
    with drawing_defaults():
        figure.savefig(path, dpi=DOTS_PER_INCH, metadata=metadata)
