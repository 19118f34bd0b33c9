"""A blank drawing as every DXF of the project starts: unit, layers, line types, the same bytes.

Layers have the form that the US National CAD Standard gives (discipline, major group, minor
groups). It has no code for a drip lateral, so ``LATL`` and its siblings are this project's own
minor groups. Layers differ by line width and line type, so that a black plot can be read too;
colours stay clear of those by which the uniform colour code tells utilities apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.core.units import Unit
from dripfield.core.words import plain
from dripfield.sheets.kit.style import POINTS_PER_INCH, Paper, usual_papers

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Paperspace

BLACK = 7  # black on paper, white on a dark screen
GREY = 8
BROWN = 37  # of the DXF colour index, as the next ones
DARK_BROWN = 39
DARK_GREY = 251
SURVEY_PINK = 221  # temporary survey marks in the uniform colour code

_LINE_TYPES = {  # dashes and gaps in inches on paper, as ezdxf wants them: total, dash, -gap …
    "DASHED": ("Dashed", [0.25, 0.18, -0.07]),
    "DASHDOT": ("Dash dot", [0.42, 0.28, -0.06, 0.02, -0.06]),
    "DOTTED": ("Dotted", [0.07, 0.02, -0.05]),
}


@dataclass(frozen=True)
class Layer:
    """How a layer plots: line width in hundredths of a millimetre, line type, colour index."""

    meaning: str
    width: int = 18
    linetype: str = "CONTINUOUS"
    colour: int = BLACK


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Keep the clock and random identifiers out of a drawing, so that its bytes stay the same."""
    from ezdxf import options  # type: ignore[attr-defined]

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def new_drawing(
    unit: Unit, layers: Mapping[str, Layer], units_per_inch: float, paper: Paper | None = None
) -> Drawing:
    """Start a drawing.

    Parameters
    ----------
    unit : Unit
        Written as ``$INSUNITS`` (2 foot, 21 US survey foot, 6 metre) and ``$MEASUREMENT``.
    layers : mapping of str to Layer
    units_per_inch : float
        Plot scale: site units in an inch of paper, for line types.
    paper : Paper, optional
        Sheet that the paper space is set up for; the unit's large one unless given.

    Returns
    -------
    ezdxf.document.Drawing
        Save it with :func:`save_drawing`.
    """
    from ezdxf.filemanagement import new

    with _fixed_metadata():
        document = new("R2010")
    document.header["$INSUNITS"] = unit.insunits
    document.header["$MEASUREMENT"] = 1 if unit.is_metric else 0
    document.header["$LUNITS"] = 2  # decimal
    document.header["$LUPREC"] = unit.places
    document.header["$LTSCALE"] = units_per_inch
    document.header["$LWDISPLAY"] = 1
    paper = paper or usual_papers(unit)[1]
    size = (paper.width / POINTS_PER_INCH, paper.height / POINTS_PER_INCH)
    page = document.paperspace()
    page.page_setup(size=size, margins=(0.3,) * 4, units="inch")
    set_limits(page, unit, paper)
    document.styles.get("Standard").dxf.font = "arial.ttf"
    for name, (meaning, pattern) in _LINE_TYPES.items():
        document.linetypes.add(name, pattern=pattern, description=meaning)
    for name, layer in layers.items():
        entry = document.layers.add(
            name, color=layer.colour, linetype=layer.linetype, lineweight=layer.width
        )
        entry.description = layer.meaning
    return document


def set_limits(page: Paperspace, unit: Unit, paper: Paper) -> None:
    """Tell the size of a page by its limits too, in drawing units, where some programs look for it.

    Those that do not know the US survey foot take a drawing in it as one in millimetres.

    Parameters
    ----------
    page : ezdxf Paperspace
    unit : Unit
        The drawing's.
    paper : Paper
    """
    inch = 25.4 if unit is Unit.SURVEY_FOOT else 0.0254 / unit.metres
    per_point = inch / POINTS_PER_INCH
    page.dxf.limmin = (0.0, 0.0)
    page.dxf.limmax = (paper.width * per_point, paper.height * per_point)


def save_drawing(document: Drawing, path: Path) -> None:
    """Write a drawing; the same drawing gives the same bytes on any day and machine."""
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)  # in a fixed order, before a set's order could decide
    encoding = document.output_encoding
    with (
        path.open("w", encoding=encoding, errors="dxfreplace", newline="\n") as stream,
        _fixed_metadata(),
    ):
        document.write(stream)


def drawing_text(text: str) -> str:
    """Text as a TEXT entity holds it: one line, none of the codes that CAD programs act on.

    A dash and an ellipsis are written with the keyboard's signs: stroke fonts often lack them.
    """
    line = plain(text).replace("–", "-").replace("…", "...")
    return line.replace("%%", "% %").replace("\\U+", "\\ U+").replace("^", "^ ")
