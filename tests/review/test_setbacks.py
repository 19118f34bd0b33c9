"""Distances to keep: by hand, and against shapely."""

from __future__ import annotations

import re
from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

import dripfield
from dripfield.core.errors import InputError
from dripfield.review.judge.setbacks import Lines, check_setbacks
from dripfield.review.model.limits import LineVerdict

Plane = Callable[..., SimpleNamespace]

MORE = """
[[review.setbacks]]
name = "house well"
kind = "well"
points = "well.csv"
distance = 100.0
source = "invented code, section 4"

[[review.setbacks]]
name = "east line"
kind = "property line"
points = "line.csv"
shape = "line"
distance = 10.0

[[review.setbacks]]
name = "barn"
kind = "building"
points = "barn.csv"
shape = "ring"
distance = 5.0
source = "invented code, section 5"
"""


def world_with(plane: Plane, well: str, line: str, barn: str) -> SimpleNamespace:
    plain = plane(name="with")
    for name, text in (("well", well), ("line", line), ("barn", barn)):
        (plain.folder / f"{name}.csv").write_text(f"northing,easting\n{text}", encoding="utf-8")
    text = (plain.folder / "site.toml").read_text(encoding="utf-8")
    (plain.folder / "site.toml").write_text(text + MORE, encoding="utf-8")
    plain.site = dripfield.read_site(plain.folder)
    return plain


def check(world: SimpleNamespace, lines: list[np.ndarray]) -> dict[str, object]:
    names = [f"L{i + 1:02d}" for i in range(len(lines))]
    return {one.feature: one for one in check_setbacks(world.site, Lines(names, lines))}


def test_by_hand(plane: Plane) -> None:
    """A lateral along northing 600,010 from easting 10 to 60 (of 1,500,000). The well stands 100.00
    north of its middle, the line 10.00 east of its end, the barn's corner 3 east and 4 south of
    its end: 5.00 away by the 3-4-5 triangle."""
    world = world_with(
        plane,
        "600110,1500035\n",
        "599000,1500070\n601000,1500070\n",
        "600006,1500063\n600006,1500080\n600000,1500080\n600000,1500063\n",
    )
    line = np.array([(1_500_010.0, 600_010.0), (1_500_060.0, 600_010.0)])
    found = check(world, [line, line - (0.0, 2.0)])
    well, east, barn = (found[name] for name in ("house well", "east line", "barn"))
    assert (well.distance, east.distance, barn.distance) == pytest.approx(
        (100.0, 10.0, np.hypot(3.0, 2.0))
    )
    assert (well.nearest, barn.nearest) == ("L01", "L02")
    assert (well.kind, well.source, east.source) == ("well", "invented code, section 4", None)
    assert well.verdict is east.verdict is LineVerdict.CONFORMS
    assert barn.verdict is LineVerdict.DIFFERS
    assert check(world, [line])["barn"].verdict is LineVerdict.CONFORMS
    nearer = check(world, [line + np.array((0.0, 0.02))])["house well"]
    assert nearer.distance == pytest.approx(99.98)
    assert nearer.verdict is LineVerdict.DIFFERS


def test_inside_a_ring_and_outside_the_bed(plane: Plane) -> None:
    world = world_with(
        plane,
        "600200,1500035\n",
        "599000,1500170\n601000,1500170\n",
        "600015,1500030\n600015,1500040\n600005,1500040\n600005,1500030\n",
    )
    through = np.array([(1_500_010.0, 600_010.0), (1_500_060.0, 600_010.0)])
    assert check(world, [through])["barn"].distance == 0.0
    edge = check(world, [through])["bed edge"]
    assert edge.required == 1.0
    assert edge.verdict is LineVerdict.CONFORMS
    out = check(world, [np.array([(1_500_010.0, 599_998.0), (1_500_060.0, 599_998.0)])])
    assert out["bed edge"].distance == 0.0
    assert out["bed edge"].verdict is LineVerdict.DIFFERS


def test_against_shapely(plane: Plane) -> None:
    """Every lateral of the plane to every feature, with shapely's own distance, one by one."""
    world = world_with(
        plane,
        "600110,1500035\n600020,1500150\n",
        "599000,1500110\n600020,1500120\n601000,1500110\n",
        "599990,1500030\n599990,1500040\n599980,1500040\n599980,1500030\n",
    )
    lines = [one.xy for one in world.layout.laterals]
    found = check(world, lines)
    features = {
        "house well": shapely.MultiPoint([(1_500_035, 600_110), (1_500_150, 600_020)]),
        "east line": shapely.LineString(
            [(1_500_110, 599_000), (1_500_120, 600_020), (1_500_110, 601_000)]
        ),
        "barn": shapely.box(1_500_030, 599_980, 1_500_040, 599_990),
        "bed edge": world.site.bed.boundary.exterior,
    }
    for name, feature in features.items():
        each = [shapely.LineString(line).distance(feature) for line in lines]
        assert found[name].distance == pytest.approx(min(each), abs=1e-6)
        assert found[name].nearest == f"L{int(np.argmin(np.round(each, 6))) + 1:02d}"


def test_a_file_that_is_not_there(plane: Plane) -> None:
    world = world_with(plane, "600110,1500035\n", "599000,1500170\n601000,1500170\n", "1,1\n")
    (world.folder / "well.csv").unlink()
    with pytest.raises(InputError, match=r"^well\.csv: the file is missing"):
        check(world, [world.layout.laterals[0].xy])
    message = "barn.csv: a ring needs three different points and has 1; give every corner a row"
    (world.folder / "well.csv").write_text("northing,easting\n1,1\n", encoding="utf-8")
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        check(world, [world.layout.laterals[0].xy])


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (
            "[review]\noffset_conforms = 0.5\noffset_limit = 0.2\n",
            "site.toml, [review] offset_limit: offset_limit 0.2 is less than offset_conforms 0.5; "
            "raise the limit or lower what conforms",
        ),
        (
            "[review]\nofset_limit = 0.2\n",
            "site.toml, [review]: unknown key 'ofset_limit'; the closest known is 'offset_limit'",
        ),
        (
            '[[review.setbacks]]\nname = "w"\npoints = "w.csv"\ndistance = 0\n',
            "site.toml, [[review.setbacks]] 1 distance: 0 was found; give a number greater than 0",
        ),
    ],
)
def test_limits_refused(plane: Plane, more: str, message: str) -> None:
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        plane(more=more)


def test_limits_filled_in_by_unit(plane: Plane) -> None:
    """Half a foot, and 0.15 m; the site's own level tolerance; a tenth of the spacing."""
    feet = plane(name="feet").limits
    assert (feet.offset.same, feet.offset.limit, feet.length.limit) == (0.25, 0.5, 1.0)
    assert (feet.elevation.limit, feet.spacing.limit, feet.tie_accuracy) == (0.1, 0.2, 0.5)
    metres = plane("m", name="metres").limits
    assert (metres.offset.limit, metres.length.limit, metres.tie_error) == (0.15, 0.3, 0.03)
    own = plane(more="[review]\nlength_limit = 0.1\n", name="own").limits
    assert (own.length.same, own.length.limit) == (0.1, 0.1)
