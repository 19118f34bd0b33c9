"""What shots prove: how many, where, whose, how good, and what they have in common."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from dripfield.review.laid.record import make_record
from dripfield.review.model.limits import LineVerdict, review_limits
from dripfield.review.read.shots import foreign_word, read_laid_shots

Plane = Callable[..., SimpleNamespace]
Command = Callable[..., SimpleNamespace]
Change = Callable[[str, np.ndarray], np.ndarray | None]


def shoot(
    world: SimpleNamespace,
    path: Path,
    apart: float = 6.0,
    *,
    change: Change = lambda name, xyz: xyz,
    text: str = "{name}",
    more: str = "",
) -> Path:
    """Shots at both ends of every lateral and evenly between them."""
    rows = ["point,northing,easting,elevation,description"]
    for one in world.layout.laterals:
        length = float(np.ptp(one.xy[:, 0]))
        count = max(int(np.ceil(length / apart)), 1) + 1
        xy = np.linspace(one.xy[0], one.xy[-1], count)
        xyz = change(one.name, np.column_stack((xy, np.full(count, one.elevation))))
        for x, y, z in [] if xyz is None else xyz:
            said = text.format(name=one.name)
            rows.append(f"{2000 + len(rows)},{y:.4f},{x:.4f},{z:.3f},{said}")
    path.write_text("\n".join(rows) + "\n" + more, encoding="utf-8")
    return path


def record(world: SimpleNamespace, path: Path):
    shots = read_laid_shots(path, world.site)
    return make_record(world.design, shots, review_limits(world.site))


@pytest.mark.parametrize(
    ("apart", "word"), [(3.0, "pass"), (6.0, "pass"), (8.0, "not proven"), (500.0, "not proven")]
)
def test_shots_must_be_near_enough(plane: Plane, tmp_path: Path, apart: float, word: str) -> None:
    """The last has the two ends of each lateral alone."""
    world = plane()
    found = record(world, shoot(world, tmp_path / "laid.csv", apart))
    assert found.verdict.word == word
    if word != "pass":
        more = found.verdict.measure_more
        assert len(more) > 5
        one = next(one for one in world.layout.laterals if more[0].why.startswith(one.name))
        assert one.xy[0, 0] < more[0].easting < one.xy[-1, 0]
        assert more[0].northing == pytest.approx(one.xy[0, 1], abs=1e-3)


def test_the_site_sets_how_near(plane: Plane, tmp_path: Path) -> None:
    world = plane(more="[review]\nshot_spacing = 30.0\n")
    assert record(world, shoot(world, tmp_path / "laid.csv", 30.0)).verdict.passed


def test_one_shot_a_lateral_is_no_yes(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = shoot(world, tmp_path / "laid.csv", change=lambda name, xyz: xyz[1:2])
    found = record(world, path)
    assert found.verdict.word == "not proven"
    assert {line.verdict for line in found.lines} == {LineVerdict.NOT_PROVEN}


def test_a_metric_site_takes_two_metres(plane: Plane, tmp_path: Path) -> None:
    world = plane("m", name="metres")
    assert record(world, shoot(world, tmp_path / "laid.csv", 2.0)).verdict.passed
    assert record(world, shoot(world, tmp_path / "laid.csv", 6.0)).verdict.word == "not proven"


def test_declared_accuracy_tells_outside_from_perhaps(plane: Plane, tmp_path: Path) -> None:
    """L04 0.12 high against a limit of 0.10, L05 0.30 high."""

    def change(name: str, xyz: np.ndarray) -> np.ndarray:
        xyz[1, 2] += {"L04": 0.12, "L05": 0.30}.get(name, 0.0)
        return xyz

    for more, first in (("", "does not conform"), ("shot_accuracy = 0.05\n", "not proven")):
        world = plane(more=f"[review]\n{more}", name=f"a{len(more)}")
        found = record(world, shoot(world, tmp_path / "laid.csv", change=change))
        lines = {line.name: line for line in found.lines}
        assert lines["L04"].verdict.value == first
        assert lines["L05"].verdict is LineVerdict.DIFFERS
        assert ("within the survey's accuracy 0.05" in lines["L04"].reasons[0]) == bool(more)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            lambda name, xyz: xyz + np.array((0, 0, 0.3)),
            "all 20 laterals are high by 0.30 ft (median)",
        ),
        (
            lambda name, xyz: xyz + np.array((0.9, 1.2, 0)),
            "the laterals lie 1.50 ft towards 37° of",
        ),
        (
            lambda name, xyz: xyz + np.column_stack((0 * xyz[:, :2], 0.006 * (xyz[:, 0] - 1.5e6))),
            "the shots tilt against the design, 0.6 ft in 100 ft upward to 90°",
        ),
    ],
)
def test_a_common_cause_comes_first(
    plane: Plane, tmp_path: Path, change: Change, said: str
) -> None:
    """By hand: 0.90 east and 1.20 north are 1.50 (3-4-5) towards atan(0.9 / 1.2) = 36.87°."""
    world = plane()
    said = said.replace("20", str(len(world.layout.laterals)))
    found = record(world, shoot(world, tmp_path / "laid.csv", change=change))
    assert found.verdict.word == "fail"
    assert found.verdict.reasons[0].startswith(said)


def test_a_turn_is_named(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    middle = np.array(world.site.bed.boundary.centroid.coords[0])
    angle = np.radians(1.5)
    turn = np.array(((np.cos(angle), np.sin(angle)), (-np.sin(angle), np.cos(angle))))

    def change(name: str, xyz: np.ndarray) -> np.ndarray:
        xyz[:, :2] = (xyz[:, :2] - middle) @ turn + middle
        return xyz

    found = record(world, shoot(world, tmp_path / "laid.csv", change=change))
    assert found.verdict.reasons[0].startswith(
        "the laterals are turned 1.50 degrees anticlockwise against the design"
    )


def test_two_labels_exchanged(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = shoot(world, tmp_path / "laid.csv")
    text = path.read_text(encoding="utf-8")
    text = text.replace(",L05\n", ",swap\n").replace(",L06\n", ",L05\n").replace("swap", "L06")
    path.write_text(text, encoding="utf-8")
    found = record(world, path)
    assert found.verdict.word == "fail"
    assert found.verdict.reasons[0] == (
        "the labels L05 and L06 are exchanged: the shots of each lie on the other"
    )


def test_marks_are_judged_first(plane: Plane, tmp_path: Path, references: str) -> None:
    """A benchmark shot 0.30 high with everything else: the shots are off, and nothing is proven."""
    bench = (
        '\n[benchmark]\nname = "BM"\nelevation = 101.0\nnorthing = 599990.0\neasting = 1500005.0\n'
    )
    world = plane(more=references + bench)
    path = shoot(
        world,
        tmp_path / "laid.csv",
        change=lambda name, xyz: xyz + np.array((0, 0, 0.3)),
        more="900,599990.0,1500005.0,101.30,BM\n901,599990.0,1500020.0,100,REF-A\n",
    )
    found = record(world, path)
    assert [(mark.name, mark.ok) for mark in found.marks] == [("BM", False), ("REF-A", True)]
    assert found.verdict.word == "not proven"
    assert found.verdict.reasons[0] == (
        "BM was shot 0.00 ft from its place and 0.30 ft high: the shots are off, or the mark is"
    )
    assert found.verdict.reasons[1].startswith("all")
    level = shoot(world, path, more="900,599990.0,1500005.0,101.01,BM\n")
    assert record(world, level).verdict.passed


@pytest.mark.parametrize(
    ("description", "word"),
    [
        ("TUBE", None),
        ("", None),
        ("drip line 3", None),
        ("valve box", "valve"),
        ("MANIFOLD", "manifold"),
        ("septic tank lid", "septic"),
        ("edge of lawn", "edge"),
    ],
)
def test_foreign_words(description: str, word: str | None) -> None:
    assert foreign_word(description) == word


def test_what_is_no_tubing_is_not_adopted(plane: Plane, tmp_path: Path) -> None:
    """On a lateral in plan: a valve, a tank's lid two feet up, and an unnamed shot that is good."""
    world = plane()
    one = world.layout.laterals[4]
    (x, y), z = one.xy[0] + np.array((20.0, 0.05)), one.elevation
    more = (
        f"1,{y},{x},{z},VALVE\n2,{y},{x + 3},{z + 2.0},\n3,{y},{x + 6},{z},\n"
        f"4,{y},{x + 9},{z},manifold\n"
    )
    found = record(world, shoot(world, tmp_path / "laid.csv", more=more))
    shots = {check.shot.point: check.shot for check in found.shots}
    assert [shots[name].lateral for name in "1234"] == [None, None, "L05", None]
    assert shots["1"].why == "its description says 'valve', which is no tubing"
    assert shots["2"].why.startswith("2.00 ft higher beside L05")


