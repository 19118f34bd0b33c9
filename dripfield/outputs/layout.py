"""Everything a layout leaves behind, all of it or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dripfield.core.output import staged_output
from dripfield.core.table import Table
from dripfield.design.model import Design
from dripfield.files.features import Features, MapLine, MapPoint
from dripfield.files.register import Writer, write_outputs
from dripfield.sheets.kit.lateral_tables import laterals_file
from dripfield.site.reader import input_files
from dripfield.staking.model import FieldMark, FieldPlan


def write(
    design: Design,
    out: str | Path,
    plan: FieldPlan | None = None,
    *,
    paper: str | None = None,
    scale: float | None = None,
    shapefile: bool = False,
) -> tuple[Path, ...]:
    """Write lateral table, stakes, drawing, plan and choice of panels: all of them or none.

    Parameters
    ----------
    design : Design
        From :func:`dripfield.design.lay_out`.
    out : str or Path
        Folder to write into; made when missing, its other files are kept.
    plan : FieldPlan, optional
        Of the design: its marks are the stakes. Worked out unless given.
    paper : {"letter", "tabloid", "A4", "A3"}, optional
        Of plan and drawing; the smaller of the unit's two usual ones on which laterals can be told
        apart unless given.
    scale : float, optional
        Of plan and drawing: feet to the inch, or N of 1:N; the largest that fits unless given.
    shapefile : bool
        Laterals and stakes as a shapefile too.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        The folder may not be written, a file of the site itself would be replaced, or the scale is
        not one that plans are drawn at.

    Examples
    --------
    >>> import tempfile
    >>> from dripfield.design.lay_out import lay_out
    >>> from dripfield.site.reader import read_site
    >>> design = lay_out(read_site("sample_sites/meadow"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     files = write(design, folder)
    >>> "plan.png" in [path.name for path in files]
    True
    """
    out = Path(out)
    with staged_output(out, protect=input_files(design.site)) as stage:
        files = write_layout_files(
            design, stage, plan, paper=paper, scale=scale, shapefile=shapefile
        )
    return tuple(out / path.name for path in files)


def write_layout_files(
    design: Design,
    folder: Path,
    plan: FieldPlan | None = None,
    *,
    paper: str | None = None,
    scale: float | None = None,
    shapefile: bool = False,
) -> list[Path]:
    """Write the files of a layout into a folder: those of :mod:`dripfield.files.register`.

    Parameters
    ----------
    design : Design
    folder : Path
        Exists; files of these names are replaced.
    plan : FieldPlan, optional
        Of the design: its marks are the stakes. Worked out unless given.
    paper : {"letter", "tabloid", "A4", "A3"}, optional
    scale : float, optional
    shapefile : bool
        As :func:`write` takes them.

    Returns
    -------
    list of Path
        In the order of the register.

    Raises
    ------
    InputError
        The site's coordinate system is not known, or the scale is not one for plans.
    """
    from dripfield.files.csv import write_csv
    from dripfield.files.geojson import write_geojson
    from dripfield.files.gis import write_geopackage, write_zipped_shapefiles
    from dripfield.files.landxml import write_landxml
    from dripfield.files.layout_json import write_layout_json
    from dripfield.files.xlsx import write_workbook
    from dripfield.outputs.expect import plan_of
    from dripfield.sheets.kit.lateral_tables import panel_table
    from dripfield.sheets.kit.relief import show_relief
    from dripfield.sheets.kit.style import PAPERS
    from dripfield.sheets.plan.options_page import write_options
    from dripfield.sheets.plan.panel_options import write_panels
    from dripfield.sheets.plan.plan import Plan, write_plan, write_plan_pdf
    from dripfield.sheets.staking.staking_dxf import write_staking
    from dripfield.staking.field import stakes_file

    relief = show_relief(design.ground, design.surface.surface)
    marked = plan_of(design) if plan is None else plan
    placed = marked.stakes
    unit = design.site.unit
    tables = [laterals_file(design.measured, unit), stakes_file(marked, unit)]
    book = [tables[0], panel_table(design.measured, unit), tables[1]]
    if design.site.file.rules.check:
        book.insert(2, _rules_table(design))
    sheet = None if paper is None else PAPERS[paper]
    drawn = Plan(design, relief, sheet, scale)
    features = layout_features(design, placed)
    shown = (relief.levels, relief.gaps, relief.suspects)
    writers: dict[str, Writer] = {
        "laterals.csv": lambda path: write_csv(path, tables[0]),
        "stakes.csv": lambda path: write_csv(path, tables[1]),
        "laterals.xlsx": lambda path: write_workbook(path, book),
        "laterals.gpkg": lambda path: write_geopackage(path, features),
        "staking.dxf": lambda path: write_staking(
            path, design, placed, *shown, paper=sheet, scale=scale
        ),
        "laterals.geojson": lambda path: write_geojson(path, features),
        "laterals.xml": lambda path: write_landxml(path, features),
        "plan.png": lambda path: write_plan(drawn.first, path),
        "plan.pdf": lambda path: write_plan_pdf(drawn, path),
    }
    writers["layout.json"] = lambda path: write_layout_json(path, design)
    if shapefile:
        writers["laterals.shp.zip"] = lambda path: write_zipped_shapefiles(path, features)
    if len(design.layout.options) > 1:
        writers["panels.png"] = lambda path: write_panels(design.site, design.layout.options, path)
        writers["options.png"] = lambda path: write_options(design, path)
    return list(write_outputs("layout", folder, writers))


def _rules_table(design: Design) -> Table:
    """What the rules that the site names say of the layout."""
    from dripfield.core.table import text
    from dripfield.rules import check_rules, facts_of

    columns = (
        *(text("rule"), text("verdict"), text("finding", most=120)),
        *(text("citation", most=120), text("scope", most=120), text("read", "text read")),
    )
    rows = [
        (one.rule.id, one.verdict, one.message, one.rule.citation, one.rule.scope, one.rule.read)
        for one in check_rules(facts_of(design.site, design))
    ]
    return Table(columns, rows, "Rules")


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
