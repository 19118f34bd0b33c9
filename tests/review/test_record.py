"""Shots of laid tubing: whose they are, what moved, what is off level."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import ezdxf
import numpy as np
import pytest

from dripfield.core.errors import InputError
from dripfield.core.lines import line_length
from dripfield.layout.model import Lateral
from dripfield.review.judge.distances import length_through
from dripfield.review.laid.record import make_record
from dripfield.review.model.limits import LineVerdict
from dripfield.review.read.shots import read_laid_shots
from dripfield.sheets.review.record_sheet import record_sheet
from dripfield.sheets.review.write import write_record

Plane = Callable[..., SimpleNamespace]


def shots_on(one: Lateral, apart: float = 6.0) -> int:
    return math.ceil(line_length(one.xy) / apart) + 1


def shoot(
    world: SimpleNamespace,
    path: Path,
    *,
    change: Callable[[str, np.ndarray], np.ndarray | None] = lambda name, xyz: xyz,
    named: bool = True,
    more: str = "",
    scale: float = 1.0,
) -> Path:
    """Shots at both ends of each lateral and at most six feet apart, as a crew takes them."""
    rows = ["point,northing,easting,elevation,description"]
    for one in world.layout.laterals:
        count = shots_on(one)
        xy = one.xy[0] + np.linspace(0.0, 1.0, count)[:, None] * (one.xy[-1] - one.xy[0])
        xyz = change(one.name, np.column_stack((xy, np.full(count, one.elevation))))
        for x, y, z in [] if xyz is None else xyz * scale:
            text = f"{one.name} tubing" if named else "TUBE"
            rows.append(f"{2000 + len(rows)},{y:.4f},{x:.4f},{z:.3f},{text}")
    path.write_text("\n".join(rows) + "\n" + more, encoding="utf-8")
    return path


def record(world: SimpleNamespace, path: Path):
    shots = read_laid_shots(path, world.site)
    return make_record(world.design, shots, world.limits)


@pytest.mark.parametrize("named", [True, False])
def test_laid_as_designed(plane: Plane, tmp_path: Path, references: str, named: bool) -> None:
    world = plane(more=references)
    found = record(world, shoot(world, tmp_path / "laid.csv", named=named))
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert found.verdict.passed
    assert all(line.offset_max < 1e-3 for line in found.lines)
    assert all(
        line.length_laid == pytest.approx(line.length_design, abs=1e-3) for line in found.lines
    )
    assert all(line.spacing_mean == pytest.approx(2.0, abs=1e-3) for line in found.lines)
    # straight lines: both ends are tied and nothing between
    assert [tie.mark for tie in found.ties] == ["start", "end"] * len(found.lines)
    count = sum(map(shots_on, world.layout.laterals))
    words = (f"{count} by name, 0" if named else f"0 by name, {count}") + " by the nearest lateral"
    assert found.notes[0] == f"{count} shots: {words}"


def test_moved_off_level_short_and_not_laid(plane: Plane, tmp_path: Path) -> None:
    """By hand: L02 0.60 south, L04 0.12 high at one end, L06 8.00 short, L08 not laid."""
    world = plane()

    def change(name: str, xyz: np.ndarray) -> np.ndarray | None:
        if name == "L02":
            xyz[:, 1] -= 0.6
        if name == "L04":
            xyz[0, 2] += 0.12
        if name == "L06":
            xyz[:, 0] = np.minimum(xyz[:, 0], xyz[-1, 0] - 8.0)
        return None if name == "L08" else xyz

    found = record(world, shoot(world, tmp_path / "laid.csv", change=change))
    by_name = {line.name: line for line in found.lines}
    assert by_name["L02"].verdict is LineVerdict.DIFFERS
    assert by_name["L02"].offset_max == pytest.approx(0.6, abs=1e-4)
    assert by_name["L02"].reasons[0] == "up to 0.60 ft aside (limit 0.50)"
    assert by_name["L04"].verdict is LineVerdict.DIFFERS
    assert by_name["L04"].reasons == ("off level: 0.12 ft high (limit 0.10)",)
    assert by_name["L06"].verdict is LineVerdict.DIFFERS
    assert by_name["L06"].length_laid - by_name["L06"].length_design == pytest.approx(
        -8.0, abs=1e-3
    )
    assert by_name["L06"].end_offset == pytest.approx(8.0, abs=1e-3)
    assert by_name["L08"].verdict is LineVerdict.NOT_LAID
    assert by_name["L08"].reasons == ("no shot belongs to it",)
    others = set(by_name) - {"L02", "L04", "L06", "L08"}
    assert {by_name[name].verdict for name in others} == {LineVerdict.CONFORMS}
    assert by_name["L01"].spacing_mean == pytest.approx(2.6, abs=1e-3)
    moved = next(check for check in found.shots if check.shot.lateral == "L02")
    assert (moved.offset, moved.toward) == pytest.approx((0.6, 180.0), abs=0.02)
    assert not moved.ok
    assert found.verdict.word == "fail"


def test_shots_below_the_ground(plane: Plane, tmp_path: Path) -> None:
    """Shots on tubing 0.50 below the elevation set are level once the depth is allowed for."""

    def deep(name: str, xyz: np.ndarray) -> np.ndarray:
        return xyz - (0.0, 0.0, 0.5)

    world = plane()
    assert record(world, shoot(world, tmp_path / "laid.csv", change=deep)).verdict.word == "fail"
    world = plane(more="[review]\nlaid_depth = 0.5\n", name="deep")
    assert record(world, shoot(world, tmp_path / "laid.csv", change=deep)).verdict.passed


def test_shots_that_belong_to_none(plane: Plane, tmp_path: Path, references: str) -> None:
    world = plane(more=references)
    first, second = world.layout.laterals[0], world.layout.laterals[1]
    x = float(first.xy[0, 0]) + 5.0
    between = 0.5 * (first.xy[0, 1] + second.xy[0, 1]) + 0.1
    more = (
        f"1,{between},{x},100,TUBE\n"
        f"2,{first.xy[0, 1] + 9.0},{x},100,TUBE\n"
        f"3,{first.xy[0, 1] + 3.0},{x},100,L99 start\n"
        f"4,{first.xy[0, 1] + 3.0},{x + 9.0},100,L99 end\n"
        "5,599990.03,1500020.04,99,REF-A\n"
    )
    found = record(world, shoot(world, tmp_path / "laid.csv", more=more))
    how = {check.shot.point: check.shot.how for check in found.shots}
    assert [how[name] for name in "12345"] == [
        "none",
        "none",
        "not in design",
        "not in design",
        "mark",
    ]
    assert found.unchecked == (
        "shot 1 (TUBE): between L01 (0.90 ft) and L02 (1.10 ft)",
        "shot 2 (TUBE): 9.00 ft from the nearest lateral, L01",
    )
    extra = found.lines[-1]
    assert (extra.name, extra.verdict) == ("L99", LineVerdict.DIFFERS)
    assert extra.length_laid == pytest.approx(9.0)
    (mark,) = found.marks
    assert (mark.name, mark.ok) == ("REF-A", True)
    assert mark.gap == pytest.approx(0.05, abs=1e-6)  # 3-4-5 triangle of 0.03 and 0.04


def test_no_references_is_said(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    found = record(world, shoot(world, tmp_path / "laid.csv"))
    assert found.ties == ()
    assert found.unchecked == (
        "ties: site.toml gives fewer than two permanent points under [[review.references]]",
    )


def test_shots_that_match_nothing(plane: Plane, tmp_path: Path) -> None:
    world = plane()
    path = tmp_path / "laid.csv"
    path.write_text("point,northing,easting,elevation,description\n1,600100,1500010,100,X\n")
    with pytest.raises(InputError) as refused:
        record(world, path)
    assert re.fullmatch(
        r"laid\.csv: none of the 1 shots belongs to a lateral: no description begins with a "
        r"lateral's name, and the nearest shot is \d+\.\d\d ft from L\d\d; write the lateral's "
        r"name first in each description, and check the coordinates",
        str(refused.value),
    )
    count = sum(map(shots_on, world.layout.laterals))
    shoot(world, path, named=False, scale=0.3048)
    message = (
        f"laid.csv: none of the {count} shots lies on a lateral, and {count} do when multiplied by "
        "3.28084: they are in metres and the site in feet; export them in the site's unit, "
        "ft (international)"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        record(world, path)


def test_two_references_at_one_place(plane: Plane, tmp_path: Path, references: str) -> None:
    same = references.replace("599985.0", "599990.0").replace("1500110.0", "1500020.0")
    world = plane(more=same)
    message = (
        "site.toml, [[review.references]]: two references have one name or one place; give each "
        "permanent point its own name and coordinates"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        record(world, shoot(world, tmp_path / "laid.csv"))


def test_named_shots_in_metres_or_exchanged_are_refused(plane: Plane, tmp_path: Path) -> None:
    """A lateral's name does not make a shot that lies off the site one of its own."""
    world = plane()
    count = sum(map(shots_on, world.layout.laterals))
    path = shoot(world, tmp_path / "laid.csv", scale=0.3048)
    message = (
        f"laid.csv: none of the {count} shots lies on a lateral, and {count} do when multiplied by "
        "3.28084: they are in metres and the site in feet; export them in the site's unit, "
        "ft (international)"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        record(world, path)
    shoot(world, path, change=lambda name, xyz: xyz[:, [1, 0, 2]])
    message = (
        "laid.csv: the shots lie on the laterals only with northing and easting exchanged, "
        f"{count} of them; name the columns in a header, northing first where there is none"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        record(world, path)
    # a field laid in quite another place is a finding and no slip of the file
    shoot(world, path, change=lambda name, xyz: xyz + np.array((300.0, 0.0, 0.0)))
    assert {line.verdict for line in record(world, path).lines} == {LineVerdict.DIFFERS}


def test_one_shot_on_a_lateral(plane: Plane, tmp_path: Path, references: str) -> None:
    """It is compared and drawn, and what a single shot cannot tell is said."""
    world = plane(more=references)

    def change(name: str, xyz: np.ndarray) -> np.ndarray:
        return xyz[:1] if name == "L03" else xyz

    found = record(world, shoot(world, tmp_path / "laid.csv", change=change))
    line = found.lines[2]
    assert line.verdict is LineVerdict.NOT_PROVEN
    assert line.reasons == (
        "one shot only: its length, its ends and what lies along it are not proven",
    )
    assert found.verdict.word == "not proven"
    assert [place.why for place in found.verdict.measure_more] == ["L03: its end"]
    sheet = record_sheet(world.design, found, world.limits, ())
    write_record(tmp_path, world.design, found, sheet)
    drawing = ezdxf.readfile(tmp_path / "record.dxf")
    assert len(drawing.query("TEXT[text=='L03']")) == 1


def test_length_between_shots_that_are_far_apart() -> None:
    """A quarter circle of radius 10 by its ends and middle: pi / 2 * 10 long, by hand."""
    angle = np.radians(np.linspace(0.0, 90.0, 181))
    arc = 10.0 * np.column_stack((np.cos(angle), np.sin(angle)))
    chords = 2.0 * 2.0 * 10.0 * math.sin(math.radians(22.5))  # 2 r sin(half the angle), twice
    assert line_length(arc[[0, 90, 180]]) == pytest.approx(chords)
    assert length_through(arc[[0, 90, 180]], arc) == pytest.approx(5.0 * math.pi, abs=1e-3)
    # what was not laid is not made up for
    assert length_through(arc[[0, 45, 90]], arc) == pytest.approx(2.5 * math.pi, abs=1e-3)