def test_the_crew_s_own_code_for_tubing(plane: Plane, tmp_path: Path) -> None:
    """A code that nearly all unnamed shots carry is tubing, whatever it is; a valve is not."""
    world = plane()
    found = record(world, shoot(world, tmp_path / "laid.csv", text="XQ"))
    assert found.verdict.passed
    path = shoot(world, tmp_path / "laid.csv", text="valve")
    with pytest.raises(Exception, match="belongs to a lateral"):
        record(world, path)


def test_setbacks_of_what_was_laid(command: Command, plane: Plane, tmp_path: Path) -> None:
    """Two laterals laid 0.45 aside, within what a line may be off, towards a well 50.00 away."""
    more = (
        '\n[[review.setbacks]]\nname = "well"\nkind = "well"\npoints = "well.csv"\n'
        "distance = 50.0\n"
    )
    world = plane(name="site")
    text = (world.folder / "site.toml").read_text(encoding="utf-8")
    (world.folder / "site.toml").write_text(text + more, encoding="utf-8")
    top = world.layout.laterals[0]
    x, y = top.xy.mean(axis=0)
    (world.folder / "well.csv").write_text(f"northing,easting\n{y + 50.2},{x}\n", encoding="utf-8")

    def change(name: str, xyz: np.ndarray) -> np.ndarray:
        return xyz + np.array((0.0, 0.45 * (name in ("L01", "L02")), 0.0))

    shoot(world, tmp_path / "laid.csv", change=change)
    ran = command("record", "site", "--shots", "laid.csv", "--out", "out")
    assert ran.code == 4
    assert ran.out.startswith("Test Plane: fail: ")
    verdict = json.loads(Path("out/verdict.json").read_text(encoding="utf-8"))
    assert verdict["verdict"] == "fail"
    assert any(text == "L01 lies 49.75 ft from well, 50.00 required" for text in verdict["reasons"])
    heads = "feature,kind,required,distance,distance_plan,run,verdict,source,unit"
    table = Path("out/setbacks.csv").read_text(encoding="utf-8").splitlines()
    assert table[0] == heads
    assert "well,well,50.00,50.20,49.75,L01,does not conform,,ft" in table


def test_columns(command: Command, plane: Plane, tmp_path: Path) -> None:
    world = plane(name="site")
    shoot(world, tmp_path / "laid.csv", 500.0)
    ran = command("record", "site", "--shots", "laid.csv", "--out", "out")
    assert ran.code == 4
    assert ran.out.startswith("Test Plane: not proven: ")
    assert (
        Path("out/record.csv")
        .read_text(encoding="utf-8")
        .startswith(
            "lateral,verdict,shots,length_design,length_laid,elevation_design,elevation_min,"
            "elevation_max,offset_mean,offset_max,end_offset,spacing_design,spacing_min,spacing_max,"
            "unit,reasons"
        )
    )
    assert (
        Path("out/record_points.csv")
        .read_text(encoding="utf-8")
        .startswith(
            "point,northing,easting,elevation,description,lateral,matched,offset,difference,ok,unit"
        )
    )
