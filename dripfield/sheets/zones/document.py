"""The pictures and the printed set of a field's zones."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.core.table import Table
from dripfield.core.words import plain
from dripfield.distribution.system import FieldSystem
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import drawing_defaults, save_figure
from dripfield.sheets.zones.zone_sheet import zone_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Writer = Callable[[Path], object]


def pictures(system: FieldSystem, made: dict[str, Table], relief: Relief) -> dict[str, Writer]:
    """What writes each picture and the printed set, by the name of its file.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        The tables of :func:`dripfield.distribution.tables.tables`.
    relief : Relief

    Returns
    -------
    dict of str to callable
    """
    plan = zone_figure(system, made, relief)
    figures = {"zones.png": plan}
    return {
        **{name: partial(save_figure, figure) for name, figure in figures.items()},
        "zones.pdf": partial(_write_set, system.design.site.name, [plan]),
    }


def _write_set(name: str, pages: list[Figure], path: Path) -> None:
    from matplotlib.backends.backend_pdf import PdfPages

    metadata = {
        "Title": plain(name),
        "Subject": "Zones of a drip field",
        "Creator": "dripfield",
        "Producer": None,
        "CreationDate": None,
    }
    with drawing_defaults(), PdfPages(path, metadata=metadata) as pdf:
        for page in pages:
            pdf.savefig(page)
