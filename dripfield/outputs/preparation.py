"""The files of preparing a site for the day, with the ticks of before."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from dripfield.core.output import staged_output
from dripfield.design.model import Design
from dripfield.files.register import Writer, write_outputs
from dripfield.preparation.prepared import Prepared, prepared
from dripfield.preparation.site_needs import Marks
from dripfield.site.reader import input_files
from dripfield.staking.method import field_method


def marks_of(design: Design) -> Marks | None:
    """A flag a mark of the field method, a stake a base line's end, paint along every lateral.

    Returns
    -------
    Marks or None
        None without a lateral.
    """
    if not design.layout.laterals:
        return None
    plan = field_method(design)
    ends = sum(point.kind == "base line" for point in plan.points)
    painted = sum(measure.length for _, measure in design.laterals.values())
    return Marks(flags=len(plan.rows), stakes=ends, painted=painted)


def write_preparation(
    design: Design,
    out: str | Path,
    *,
    older: str | Path | None = None,
    ticked: Sequence[str | Path] = (),
) -> tuple[Prepared, tuple[Path, ...]]:
    """Prepare a site and write all its files, with the ticks that the folder holds: all or nothing.

    Parameters
    ----------
    design : Design
    out : str or Path
        Folder to write into; made when missing. A ``readiness.csv`` and a ``takeoff.csv`` in it are
        read first.
    older : str or Path, optional
        An older take-off, in place of the one in ``out``.
    ticked : sequence of str or Path
        Lists ticked elsewhere; they go before the one in ``out``.

    Returns
    -------
    Prepared
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        As :func:`prepared`, or the folder may not be written.
    """
    out = Path(out)
    kept, last = out / "readiness.csv", out / "takeoff.csv"
    found = prepared(
        design,
        marks_of(design),
        older=older if older is not None else last if last.is_file() else None,
        ticked=[*([kept] if kept.is_file() else []), *ticked],
    )
    with staged_output(out, protect=input_files(design.site)) as stage:
        files = write_preparation_files(found, stage)
    return found, tuple(out / path.name for path in files)


def write_preparation_files(found: Prepared, folder: Path) -> list[Path]:
    """Write the files of preparing into a folder: those of :mod:`dripfield.files.register`.

    Parameters
    ----------
    found : Prepared
    folder : Path
        Exists; files of these names are replaced.

    Returns
    -------
    list of Path
        In the order of the register.
    """
    from dripfield.files.csv import write_csv
    from dripfield.files.preparation import (
        changes_table,
        coils_table,
        day_table,
        effects_table,
        findings_table,
        readiness_table,
        submittal_table,
        takeoff_table,
    )
    from dripfield.files.xlsx import write_workbook
    from dripfield.sheets.preparation.day_chart import write_day_chart
    from dripfield.sheets.preparation.document import write_prepare_pdf
    from dripfield.sheets.preparation.tick_page import write_tick_page

    made, unit = found.preparation, found.design.site.unit
    plans = (
        ("tubing with emitters", made.takeoff.coils),
        ("blank tubing", made.takeoff.blank_coils),
    )
    tables = {
        "takeoff.csv": takeoff_table(made.takeoff.items, made.prices),
        "coils.csv": coils_table(plans, unit.short),
        "readiness.csv": readiness_table(found.readiness),
        "day.csv": day_table(made.day),
        "what_if.csv": effects_table(made.day),
    }
    if found.changes is not None:
        tables["changes.csv"] = changes_table(found.changes)
    if found.findings:
        tables["heights.csv"] = findings_table(found.findings)
    if found.submittals:
        tables["submittal.csv"] = submittal_table(found.submittals)
    book = [table for name, table in tables.items() if name != "readiness.csv" and table.rows]
    writers: dict[str, Writer] = {
        name: partial(write_csv, table=table) for name, table in tables.items()
    }
    writers["takeoff.xlsx"] = lambda path: write_workbook(path, book)
    writers["day.png"] = lambda path: write_day_chart(found, path)
    writers["prepare.pdf"] = lambda path: write_prepare_pdf(found, path)
    writers["readiness.html"] = lambda path: write_tick_page(found, path)
    return list(write_outputs("prepare", folder, writers))
