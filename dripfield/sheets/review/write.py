"""Writing a comparison or a record: tables, drawing, sheet and page into one folder."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from dripfield.core.verdict import write_verdict
from dripfield.design.model import Design
from dripfield.distribution.as_laid import LaidWater, water_table
from dripfield.distribution.tables import hydraulics_table
from dripfield.files.csv import write_csv
from dripfield.files.register import Writer, write_outputs
from dripfield.review.laid.record_result import Record
from dripfield.review.model.result import Comparison
from dripfield.sheets.review.content import Sheet
from dripfield.sheets.review.document import write_document, write_picture
from dripfield.sheets.review.page import write_page
from dripfield.sheets.review.record_dxf import write_record_dxf
from dripfield.sheets.review.tables import (
    comparison_file,
    record_file,
    record_points_file,
    setbacks_file,
    ties_file,
    totals_file,
)
from dripfield.site.model import Site


def write_comparison(
    folder: Path, site: Site, comparison: Comparison, sheet: Sheet, record: Record | None = None
) -> list[Path]:
    """Write verdict, tables, sheet and page of a comparison, and the table of a record if any.

    Parameters
    ----------
    folder : Path
        Exists.
    site : Site
    comparison : Comparison
    sheet : Sheet
        What is said of it.
    record : Record, optional

    Returns
    -------
    list of Path
    """
    tables = {
        "comparison.csv": comparison_file(comparison, site.unit),
        "totals.csv": totals_file(comparison),
        "setbacks.csv": setbacks_file(comparison.setbacks, site.unit),
    }
    if record is not None:
        tables["record.csv"] = record_file(record, site.unit)
    writers: dict[str, Writer] = {
        **{name: partial(write_csv, table=table) for name, table in tables.items()},
        "verdict.json": lambda path: write_verdict(path, sheet.verdict),
        "comparison.pdf": lambda path: write_document(path, site, sheet),
        "comparison.html": lambda path: write_page(path, site, sheet),
    }
    return list(write_outputs("compare", folder, writers))


def write_record(
    folder: Path, design: Design, record: Record, sheet: Sheet, water: LaidWater | None = None
) -> list[Path]:
    """Write the verdict and tables of a record, its drawing, its sheet and its page.

    Parameters
    ----------
    folder : Path
        Exists.
    design : Design
    record : Record
    sheet : Sheet
        What is said of it.
    water : LaidWater, optional
        Dose and flush of what was laid.

    Returns
    -------
    list of Path
    """
    site = design.site
    tables = {
        "record.csv": record_file(record, site.unit),
        "record_points.csv": record_points_file(record, site.unit),
        "setbacks.csv": setbacks_file(record.setbacks, site.unit),
        "ties.csv": ties_file(record, site.unit),
    }
    if water is not None:
        tables["water_as_laid.csv"] = water_table(water)
        tables["hydraulics_as_laid.csv"] = hydraulics_table(water.laid)
    writers: dict[str, Writer] = {
        **{name: partial(write_csv, table=table) for name, table in tables.items()},
        "verdict.json": lambda path: write_verdict(path, record.verdict),
        "record.dxf": lambda path: write_record_dxf(path, design, record),
        "record.pdf": lambda path: write_document(path, site, sheet),
        "record.png": lambda path: write_picture(path, site, sheet),
        "record.html": lambda path: write_page(path, site, sheet),
    }
    return list(write_outputs("record", folder, writers))
