"""Approved plans as drawings: read, placed and compared, in every shape that CAD leaves them in."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import Matrix44

from dripfield.core.errors import InputError
from dripfield.layout.model import Lateral
from dripfield.review.judge.compare import compare_plan
from dripfield.review.model.limits import LineVerdict
from dripfield.review.model.plan import Plan, PlanOptions, PlanRun
from dripfield.review.place.plan_scale import check_stated_units
from dripfield.review.place.register import place_plan
from dripfield.review.place.written import settle_written
from dripfield.review.read.common_points import read_common_points
from dripfield.review.read.read_plan import read_plan

Plane = Callable[..., SimpleNamespace]


def draw(
    world: SimpleNamespace,
    path: Path,
    *,
    how: str = "polyline",
    outline: bool = True,
    layer: str = "DRIP LATERALS",
    matrix: Matrix44 | None = None,
    insunits: int = 2,
    label: str = "{name}  {elevation:.2f}",
    change: Callable[[Lateral], Lateral] = lambda one: one,
) -> Path:
    """Draw a layout about a near origin, as a drafter would, then move the drawing."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = insunits
    space = document.modelspace()
    for one in map(change, world.layout.laterals):
        xy = one.xy.tolist()
        if how == "polyline":
            space.add_lwpolyline(xy, dxfattribs={"layer": layer})
        elif how == "exploded":  # three lines that meet within a hair, drawn in any direction
            a, d = one.xy[0], one.xy[-1]
            b, c = a + (d - a) / 3.0, a + (d - a) * 0.7
            space.add_line(b.tolist(), a.tolist(), dxfattribs={"layer": layer})
            space.add_line((c + 2e-3).tolist(), d.tolist(), dxfattribs={"layer": layer})
            space.add_line(b.tolist(), c.tolist(), dxfattribs={"layer": layer})
        elif how == "block":
            block = document.blocks.new(f"RUN {one.name}")
            block.add_lwpolyline((one.xy - one.xy[0]).tolist(), dxfattribs={"layer": "0"})
            space.add_blockref(block.name, one.xy[0].tolist(), dxfattribs={"layer": layer})
        elif how == "spline":
            space.add_open_spline(
                [one.xy[0], *np.linspace(one.xy[0], one.xy[-1], 4)[1:-1], one.xy[-1]],
                dxfattribs={"layer": layer},
            )
        if label:
            text = label.format(name=one.name, elevation=one.elevation)
            middle = one.xy.mean(axis=0) + np.array((0.0, 0.4))
            space.add_text(text, height=0.5, dxfattribs={"layer": "ANNO"}).set_placement(
                middle.tolist()
            )
    if outline:
        ring = np.asarray(world.site.bed.boundary.exterior.coords)[:-1].tolist()
        space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "BED OUTLINE"})
    if matrix is not None:
        for entity in space:
            entity.transform(matrix)
    document.saveas(path)
    return path


def moved(world: SimpleNamespace, scale: float = 1.0, turn: float = 0.0, mirror: bool = False):
    """A move of a drawing from the site to a sheet's corner."""
    x, y = world.site.bed.boundary.centroid.coords[0]
    return (
        Matrix44.translate(-x, -y, 0.0)
        @ Matrix44.scale(-scale if mirror else scale, scale, 1.0)
        @ Matrix44.z_rotate(math.radians(turn))
        @ Matrix44.translate(3.0, 7.0, 0.0)
    )


def compare(world: SimpleNamespace, path: Path, common=None, **options):
    plan_options = PlanOptions(**options)
    plan = read_plan(path, world.site, plan_options)
    plan = settle_written(plan, world.design, plan_options, "elevation")
    plan, placement = place_plan(plan, world.design, world.limits, plan_options, common)
    plan = settle_written(plan, world.design, plan_options, "length")
    check_stated_units(plan, world.design, plan_options)
    return compare_plan(world.design, plan, world.limits, placement)


