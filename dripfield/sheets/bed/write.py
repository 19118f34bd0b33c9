"""The files of ``dripfield bed`` and of ``dripfield check-bed``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dripfield.bed.balance import BalanceRow, earth_balance
from dripfield.bed.check import BedCheck
from dripfield.bed.design import BedDesign, design_bed
from dripfield.bed.materials import MaterialVolume, take_off
from dripfield.bed.notes import DesignNote, deepest_dig, design_notes
from dripfield.bed.rake import GradeStakes, grade_stakes
from dripfield.bed.remarks import bed_remarks
from dripfield.bed.section import Section, bed_sections
from dripfield.bed.toe import GradeLine, finished_surface, grade_lines
from dripfield.core.cautions import cautions
from dripfield.core.verdict import Verdict, write_verdict
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.model import Layout
from dripfield.rules import About, Finding, check_rules, facts_of
from dripfield.sheets.bed.readings import Readings, rod_readings
from dripfield.site.model import Site

_ABOUT: tuple[About, ...] = ("bed",)
_DEEP = 4.0  # [ft]; 29 CFR 1926.651(c)(2), whose caution speaks of 5 ft too


@dataclass(frozen=True)
class BedReport:
    """A bed's design and all that is said of it.

    Attributes
    ----------
    design : BedDesign
    sections : tuple of Section
    rows : tuple of MaterialVolume
    notes : tuple of DesignNote
    findings : tuple of Finding
    stakes : GradeStakes
    readings : Readings or None
    lines : tuple of GradeLine
        Toe and shoulder.
    finished : Surface
        The finished grade from daylight line to daylight line.
    balance : tuple of BalanceRow
    remarks : tuple of str
        What else must be known: keepouts, frost, the sand's grain sizes.
    """

    design: BedDesign
    sections: tuple[Section, ...]
    rows: tuple[MaterialVolume, ...]
    notes: tuple[DesignNote, ...]
    findings: tuple[Finding, ...]
    stakes: GradeStakes
    readings: Readings | None
    lines: tuple[GradeLine, ...]
    finished: Surface
    balance: tuple[BalanceRow, ...]
    remarks: tuple[str, ...]


def bed_report(site: Site, ground: Surface) -> BedReport:
    """Design a bed and work out volumes, sections, rules and grade stakes.

    Parameters
    ----------
    site : Site
        With a ``[bed.section]``.
    ground : Surface
        Existing ground.

    Returns
    -------
    BedReport

    Raises
    ------
    InputError
        As the parts of it raise.
    """
    design = design_bed(site, ground)
    stakes = grade_stakes(design, site.unit)
    rows = take_off(design)
    return BedReport(
        design=design,
        sections=bed_sections(design, ground),
        rows=rows,
        notes=design_notes(design),
        findings=tuple(check_rules(facts_of(site), _ABOUT)),
        stakes=stakes,
        readings=rod_readings(site, stakes),
        lines=grade_lines(design, ground, stakes.spacing),
        finished=finished_surface(design),
        balance=earth_balance(design, rows),
        remarks=bed_remarks(design),
    )


def bed_cautions(design: BedDesign) -> list[str]:
    """The cautions that the depth of the dig calls for."""
    depth, unit = deepest_dig(design), design.site.unit
    if unit.to_feet(depth) < _DEEP - 1e-6:
        return []
    words = f"the dig is up to {depth:.{unit.places}f} {unit.short} deep."
    return [f"{words} {caution}" for caution in cautions("excavation")[:1]]


def write_bed(report: BedReport, folder: Path) -> list[Path]:
    """Write the bed's tables and drawings into a folder; returns their paths."""
    from dripfield.files.landxml import write_landxml_surface
    from dripfield.sheets.bed.depth_map import write_depth_map
    from dripfield.sheets.bed.finished import write_earth, write_finished_dxf, write_toe
    from dripfield.sheets.bed.rake_sheet import write_rake_sheet
    from dripfield.sheets.bed.section_dxf import write_section_dxf
    from dripfield.sheets.bed.section_sheet import write_section_sheet
    from dripfield.sheets.bed.tables import write_bed_json, write_rake, write_volumes

    design, unit = report.design, report.design.site.unit
    volumes, section_png, section_pdf, section_dxf, depth_map, rake, rake_pdf, facts = (
        folder / name
        for name in (
            "volumes.csv",
            "section.png",
            "section.pdf",
            "section.dxf",
            "depth_map.png",
            "rake.csv",
            "rake.pdf",
            "bed.json",
        )
    )
    write_volumes(volumes, report.rows, unit)
    write_section_sheet(design, report.sections, section_png, section_pdf)
    write_section_dxf(section_dxf, design, report.sections)
    write_depth_map(depth_map, design, report.sections, report.rows, report.notes, report.findings)
    write_rake(rake, report.stakes, report.readings, unit)
    write_rake_sheet(rake_pdf, design, report.stakes, report.readings)
    write_bed_json(facts, design, report.rows, report.notes, report.findings, report.readings)
    toe, earth, finished_dxf, finished_xml = (
        folder / name for name in ("toe.csv", "earth.csv", "finished.dxf", "finished.xml")
    )
    write_toe(toe, report.lines, unit)
    write_earth(earth, report.balance, unit)
    write_finished_dxf(finished_dxf, report.finished, report.lines, unit)
    write_landxml_surface(finished_xml, report.finished, "finished grade", design.site)
    drawn = [volumes, section_png, section_pdf, section_dxf, depth_map, rake, rake_pdf, facts]
    return [*drawn, toe, earth, finished_dxf, finished_xml]


def write_check(
    check: BedCheck, verdict: Verdict, site: Site, layout: Layout | None, folder: Path
) -> list[Path]:
    """Write the check's verdict, tables and map into a folder.

    Parameters
    ----------
    check : BedCheck
    verdict : Verdict
    site : Site
    layout : Layout or None
    folder : Path

    Returns
    -------
    list of Path
    """
    from dripfield.sheets.bed.check_map import write_check_map
    from dripfield.sheets.bed.tables import write_bed_check, write_lateral_check, write_zones

    names: Sequence[str] = (
        "bed_check.csv",
        "bed_check.png",
        "rake_zones.csv",
        "laterals_as_raked.csv",
        "verdict.json",
    )
    shots, picture, zones, laterals, answer = (folder / name for name in names)
    write_bed_check(shots, check, site.unit)
    write_check_map(picture, site, check, verdict, layout)
    write_zones(zones, check, site.unit)
    write_lateral_check(laterals, check, site)
    write_verdict(answer, verdict)
    return [shots, picture, zones, laterals, answer]
