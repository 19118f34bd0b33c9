"""The last step of the main job: everything a layout leaves behind, all of it or nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.core.output import staged_output
from dripfield.site.reader import input_files

if TYPE_CHECKING:
    from dripfield.ground.tin import Surface
    from dripfield.layout.model import Layout
    from dripfield.measures.field import Measured
    from dripfield.site.model import Site


def write_layout(
    site: Site, surface: Surface, layout: Layout, measured: Measured, out: str | Path
) -> tuple[Path, ...]:
    """Write a layout's tables, stakes, drawing, plan and choice of panels: all of them or none.

    Parameters
    ----------
    site, surface, layout, measured
        As the steps before returned them.
    out : str or Path
        Folder to write into; made when missing, its other files are kept.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        The folder may not be written, or a file of the site itself would be replaced.
    """
    from dripfield.sheets import write

    out = Path(out)
    with staged_output(out, protect=input_files(site)) as stage:
        files = write.write_layout(site, surface, layout, measured, stage)
    return tuple(out / path.name for path in files)