@pytest.mark.parametrize("how", ["polyline", "exploded", "block", "spline"])
def test_every_way_to_draw_a_run(plane: Plane, tmp_path: Path, how: str) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", how=how)
    found = compare(world, path)
    assert [line.verdict for line in found.lines] == [LineVerdict.CONFORMS] * len(found.lines)
    assert [line.run.name for line in found.lines] == [one.name for one in world.layout.laterals]
    assert all(line.lateral.name == line.run.name for line in found.lines)
    assert max(line.offset_max for line in found.lines) < 0.01
    assert found.verdict.passed
    for line in found.lines:
        assert line.run.elevation == pytest.approx(line.lateral.elevation, abs=0.005)
    assert "the laterals were taken from layer 'DRIP LATERALS'" in found.notes


@pytest.mark.parametrize("how", ["arc", "bulge"])
def test_an_arc_is_flattened(plane: Plane, tmp_path: Path, how: str) -> None:
    """An arc of radius 50 over 90 degrees is 25 pi long; its bulge is tan(90 / 4) (by hand)."""
    world = plane()
    document = ezdxf.new("R2010")
    space = document.modelspace()
    if how == "arc":
        space.add_arc((0, 0), 50.0, 0.0, 90.0, dxfattribs={"layer": "LATERALS"})
    else:
        bulge = math.tan(math.radians(90.0) / 4.0)
        space.add_lwpolyline(
            [(50.0, 0.0, bulge), (0.0, 50.0, 0.0), (-10.0, 50.0, 0.0)],
            format="xyb",
            dxfattribs={"layer": "LATERALS"},
        )
    document.saveas(tmp_path / "arc.dxf")
    plan = read_plan(tmp_path / "arc.dxf", world.site, PlanOptions())
    (run,) = plan.runs
    straight = 10.0 if how == "bulge" else 0.0
    length = float(np.hypot(*np.diff(run.xy, axis=0).T).sum())
    assert length == pytest.approx(25.0 * math.pi + straight, rel=1e-3)
    on_arc = run.xy[run.xy[:, 0] > 0.0]
    assert np.abs(np.hypot(*on_arc.T) - 50.0).max() < 1e-9
    assert plan.notes[-1] == (
        "1 of 1 runs have no name beside them and are numbered in the order drawn"
    )


@pytest.mark.parametrize(
    ("scale", "turn", "note"),
    [
        (1.0, 0.0, "drawn in ft"),
        (1.0, 33.0, "turned 33.00 degrees clockwise, drawn in ft"),
        (1.0, -160.0, "turned 160.00 degrees anticlockwise, drawn in ft"),
        (1.0 / 20.0, 0.0, "drawn at paper scale 1 in = 20 ft"),
        (25.4 / 30.0, 90.0, "drawn at paper scale 1 in = 30 ft, in millimetres"),
    ],
)
def test_turned_and_at_paper_scale(
    plane: Plane, tmp_path: Path, scale: float, turn: float, note: str
) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, scale, turn))
    found = compare(world, path)
    assert found.verdict.passed, found.verdict.reasons
    assert any(note in text for text in found.notes), found.notes
    assert max(line.offset_max for line in found.lines) < 0.01


@pytest.mark.parametrize(
    ("scale", "units", "word", "ratio"),
    [
        (0.3048, "m", "metres", "3.28084"),
        (12.0, "in", "inches", "0.0833333"),
        (304.8, "mm", "millimetres", "0.00328084"),
    ],
)
def test_another_unit_is_named_and_not_converted(
    plane: Plane, tmp_path: Path, scale: float, units: str, word: str, ratio: str
) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, scale, 12.0))
    with pytest.raises(InputError) as refused:
        compare(world, path)
    assert re.fullmatch(
        rf"plan\.dxf: it fits the site when multiplied by \S+ \(near {ratio}\): the plan is in "
        rf"{word} and the site in feet; give --plan-units {units} if the plan is in {word}",
        str(refused.value),
    )
    # elevations are written in feet whatever the drawing's unit, so only lengths are looked at
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, scale, 12.0), label="{name}")
    found = compare(world, path, units=units)
    assert found.verdict.passed, found.verdict.reasons


