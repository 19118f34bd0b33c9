"""Writing a comparison or a record: tables, drawing, sheet and page into one folder."""

from __future__ import annotations

from pathlib import Path

from dripfield.core.verdict import write_verdict
from dripfield.design.model import Design
from dripfield.review.laid.record_result import Record
from dripfield.review.model.result import Comparison
from dripfield.sheets.review.content import Sheet
from dripfield.sheets.review.document import write_document, write_picture
from dripfield.sheets.review.page import write_page
from dripfield.sheets.review.record_dxf import write_record_dxf
from dripfield.sheets.review.tables import (
    write_comparison_csv,
    write_record_csv,
    write_record_points_csv,
    write_setbacks_csv,
    write_ties_csv,
    write_totals_csv,
)
from dripfield.site.model import Site


def write_comparison(
    folder: Path, site: Site, comparison: Comparison, sheet: Sheet, record: Record | None = None
) -> None:
    """Write ``verdict.json``, ``comparison.csv``, ``totals.csv``, ``setbacks.csv``, sheet and page.

    With a record its ``record.csv`` is written too.
    """
    write_verdict(folder / "verdict.json", sheet.verdict)
    write_comparison_csv(folder / "comparison.csv", comparison, site.unit)
    write_totals_csv(folder / "totals.csv", comparison)
    write_setbacks_csv(folder / "setbacks.csv", comparison.setbacks, site.unit)
    if record is not None:
        write_record_csv(folder / "record.csv", record, site.unit)
    write_document(folder / "comparison.pdf", site, sheet)
    write_page(folder / "comparison.html", site, sheet)


def write_record(folder: Path, design: Design, record: Record, sheet: Sheet) -> None:
    """Write the verdict, the tables, the drawing (DXF, PDF, PNG) and the page of a record."""
    site = design.site
    write_verdict(folder / "verdict.json", record.verdict)
    write_setbacks_csv(folder / "setbacks.csv", record.setbacks, site.unit)
    write_record_csv(folder / "record.csv", record, site.unit)
    write_record_points_csv(folder / "record_points.csv", record, site.unit)
    write_ties_csv(folder / "ties.csv", record, site.unit)
    write_record_dxf(folder / "record.dxf", design, record)
    write_document(folder / "record.pdf", site, sheet)
    write_picture(folder / "record.png", site, sheet)
    write_page(folder / "record.html", site, sheet)
