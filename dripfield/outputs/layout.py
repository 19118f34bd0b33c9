"""Everything a layout leaves behind, all of it or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dripfield.core.output import staged_output
from dripfield.design.model import Design
from dripfield.files.features import Features, MapLine, MapPoint
from dripfield.files.register import Writer, write_outputs
from dripfield.sheets.kit.lateral_tables import laterals_file
from dripfield.site.reader import input_files
from dripfield.staking.model import FieldMark, FieldPlan


def write(design: Design, out: str | Path, plan: FieldPlan | None = None) -> tuple[Path, ...]:
    """Write lateral table, stakes, drawing, plan and choice of panels: all of them or none.

    Parameters
    ----------
    design : Design
        From :func:`dripfield.design.lay_out`.
    out : str or Path
        Folder to write into; made when missing, its other files are kept.
    plan : FieldPlan, optional
        Of the design: its marks are the stakes. Worked out unless given.

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
        files = write_layout_files(design, stage, plan)
    return tuple(out / path.name for path in files)


def write_layout_files(design: Design, folder: Path, plan: FieldPlan | None = None) -> list[Path]:
    """Write the files of a layout into a folder: those of :mod:`dripfield.files.register`.

    Parameters
    ----------
    design : Design
    folder : Path
        Exists; files of these names are replaced.
    plan : FieldPlan, optional
        Of the design: its marks are the stakes. Worked out unless given.

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
    from dripfield.outputs.expect import plan_of
    from dripfield.sheets.kit.relief import show_relief
    from dripfield.sheets.plan.panel_options import write_panels
    from dripfield.sheets.plan.plan import plan_figure, write_plan
    from dripfield.sheets.staking.staking_dxf import write_staking
    from dripfield.staking.field import stakes_file

    relief = show_relief(design.ground, design.surface.surface)
    marked = plan_of(design) if plan is None else plan
    placed = marked.stakes
    tables = (
        laterals_file(design.measured, design.site.unit),
        stakes_file(marked, design.site.unit),
    )
    features = layout_features(design, placed)
    shown = (relief.levels, relief.gaps, relief.suspects)
    writers: dict[str, Writer] = {
        "laterals.csv": lambda path: write_csv(path, tables[0]),
        "stakes.csv": lambda path: write_csv(path, tables[1]),
        "laterals.xlsx": lambda path: write_workbook(path, tables),
        "laterals.gpkg": lambda path: write_geopackage(path, features),
        "staking.dxf": lambda path: write_staking(path, design, placed, *shown),
        "plan.png": lambda path: write_plan(plan_figure(design, relief), path),
    }
    if features.crs:
        writers["laterals.geojson"] = lambda path: write_geojson(path, features)
    if design.layout.options:
        writers["panels.png"] = lambda path: write_panels(design.site, design.layout.options, path)
    return write_outputs("layout", folder, writers)


def layout_features(design: Design, placed: Sequence[FieldMark]) -> Features:
    """Laterals as they are drawn, with their measures, and the stakes.

    Parameters
    ----------
    design : Design
    placed : sequence of FieldMark
        Of that layout.

    Returns
    -------
    Features
    """
    records = {
        str(row["lateral"]): row
        for row in laterals_file(design.measured, design.site.unit).records()
    }
    lines = tuple(
        MapLine(
            lateral.name,
            lateral.xy,
            lateral.elevation,
            {key: value for key, value in records[lateral.name].items() if key != "lateral"},
        )
        for lateral in design.layout.laterals
    )
    points = tuple(
        MapPoint(str(s.mark), s.easting, s.northing, s.set_elevation, s.description) for s in placed
    )
    site = design.site
    about = site.file.site
    return Features(site.name, site.unit, about.crs, lines, points, date=about.survey_date or "")