def test_a_plan_in_metres_in_place(plane: Plane, tmp_path: Path) -> None:
    """Coordinates of the site in metres, without an outline: only the bed tells."""
    world = plane()
    path = draw(
        world, tmp_path / "plan.dxf", matrix=Matrix44.scale(0.3048, 0.3048, 1), outline=False
    )
    message = (
        "plan.dxf: its coordinates fall on the bed when multiplied by 3.28084: the plan is in "
        "metres and the site in feet; give --plan-units m if the plan is in metres"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        compare(world, path)


def test_a_mirrored_plan_is_refused_unless_allowed(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, mirror=True, turn=20.0))
    message = (
        "plan.dxf: the plan fits the site only as its mirror image; export it the right way "
        "round, or accept it with --allow-mirrored"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        compare(world, path)
    found = compare(world, path, allow_mirrored=True)
    assert found.verdict.passed
    assert "mirrored" in found.notes[-2]


def test_an_odd_scale_is_refused_unless_accepted(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, 0.8, 5.0))
    message = (
        "plan.dxf: the plan fits the site only at a scale of 1.25, which is no unit's ratio and "
        "no usual plan scale; export it to scale, or accept the scale with --any-scale"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        compare(world, path)
    assert compare(world, path, any_scale=True).verdict.passed


def test_a_plan_that_cannot_be_placed(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world), outline=False)
    message = (
        "plan.dxf: the plan lies off the bed and has neither a closed outline around its laterals "
        "nor two points named as on the site; name the outline's layer with --boundary-layer or "
        "give common points with --common"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        compare(world, path)


def test_common_points_place_a_plan_without_an_outline(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    matrix = moved(world, 1.0 / 30.0, 70.0)
    path = draw(world, tmp_path / "plan.dxf", matrix=matrix, outline=False)
    corners = np.asarray(world.site.bed.boundary.exterior.coords)[:3]
    rows = [
        f"corner {i},{matrix.transform((x, y, 0)).x},{matrix.transform((x, y, 0)).y},{y},{x}"
        for i, (x, y) in enumerate(corners)
    ]
    file = tmp_path / "common.csv"
    file.write_text("name,plan_x,plan_y,northing,easting\n" + "\n".join(rows), encoding="utf-8")
    found = compare(world, path, read_common_points(file))
    assert found.verdict.passed
    assert any("placed by 3 common points" in note for note in found.notes)
    wrong = rows[2].split(",")
    rows[2] = ",".join([*wrong[:3], str(float(wrong[3]) + 30.0), wrong[4]])
    file.write_text("name,plan_x,plan_y,northing,easting\n" + "\n".join(rows), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        compare(world, path, read_common_points(file), any_scale=True)
    assert re.fullmatch(
        r"plan\.dxf: the 3 common points disagree: 'corner \d' is off by \d+\.\d\d ft when the "
        r"others fit best; check its name and place, or give the points with --common",
        str(refused.value),
    )


def test_points_named_on_both_place_a_plan(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    matrix = moved(world, 1.0 / 20.0, -35.0)
    path = draw(world, tmp_path / "plan.dxf", matrix=matrix, outline=False)
    document = ezdxf.readfile(path)
    for name in ("11", "60", "75"):
        x, y, _ = world.ground.read.xyz[world.ground.read.names.index(name)]
        at = matrix.transform((x, y, 0.0))
        document.modelspace().add_point(at, dxfattribs={"layer": "SURVEY"})
        document.modelspace().add_text(
            name, height=0.05, dxfattribs={"layer": "SURVEY"}
        ).set_placement((at.x + 0.05, at.y))
    document.saveas(path)
    found = compare(world, path)
    assert found.verdict.passed
    assert any("placed by 3 common points" in note for note in found.notes), found.notes


def test_a_shift_of_a_plan_in_place_is_shown_not_fitted_away(plane: Plane, tmp_path: Path) -> None:
    """All of it 0.7 ft east: outline and runs differ by 0.70 (hand-derived)."""
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", matrix=Matrix44.translate(0.7, 0.0, 0.0))
    found = compare(world, path)
    assert {line.verdict for line in found.lines} == {LineVerdict.DIFFERS}
    assert [line.offset_max for line in found.lines] == pytest.approx(
        [0.7] * len(found.lines), abs=1e-6
    )
    outline = next(one for one in found.totals if one.item.startswith("bed outline"))
    assert 0.5 < outline.layout <= 0.7 + 1e-9
    assert outline.verdict is LineVerdict.DIFFERS


def rectangle(world: SimpleNamespace) -> SimpleNamespace:
    """The same laterals in a bed whose outline is the same either way round."""
    bed = shapely.box(*world.site.bed.boundary.bounds)
    world.site = dataclasses.replace(world.site, bed=type(world.site.bed)(bed))
    ground = dataclasses.replace(world.design.ground, site=world.site)
    world.design = dataclasses.replace(world.design, ground=ground)
    return world


@pytest.mark.parametrize("label", ["{name}", "EL {elevation:.2f}"])
def test_a_rectangle_is_turned_about_by_names_or_elevations(
    tmp_path: Path, plane: Plane, label: str
) -> None:
    """The outline fits both ways; either kind of writing tells."""
    world = rectangle(plane())
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, 1.0, 180.0), label=label)
    found = compare(world, path)
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert found.verdict.passed
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, mirror=True))
    with pytest.raises(InputError, match="only as its mirror image"):
        compare(world, path)


