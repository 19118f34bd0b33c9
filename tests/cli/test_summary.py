"""The summary's whole text, for a layout made up by hand: what a person reads after a run."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest
from shapely import Polygon, box

from dripfield.cli.shared import show
from dripfield.cli.summary import print_summary
from dripfield.design.model import Design
from dripfield.ground.coverage import Coverage
from dripfield.ground.ground import Ground, build_ground
from dripfield.ground.laying import LayingSurface
from dripfield.layout.model import Layout, PanelOption
from dripfield.measures.field import Measured, SmoothedLevel
from dripfield.measures.laterals import LateralMeasure
from dripfield.rules import Finding, Rule
from dripfield.site.reader import read_site
from dripfield.survey.doubt.blunders import Suspect

FILES = tuple(Path("out") / name for name in ("laterals.csv", "stakes.csv"))


def rule(title: str, citation: str, status: str = "confirmed") -> Rule:
    """A made-up rule."""
    return Rule(
        id=title,
        set="invented",
        jurisdiction="Nowhere",
        scope="made-up beds",
        title=title,
        citation=citation,
        read="stored copy, age unknown",
        status=status,
        text="Made up.",
        about="layout",
        check="stated",
    )


def lateral(
    name: str, low: float = 99.95, high: float = 100.05, near: float = 2.0, far: float = 2.0
) -> LateralMeasure:
    """A lateral 50 ft long set to elevation 100, measured to these limits."""
    level_ok = low >= 99.9 and high <= 100.1
    spacing_ok = near >= 1.9 and far <= 2.1
    samples = np.zeros(2)
    return LateralMeasure(
        name=name,
        panel="A",
        length=50.0,
        elevation=100.0,
        elevation_min=low,
        elevation_max=high,
        spacing_min=near,
        spacing_max=far,
        level_ok=level_ok,
        spacing_ok=spacing_ok,
        length_level=50.0 if level_ok else 30.0,
        length_spaced=50.0 if spacing_ok else 40.0,
        length_both=30.0,
        xy=np.zeros((2, 2)),
        station=samples,
        share=samples,
        ground=samples,
        gap_left=samples,
        gap_right=samples,
        level=samples > 1,
        spaced=samples > 1,
    )


@pytest.fixture
def design(site_folder: Path) -> Design:
    laterals = (
        lateral("L01"),
        lateral("L02", low=99.8, high=100.13),
        lateral("L03", near=1.899, far=2.25),
        lateral("L04", low=99.87, near=1.6, far=float("nan")),
    )
    measured = Measured(
        laterals=laterals,
        merit=0.9449,
        coverage=0.98765,
        share_level=0.99999,
        share_spaced=1.0,
        share_both=0.95,
        panels=2,
        tubing=1234.4,
        served_area=2469.6,
        missed_level=2,
        missed_spacing=2,
    )
    area = box(2010, 5010, 2080, 5040)
    layout = Layout(method="contour", laterals=(), area=area)
    ground = found_of(build_ground(read_site(site_folder)))
    return Design(ground, LayingSurface(ground.surface), layout, measured)


def found_of(ground: Ground, gaps: tuple[Polygon, ...] = (), suspects=()) -> Ground:
    """The same ground with its findings made up."""
    found = Coverage(spacing=10.0, reach=30.0, bed_area=2100.0, outside=gaps, sparse=gaps)
    ground.__dict__.update(coverage=found, suspects=suspects)
    return ground


def printed(design: Design, capsys: pytest.CaptureFixture[str], findings=()) -> str:
    capsys.readouterr()
    print_summary(design, findings, FILES)
    return capsys.readouterr().out


def test_totals_and_what_is_missed(design: Design, capsys: pytest.CaptureFixture[str]) -> None:
    # hand-derived: L02 0.20 - 0.10 off level; L03 2.25 - 2.10 too far; L04 1.90 - 1.60 too near
    assert printed(design, capsys) == (
        """\
Convex: contour layout, lengths in ft (international)
 Laterals               4  in 2 panels
 Tubing          1,234 ft  in all
 Area served    2,470 ft2  that could be served, in plan
 Merit              0.945  level and even tubing for that area; 1 is full
 Coverage          98.7 %  of that area within half a spacing
 Level             99.9 %  of the tubing, within 0.1 ft
 Evenly spaced    100.0 %  of the tubing, within 5 % of 2 ft

Out of tolerance: 3 laterals
 lateral  length  off level by  too near by  too far by
 L02        50.0          0.10
 L03        50.0                      <0.01        0.15
 L04        50.0          0.03         0.30

