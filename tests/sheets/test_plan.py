from __future__ import annotations

import itertools
import math
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pypdf
import pytest
import shapely
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.image import imread
from msgspec import structs
from scipy.spatial import cKDTree
from shapely import Polygon, box

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.files.register import file_names
from dripfield.measures.bare import BarePatch
from dripfield.outputs.layout import write_layout_files
from dripfield.sheets.kit.labels import Placer, along_line, beyond_end
from dripfield.sheets.kit.map_frame import MapFrame, fit_frame
from dripfield.sheets.kit.marks import mark, missed_parts
from dripfield.sheets.kit.plan_margin import title_height
from dripfield.sheets.kit.ramp import elevation_ramp
from dripfield.sheets.kit.relief import show_relief
from dripfield.sheets.kit.style import (
    DOTS_PER_INCH,
    PAPERS,
    Scale,
    fitting_scale,
    plain,
    round_length,
    shorten,
    text_width,
    wrap,
)
from dripfield.sheets.plan.plan import Plan, plan_figure, write_plan, write_plan_pdf
from dripfield.site.model import Bed
from dripfield.site.schema.crew import Benchmark


def draw(field, **options):
    relief = show_relief(field.ground, field.surface.surface)
    return plan_figure(field, relief, **options)


@pytest.fixture(scope="module")
def awkward_sheet(awkward):
    sheet = draw(awkward)
    FigureCanvasAgg(sheet.figure).draw()
    return sheet


def text_boxes(sheet, height=1.0):
    """Every text with its box on the sheet [px], turned as the text is, measured by matplotlib.

    ``height`` narrows the box to the part of the line that has letters in it.
    """
    renderer = FigureCanvasAgg(sheet.figure).get_renderer()
    found = []
    for text in sheet.figure.axes[0].texts:
        if not text.get_text():
            continue
        turn = text.get_rotation()
        text.set_rotation(0.0)
        extent = text.get_window_extent(renderer)
        text.set_rotation(turn)
        anchor = text.get_transform().transform(text.get_position())
        place = box(extent.x0, extent.y0, extent.x1, extent.y1)
        place = shapely.affinity.scale(place, 1.0, height)
        found.append((text, shapely.affinity.rotate(place, turn, origin=tuple(anchor))))
    return found


# --- scale ------------------------------------------------------------------------------------


def test_scales_are_those_of_a_scale_rule():
    # hand-derived: 80 ft in 8 in is 10 ft to the inch; 80.1 ft needs the next, 20
    room = (8.0 * 72.0, 100.0 * 72.0)
    assert fitting_scale(Unit.FOOT, (80.0, 1.0), room).text == "1 in = 10 ft"
    assert fitting_scale(Unit.FOOT, (80.1, 1.0), room).text == "1 in = 20 ft"
    metric = fitting_scale(Unit.METRE, (20.0, 1.0), (0.2 / 0.0254 * 72.0 + 1e-9, 1e4))
    assert metric.text == "1:100"
    assert metric.paper(20.0) == pytest.approx(0.2 / 0.0254 * 72.0)
    assert fitting_scale(Unit.FOOT, (15_000.0, 1.0), room).text == "1 in = 2000 ft"


@pytest.mark.parametrize(("unit", "metres"), [(Unit.FOOT, None), (Unit.METRE, 1.0)])
def test_vector_file_is_true_to_the_stated_scale(hand, tmp_path, unit, metres):
    """A lateral's length measured in the SVG, whose unit is the point (1/72 in)."""
    field = hand.plane(unit=unit)
    sheet = draw(field)
    path = tmp_path / "plan.svg"
    write_plan(sheet, path)
    root = ElementTree.parse(path).getroot()
    assert root.get("width") == f"{sheet.paper.width:g}pt" or float(
        root.get("width").removesuffix("pt")
    ) == pytest.approx(sheet.paper.width, abs=1e-3)
    (group,) = root.iterfind(".//*[@id='lateral-L01']")
    numbers = re.findall(r"-?\d+\.?\d*", group[0].get("d"))
    x0, y0, x1, y1 = (float(n) for n in numbers[:4])
    drawn_inches = math.hypot(x1 - x0, y1 - y0) / 72.0
    length = field.measured.laterals[0].length
    if unit is Unit.FOOT:
        feet = int(re.fullmatch(r"1 in = (\d+) ft", sheet.frame.scale.text)[1])
        assert drawn_inches * feet == pytest.approx(length, rel=1e-5)
    else:
        ratio = int(re.fullmatch(r"1:(\d+)", sheet.frame.scale.text)[1])
        assert drawn_inches * 0.0254 * ratio == pytest.approx(length, rel=1e-5)