def test_a_way_round_that_nothing_settles_is_not_proven(tmp_path: Path, plane: Plane) -> None:
    world = rectangle(plane())
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, 1.0, 180.0), label="")
    found = compare(world, path)
    assert found.verdict.word == "not proven"
    assert found.verdict.reasons[0] == (
        "which way round the plan lies is not known: its outline fits the bed in 2 ways, and "
        "neither names nor elevations tell them apart; two common points would settle it"
    )


@pytest.mark.parametrize("label", ["{name}  {elevation:.2f}", "{name}", ""])
def test_a_plan_on_the_bed_is_never_turned(tmp_path: Path, plane: Plane, label: str) -> None:
    """All laterals 1.00 downhill of where they are laid out, the outline in its place: turned about
    by 180 degrees they would all but fit."""
    world = rectangle(plane())

    def downhill(one: Lateral) -> Lateral:
        return Lateral(one.name, one.panel, one.xy - (0.0, 1.0), one.elevation)

    path = draw(world, tmp_path / "plan.dxf", change=downhill, label=label)
    found = compare(world, path)
    assert any("it was not moved" in note for note in found.notes)
    paired = [line for line in found.lines if line.run is not None and line.lateral is not None]
    assert [line.offset_max for line in paired] == pytest.approx([1.0] * len(paired), abs=1e-6)
    assert {line.verdict for line in paired} == {LineVerdict.DIFFERS}
    assert any(
        reason.startswith("the whole plan lies 1.00 ft towards 180° of the layout")
        for reason in found.verdict.reasons
    )


def test_a_bed_shifted_by_more_than_half_is_not_moved_back(tmp_path: Path, plane: Plane) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", matrix=Matrix44.translate(0.0, -25.0, 0.0))
    found = compare(world, path)
    assert any("it was not moved" in note for note in found.notes)
    assert found.verdict.word == "fail"


