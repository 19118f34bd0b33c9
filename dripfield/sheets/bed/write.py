"""The files of ``dripfield bed`` and of ``dripfield check-bed``."""

from __future__ import annotations

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
from dripfield.files.register import Writer, write_outputs
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
    from dripfield.files.csv import write_csv
    from dripfield.files.landxml import write_landxml_surface
    from dripfield.sheets.bed.depth_map import write_depth_map
    from dripfield.sheets.bed.finished import earth_file, toe_file, write_finished_dxf
    from dripfield.sheets.bed.rake_sheet import write_rake_sheet
    from dripfield.sheets.bed.section_dxf import write_section_dxf
    from dripfield.sheets.bed.section_sheet import draw_sections
    from dripfield.sheets.bed.tables import rake_file, volumes_file, write_bed_json
    from dripfield.sheets.kit.style import save_figure

    design, unit = report.design, report.design.site.unit
    sections, rows, stakes, readings = (
        report.sections,
        report.rows,
        report.stakes,
        report.readings,
    )
    figure = draw_sections(design, sections)
    writers: dict[str, Writer] = {
        "volumes.csv": lambda path: write_csv(path, volumes_file(rows, unit)),
        "section.png": lambda path: save_figure(figure, path),
        "section.pdf": lambda path: save_figure(figure, path),
        "section.dxf": lambda path: write_section_dxf(path, design, sections),
        "depth_map.png": lambda path: write_depth_map(
            path, design, sections, rows, report.notes, report.findings
        ),
        "rake.csv": lambda path: write_csv(path, rake_file(stakes, readings, unit)),
        "rake.pdf": lambda path: write_rake_sheet(path, design, stakes, readings),
        "bed.json": lambda path: write_bed_json(
            path, design, rows, report.notes, report.findings, readings
        ),
        "toe.csv": lambda path: write_csv(path, toe_file(report.lines, unit)),
        "earth.csv": lambda path: write_csv(path, earth_file(report.balance, unit)),
        "finished.dxf": lambda path: write_finished_dxf(path, report.finished, report.lines, unit),
        "finished.xml": lambda path: write_landxml_surface(
            path, report.finished, "finished grade", design.site
        ),
    }
    return list(write_outputs("bed", folder, writers))


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
    from dripfield.files.csv import write_csv
    from dripfield.sheets.bed.check_map import write_check_map
    from dripfield.sheets.bed.tables import check_file, laterals_as_raked_file, zones_file

    writers: dict[str, Writer] = {
        "bed_check.csv": lambda path: write_csv(path, check_file(check, site.unit)),
        "bed_check.png": lambda path: write_check_map(path, site, check, verdict, layout),
        "rake_zones.csv": lambda path: write_csv(path, zones_file(check, site.unit)),
        "laterals_as_raked.csv": lambda path: write_csv(path, laterals_as_raked_file(check, site)),
        "verdict.json": lambda path: write_verdict(path, verdict),
    }
    return list(write_outputs("check-bed", folder, writers))