def test_frame_keeps_shape_and_turns_about_its_middle():
    frame = MapFrame(10.0, 20.0, 200.0, 100.0, (5e6, 2e6), Scale(0.5, ""), turn=30.0)
    np.testing.assert_allclose(frame.to_paper(np.array([(5e6, 2e6)])), [(110.0, 70.0)])
    # grid north leans 30 degrees to the left of up after a counter-clockwise turn of 30
    north = frame.to_paper(np.array([(5e6, 2e6 + 10.0)]))[0] - (110.0, 70.0)
    np.testing.assert_allclose(north, 20.0 * np.array((-0.5, math.sqrt(0.75))), atol=1e-6)
    corners = frame.to_paper(shapely.get_coordinates(frame.ground))
    assert shapely.Polygon(corners).equals_exact(frame.window, 1e-6, normalize=True) or np.allclose(
        shapely.Polygon(corners).symmetric_difference(frame.window).area, 0.0, atol=1e-3
    )


def test_slim_bed_is_turned_only_for_a_larger_scale():
    angle = math.radians(40.0)
    spin = np.array(((math.cos(angle), math.sin(angle)), (-math.sin(angle), math.cos(angle))))
    slim = Polygon(np.array([(0, 0), (70, 0), (70, 4), (0, 4)]) @ spin)
    room = (0.0, 0.0, 8.0 * 72.0, 1.2 * 72.0)
    turned = fit_frame(Unit.FOOT, slim, room, (0.0, 0.0))
    assert turned.turn == pytest.approx(-40.0)
    assert turned.scale.text == "1 in = 10 ft"
    assert turned.window.buffer(1e-6).covers(turned.shape(slim))
    upright = fit_frame(Unit.FOOT, box(0.0, 0.0, 70.0, 4.0), room, (0.0, 0.0))
    assert upright.turn == 0.0


def test_png_has_the_size_of_the_paper(plane, tmp_path):
    path = tmp_path / "plan.png"
    sheet = draw(plane, paper=PAPERS["letter"])
    write_plan(sheet, path)
    assert imread(path).shape[:2] == (int(8.5 * DOTS_PER_INCH), int(11.0 * DOTS_PER_INCH))


# --- labels -----------------------------------------------------------------------------------


def test_no_two_texts_of_the_sheet_overlap(awkward_sheet):
    """Boxes measured by matplotlib's own renderer, not by the code that placed them."""
    # a line's box holds room for ascenders and descenders
    boxes = text_boxes(awkward_sheet, height=0.62)
    shrunk = [place for _, place in boxes]
    tree = shapely.STRtree(shrunk)
    first, second = tree.query(shrunk, predicate="intersects")
    pairs = [
        (boxes[i][0].get_text(), boxes[j][0].get_text())
        for i, j in zip(first, second, strict=True)
        if i < j and shrunk[i].intersection(shrunk[j]).area > 2.0
    ]
    assert pairs == []


def test_all_text_stays_on_the_paper(awkward_sheet):
    sheet = awkward_sheet
    page = box(0.0, 0.0, sheet.paper.width, sheet.paper.height)
    dots = DOTS_PER_INCH / 72.0
    for text, place in text_boxes(sheet):
        on_paper = shapely.transform(place, lambda xy: xy / dots)
        assert page.contains(on_paper), text.get_text()


def test_every_lateral_is_named_or_reported(awkward, awkward_sheet):
    frame = awkward_sheet.frame
    on_map = {
        text.get_text()
        for text in awkward_sheet.figure.axes[0].texts
        if frame.window.contains(shapely.Point(text.get_position()))
    }
    names = {one.name for one in awkward.measured.laterals}
    assert names - on_map == set(awkward_sheet.labels.unnamed)
    assert len(awkward_sheet.labels.unnamed) <= 2


