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
    """Write ``laterals.csv``, ``stakes.csv``, ``staking.dxf`` and ``plan.png`` into a folder.

    With the balanced method ``panels.png`` shows the panels to choose from.

    Parameters
    ----------
    site, surface, layout, measured
        ``measured`` is of that layout on that surface.
    folder : Path
        Exists; files of these names are replaced.

    Returns
    -------
    list of Path
        In the order above.
    """
    from dripfield.files.csv import write_laterals, write_stakes
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
    if design.layout.options:
        from dripfield.sheets.plan.panel_options import write_panels

        paths.append(folder / "panels.png")
        write_panels(design.site, design.layout.options, paths[-1])
    return paths
