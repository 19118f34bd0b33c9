"""All that the crew takes along, written into one folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import cast

from dripfield.core.feet_inches import decimal
from dripfield.core.words import counted
from dripfield.crew.say import as_laid_words, way_words
from dripfield.design.model import Design
from dripfield.files.register import Writer, write_outputs
from dripfield.sheets.crew.gather import CrewWork, gather
from dripfield.sheets.crew.lateral_table import flags_file, lateral_file, rod_file
from dripfield.sheets.kit.suspects import suspect_notes
from dripfield.staking.field import field_file, points_file, stakes_file
from dripfield.staking.marking import total
from dripfield.staking.settings import CrewSettings, crew_settings
from dripfield.survey.doubt.blunders import Suspect


@dataclass(frozen=True)
class WrittenSheets:
    """The names of the files written, and what to say of them in a few lines."""

    files: tuple[str, ...]
    summary: tuple[str, ...]


def write_sheets(
    folder: Path, design: Design, settings: CrewSettings | None = None
) -> WrittenSheets:
    """Write ``sheets.pdf``, ``phone.html``, the crew's tables and the stake-out files.

    Parameters
    ----------
    folder : Path
        Exists; files of these names are replaced.
    design : Design
    settings : CrewSettings, optional
        Those of the site unless given.

    Returns
    -------
    WrittenSheets

    Raises
    ------
    InputError
        No lateral, a backsight that reads no target, a paper too small, a name or coordinate
        system that is not known.
    """
    from dripfield.files.csv import write_csv
    from dripfield.sheets.crew.pdf_set import write_sheets_pdf
    from dripfield.sheets.crew.phone import write_phone_page
    from dripfield.sheets.crew.stakeout import stakeout_writers
    from dripfield.sheets.kit.relief import show_relief
    from dripfield.sheets.staking.staking_dxf import write_staking

    work = gather(design, settings or crew_settings(design.site))
    relief = show_relief(design.ground, design.surface.surface)
    shown = (relief.levels, relief.gaps, relief.suspects)
    tables = {
        "field.csv": field_file(work.field, design.site.unit),
        "points.csv": points_file(work.field, design.site.unit),
        "stakes.csv": stakes_file(work.field, design.site.unit),
        "lateral_table.csv": lateral_file(work.laterals, design.site.unit),
        "flags.csv": flags_file(work.marking, design.site.unit),
    }
    if work.setups:
        tables["rod_readings.csv"] = rod_file(work.rods, work.setups, design.site.unit)
    writers: dict[str, Writer] = {
        "sheets.pdf": lambda path: write_sheets_pdf(path, work, relief),
        "phone.html": lambda path: write_phone_page(path, work),
        **{name: partial(write_csv, table=table) for name, table in tables.items()},
        **stakeout_writers(work),
        "staking.dxf": lambda path: write_staking(path, design, work.stakes, *shown),
    }
    written = write_outputs("sheets", folder, writers)
    titles = cast(list[str], written[folder / "sheets.pdf"])
    files = tuple(path.name for path in written)
    return WrittenSheets(files, tuple(_summary(work, titles, relief.suspects)))


def _summary(work: CrewWork, titles: list[str], suspects: Sequence[Suspect]) -> list[str]:
    unit, field = work.design.site.unit, work.field
    plan = next(title for title in titles if title.startswith(("Plan", "Plano")))
    lines = [
        f"{len(titles)} sheets on {work.settings.paper}; {plan.split(', part')[0].lower()}",
        as_laid_words(work.as_laid, work.way),
        *way_words(work.choice, work.way),
        f"{len(field.rows)} marks, {len(field.rows) - field.count('gauge')} of them by"
        f" {field.tool} ({field.by_hand:.0%}), {field.count('gauge')} by stick;"
        f" {total(work.marking, 'paint'):.0f} {unit.short} of paint,"
        f" {total(work.marking, 'string'):.0f} {unit.short} of string",
    ]
    if not work.setups:
        lines.append("no benchmark in site.toml: no rod readings")
    else:
        first = work.setups[0]
        lines.append(
            f"{counted(len(work.setups), 'set-up')} of the laser; the"
            f" first at {decimal(first.height, unit)} {unit.short}, backsight"
            f" {decimal(first.backsight, unit)} {unit.short} on {first.mark}"
            f"{'' if work.settings.backsight is not None else ' (planned)'}"
        )
    if not work.design.site.file.site.crs:
        lines.append("no crs in site.toml: no GeoJSON, KML or GPX")
    missed = work.design.measured.missed_level + work.design.measured.missed_spacing
    if missed:
        lines.append(
            f"out of tolerance somewhere: {work.design.measured.missed_level} laterals in level,"
            f" {work.design.measured.missed_spacing} in spacing"
        )
    return [*lines, *field.notes, *suspect_notes(suspects)]
