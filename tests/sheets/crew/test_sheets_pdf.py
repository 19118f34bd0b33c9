"""The printable set: true scale, papers, tiling, content, bad input."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pypdf
import pytest
import shapely
from shapely import box

from dripfield.core.cautions import cautions
from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.sheets.crew.pdf_set import PAGE_MAKERS, write_sheets_pdf
from dripfield.sheets.crew.sheet import Page
from dripfield.sheets.kit.paper import tile_bed
from dripfield.sheets.kit.relief import show_relief
from dripfield.sheets.kit.style import PAPERS, write_text
from dripfield.site.schema.bed_section import BedSection
from dripfield.site.schema.crew import Benchmark
from dripfield.site.schema.zones import EmitterTable


@pytest.fixture
def pdf(tmp_path: Path) -> Callable[..., tuple[pypdf.PdfReader, list[str]]]:
    """Writes a set and opens it."""

    def written(work: Any, **more: Any) -> tuple[pypdf.PdfReader, list[str]]:
        path = tmp_path / "sheets.pdf"
        titles = write_sheets_pdf(
            path, work, show_relief(work.design.ground, work.design.surface.surface), **more
        )
        return pypdf.PdfReader(path), titles

    return written


def _segments(page: Any) -> np.ndarray:
    """Every straight stroke of a page, (k, 2, 2) in points, from its content stream."""
    content = page.get_contents().get_data().decode("latin-1")
    segments, last = [], None
    for line in content.splitlines():
        if found := re.fullmatch(r"(-?[\d.]+) (-?[\d.]+) ([ml])", line.strip()):
            place = (float(found[1]), float(found[2]))
            if found[3] == "l" and last is not None:
                segments.append((last, place))
            last = place
    return np.array(segments)


def _lengths(page: Any) -> np.ndarray:
    ends = _segments(page)
    return np.hypot(*(ends[:, 1] - ends[:, 0]).T)


def _one_lateral(hand: Any, length: float, unit: Unit) -> Any:
    """A plane falling south with one lateral of a length."""
    edge = unit.default(1.0, 0.3)
    xy = np.array(((edge, 5.0 * edge), (edge + length, 5.0 * edge)))
    bed = hand.Bed(box(0.0, 0.0, length + 2.0 * edge, 10.0 * edge))
    return hand.make_field(
        lambda x, y: 100.0 + 0.08 * y,
        bed,
        [("L01", "A", xy, 100.0 + 0.08 * 5.0 * edge)],
        unit=unit,
        spacing=2.0 * edge,
    )


def test_a_lateral_of_100_ft_is_ten_inches_long(hand: Any, benched: Any, pdf: Any) -> None:
    """1 in = 10 ft: 720 points, measured in the vector file itself."""
    work = benched(
        _one_lateral(hand, 100.0, Unit.FOOT), options={"paper": "tabloid", "scale": 10.0}
    )
    reader, titles = pdf(work)
    assert titles[1] == "Plan, 1 in = 10 ft"
    assert "1 in = 10 ft on tabloid (17 x 11 in)" in reader.pages[1].extract_text()
    assert np.abs(_lengths(reader.pages[1]) - 720.0).min() < 0.01
    assert not np.any(np.abs(_lengths(reader.pages[2]) - 720.0) < 0.01), "only on the plan"


def test_a_lateral_of_20_m_is_200_mm_long(hand: Any, benched: Any, pdf: Any) -> None:
    """1:100: 200 mm is 200 / 25.4 * 72 points."""
    reader, titles = pdf(
        benched(_one_lateral(hand, 20.0, Unit.METRE), options={"paper": "A4", "scale": 100.0})
    )
    assert titles[1] == "Plan, 1:100"
    assert np.abs(_lengths(reader.pages[1]) - 200.0 / 25.4 * 72.0).min() < 0.01


@pytest.mark.parametrize(("paper", "inches"), [("letter", 3.0), ("A4", 80.0 / 25.4)])
def test_bar_to_check_the_printer(
    plane: Any, hand: Any, benched: Any, pdf: Any, paper: str, inches: float
) -> None:
    field = plane if paper == "letter" else hand.plane(Unit.METRE)
    reader, _ = pdf(benched(field), makers=PAGE_MAKERS[:1])
    label = "3 inches" if paper == "letter" else "80 mm"
    parts = 3 if paper == "letter" else 8
    for page in reader.pages[:2]:
        assert f"measures {label} when printed at full size" in page.extract_text()
        ends = _segments(page)
        step = inches * 72.0 / parts
        flat = ends[np.abs(ends[:, 0, 1] - ends[:, 1, 1]) < 1e-3]
        strokes = flat[np.abs(np.abs(flat[:, 1, 0] - flat[:, 0, 0]) - step) < 0.01]
        assert np.ptp(strokes[:, :, 0]) == pytest.approx(inches * 72.0, abs=0.05)


@pytest.mark.parametrize(
    ("paper", "size"),
    [  # published: ANSI/ASME Y14.1 and ISO 216
        ("letter", (792.0, 612.0)),
        ("tabloid", (1224.0, 792.0)),
        ("A4", (841.89, 595.28)),
        ("A3", (1190.55, 841.89)),
    ],
)
def test_papers(plane: Any, benched: Any, pdf: Any, paper: str, size: tuple[float, float]) -> None:
    reader, _ = pdf(benched(plane, options={"paper": paper}), makers=PAGE_MAKERS[:2])
    for page in reader.pages:
        found = (float(page.mediabox.width), float(page.mediabox.height))
        assert sorted(found) == pytest.approx(sorted(size), abs=0.01)


def test_cover_says_what_the_set_is_for(plane: Any, benched: Any, pdf: Any) -> None:
    reader, titles = pdf(benched(plane))
    cover = " ".join(reader.pages[0].extract_text().split())
    for text in (
        "Upper Meadow", "ft (international)", "assumed, peg at the gate 100.00", "2024-05-14",
        "BM 1: elevation 103.20 ft", "Northing 60.00, easting -20.00", "Designed by", "Staked by",
        "Checked by", "811",
    ):  # fmt: skip
        assert text in cover
    for caution in cautions():
        assert caution in cover
    for number, page in enumerate(reader.pages, 1):
        assert f"sheet {number} of {len(titles)}" in page.extract_text()


def test_tables_hold_every_lateral_stake_and_mark(hand: Any, benched: Any, pdf: Any) -> None:
    work = benched(hand.awkward(rows=7), emitters=EmitterTable(spacing=2.0))
    reader, titles = pdf(work)

    def words(title: str) -> list[str]:
        pages = [p for p, t in zip(reader.pages, titles, strict=True) if t == title]
        return " ".join(page.extract_text() for page in pages).split()

    names = [row.name for row in work.laterals]
    for title in ("Lateral table", "Laser sheet"):
        assert set(names) <= set(words(title))
    staked = words("Staking table")
    assert {str(s.point) for s in work.stakes} <= set(staked)
    painted = [one for one in work.flags.laterals if one.laying == "paint"]
    found = words("Paint: stations and offsets")
    for one in painted:
        assert f"{one.marks[0].station:.1f}" in found


def test_same_site_same_bytes(plane: Any, benched: Any, tmp_path: Path) -> None:
    work = benched(plane)
    relief = show_relief(work.design.ground, work.design.surface.surface)
    for name in ("one.pdf", "two.pdf"):
        write_sheets_pdf(tmp_path / name, work, relief)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
    about = pypdf.PdfReader(tmp_path / "one.pdf").metadata
    assert about.creation_date is None
    assert about.title == "Upper Meadow"


def test_without_a_benchmark_no_laser_sheet(plane: Any, crew_work: Any, pdf: Any) -> None:
    reader, titles = pdf(crew_work(plane))
    assert "Laser sheet" not in titles
    assert "no rod readings are worked out" in reader.pages[0].extract_text()


def test_a_further_maker_joins_the_set(plane: Any, benched: Any, pdf: Any) -> None:
    def section(work: Any, relief: Any, paper: Any) -> list[Page]:
        draw = lambda axes, room: write_text(axes, room[0], room[1], "sand and gravel", 9.0)  # noqa: E731
        return [Page("Bed section", paper, draw)]

    reader, titles = pdf(benched(plane), makers=(*PAGE_MAKERS, section))
    assert titles[-1] == "Bed section"
    assert "Bed section" in reader.pages[0].extract_text()
    assert "sand and gravel" in reader.pages[-1].extract_text()


def test_a_site_with_a_bed_section_has_its_sheets_in_the_set(
    plane: Any, benched: Any, pdf: Any
) -> None:
    section = BedSection(strip=0.5, sand=1.0, tubing_height=0.0)
    bed = msgspec.structs.replace(plane.site.file.bed, section=section)
    reader, titles = pdf(benched(plane, bed=bed), makers=PAGE_MAKERS[-1:])
    assert titles[1] == "Bed section"
    assert set(titles[2:]) == {"Bed grade stakes"}
    for number, page in enumerate(reader.pages, 1):
        assert f"sheet {number} of {len(titles)}" in page.extract_text()
    assert "section of the bed" in reader.pages[1].extract_text()


def test_one_sheet_where_it_holds_the_bed_several_where_it_does_not(
    awkward: Any, benched: Any, pdf: Any
) -> None:
    _, titles = pdf(benched(awkward), makers=PAGE_MAKERS[:1])
    assert titles[1:] == ["Plan, 1 in = 20 ft"]
    reader, titles = pdf(benched(awkward, options={"scale": 10.0}), makers=PAGE_MAKERS[:1])
    parts = [f"Plan, 1 in = 10 ft, part {i}" for i in range(1, len(titles))]
    assert titles[1:] == parts
    assert len(parts) > 1
    for number, page in enumerate(reader.pages[1:], 1):
        text = page.extract_text()
        others = {int(n) for n in re.findall(r"match line: see part (\d+)", text)}
        assert others
        assert number not in others
        for other in others:
            back = reader.pages[other].extract_text()
            assert f"match line: see part {number}" in back


def test_parts_cover_the_bed_and_overlap_at_match_lines(awkward: Any) -> None:
    bed = awkward.site.bed.boundary
    room = (25.0, 90.0, 560.0, 300.0)
    tiling = tile_bed(
        Unit.FOOT, bed, awkward.layout.laterals, 2.0, [(PAPERS["letter"], room)], wanted=10.0
    )
    assert len(tiling.tiles) > 2
    seen = shapely.union_all([tile.frame.ground for tile in tiling.tiles])
    assert seen.buffer(1e-6).covers(bed)
    # each part shows more than it stands for: 44 points at the sides, 26 above and below
    for tile in tiling.tiles:
        core, window = tile.core.bounds, tile.frame.window.bounds
        assert core[0] - window[0] >= 44.0 - 1e-6
        assert core[1] - window[1] >= 26.0 - 1e-6
        assert tile.frame.scale.per_point == pytest.approx(10.0 / 72.0)


def test_scale_is_the_largest_that_holds_the_bed(plane: Any) -> None:
    """Hand-derived: 80 x 20 ft in 500 points less 88 of border: 1 in = 20 ft needs 288."""
    tiling = tile_bed(
        Unit.FOOT,
        plane.site.bed.boundary,
        plane.layout.laterals,
        2.0,
        [(PAPERS["letter"], (0.0, 0.0, 500.0, 400.0))],
    )
    assert tiling.scale.text == "1 in = 20 ft"
    assert len(tiling.tiles) == 1


def test_paper_that_cannot_hold_one_lateral(hand: Any, benched: Any, pdf: Any) -> None:
    with pytest.raises(InputError) as caught:
        pdf(benched(_one_lateral(hand, 900.0, Unit.FOOT)))
    assert str(caught.value) == (
        "letter (11 x 8.5 in) cannot hold lateral L01, 900 ft long, even at 1 in = 60 ft, where"
        " its map is 545 x 323 ft; take larger paper (--paper tabloid), or limit laterals with"
        " [layout] max_length"
    )
    with pytest.raises(InputError) as caught:
        pdf(benched(_one_lateral(hand, 100.0, Unit.FOOT), options={"scale": 5.0}))
    assert str(caught.value) == (
        "letter (11 x 8.5 in) cannot hold lateral L01, 100 ft long, at 1 in = 5 ft, where its map"
        " is 45 x 27 ft; take larger paper (--paper tabloid), or leave the scale out, or limit"
        " laterals with [layout] max_length"
    )


def test_scale_that_is_not_listed(plane: Any, hand: Any, benched: Any, pdf: Any) -> None:
    with pytest.raises(InputError) as caught:
        pdf(benched(plane, options={"scale": 25.0}))
    assert str(caught.value) == (
        "scale: 25 is not a scale that sheets are drawn at; give one of 5, 10, 20, 30, 40, 50, 60"
        " (feet to the inch), or leave it out"
    )
    with pytest.raises(InputError, match=r"give one of 50, 100, 200, 250, 500 \(N of 1:N\)"):
        pdf(benched(hand.plane(Unit.METRE), options={"scale": 25.0}))


def test_names_are_drawn_as_written(
    plane: Any, benched: Any, pdf: Any, names: dict[str, str], renamed: Any
) -> None:
    for kind, name in names.items():
        field = renamed(plane, name)
        mark = Benchmark(name=name, elevation=103.2, northing=60.0, easting=-20.0)
        reader, titles = pdf(benched(field, name=name, benchmark=mark), makers=PAGE_MAKERS[:3])
        assert len(reader.pages) == len(titles)
        cover = "".join(reader.pages[0].extract_text().split())
        if kind not in ("right to left", "letters"):  # drawn in another order, or as boxes
            assert "".join(name.split()) in cover