def test_roomy_field_is_labelled_in_full(plane):
    sheet = draw(plane)
    assert sheet.labels.unnamed == sheet.labels.without_figures == ()
    written = [text.get_text() for text in sheet.figure.axes[0].texts]
    for one in plane.measured.laterals:
        assert written.count(one.name) == 1  # at its end; the table is on a sheet of its own
        assert f"el {one.elevation:.2f}" in written


def test_placer_refuses_what_is_taken():
    window = box(0.0, 0.0, 100.0, 50.0)
    line = np.array([(0.0, 25.0), (100.0, 25.0)])
    placer = Placer(window, [line])
    (label,) = placer.first(along_line(line, ("name",), 8.0, (0.5,)), own=0)
    assert placer.first(along_line(line, ("name",), 8.0, (0.5,)), own=0) == ()
    assert placer.first(along_line(line, ("name",), 8.0, (0.2,)), own=0) != ()
    assert placer.first(along_line(line, ("name",), 8.0, (0.9,)), own=7) == ()  # not its line
    assert placer.first(beyond_end(line, "name", 8.0, start=False, gaps=(1.0,))) == ()  # outside
    assert label.x == pytest.approx(50.0)


def test_labels_read_from_left_to_right_and_upright():
    for turn in np.radians([10.0, 80.0, 100.0, 170.0, 190.0, 260.0, 350.0]):
        line = np.array([(0.0, 0.0), (300.0 * np.cos(turn), 300.0 * np.sin(turn))])
        first, second = next(along_line(line, ("one", "two"), 8.0, (0.5,)))
        assert -90.0 < first.angle <= 90.0
        assert first.x < second.x


def test_words_follow_a_bend_and_give_up_on_a_sharp_one():
    angle = np.linspace(0.0, math.pi, 400)
    circle = np.column_stack((np.cos(angle), np.sin(angle)))
    words = ("L01", "103.25 ft", "el 101.20")
    placed = next(along_line(150.0 * circle, words, 8.0, (0.5,)))
    assert len({round(label.angle) for label in placed}) == 3
    for label in placed:
        assert math.hypot(label.x, label.y) == pytest.approx(150.0, abs=3.0)
    assert list(along_line(15.0 * circle, ("a long word here",), 4.0, (0.5,))) == []


# --- what is missed ---------------------------------------------------------------------------


def test_missed_parts_and_good_parts_make_up_the_lateral(awkward, awkward_sheet):
    lines = awkward_sheet.figure.axes[0].lines
    for one in awkward.measured.laterals:
        drawn = [line for line in lines if line.get_gid() == f"lateral-{one.name}"]
        solid = [line for line in drawn if line.get_linestyle() == "-"]
        broken = [line for line in drawn if line.get_linestyle() == "--"]
        assert len(solid) + len(broken) == len(drawn)
        length = sum(shapely.linestrings(line.get_xydata()).length for line in drawn)
        per_point = awkward_sheet.frame.scale.per_point
        assert length * per_point == pytest.approx(one.length, abs=0.5)
        assert bool(broken) == (not (one.level_ok and one.spacing_ok))
        parts = missed_parts(one)
        assert {part.fault for part in parts} <= {"level", "spacing", "level and spacing"}
        assert mark(one) == " ".join(
            letter for letter, ok in (("L", one.level_ok), ("S", one.spacing_ok)) if not ok
        )


def test_faults_differ_without_colour(awkward):
    flat = replace(
        awkward.measured.laterals[0],
        level=np.tile([True, True, False, False], 100)[:400],
        spaced=np.tile([True, False, True, False], 100)[:400],
        xy=np.column_stack((np.arange(400.0), np.zeros(400))),
    )
    assert {part.fault for part in missed_parts(flat)} == {"level", "spacing", "level and spacing"}
    from dripfield.sheets.kit.plan_map import FAULT_DASHES

    assert len(set(FAULT_DASHES.values())) == 3