def test_one_run_moved_one_longer_one_gone_one_new(plane: Plane, tmp_path: Path) -> None:
    """Changes made by hand: L03 0.40 aside, L05 3.00 longer, L07 gone, one new beyond the last."""
    world = plane()

    def change(one: Lateral) -> Lateral:
        xy = one.xy.copy()
        if one.name == "L03":
            xy += (0.0, 0.4)
        if one.name == "L05":
            xy[1] += (3.0, 0.0)
        return Lateral(one.name, one.panel, xy, one.elevation)

    path = draw(world, tmp_path / "plan.dxf", change=change)
    document = ezdxf.readfile(path)
    space = document.modelspace()
    gone = world.layout.laterals[6].xy
    for entity in list(space.query("LWPOLYLINE[layer=='DRIP LATERALS']")):
        if abs(entity[0][1] - gone[0, 1]) < 1e-6:
            space.delete_entity(entity)
    for entity in list(space.query("TEXT")):
        if entity.dxf.text.startswith("L07"):
            space.delete_entity(entity)
    low = world.layout.laterals[-1].xy - (0.0, 8.0)
    space.add_lwpolyline(low.tolist(), dxfattribs={"layer": "DRIP LATERALS"})
    document.saveas(path)
    found = compare(world, path)
    by_name = {line.name: line for line in found.lines}
    assert by_name["L03"].verdict is LineVerdict.WITHIN
    assert by_name["L03"].offset_max == pytest.approx(0.4, abs=1e-6)
    assert by_name["L05"].verdict is LineVerdict.DIFFERS
    assert by_name["L05"].length_layout - by_name["L05"].length_plan == pytest.approx(-3.0)
    assert by_name["L07"].verdict is LineVerdict.NOT_ON_PLAN
    assert by_name["L07"].run is None
    missing = [line for line in found.lines if line.verdict is LineVerdict.NOT_LAID_OUT]
    assert [line.lateral for line in missing] == [None]
    others = {line.verdict for line in found.lines if line.name not in ("L03", "L05", "L07")} - {
        LineVerdict.NOT_LAID_OUT
    }
    assert others == {LineVerdict.CONFORMS}
    assert found.verdict.word == "fail"
    assert [line.name for line in found.by_weight()[:4]][2:] == ["L05", "L03"]


