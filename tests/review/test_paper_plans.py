"""Plans on paper: a page of a PDF whose lines are read, a scan that is only shown."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pypdfium2
import pytest
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from PIL import Image, ImageDraw

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.review.judge.compare import compare_plan
from dripfield.review.model.limits import LineVerdict
from dripfield.review.model.plan import PlanOptions
from dripfield.review.place.register import place_plan
from dripfield.review.read.common_points import read_common_points
from dripfield.review.read.page import read_page
from dripfield.review.read.paper_scale import parse_scale
from dripfield.review.read.read_plan import read_plan

Plane = Callable[..., SimpleNamespace]
Command = Callable[..., SimpleNamespace]
WIDE, HIGH = 11.0, 8.5  # inches


def on_paper(world: SimpleNamespace, feet: float, turn: float = 0.0) -> Callable:
    """Site coordinates to inches on the sheet, its middle in the middle."""
    middle = np.array(world.site.bed.boundary.centroid.coords[0])
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def place(xy: np.ndarray) -> np.ndarray:
        near = (np.asarray(xy) - middle) / feet
        return near @ np.array(((c, s), (-s, c))) + (WIDE / 2.0, HIGH / 2.0)

    return place


def print_plan(
    world: SimpleNamespace,
    path: Path,
    *,
    feet: float = 20.0,
    turn: float = 0.0,
    written: str = "1\" = 20'",
    outline: bool = True,
    names: bool = True,
    before: int = 0,
) -> Path:
    """Print the layout as a drafter's program would: frame, title, table, north arrow and all."""
    place = on_paper(world, feet, turn)
    with PdfPages(path, metadata={"CreationDate": None}) as book:
        for _ in range(before):
            book.savefig(Figure(figsize=(WIDE, HIGH)))
        figure = Figure(figsize=(WIDE, HIGH))
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        axes.set_xlim(0, WIDE)
        axes.set_ylim(0, HIGH)
        axes.plot([0.3, 10.7, 10.7, 0.3, 0.3], [0.3, 0.3, 8.2, 8.2, 0.3], "k-", lw=1.0)
        for one in world.layout.laterals:
            xy = place(one.xy)
            axes.plot(*xy.T, "-", color="#224488", lw=0.6)
            if names:
                angle = math.degrees(math.atan2(*(xy[-1] - xy[0])[::-1]))
                text = f"{one.name}  {one.elevation:.2f}"
                way = (xy[-1] - xy[0]) / np.hypot(*(xy[-1] - xy[0]))
                spot = xy[-1] + 0.06 * way
                options = {"rotation": angle, "rotation_mode": "anchor", "va": "center"}
                axes.text(*spot, text, fontsize=4.0, **options)
        if outline:
            ring = place(np.asarray(world.site.bed.boundary.exterior.coords))
            axes.plot(*ring.T, "k-", lw=1.6)
        axes.plot([0.6, 0.6, 0.5, 0.6, 0.7], [1.0, 1.6, 1.4, 1.6, 1.4], "k-", lw=0.8)
        axes.text(0.6, 0.5, f"DRIP FIELD PLAN   SCALE {written}   SHEET 3 OF 5", fontsize=9)
        for k in range(4):
            axes.plot([8.0, 10.5], [0.5 + 0.2 * k] * 2, "k-", lw=0.4)
        book.savefig(figure)
    return path


def compare(world: SimpleNamespace, path: Path, common=None, **options):
    plan_options = PlanOptions(**options)
    plan = read_plan(path, world.site, plan_options)
    plan, placement = place_plan(plan, world.design, world.limits, plan_options, common)
    return compare_plan(world.design, plan, world.limits, placement)


@pytest.mark.parametrize("turn", [0.0, 30.0, 180.0])
def test_a_printed_plan_is_read(plane: Plane, tmp_path: Path, turn: float) -> None:
    world = plane()
    path = print_plan(world, tmp_path / "plan.pdf", turn=turn)
    found = compare(world, path)
    assert [line.run.name for line in found.lines] == [one.name for one in world.layout.laterals]
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert max(line.offset_max for line in found.lines) < 0.02
    assert found.verdict.passed, found.verdict.reasons
    assert any("at the stated scale, 20 ft" in note for note in found.notes)
    for line in found.lines:
        assert line.run.elevation == pytest.approx(line.lateral.elevation, abs=0.005)


def test_the_lines_of_a_page_against_its_own_renderer(plane: Plane, tmp_path: Path) -> None:
    """Where pieces are read, PDFium itself draws ink."""
    world = plane()
    path = print_plan(world, tmp_path / "plan.pdf", turn=20.0)
    page = read_page(path, 1, metric=False)
    document = pypdfium2.PdfDocument(path)
    image = np.asarray(document[0].render(scale=200.0 / 72.0).to_pil().convert("L"))
    laterals = [piece for piece in page.pieces if piece.layer.startswith("0.60 pt, 34 68 136")]
    assert len(laterals) == len(world.layout.laterals)
    for piece in laterals:
        middle = piece.xy.mean(axis=0) * 200.0
        row, column = int(image.shape[0] - middle[1]), int(middle[0])
        assert image[row - 2 : row + 3, column - 2 : column + 3].min() < 200