def test_sheet_says_what_is_missed_and_cautions(awkward, awkward_sheet):
    words = " ".join(text.get_text() for text in awkward_sheet.figure.axes[0].texts)
    missed = awkward.measured.missed_level
    assert f"Out of level tolerance: {missed} laterals" in words
    for phrase in (
        "Hollow behind the old orchard",
        "ft (international)",
        "peg at the gate",
        "2024-05-14",
        "call 811",
        "one-call",
        "Wastewater",
        "Local code",
        "measured in plan",
        "Merit",
        "1 in = 20 ft on letter (11 x 8.5 in)",
        "Not laid, shorter than 5 ft: 2 pieces, 6.40 ft",
    ):
        assert phrase in words, phrase


def test_ground_without_survey_is_hatched_and_named(hand, plane):
    beyond = Bed(box(0.0, 0.0, 130.0, 20.0))  # 42 ft past the survey's edge at 88 ft
    field = replace(plane, ground=replace(plane.ground, site=replace(plane.site, bed=beyond)))
    sheet = draw(field)
    axes = sheet.figure.axes[0]
    assert "no survey" in [text.get_text() for text in axes.texts]
    assert any(patch.get_hatch() == "...." for patch in axes.patches)
    words = " ".join(text.get_text() for text in axes.texts)
    assert re.search(r"No survey over 8\d\d sq ft of the bed", words)  # hand-derived: 42 x 20 = 840


# --- sheets -----------------------------------------------------------------------------------


def large(hand):
    """198 laterals of 598 ft, 2 ft apart, in a bed of 600 x 400 ft."""
    lines = [
        (f"L{i:03d}", "A", np.array(((1.0, 397.0 - 2.0 * i), (599.0, 397.0 - 2.0 * i))), 120.0)
        for i in range(198)
    ]
    return hand.make_field(
        lambda x, y: 100.0 + 0.05 * y, Bed(box(0.0, 0.0, 600.0, 400.0)), lines, shots=12
    )


def test_first_sheet_has_the_whole_bed_as_large_as_the_paper_allows(hand):
    """Hand-derived: of 11 in the margins, title block, strip and room for names leave 7 in, and
    400 ft are 8 in at 1 in = 50 ft, 6.7 in at 60 ft."""
    field = large(hand)
    sheet = draw(field)
    assert sheet.paper.name == "tabloid"
    assert sheet.frame.scale.text == "1 in = 60 ft"
    assert sheet.frame.window.contains(sheet.frame.shape(field.site.bed.boundary))


def test_a_large_bed_goes_on_in_parts_at_which_laterals_can_be_named(hand):
    """Hand-derived: names of 8 pt have capitals of 5.8 pt; 2 ft at 1 in = 20 ft are 7.2 pt."""
    field = large(hand)
    plan = Plan(field, show_relief(field.ground, field.surface.surface))
    parts = plan.arrangement.parts
    assert parts is not None
    assert parts.scale.text == "1 in = 20 ft"
    seen = shapely.union_all([tile.frame.ground for tile in parts.tiles])
    assert seen.covers(field.site.bed.boundary)
    words = [text.get_text() for text in plan.first.figure.axes[0].texts]
    assert [f"part {i + 1}" for i in range(len(parts.tiles))] == [
        word for word in words if re.fullmatch(r"part \d+", word)
    ]
    part = plan.part(0)
    drawn = [text for text in part.figure.axes[0].texts if text.get_text()]
    assert any("match line: see part 2" in text.get_text() for text in drawn)
    names = [text for text in drawn if re.fullmatch(r"L\d{3}", text.get_text())]
    assert names
    assert min(text.get_fontsize() for text in names) >= 8.0


def test_every_lateral_stands_in_the_tables(hand, tmp_path):
    field = large(hand)
    plan = Plan(field, show_relief(field.ground, field.surface.surface))
    write_plan_pdf(plan, tmp_path / "plan.pdf")
    pages = pypdf.PdfReader(tmp_path / "plan.pdf").pages
    assert len(pages) == plan.count
    tables = [page.extract_text() for page in pages if "Tables" in page.extract_text()]
    assert tables
    found = set(re.findall(r"L\d{3}", " ".join(tables)))
    assert found == {one.name for one in field.measured.laterals}
    assert not any("laterals.csv" in page.extract_text() for page in pages)


