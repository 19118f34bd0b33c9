"""One way in for every kind of approved plan."""

from __future__ import annotations

from pathlib import Path

from dripfield.core.errors import input_error
from dripfield.core.textfile import check_plain_file
from dripfield.review.model.plan import Plan, PlanOptions
from dripfield.review.read.plan_dxf import read_plan_dxf
from dripfield.review.read.plan_geojson import read_plan_geojson
from dripfield.review.read.plan_pdf import read_plan_pdf
from dripfield.review.read.plan_picture import PICTURES, read_plan_picture
from dripfield.review.read.plan_table import read_plan_table
from dripfield.site.model import Site

_TABLES = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm")


def read_plan(path: Path, site: Site, options: PlanOptions) -> Plan:
    """Read an approved plan, its kind known from the file's ending.

    Parameters
    ----------
    path : Path
        ``.dxf``, ``.geojson`` or ``.json``, a table (``.csv``, ``.tsv``, ``.txt``, ``.xlsx``), one
        page of a ``.pdf``, or a picture (``.png``, ``.jpg``, ``.tif``).
    site : Site
    options : PlanOptions

    Returns
    -------
    Plan
        Not yet placed on the site.

    Raises
    ------
    InputError
        An ending that is not known, or as the readers say.
    """
    ending = path.suffix.lower()
    if ending == ".dxf":
        return read_plan_dxf(path, site.unit, options)
    if ending in (".geojson", ".json"):
        return read_plan_geojson(path, site, options)
    if ending in _TABLES:
        return read_plan_table(path, site.unit, options)
    if ending == ".pdf":
        return read_plan_pdf(path, site.unit, options)
    if ending in PICTURES:
        return read_plan_picture(path)
    check_plain_file(path, 1_000_000_000)
    raise input_error(
        f"a plan that ends in {ending or 'nothing'!r} cannot be read",
        "give the plan as .dxf, .csv, .xlsx, .geojson, .pdf, .png, .jpg or .tif",
        file=path,
    )
