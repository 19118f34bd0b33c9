"""The printable set: true scale, papers, tiling, content, bad input."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from string import Formatter
from typing import Any

import msgspec
import numpy as np
import pypdf
import pytest
import shapely
from shapely import box

from dripfield.core.cautions import CAUTIONS, cautions
from dripfield.core.errors import InputError
from dripfield.core.feet_inches import feet_inches
from dripfield.core.units import Unit
from dripfield.sheets.crew.language import phrases
from dripfield.sheets.crew.pdf_set import PAGE_MAKERS, write_sheets_pdf
from dripfield.sheets.kit.page import Page
from dripfield.sheets.kit.paper import tile_bed
from dripfield.sheets.kit.relief import show_relief
from dripfield.sheets.kit.style import PAPERS, write_text
from dripfield.site.schema.bed_section import BedSection
from dripfield.site.schema.crew import Benchmark, CrewTable


@pytest.fixture(scope="module")
def pdf(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Any]:
    """Writes a set and opens it; the same set of the same work is written once."""
    folder = tmp_path_factory.mktemp("sets")
    made: dict[tuple[int, Any], tuple[Any, Path, list[str]]] = {}

    def written(work: Any, **more: Any) -> tuple[pypdf.PdfReader, list[str]]:
        key = (id(work), more.get("makers"))
        if key not in made:
            path = folder / f"{len(made)}.pdf"
            relief = show_relief(work.design.ground, work.design.surface.surface)
            made[key] = work, path, write_sheets_pdf(path, work, relief, **more)
        _, path, titles = made[key]
        return pypdf.PdfReader(path), titles

    return written


@pytest.fixture(scope="module")
def short(hand: Any) -> Any:
    """The awkward field with seven rows."""
    return hand.awkward(rows=7)


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
    plan = titles.index("Plan, 1 in = 10 ft")
    assert "1 in = 10 ft on tabloid (17 x 11 in)" in reader.pages[plan].extract_text()
    assert np.abs(_lengths(reader.pages[plan]) - 720.0).min() < 0.01
    others = np.concatenate([_lengths(p) for k, p in enumerate(reader.pages) if k != plan])
    assert not np.any(np.abs(others - 720.0) < 0.01), "only on the plan"


def test_a_lateral_of_20_m_is_200_mm_long(hand: Any, benched: Any, pdf: Any) -> None:
    """1:100: 200 mm is 200 / 25.4 * 72 points."""
    reader, titles = pdf(
        benched(_one_lateral(hand, 20.0, Unit.METRE), options={"paper": "A4", "scale": 100.0})
    )
    plan = titles.index("Plan, 1:100")
    assert np.abs(_lengths(reader.pages[plan]) - 200.0 / 25.4 * 72.0).min() < 0.01


@pytest.mark.parametrize(("paper", "inches"), [("letter", 3.0), ("A4", 80.0 / 25.4)])
def test_bar_to_check_the_printer(
    plane: Any, hand: Any, benched: Any, pdf: Any, paper: str, inches: float
) -> None:
    field = plane if paper == "letter" else hand.plane(Unit.METRE)
    reader, _ = pdf(benched(field), makers=PAGE_MAKERS[:1])
    label = "3 in" if paper == "letter" else "80 mm"
    parts = 3 if paper == "letter" else 8
    for page in (reader.pages[0], reader.pages[-1]):
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


def text_of(page: Any) -> str:
    return " ".join(page.extract_text().split())


def test_first_sheets_say_how_to_work_and_what_can_hurt(plane: Any, benched: Any, pdf: Any) -> None:
    work = benched(plane, crew=CrewTable(backsight=4.25))
    reader, titles = pdf(work)
    first = text_of(reader.pages[0])
    for text in (
        "Upper Meadow", "feet", "assumed, peg at the gate 100.00", "How the work goes",
        "First the guide line of each panel (", f"{len(work.field.rows)} pink flags",
        "on 10 straight laterals", "backsight 4.25 ft (4'-3\") = height of instrument 107.45",
        "Closing check", "still off its own ground by more than 0.08 ft", "Who does what",
        "Rod on the ground", "Designed by", "Staked by", "Checked by",
        f"Layout {work.design.code}",
    ):  # fmt: skip
        assert text in first
    points = titles.index("Points and set-ups")
    page = text_of(reader.pages[points])
    for caution in cautions():
        assert caution in page
    assert "1 in = " in page, "the index names the plan"
    for number, page in enumerate(reader.pages, 1):
        assert f"sheet {number} of {len(titles)}" in page.extract_text()
        assert work.design.code in page.extract_text()
        assert ("merit" in page.extract_text().casefold()) == titles[number - 1].startswith(
            "For the office: the"
        )


def test_the_outline_leads_to_every_kind_of_sheet(plane: Any, benched: Any, pdf: Any) -> None:
    reader, titles = pdf(benched(plane))
    found = {one.title: reader.get_destination_page_number(one) for one in reader.outline}
    assert list(found) == list(dict.fromkeys(titles))
    assert all(found[title] == titles.index(title) for title in titles)


def test_cards_hold_every_mark_with_all_its_figures(short: Any, benched: Any, pdf: Any) -> None:
    """Every figure of field.csv that a hand needs stands on a card, in the order of work."""
    work = benched(short)
    reader, titles = pdf(work)
    pages = [p for p, t in zip(reader.pages, titles, strict=True) if t == "Cards of the laterals"]
    words = [word for page in pages for word in page.extract_text().split()]
    at = -1
    for mark in work.field.rows:
        at = words.index(str(mark.mark), at + 1)
        near = " ".join(words[at : at + 9])
        assert f"{mark.rod:.2f}" in near
        if mark.method == "gauge":
            assert f"{mark.gap:.2f}" in near
            assert f"{mark.above_station:.2f}" in near
            assert feet_inches(mark.gap) in near
        else:
            assert f"N {mark.northing:.2f}" in near
            assert f"E {mark.easting:.2f}" in near
    text = " ".join(words)
    for name, marks in work.field.of_lateral().items():
        assert name in text
        for mark in marks:
            assert not mark.above or f"by stick from {mark.above}, {mark.side}" in text
    laterals = " ".join(
        p.extract_text() for p, t in zip(reader.pages, titles, strict=True) if t == "Lateral table"
    ).split()
    assert {row.name for row in work.laterals} <= set(laterals)


def test_a_card_that_goes_on_is_named_again(short: Any, benched: Any, pdf: Any) -> None:
    reader, titles = pdf(benched(short, options={"large_print": True}))
    pages = [p for p, t in zip(reader.pages, titles, strict=True) if t == "Cards of the laterals"]
    heads = [p.extract_text() for p in pages]
    assert any("(continued)" in text for text in heads)


def _least_type(page: Any) -> float:
    """The smallest type on a page [pt], by the PDF reader."""
    sizes: list[float] = []

    def seen(text: str, _matrix: Any, _line: Any, _font: Any, size: float) -> None:
        if text.strip():
            sizes.append(size)

    page.extract_text(visitor_text=seen)
    return min(sizes)


@pytest.mark.parametrize("large", [False, True])
def test_nothing_that_the_field_needs_is_small(
    short: Any, benched: Any, pdf: Any, large: bool
) -> None:
    reader, titles = pdf(benched(short, options={"large_print": large}))
    for page, title in zip(reader.pages, titles, strict=True):
        if not title.startswith(("For the office", "Plan")):
            assert _least_type(page) >= 8.0


def test_spanish_sheets(plane: Any, benched: Any, pdf: Any) -> None:
    reader, titles = pdf(benched(plane, crew=CrewTable(language="es")))
    assert titles[0] == "Lea primero"
    assert "Fichas de los laterales" in titles
    first = text_of(reader.pages[0])
    assert "Cómo se trabaja" in first
    assert "How the work goes" not in first
    assert "Antes de excavar" in text_of(reader.pages[1])


def test_every_phrase_is_in_every_language_with_the_same_figures() -> None:
    english_elsewhere = [key for key in phrases() if key.startswith("caution_")]
    assert len(english_elsewhere) == len(CAUTIONS)
    for key, by_language in phrases().items():
        assert set(by_language) == ({"es"} if key in english_elsewhere else {"en", "es"}), key
        assert all(by_language.values()), key
        named = [
            {name for _, name, _, _ in Formatter().parse(text) if name}
            for text in by_language.values()
        ]
        assert all(one == named[0] for one in named), key


def test_one_height_of_instrument_in_the_whole_set(plane: Any, benched: Any, pdf: Any) -> None:
    """Cards, lateral table and rake sheet of a built bed are read from one set-up."""
    section = BedSection(strip=0.5, sand=1.0, tubing_height=0.0)
    bed = msgspec.structs.replace(plane.site.file.bed, section=section)
    for options in ({}, {"backsight": "5' 4 1/2\""}):
        work = benched(plane, bed=bed, options=options)
        assert work.bed.readings.setups[0].height == work.setups[0].height
        assert len(work.bed.readings.setups) == len(work.setups) == 1
        height = work.setups[0].height
        for mark in work.field.rows:
            assert mark.rod == pytest.approx(height - mark.elevation, abs=0.0051)
        sand = work.bed.stakes.levels["sand"]
        assert work.bed.readings.rod_sand == pytest.approx(height - sand, abs=0.0051)
        reader, titles = pdf(work)
        rake = [p for p, t in zip(reader.pages, titles, strict=True) if t == "Bed grade stakes"]
        assert f"{height:.2f}" in rake[0].extract_text()
        assert f"{height:.2f}" in reader.pages[0].extract_text()


def test_the_code_is_of_the_layout(plane: Any, hand: Any, benched: Any) -> None:
    one = benched(plane).design.code
    assert one == benched(plane, crew=CrewTable(backsight=4.25)).design.code
    assert one != benched(hand.plane(Unit.METRE)).design.code
    assert len(one) <= 12


def test_same_site_same_bytes(plane: Any, benched: Any, tmp_path: Path) -> None:
    work = benched(plane)
    relief = show_relief(work.design.ground, work.design.surface.surface)
    for name in ("one.pdf", "two.pdf"):
        write_sheets_pdf(tmp_path / name, work, relief)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
    about = pypdf.PdfReader(tmp_path / "one.pdf").metadata
    assert about.creation_date is None
    assert about.title == "Upper Meadow"


def test_without_a_benchmark_no_rod(plane: Any, crew_work: Any, pdf: Any) -> None:
    reader, _ = pdf(crew_work(plane))
    assert "no rod readings are worked out" in text_of(reader.pages[0])


def test_a_further_maker_joins_the_set(plane: Any, benched: Any, pdf: Any) -> None:
    def section(work: Any, relief: Any, paper: Any) -> list[Page]:
        draw = lambda axes, room: write_text(axes, room[0], room[1], "sand and gravel", 9.0)  # noqa: E731
        return [Page("Bed section", paper, draw)]

    reader, titles = pdf(benched(plane), makers=(*PAGE_MAKERS, section))
    assert titles[-1] == "Bed section"
    assert any("Bed section" in page.extract_text() for page in reader.pages[:2])
    assert "sand and gravel" in reader.pages[-1].extract_text()


def test_a_site_with_a_bed_section_has_its_sheets_in_the_set(
    plane: Any, benched: Any, pdf: Any
) -> None:
    section = BedSection(strip=0.5, sand=1.0, tubing_height=0.0)
    bed = msgspec.structs.replace(plane.site.file.bed, section=section)
    reader, titles = pdf(benched(plane, bed=bed), makers=PAGE_MAKERS[3:4])
    section_at = titles.index("Bed section")
    assert set(titles[section_at + 1 :]) == {"Bed grade stakes"}
    for number, page in enumerate(reader.pages, 1):
        assert f"sheet {number} of {len(titles)}" in page.extract_text()
    assert "section of the bed" in reader.pages[section_at].extract_text()


def test_one_sheet_where_it_holds_the_bed_several_where_it_does_not(
    awkward: Any, benched: Any, pdf: Any
) -> None:
    _, titles = pdf(benched(awkward), makers=PAGE_MAKERS[:1])
    assert titles[-1] == "Plan, 1 in = 20 ft"
    before = len(titles) - 1
    reader, titles = pdf(benched(awkward, options={"scale": 10.0}), makers=PAGE_MAKERS[:1])
    parts = [f"Plan, 1 in = 10 ft, part {i}" for i in range(1, len(titles) - before + 1)]
    assert titles[before:] == parts
    assert len(parts) > 1
    for number, page in enumerate(reader.pages[before:], 1):
        text = page.extract_text()
        others = {int(n) for n in re.findall(r"match line: see part (\d+)", text)}
        assert others
        assert number not in others
        for other in others:
            back = reader.pages[before + other - 1].extract_text()
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