@pytest.mark.parametrize(("wanted", "text"), [(30.0, "1 in = 30 ft"), (20.0, "1 in = 20 ft")])
def test_scale_can_be_asked_for(plane, wanted, text):
    plan = Plan(plane, show_relief(plane.ground, plane.surface.surface), scale=wanted)
    assert plan.arrangement.whole.scale.text == text
    assert plan.arrangement.parts is None


def test_paper_can_be_asked_for(plane):
    relief = show_relief(plane.ground, plane.surface.surface)
    plan = Plan(plane, relief, PAPERS["tabloid"])
    assert plan.first.paper.name == "tabloid"


def test_unusual_scale_is_refused(plane):
    relief = show_relief(plane.ground, plane.surface.surface)
    with pytest.raises(InputError, match=r"7 is not a scale that plans are drawn at; give one of"):
        Plan(plane, relief, scale=7.0)


@pytest.mark.parametrize("unit", [Unit.FOOT, Unit.METRE])
def test_pdf_is_true_to_the_scale_that_it_states(hand, tmp_path, unit):
    """Strokes of the first page read with pypdf; a page's unit is 1/72 in (ISO 32000-1, 8.3.2.3).

    Hand-derived: ten laterals of 78 ft, or 23.4 m.
    """
    field = hand.plane(unit=unit)
    plan = Plan(field, show_relief(field.ground, field.surface.surface))
    write_plan_pdf(plan, tmp_path / "plan.pdf")
    page = pypdf.PdfReader(tmp_path / "plan.pdf").pages[0]
    assert (page.mediabox.width, page.mediabox.height) == pytest.approx(
        (plan.first.paper.width, plan.first.paper.height), abs=0.01
    )
    content = page.get_contents().get_data().decode("latin-1")
    strokes = re.findall(r"(-?[\d.]+) (-?[\d.]+) m\n(-?[\d.]+) (-?[\d.]+) l\s+S", content)
    lengths = [math.dist((float(a), float(b)), (float(c), float(d))) for a, b, c, d in strokes]
    text = page.extract_text()
    if unit is Unit.FOOT:
        per_point = int(re.search(r"1 in = (\d+) ft", text)[1]) / 72.0
        length = 78.0
    else:
        per_point = int(re.search(r"1:(\d+)", text)[1]) * 0.0254 / 72.0
        length = 23.4
    drawn = [one for one in lengths if one * per_point == pytest.approx(length, rel=1e-4)]
    assert len(drawn) == 10


# --- what is named ----------------------------------------------------------------------------


def test_setback_keepout_benchmark_and_north_are_named(hand):
    field = hand.awkward()
    file = field.site.file
    mark = Benchmark(name="BM4", elevation=101.5, northing=70.0, easting=30.0)
    site = replace(field.site, file=structs.replace(file, benchmark=mark))
    site = replace(site, bed=replace(site.bed, keepout_names=("Old oak",)))
    sheet = draw(replace(field, ground=replace(field.ground, site=site)))
    words = " ".join(text.get_text() for text in sheet.figure.axes[0].texts)
    for phrase in ("Old oak", "BM4 el 101.50", "50 ft from Well", " N "):
        assert phrase in f" {words} ", phrase


def test_a_benchmark_off_the_sheet_is_pointed_at(hand):
    field = hand.plane()
    mark = Benchmark(name="BM4", elevation=101.5, northing=10.0, easting=900.0)
    site = replace(field.site, file=structs.replace(field.site.file, benchmark=mark))
    sheet = draw(replace(field, ground=replace(field.ground, site=site)))
    words = [text.get_text() for text in sheet.figure.axes[0].texts]
    (told,) = [word for word in words if word.startswith("BM4")]
    away = int(re.search(r"(\d+) ft on", told)[1])
    # hand-derived: from the bed's middle at 40 ft it is 860 ft; half the map is not counted
    half = 0.5 * sheet.frame.width * sheet.frame.scale.per_point
    assert away == pytest.approx(860.0 - half, abs=sheet.frame.scale.per_point * 12.0)