Written into out: laterals.csv, stakes.csv
"""
    )


def test_everything_a_layout_can_have(design: Design, capsys: pytest.CaptureFixture[str]) -> None:
    options = (PanelOption(1, 20, 1190.0, 0.91, False), PanelOption(2, 38, 1234.4, 0.9449, True))
    findings = (
        Finding(rule("Spacing", "Code 1"), "pass", "fine"),
        Finding(rule("Cover", "Code 2", status="secondary"), "not proven", "give it"),
        Finding(rule("Length", "Code 3", status="memory"), "fail", "10 ft short"),
    )
    gap = Polygon([(2070, 5010), (2080, 5010), (2080, 5020), (2070, 5020)])
    site = design.site
    rules = msgspec.structs.replace(site.file.rules, check=["invented"])
    survey = replace(design.ground.read, notes=("survey.csv: no header",))
    site = replace(site, file=msgspec.structs.replace(site.file, rules=rules))
    suspect = Suspect(4, "17", 6, (2040.0, 5020.0), 1.2, "stands 1.20 ft above the others")
    full = replace(
        design,
        ground=found_of(replace(design.ground, site=site, read=survey), (gap,), (suspect,)),
        layout=replace(
            design.layout,
            options=options,
            dropped_count=1,
            dropped_length=3.26,
            notes=("a seam runs through the hollow",),
        ),
        measured=replace(
            design.measured,
            laterals=(lateral("A-L01"),),
            smoothed=SmoothedLevel(share_level=0.97, missed_level=3, worst=0.134, rms=0.04),
            notes=("a figure to know",),
        ),
    )
    assert printed(full, capsys, findings) == (
        """\
Convex: contour layout, lengths in ft (international)
 Laterals                 1  in 2 panels
 Tubing            1,234 ft  in all
 Area served      2,470 ft2  that could be served, in plan
 Merit                0.945  level and even tubing for that area; 1 is full
 Coverage            98.7 %  of that area within half a spacing
 Level               99.9 %  of the tubing, within 0.1 ft
 Evenly spaced      100.0 %  of the tubing, within 5 % of 2 ft
 Level, smoothed     97.0 %  on the ground without its noise, worst 0.13 off
 Not laid            3.3 ft  1 piece shorter than 5 ft

Panels to choose from (panels = under [layout])
 panels  merit  connections    tubing
      1  0.910           20  1,190 ft
      2  0.945           38  1,234 ft  <- laid

Rules: invented
 - NOT MET: Length: 10 ft short (Code 3, from memory and not confirmed)
 - not proven: Cover: give it (Code 2, secondary copy)
 - met: Spacing (Code 1)
 - 1 of 3 rules met, 1 not met, 1 not proven; the code itself and its office
   decide
 - invented: Nowhere; scope: made-up beds; text read: stored copy, age unknown

To know
 - 100 ft2 of the bed (4.7 %) lie outside the survey, most of it near northing
   5015, easting 2075: nothing is laid there (hatched on the plan)
 - 100 ft2 of the bed (4.7 %) lie farther than 30 ft from any shot, most of it
   near northing 5015, easting 2075: take shots there before trusting the
   laterals (hatched on the plan)
 - 1 suspect shot, kept unless site.toml excludes it: 17 stands 1.20 ft above
   the others
 - survey.csv: no header
 - a seam runs through the hollow
 - a figure to know

Written into out: laterals.csv, stakes.csv
"""
    )


def test_many_faults_show_the_worst_and_name_the_rest(
    design: Design, capsys: pytest.CaptureFixture[str]
) -> None:
    laterals = tuple(lateral(f"L{i:02}", high=100.11 + 0.01 * i) for i in range(1, 16))
    text = printed(replace(design, measured=replace(design.measured, laterals=laterals)), capsys)
    part = text.split("Out of tolerance: ")[1].split("\n\n")[0].splitlines()
    assert part[0] == "15 laterals"
    assert [line.split()[0] for line in part[2:14]] == [f"L{i:02}" for i in range(4, 16)]
    assert part[14:] == [" by less: L01, L02, L03"]


def test_ground_that_is_not_known_is_said(
    design: Design, capsys: pytest.CaptureFixture[str]
) -> None:
    """Level where the ground is known, but a part of it lies beyond the survey."""
    half_known = replace(lateral("L01"), level_ok=False)
    unknown = replace(
        half_known, name="L02", elevation_min=float("nan"), elevation_max=float("nan")
    )
    measured = replace(design.measured, laterals=(half_known, unknown))
    lines = printed(replace(design, measured=measured), capsys).splitlines()
    assert " L01        50.0     no survey" in lines
    assert " L02        50.0     no survey" in lines


def test_text_that_looks_like_markup_is_printed_as_it_is(
    capsys: pytest.CaptureFixture[str],
) -> None:
    show(["[bold]Site[/bold] :smile: [x]"])
    assert capsys.readouterr().out == "[bold]Site[/bold] :smile: [x]\n"
