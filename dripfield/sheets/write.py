"""The files of a layout."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from dripfield.files.features import Features, MapLine, MapPoint
from dripfield.files.register import Writer, write_outputs
from dripfield.ground.tin import Surface
from dripfield.layout.model import Layout
from dripfield.measures.field import Measured
from dripfield.sheets.kit.lateral_tables import laterals_file
from dripfield.site.model import Site
from dripfield.staking.stakes import Stake


def write_layout(
    site: Site, surface: Surface, layout: Layout, measured: Measured, folder: Path
) -> list[Path]:
    """Write the files of a layout into a folder: those of :mod:`dripfield.files.register`.

    Parameters
    ----------
    site, surface, layout, measured
        ``measured`` is of that layout on that surface.
    folder : Path
        Exists; files of these names are replaced.

    Returns
    -------
    list of Path
        In the order of the register.

    Raises
    ------
    InputError
        The site's coordinate system is not known.
    """
    from dripfield.files.csv import write_csv
    from dripfield.files.geojson import write_geojson
    from dripfield.files.gis import write_geopackage
    from dripfield.files.xlsx import write_workbook
    from dripfield.sheets.kit.lateral_tables import stakes_file
    from dripfield.sheets.kit.relief import show_relief
    from dripfield.sheets.plan.panel_options import write_panels
    from dripfield.sheets.plan.plan import plan_figure, write_plan
    from dripfield.sheets.staking.staking_dxf import write_staking
    from dripfield.staking.stakes import first_point_number, stakes

    relief = show_relief(site, surface)
    placed = stakes(layout, site.rules, first=first_point_number(site.survey))
    tables = (laterals_file(measured, site.unit), stakes_file(placed, site.unit))
    features = layout_features(site, measured, placed)
    shown = (relief.levels, relief.gaps, relief.suspects)
    writers: dict[str, Writer] = {
        "laterals.csv": lambda path: write_csv(path, tables[0]),
        "stakes.csv": lambda path: write_csv(path, tables[1]),
        "laterals.xlsx": lambda path: write_workbook(path, tables),
        "laterals.gpkg": lambda path: write_geopackage(path, features),
        "staking.dxf": lambda path: write_staking(path, site, layout, measured, placed, *shown),
        "plan.png": lambda path: write_plan(plan_figure(site, relief, layout, measured), path),
    }
    if features.crs:
        writers["laterals.geojson"] = lambda path: write_geojson(path, features)
    if layout.options:
        writers["panels.png"] = lambda path: write_panels(site, layout.options, path)
    return write_outputs("layout", folder, writers)


def layout_features(site: Site, measured: Measured, placed: Sequence[Stake]) -> Features:
    """Laterals as the lines through their stakes, with their measures, and the stakes.

    Parameters
    ----------
    site : Site
    measured : Measured
    placed : sequence of Stake
        Of that layout.

    Returns
    -------
    Features
    """
    of_lateral: dict[str, list[Stake]] = {}
    for stake in placed:
        of_lateral.setdefault(stake.lateral, []).append(stake)
    records = {str(row["lateral"]): row for row in laterals_file(measured, site.unit).records()}
    lines = tuple(
        MapLine(
            name,
            np.array([(s.easting, s.northing) for s in own]),
            own[0].elevation,
            {key: value for key, value in records[name].items() if key != "lateral"},
        )
        for name, own in of_lateral.items()
    )
    points = tuple(
        MapPoint(str(s.point), s.easting, s.northing, s.elevation, s.description) for s in placed
    )
    about = site.file.site
    return Features(site.name, site.unit, about.crs, lines, points, date=about.survey_date or "")