def test_colours_of_laterals_read_in_grey_and_are_no_utility_colours(awkward):
    """Rec. 601 luma; the code's colours are red, yellow, orange, blue, green and purple at full
    strength (APWA Uniform Color Code), so a dull brown is none of them."""
    ramp = elevation_ramp(awkward)
    heights = np.linspace(ramp.low, ramp.high, 9)
    rgb = np.array([to_rgb(ramp.colour(height)) for height in heights])
    luma = rgb @ (0.299, 0.587, 0.114)
    assert (np.diff(luma) > 0.0).all()
    assert luma[0] < 0.15
    assert luma[-1] < 0.5  # dark enough on white
    assert (np.ptp(rgb, axis=1) < 0.35).all()  # hardly any hue


def test_no_label_of_a_lateral_covers_another_line(awkward, awkward_sheet):
    """Boxes measured by matplotlib's own renderer against every other lateral."""
    dots = DOTS_PER_INCH / 72.0
    names = [one.name for one in awkward.measured.laterals]
    lines = [
        shapely.linestrings(awkward_sheet.frame.to_paper(one.xy) * dots)
        for one in awkward.layout.laterals
    ]
    crossed = []
    for text, place in text_boxes(awkward_sheet, height=0.5):
        if not re.fullmatch(r"[ABC]-L\d\d|[\d.]+ ft|el [\d.]+", text.get_text()):
            continue
        hits = [n for n, line in zip(names, lines, strict=True) if line.intersects(place)]
        if len(hits) > 1:
            crossed.append((text.get_text(), hits))
    assert crossed == []


# --- names, text, bytes -----------------------------------------------------------------------

NAMES = [
    "$x_1^2$ \\frac{1}{2} & <b>50 %</b>",
    "שדה עליון – Größe",
    "上の牧草地",
    "w" * 200,
    "a " * 100,
]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.filterwarnings("error")
def test_any_site_name_is_plain_text(hand, tmp_path, name):
    sheet = draw(hand.plane(name=name))
    write_plan(sheet, tmp_path / "plan.png")
    texts = sheet.figure.axes[0].texts
    written = [text for text in texts if text.get_text()]
    assert not any(text.get_parse_math() or text.get_usetex() for text in written)
    start = plain(name)[:8]
    (title,) = [text for text in texts if text.get_text().startswith(start)][:1]
    assert title.get_fontweight() == "bold"


def test_a_site_without_a_lateral_has_a_plan(plane, tmp_path):
    from dripfield.measures import measure_layout

    layout = replace(plane.layout, laterals=())
    measured = measure_layout(layout, plane.surface, plane.site.settings, plane.site.bed)
    sheet = draw(replace(plane, layout=layout, measured=measured))
    assert "No lateral is laid." in [text.get_text() for text in sheet.figure.axes[0].texts]


def test_wrapping_keeps_every_word_within_the_width():
    text = "Before digging have buried utilities located and marked by the one-call service"
    lines = wrap(text, 90.0, 7.0, 20)
    assert " ".join(lines) == text
    assert max(text_width(line, 7.0) for line in lines) <= 90.0
    cut = wrap(text, 90.0, 7.0, 2)
    assert len(cut) == 2
    assert cut[-1].endswith("…")
    assert text_width(shorten("x" * 500, 80.0, 7.0), 7.0) <= 80.0
    assert "".join(wrap("y" * 60, 80.0, 7.0, 50)) == "y" * 60


@pytest.mark.parametrize(("about", "length"), [(1.0, 1.0), (4.99, 2.0), (5.0, 5.0), (0.3, 0.2)])
def test_scale_bar_steps_are_round(about, length):
    assert round_length(about) == pytest.approx(length)


def test_callers_settings_do_not_show(plane, tmp_path):
    write_plan(draw(plane), tmp_path / "usual.png")
    with matplotlib.rc_context({"font.size": 30, "lines.linewidth": 9, "savefig.bbox": "tight"}):
        write_plan(draw(plane), tmp_path / "odd.png")
    assert (tmp_path / "usual.png").read_bytes() == (tmp_path / "odd.png").read_bytes()


