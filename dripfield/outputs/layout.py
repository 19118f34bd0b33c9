"""Everything a layout leaves behind, all of it or nothing."""

from __future__ import annotations

from pathlib import Path

from dripfield.core.output import staged_output
from dripfield.design.model import Design
from dripfield.site.reader import input_files


def write(design: Design, out: str | Path) -> tuple[Path, ...]:
    """Write lateral table, stakes, drawing, plan and choice of panels: all of them or none.

    Parameters
    ----------
    design : Design
        From :func:`dripfield.design.lay_out`.
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
    out = Path(out)
    with staged_output(out, protect=input_files(design.site)) as stage:
        files = write_layout_files(design, stage)
    return tuple(out / path.name for path in files)


def write_layout_files(design: Design, folder: Path) -> list[Path]:
    """Write ``laterals.csv``, ``stakes.csv``, ``staking.dxf``, ``plan.png`` and ``layout.json``.

    Where there are several numbers of panels to choose from ``panels.png`` shows their figures and
    ``options.png`` their plans.

    Parameters
    ----------
    design : Design
    folder : Path
        Exists; files of these names are replaced.

    Returns
    -------
    list of Path
        In the order above.
    """
    from dripfield.files.csv import write_laterals, write_stakes
    from dripfield.files.layout_json import write_layout_json
    from dripfield.sheets.kit.relief import show_relief
    from dripfield.sheets.plan.plan import plan_figure, write_plan
    from dripfield.sheets.staking.staking_dxf import write_staking
    from dripfield.staking.stakes import first_point_number, stakes

    names = ("laterals.csv", "stakes.csv", "staking.dxf", "plan.png")
    paths = [folder / name for name in names]
    relief = show_relief(design.ground, design.surface.surface)
    placed = stakes(
        design.layout, design.site.settings, first=first_point_number(design.ground.read)
    )
    write_laterals(paths[0], design.measured, design.site.unit)
    write_stakes(paths[1], placed, design.site.unit)
    shown = (relief.levels, relief.gaps, relief.suspects)
    write_staking(paths[2], design, placed, *shown)
    write_plan(plan_figure(design, relief), paths[3])
    paths.append(folder / "layout.json")
    write_layout_json(paths[-1], design)
    if len(design.layout.options) > 1:
        from dripfield.sheets.plan.options_page import write_options
        from dripfield.sheets.plan.panel_options import write_panels

        paths += [folder / "panels.png", folder / "options.png"]
        write_panels(design.site, design.layout.options, paths[-2])
        write_options(design, paths[-1])
    return paths
