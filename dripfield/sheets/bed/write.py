"""The files of ``dripfield bed`` and of ``dripfield check-bed``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dripfield.bed.check import BedCheck
from dripfield.bed.design import BedDesign, design_bed
from dripfield.bed.materials import MaterialVolume, take_off
from dripfield.bed.notes import DesignNote, deepest_dig, design_notes
from dripfield.bed.rake import GradeStakes, grade_stakes
from dripfield.bed.section import Section, bed_sections
from dripfield.core.cautions import cautions
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.model import Layout
from dripfield.rules import About, Finding, check_rules, facts_of
from dripfield.sheets.bed.readings import Readings, rod_readings
from dripfield.site.model import Site

_ABOUT: tuple[About, ...] = ("bed",)
_DEEP = 4.0  # [ft]; 29 CFR 1926.651(c)(2), whose caution speaks of 5 ft too


@dataclass(frozen=True)
class BedReport:
    """A bed's design and all that is said of it."""

    design: BedDesign
    sections: tuple[Section, ...]
    rows: tuple[MaterialVolume, ...]
    notes: tuple[DesignNote, ...]
    findings: tuple[Finding, ...]
    stakes: GradeStakes
    readings: Readings | None


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
    return BedReport(
        design=design,
        sections=bed_sections(design, ground),
        rows=take_off(design),
        notes=design_notes(design),
        findings=tuple(check_rules(facts_of(site), _ABOUT)),
        stakes=stakes,
        readings=rod_readings(site, stakes),
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
    from dripfield.sheets.bed.depth_map import write_depth_map
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
    return [volumes, section_png, section_pdf, section_dxf, depth_map, rake, rake_pdf, facts]


def write_check(check: BedCheck, site: Site, layout: Layout | None, folder: Path) -> list[Path]:
    """Write the check's tables and map into a folder; returns their paths."""
    from dripfield.sheets.bed.check_map import write_check_map
    from dripfield.sheets.bed.tables import write_bed_check, write_lateral_check, write_zones

    names: Sequence[str] = (
        "bed_check.csv",
        "bed_check.png",
        "rake_zones.csv",
        "laterals_as_raked.csv",
    )
    shots, picture, zones, laterals = (folder / name for name in names)
    write_bed_check(shots, check, site.unit)
    write_check_map(picture, site, check, layout)
    write_zones(zones, check, site.unit)
    write_lateral_check(laterals, check, site)
    return [shots, picture, zones, laterals]
