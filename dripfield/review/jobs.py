"""The reviewer's three jobs from folders and files to findings."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from shapely import MultiPolygon

from dripfield.core.errors import input_error
from dripfield.design.lay_out import lay_out
from dripfield.design.model import Design, design_of
from dripfield.layout.model import Layout
from dripfield.review.judge.compare import compare_plan
from dripfield.review.judge.revision import (
    Revision,
    compare_revisions,
    is_layout_folder,
    read_layout_folder,
    read_volumes,
)
from dripfield.review.laid.record import make_record
from dripfield.review.laid.record_result import Record
from dripfield.review.model.limits import Limits, review_limits
from dripfield.review.model.plan import Plan, PlanOptions
from dripfield.review.model.result import Comparison
from dripfield.review.place.picture import place_picture
from dripfield.review.place.plan_scale import check_stated_units
from dripfield.review.place.register import Pairs, Placement, place_plan
from dripfield.review.place.written import settle_written
from dripfield.review.read.common_points import read_common_points
from dripfield.review.read.read_plan import read_plan
from dripfield.review.read.shots import read_laid_shots
from dripfield.site.model import Site
from dripfield.site.reader import SITE_FILE, read_site


@dataclass(frozen=True)
class PlanReview:
    """A plan compared with a design, and what was laid with it where shots were given."""

    design: Design
    limits: Limits
    comparison: Comparison
    record: Record | None


@dataclass(frozen=True)
class RevisionReview:
    """One layout compared with a later one."""

    before: Revision
    after: Revision
    limits: Limits
    comparison: Comparison


def lay_out_site(site: Site) -> Design:
    """Lay out a site for a review.

    Raises
    ------
    InputError
        As laying out does, or no lateral fits, or a limit contradicts another.
    """
    design = lay_out(site)
    if not design.layout.laterals:
        raise input_error(
            "no lateral fits this bed, so there is nothing to compare",
            "run dripfield layout and read its notes, then change [layout] or the bed",
            file=SITE_FILE,
            field="[layout]",
        )
    return design


def review_plan(
    folder: Path,
    plan_file: Path,
    options: PlanOptions,
    *,
    common_file: Path | None = None,
    shots_file: Path | None = None,
) -> PlanReview:
    """Compare an approved plan with the layout of a site.

    Parameters
    ----------
    folder : Path
        The site folder.
    plan_file : Path
    options : PlanOptions
    common_file : Path, optional
        Common points of plan and site.
    shots_file : Path, optional
        Shots of what was laid.

    Returns
    -------
    PlanReview

    Raises
    ------
    InputError
        As the readers, the placing and the site do.
    """
    site = read_site(folder)
    plan = read_plan(plan_file, site, options)
    common = None if common_file is None else read_common_points(common_file)
    shots = None if shots_file is None else read_laid_shots(shots_file, site)
    limits = review_limits(site)
    design = lay_out_site(site)
    plan, placement = _on_site(plan, design, limits, options, common)
    comparison = compare_plan(design, plan, limits, placement)
    record = None
    if shots is not None:
        record = make_record(design, shots, limits)
    return PlanReview(design, limits, comparison, record)


def _on_site(
    plan: Plan, design: Design, limits: Limits, options: PlanOptions, common: Pairs | None
) -> tuple[Plan, Placement | None]:
    """The plan on the site and in the site's unit, as far as it is drawn."""
    placement: Placement | None = None
    plan = settle_written(plan, design, options, "elevation")
    if plan.picture is not None:
        plan, placement = place_picture(plan, design, common)
    elif plan.is_drawn:
        plan, placement = place_plan(plan, design, limits, options, common)
    plan = settle_written(plan, design, options, "length")
    check_stated_units(plan, design, options)
    return plan, placement


def review_shots(folder: Path, shots_file: Path) -> tuple[Design, Limits, Record]:
    """Compare shots of staked or laid tubing with the layout of a site, and tie them.

    Raises
    ------
    InputError
        As the readers and the site do, or no shot belongs to a lateral.
    """
    site = read_site(folder)
    shots = read_laid_shots(shots_file, site)
    limits = review_limits(site)
    design = lay_out_site(site)
    return design, limits, make_record(design, shots, limits)


def review_revision(first: Path, second: Path) -> RevisionReview:
    """Compare two layouts: each a site folder, or one of them a folder of a written layout.

    Raises
    ------
    InputError
        Neither is a site, or they differ in unit or coordinate system.
    """
    written = [is_layout_folder(one) and not (one / SITE_FILE).exists() for one in (first, second)]
    if all(written):
        raise input_error(
            "both folders hold a written layout and neither is a site",
            "give the site folder as one of the two",
            file=second,
        )
    designs = [
        None if is_written else lay_out_site(read_site(folder))
        for folder, is_written in zip((first, second), written, strict=True)
    ]
    home = next(design for design in designs if design is not None)
    before, after = (
        _written(folder, home) if design is None else _designed(folder, design)
        for folder, design in zip((first, second), designs, strict=True)
    )
    if before.design.site.unit is not after.design.site.unit:
        raise input_error(
            f"the first site is in {before.design.site.unit.label} and the second in "
            f"{after.design.site.unit.label}",
            "compare sites of one unit",
            file=second,
        )
    systems = [one.design.site.file.site.crs for one in (before, after)]
    if None not in systems and systems[0] != systems[1]:
        raise input_error(
            f"the first site is in {systems[0]} and the second in {systems[1]}",
            "compare sites of one coordinate system",
            file=second,
        )
    limits = review_limits(after.design.site)
    return RevisionReview(before, after, limits, compare_revisions(before, after, limits))


def _designed(folder: Path, design: Design) -> Revision:
    volumes: dict[str, float] = {}
    if design.site.file.bed.section is not None:
        from dripfield.bed.design import design_bed
        from dripfield.bed.materials import take_off

        bed = design_bed(design.site, design.ground.surface)
        volumes = {row.material: row.volume.net for row in take_off(bed)}
    return Revision(folder, design, volumes, None)


def _written(folder: Path, home: Design) -> Revision:
    """A layout as it was written, measured on the other side's ground and settings."""
    laterals = read_layout_folder(folder, home.site.unit)
    layout = Layout("written", laterals, MultiPolygon())
    design = design_of(home.ground, home.surface, layout)
    return Revision(folder, design, read_volumes(folder), folder)
