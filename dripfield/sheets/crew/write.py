"""All that the crew takes along, written into one folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dripfield.core.feet_inches import decimal
from dripfield.design.model import Design
from dripfield.files.points import write_exports
from dripfield.sheets.crew.gather import CrewWork, gather
from dripfield.sheets.crew.lateral_table import write_flags, write_lateral_table, write_rod_readings
from dripfield.sheets.kit.suspects import suspect_notes
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
    site, surface, layout, measured
        ``measured`` is of that layout on that surface.
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
    from dripfield.sheets.crew.pdf_set import write_sheets_pdf
    from dripfield.sheets.crew.phone import write_phone_page
    from dripfield.sheets.kit.relief import show_relief
    from dripfield.sheets.staking.staking_dxf import write_staking

    work = gather(design, settings or crew_settings(design.site))
    relief = show_relief(design.ground, design.surface.surface)
    titles = write_sheets_pdf(folder / "sheets.pdf", work, relief)
    write_phone_page(folder / "phone.html", work)
    write_lateral_table(folder / "lateral_table.csv", work.laterals, design.site.unit)
    write_flags(folder / "flags.csv", work.flags, design.site.unit)
    files = ["sheets.pdf", "phone.html", "lateral_table.csv", "flags.csv"]
    if work.setups:
        write_rod_readings(folder / "rod_readings.csv", work.rods, work.setups, design.site.unit)
        files.append("rod_readings.csv")
    files += write_exports(folder, work)
    shown = (relief.levels, relief.gaps, relief.suspects)
    write_staking(folder / "staking.dxf", design, work.stakes, *shown)
    files.append("staking.dxf")
    return WrittenSheets(tuple(files), tuple(_summary(work, titles, relief.suspects)))


def _summary(work: CrewWork, titles: list[str], suspects: Sequence[Suspect]) -> list[str]:
    flags, unit = work.flags, work.design.site.unit
    plan = next(title for title in titles if title.startswith("Plan"))
    lines = [
        f"{len(titles)} sheets on {work.settings.paper}; {plan.split(', part')[0].lower()}",
        f"{flags.flags} flags, {flags.paint:.0f} {unit.short} of paint; base line"
        f" {flags.base.start.name} to {flags.base.end.name}",
    ]
    if not work.setups:
        lines.append("no benchmark in site.toml: no rod readings")
    else:
        first = work.setups[0]
        lines.append(
            f"{len(work.setups)} set-up{'s' if len(work.setups) > 1 else ''} of the laser; the"
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
    return [*lines, *suspect_notes(suspects)]