def test_another_page(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = print_plan(world, tmp_path / "plan.pdf", before=2)
    assert compare(world, path, page=3).verdict.passed
    message = "plan.pdf: there is no page 4: it has 3; name one of its pages with --page"
    with pytest.raises(InputError, match=f"^{message}$"):
        read_plan(path, world.site, PlanOptions(page=4))


def test_a_page_printed_to_another_size(plane: Plane, tmp_path: Path) -> None:
    """Stated 1 in = 20 ft and printed at half: 40 to the inch."""
    world = plane()
    path = print_plan(world, tmp_path / "plan.pdf", feet=40.0)
    with pytest.raises(InputError, match=r"fits the site at 40 ft to a unit of paper and is said"):
        compare(world, path)
    assert compare(world, path, any_scale=True).verdict.passed


def test_common_points_of_a_page(plane: Plane, tmp_path: Path) -> None:
    """In inches from the lower left corner, without an outline on the sheet."""
    world = plane()
    path = print_plan(world, tmp_path / "plan.pdf", outline=False, turn=-40.0)
    place = on_paper(world, 20.0, -40.0)
    corners = np.asarray(world.site.bed.boundary.exterior.coords)[:3]
    rows = [
        f"c{i},{x},{y},{north},{east}"
        for i, ((x, y), (east, north)) in enumerate(zip(place(corners), corners, strict=True))
    ]
    file = tmp_path / "common.csv"
    file.write_text("name,plan_x,plan_y,northing,easting\n" + "\n".join(rows), encoding="utf-8")
    found = compare(world, path, read_common_points(file))
    assert found.verdict.passed, found.verdict.reasons


def test_lines_without_names_must_be_named(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = print_plan(world, tmp_path / "plan.pdf", names=False)
    with pytest.raises(InputError) as refused:
        read_plan(path, world.site, PlanOptions())
    assert "no lines stand out as the laterals; name them with --layer: " in str(refused.value)
    assert "'0.60 pt, 34 68 136'" in str(refused.value)
    found = compare(world, path, layer="0.60 pt, 34 68 136")
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}


@pytest.mark.parametrize(
    ("text", "unit", "scale"),
    [  # hand-derived: 1:240 is 240 in, 20 ft, to the inch; 1:200 is 200 mm, 0.2 m, to the mm
        ("SCALE: 1\" = 20'", Unit.FOOT, 20.0),
        ("1 in = 30 ft", Unit.FOOT, 30.0),
        ("1 IN. = 10 FEET", Unit.FOOT, 10.0),
        ("1:240", Unit.FOOT, 20.0),
        ("Scale 1 : 200", Unit.METRE, 0.2),
        ("1 in = 20 ft", Unit.METRE, None),
        ("sheet 1 of 12", Unit.FOOT, None),
        ("printed 11:30", Unit.FOOT, None),
    ],
)
def test_scales_as_they_are_written(text: str, unit: Unit, scale: float | None) -> None:
    assert parse_scale(text, unit) == (None if scale is None else pytest.approx(scale))


def scan(world: SimpleNamespace, folder: Path, name: str, points: int = 3) -> tuple[Path, Path]:
    """A scan at 100 pixels to the inch of a sheet at 1 in = 20 ft, and its common points."""
    place = on_paper(world, 20.0, 15.0)
    size = (int(WIDE * 100), int(HIGH * 100))
    image = Image.new("RGB", size, "#f0ead8")
    pen = ImageDraw.Draw(image)

    def pixels(xy: np.ndarray) -> np.ndarray:
        return np.column_stack((place(xy)[:, 0] * 100.0, size[1] - place(xy)[:, 1] * 100.0))

    for one in world.layout.laterals:
        pen.line([tuple(p) for p in pixels(one.xy)], fill="#203060", width=2)
    image.save(folder / name)
    corners = np.asarray(world.site.bed.boundary.exterior.coords)[:points]
    rows = [
        f"c{i},{x:.1f},{y:.1f},{north},{east}"
        for i, ((x, y), (east, north)) in enumerate(zip(pixels(corners), corners, strict=True))
    ]
    common = folder / "common.csv"
    common.write_text("name,plan_x,plan_y,northing,easting\n" + "\n".join(rows), encoding="utf-8")
    return folder / name, common


@pytest.mark.parametrize("name", ["plan.png", "plan.jpg", "plan.tif"])
def test_a_scan_is_shown_and_not_read(
    command: Command, plane: Plane, tmp_path: Path, name: str
) -> None:
    world = plane(name="site")
    scan(world, tmp_path, name)
    ran = command("compare", "site", "--plan", name, "--common", "common.csv", "--out", "out")
    assert (ran.code, ran.error) == (4, "")
    assert ran.out.startswith("Test Plane: not proven: the plan is a picture")
    verdict = json.loads(Path("out/verdict.json").read_text(encoding="utf-8"))
    assert verdict["verdict"] == "not proven"
    table = Path("out/comparison.csv").read_text(encoding="utf-8").splitlines()
    assert all(",not read," in row for row in table[1:])
    setbacks = Path("out/setbacks.csv").read_text(encoding="utf-8").splitlines()
    assert all(",not read," in row for row in setbacks[1:])
    page = Path("out/comparison.html").read_text(encoding="utf-8")
    assert "the picture was placed by 3 common points; left over (ft): c0 0.0" in page
    assert "data:image/png;base64," in page


@pytest.mark.parametrize("name", ["plan.png", "plan.jpg", "plan.tif"])
def test_a_scan_that_is_cut_short_is_refused_before_it_is_drawn(
    command: Command, plane: Plane, tmp_path: Path, name: str
) -> None:
    path, _ = scan(plane(name="site"), tmp_path, name)
    whole = path.read_bytes()
    path.write_bytes(whole[: 2 * len(whole) // 3])
    ran = command("compare", "site", "--plan", name, "--common", "common.csv", "--out", "out")
    assert ran.code == 2
    assert ran.error == (
        f"error: {name}: this is no PNG, JPEG or TIFF that can be read; scan or export it again"
    )
    assert not Path("out").exists()


def test_a_scan_lies_under_the_layout(command: Command, plane: Plane, tmp_path: Path) -> None:
    """The scan's laterals fall on the layout's: on the map the pale ink is where the lines are."""
    world = plane(name="site")
    path, common = scan(world, tmp_path, "plan.png")
    from dripfield.review.place.picture import place_picture

    plan = read_plan(path, world.site, PlanOptions())
    plan, placement = place_picture(plan, world.design, read_common_points(common))
    assert placement.misfit < 0.05
    image = np.asarray(Image.open(path).convert("L"))
    for one in world.layout.laterals:
        # back from the site to the picture: the inverse of a similarity by its own formula
        move = plan.picture.move
        away = (one.xy.mean(axis=0) - move.target) / move.scale
        c, s = math.cos(move.turn), math.sin(move.turn)
        x, y = away @ np.array(((c, -s), (s, c))) + move.source
        row, column = round(image.shape[0] - y), round(x)
        assert image[row - 3 : row + 4, column - 3 : column + 4].min() < 100


def test_a_scan_without_common_points(command: Command, plane: Plane, tmp_path: Path) -> None:
    world = plane(name="site")
    scan(world, tmp_path, "plan.png")
    ran = command("compare", "site", "--plan", "plan.png", "--out", "out")
    assert (ran.code, ran.error) == (
        2,
        "error: plan.png: a picture lies nowhere by itself; give two or more common points with "
        "--common",
    )
    assert not Path("out").exists()


def test_common_points_of_a_scan_that_disagree(
    command: Command, plane: Plane, tmp_path: Path
) -> None:
    world = plane(name="site")
    _, common = scan(world, tmp_path, "plan.png")
    lines = common.read_text(encoding="utf-8").splitlines()
    cells = lines[2].split(",")
    lines[2] = ",".join([*cells[:3], str(float(cells[3]) + 40.0), cells[4]])
    common.write_text("\n".join(lines), encoding="utf-8")
    ran = command("compare", "site", "--plan", "plan.png", "--common", "common.csv", "--out", "out")
    assert ran.code == 2
    assert "the 3 common points disagree" in ran.error


def test_a_page_that_holds_a_picture_alone(command: Command, plane: Plane, tmp_path: Path) -> None:
    """A scan saved as PDF: placed by inches of the page."""
    world = plane(name="site")
    path, common = scan(world, tmp_path, "plan.png")
    Image.open(path).convert("RGB").save(tmp_path / "plan.pdf", resolution=100.0)
    lines = common.read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in lines[1:]]
    inches = [
        ",".join([r[0], str(float(r[1]) / 100.0), str(HIGH - float(r[2]) / 100.0), *r[3:]])
        for r in rows
    ]
    common.write_text("\n".join([lines[0], *inches]), encoding="utf-8")
    ran = command("compare", "site", "--plan", "plan.pdf", "--common", "common.csv", "--out", "out")
    assert ran.code == 4
    assert ran.out.startswith("Test Plane: not proven: the plan is a picture")


def test_a_locked_or_broken_pdf(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = tmp_path / "plan.pdf"
    good = print_plan(world, path).read_bytes()
    path.write_bytes(good[: len(good) // 3])
    with pytest.raises(InputError, match=r"^plan\.pdf: "):
        read_plan(path, world.site, PlanOptions())
    from pypdf import PdfReader, PdfWriter

    path.write_bytes(good)
    writer = PdfWriter(clone_from=PdfReader(path))
    writer.encrypt("secret", algorithm="RC4-128")
    writer.write(path)
    message = r"^plan\.pdf: the PDF is locked; save it without a password$"
    with pytest.raises(InputError, match=message):
        read_plan(path, world.site, PlanOptions())