def test_same_bytes_in_another_process(plane, tmp_path):
    code = (
        "import importlib.util, sys; from pathlib import Path\n"
        f"spec = importlib.util.spec_from_file_location('hand', {CONFTEST!r})\n"
        "hand = importlib.util.module_from_spec(spec); sys.modules['hand'] = hand\n"
        "spec.loader.exec_module(hand)\n"
        "from dripfield.outputs.layout import write_layout_files\n"
        "f = hand.plane()\n"
        "write_layout_files(f, Path(sys.argv[1]))\n"
    )
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    there.mkdir()
    written = write_layout_files(plane, here)
    assert [path.name for path in written] == file_names("layout")
    subprocess.run(
        [sys.executable, "-c", code, str(there)],
        check=True,
        env={**os.environ, "PYTHONHASHSEED": "5"},
    )
    for path in written:
        assert path.read_bytes() == (there / path.name).read_bytes(), path.name
    assert b"Software" not in (here / "plan.png").read_bytes()[:2000]


@pytest.mark.parametrize("ending", [".pdf", ".svg"])
def test_vector_files_carry_no_date(plane, tmp_path, ending):
    first, second = tmp_path / f"1{ending}", tmp_path / f"2{ending}"
    for path in (first, second):
        write_plan(draw(plane), path)
    assert first.read_bytes() == second.read_bytes()
    assert b"Date" not in first.read_bytes()


def test_level_lines_are_labelled_and_their_interval_stated(awkward_sheet):
    texts = [text.get_text() for text in awkward_sheet.figure.axes[0].texts]
    assert "level line, every 1 ft" in texts
    assert {"100", "105"} <= set(texts)


def test_no_text_of_the_title_block_leaves_its_box(awkward_sheet):
    axes = awkward_sheet.figure.axes[0]
    inner = [line.get_xydata() for line in axes.lines if len(line.get_xydata()) == 2]
    low = 25.0  # the margin
    top = low + title_height(awkward_sheet.paper)
    rules = sorted(
        xy[0, 0] for xy in inner if xy[0, 0] == xy[1, 0] and {xy[0, 1], xy[1, 1]} == {low, top}
    )
    assert len(rules) == 3
    dots = DOTS_PER_INCH / 72.0
    for text, place in text_boxes(awkward_sheet):
        x0, y0, x1, y1 = (value / dots for value in place.bounds)
        if y1 < top:
            assert y0 > low - 1.0, text.get_text()
            for rule, after in itertools.pairwise([*rules, awkward_sheet.paper.width - low]):
                assert not (rule < x0 < after < x1), text.get_text()


CONFTEST = str(Path(__file__).with_name("conftest.py"))


def test_bare_ground_is_hatched_named_and_told_of_once(plane):
    patch = BarePatch(box(20.0, 6.0, 32.0, 14.0), "flat ground")
    tiny = BarePatch(box(60.0, 9.0, 60.8, 10.0), "a nook")
    bare = replace(plane, measured=replace(plane.measured, bare=(patch, tiny)))
    sheet = plan_figure(bare, show_relief(bare.ground, bare.surface.surface))
    texts = [text.get_text() for text in sheet.figure.axes[0].texts]
    assert texts.count("bare, 96 ft2") == 1  # 12 x 8 ft
    assert texts.count("bare, no lateral near") == 1  # the legend
    assert not any(text.startswith("bare, 1 ") for text in texts)  # no room in it for its name
    assert "Bare ground in the bed: 97 sq ft (hatched)" in " ".join(texts)


def test_of_very_many_shots_as_many_are_drawn_as_can_be_told_apart(plane):
    relief = show_relief(plane.ground, plane.surface.surface)
    low, high = relief.shots.min(axis=0), relief.shots.max(axis=0)
    many = np.random.default_rng(5).uniform(low, high, size=(60_000, 3))
    sheet = plan_figure(plane, replace(relief, shots=many))
    dots = [one for one in sheet.figure.axes[0].lines if one.get_markersize() == 1.4]
    drawn = np.concatenate([one.get_xydata() for one in dots])
    shown = sheet.frame.to_paper(many)
    shown = shown[shapely.contains_xy(sheet.frame.window, shown)]
    assert len(drawn) < 0.8 * len(shown)
    assert cKDTree(drawn).query(shown)[0].max() <= 2.5 * 2**0.5  # each has a dot in its square
