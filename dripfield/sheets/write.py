"""The files of a layout."""

from __future__ import annotations

from pathlib import Path

from dripfield.ground.tin import Surface
from dripfield.layout.model import Layout
from dripfield.measures.field import Measured
from dripfield.site.model import Site


def write_layout(
    site: Site, surface: Surface, layout: Layout, measured: Measured, folder: Path
) -> list[Path]:
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
    relief = show_relief(site, surface)
    placed = stakes(layout, site.rules, first=first_point_number(site.survey))
    write_laterals(paths[0], measured, site.unit)
    write_stakes(paths[1], placed, site.unit)
    shown = (relief.levels, relief.gaps, relief.suspects)
    write_staking(paths[2], site, layout, measured, placed, *shown)
    write_plan(plan_figure(site, relief, layout, measured), paths[3])
    if layout.options:
        from dripfield.sheets.plan.panel_options import write_panels

        paths.append(folder / "panels.png")
        write_panels(site, layout.options, paths[-1])
    return paths