def test_a_plan_s_own_word_and_its_drawing_disagree(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", label="{name} L=50.0'")
    found = compare(world, path)
    line = found.lines[4]
    assert line.verdict is LineVerdict.DIFFERS
    drawn = float(np.ptp(world.layout.laterals[4].xy[:, 0]))
    assert line.reasons[-1] == f"the plan states 50.00 and draws {drawn:.2f}"


def test_header_s_unit_against_the_fit(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    found = compare(world, draw(world, tmp_path / "plan.dxf", insunits=6))
    assert found.notes[-2] == (
        "the plan's file says its unit is m; at 1 to 1 it fits the site in ft, and was taken so"
    )


@pytest.mark.parametrize(
    ("layer", "options", "message"),
    [
        (
            "XYZ",
            {"layer": "abc"},
            "plan.dxf, --layer: the drawing has no lines on a layer 'abc'; name one of "
            "'BED OUTLINE', 'XYZ'",
        ),
        (
            "TOPO",
            {},
            "plan.dxf: no layer looks like laterals among 'BED OUTLINE', 'TOPO'; name it with "
            "--layer",
        ),
        (
            "TUBING",
            {"boundary_layer": "nothing"},
            "plan.dxf, --boundary-layer: no closed line on layer 'nothing' holds the laterals; "
            "name the layer of the bed's outline",
        ),
    ],
)
def test_layers_refused(
    plane: Plane, tmp_path: Path, layer: str, options: dict[str, str], message: str
) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", layer=layer)
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        read_plan(path, world.site, PlanOptions(**options))


def test_two_layers_that_could_be_it(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", layer="DRIP A")
    document = ezdxf.readfile(path)
    document.modelspace().add_line((0, 0), (5, 5), dxfattribs={"layer": "DRIP B"})
    document.saveas(path)
    message = (
        "plan.dxf: the layers 'DRIP A', 'DRIP B' could all be the laterals; name it with --layer"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        read_plan(path, world.site, PlanOptions())
    assert len(read_plan(path, world.site, PlanOptions(layer="drip a")).runs) == len(
        world.layout.laterals
    )


def test_two_runs_with_one_name(plane: Plane, tmp_path: Path) -> None:
    """The name goes to one of the two; the other is numbered and told by where it lies."""
    world = plane()
    path = draw(
        world,
        tmp_path / "plan.dxf",
        change=lambda one: Lateral(
            "L02" if one.name == "L05" else one.name, one.panel, one.xy, one.elevation
        ),
    )
    found = compare(world, path)
    assert sum(line.run.name == "L02" for line in found.lines) == 1
    assert found.verdict.passed
    assert (
        "the name 'L02' stands beside 2 runs; the nearest has it, the other is numbered"
        in found.notes
    )


def test_a_run_beside_another_s_label_does_not_take_its_name(plane: Plane, tmp_path: Path) -> None:
    """L06 drawn 1.9 up, between L05 and its label."""
    world = plane()
    path = draw(world, tmp_path / "plan.dxf")
    document = ezdxf.readfile(path)
    runs = document.modelspace().query("LWPOLYLINE[layer=='DRIP LATERALS']")
    runs[5].translate(0.0, 1.9, 0.0)
    document.saveas(path)
    plan = read_plan(path, world.site, PlanOptions())
    assert sorted(run.name for run in plan.runs) == [one.name for one in world.layout.laterals]
    assert plan.runs[5].name in ("L05", "L06")


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        (
            "plan.dxf",
            "this is no drawing",
            "plan.dxf: it is no DXF drawing, or it is damaged or cut short; export it again as "
            "ASCII DXF",
        ),
        (
            "plan.pdf",
            "%PDF",
            "plan.pdf: this is no PDF that can be read; export or print it again",
        ),
        (
            "plan.doc",
            "words",
            "plan.doc: a plan that ends in '.doc' cannot be read; give the plan as .dxf, .csv, "
            ".xlsx, .geojson, .pdf, .png, .jpg or .tif",
        ),
        (
            "plan.png",
            "no picture",
            "plan.png: this is no PNG, JPEG or TIFF that can be read; scan or export it again",
        ),
        (
            "plan.geojson",
            "{",
            "plan.geojson, row 1: it is not JSON, or it is cut short (Expecting property name "
            "enclosed in double quotes); export it again",
        ),
        (
            "plan.geojson",
            '{"type": "FeatureCollection", "features": []}',
            "plan.geojson: it holds no line; give each run as a LineString",
        ),
        (
            "plan.geojson",
            '{"type": "FeatureCollection", "features": [{"geometry": {"type": "LineString", '
            '"coordinates": [[0, 0], [1, 1]]}, "properties": {"run": "1", "length": "long"}}]}',
            "plan.geojson, length: run '1' has the length 'long'; give a number",
        ),
        (
            "plan.geojson",
            '{"type": "FeatureCollection", "unit": "ell", "features": [{"geometry": {"type": '
            '"LineString", "coordinates": [[0, 0], [1, 1]]}, "properties": {}}]}',
            "plan.geojson, unit: the unit 'ell' is not known; give one of ft, ftUS, in, m, cm, mm",
        ),
    ],
)
def test_files_refused(plane: Plane, tmp_path: Path, name: str, content: str, message: str) -> None:
    world = plane()
    (tmp_path / name).write_text(content, encoding="utf-8")
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        read_plan(tmp_path / name, world.site, PlanOptions())


def test_the_project_s_own_staking_drawing_reads_as_a_plan(plane: Plane, tmp_path: Path) -> None:
    """Its laterals, names, elevations and bed among stakes, tables and level lines."""
    from dripfield.sheets.staking.staking_dxf import write_staking
    from dripfield.staking.method import field_method

    world = plane()
    path = tmp_path / "staking.dxf"
    write_staking(path, world.design, field_method(world.design).stakes)
    found = compare(world, path)
    assert [line.run.name for line in found.lines] == [one.name for one in world.layout.laterals]
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert found.verdict.passed
    assert all(
        line.run.elevation == pytest.approx(line.lateral.elevation, abs=0.005)
        for line in found.lines
    )
    assert "the laterals were taken from layer 'C-SSWR-LATL'" in found.notes
    assert "the bed's outline was taken from layer 'C-SSWR-BNDY'" in found.notes


def test_geojson_in_the_site_s_coordinates(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    features = [
        {
            "type": "Feature",
            "properties": {"run": one.name, "elevation": round(one.elevation, 2)},
            "geometry": {"type": "LineString", "coordinates": one.xy.tolist()},
        }
        for one in reversed(world.layout.laterals)
    ]
    ring = np.asarray(world.site.bed.boundary.exterior.coords).tolist()
    features.append({"type": "Feature", "geometry": {"type": "Polygon", "coordinates": [ring]}})
    path = tmp_path / "plan.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    found = compare(world, path)
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert any("it was not moved" in note for note in found.notes)


def test_a_table_in_another_unit(plane: Plane) -> None:
    world = plane()
    runs = tuple(
        PlanRun(one.name, length=float(np.ptp(one.xy[:, 0])) * 0.3048)
        for one in world.layout.laterals
    )
    plan = Plan(Path("typed.csv"), runs)
    message = (
        "typed.csv: the plan's lengths are 0.3048 times the layout's: the plan is in metres and "
        "the site in feet; give --plan-units m if the plan is in metres"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        check_stated_units(plan, world.design, PlanOptions())
    check_stated_units(plan, world.design, PlanOptions(units="ft"))


def test_the_outline_on_the_laterals_layer(plane: Plane, tmp_path: Path) -> None:
    """A drawing with everything on one layer: the ring round all lines is the bed and no run."""
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", layer="0", matrix=moved(world, turn=30.0))
    document = ezdxf.readfile(path)
    for entity in document.modelspace():
        entity.dxf.layer = "0"
    document.saveas(path)
    found = compare(world, path)
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert len(found.lines) == len(world.layout.laterals)
    assert "the bed's outline was taken from layer '0'" in found.notes


def test_flat_geojson_gives_no_elevations(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    features = [
        {
            "type": "Feature",
            "properties": {"run": one.name},
            "geometry": {"type": "LineString", "coordinates": [[*p, 0.0] for p in one.xy.tolist()]},
        }
        for one in world.layout.laterals
    ]
    path = tmp_path / "plan.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    found = compare(world, path)
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert "elevation of every run: the plan gives none" in found.unchecked


def test_spacing_in_inches_beside_lengths_in_feet(plane: Plane) -> None:
    world = plane()
    runs = tuple(
        PlanRun(one.name, length=float(np.ptp(one.xy[:, 0])), spacing=24.0)
        for one in world.layout.laterals
    )
    message = (
        "typed.csv: the plan's spacing is 24 and the site's 2 ft: the spacing is in inches; name "
        "its unit, as in a column 'spacing (in)', or convert it"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        check_stated_units(Plan(Path("typed.csv"), runs), world.design, PlanOptions())


def test_elevations_in_feet_on_a_drawing_in_metres(plane: Plane, tmp_path: Path) -> None:
    """``--plan-units`` scales what is drawn, not what is written in another unit."""
    world = plane()
    path = draw(world, tmp_path / "plan.dxf", matrix=moved(world, 0.3048, 12.0))
    found = compare(world, path, units="m")
    assert found.verdict.passed, found.verdict.reasons
    for line in found.lines:
        assert line.run.elevation == pytest.approx(line.lateral.elevation, abs=0.005)
    assert "elevations are written without a unit and were taken as ft" in found.notes


def test_elevations_in_metres_on_a_drawing_in_metres(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = draw(
        world,
        tmp_path / "plan.dxf",
        matrix=moved(world, 0.3048, 12.0),
        change=lambda one: Lateral(one.name, one.panel, one.xy, one.elevation * 0.3048),
        label="{name}  {elevation:.3f}",
    )
    found = compare(world, path, units="m")
    assert found.verdict.passed, found.verdict.reasons
    assert "elevations are written without a unit and were taken as m" in found.notes


@pytest.mark.parametrize("count", [2, 3, 5])
def test_a_spline_that_repeats_its_last_fit_point(plane: Plane, tmp_path: Path, count: int) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf")
    document = ezdxf.readfile(path)
    points = [(float(x), 0.0, 0.0) for x in range(count)]
    spline = document.modelspace().add_spline(dxfattribs={"layer": "DETAIL"})
    spline.fit_points = [*points, points[-1]]
    document.saveas(path)
    assert compare(world, path).verdict.passed


def test_the_layer_that_was_not_taken_as_outline_is_named(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = draw(world, tmp_path / "plan.dxf")
    document = ezdxf.readfile(path)
    for entity in document.modelspace().query("LWPOLYLINE[layer=='BED OUTLINE']"):
        entity.dxf.layer = "PROPERTY"
    document.saveas(path)
    assert any(
        note.startswith("the closed line on layer 'PROPERTY' was not taken as the bed's outline")
        for note in compare(world, path).notes
    )
