"""Values of the right kind that cannot be meant: one line with the reason, never a run."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from dripfield.core.errors import InputError
from dripfield.site.settings import convert

PLAIN: dict[str, Any] = {
    "site": {"name": "A", "units": "ft"},
    "survey": {"points": "survey.csv"},
    "bed": {"boundary": "bed.csv"},
    "layout": {"spacing": 2.0},
}
WHOLE: dict[str, Any] = {
    "design": {"daily_flow": 450.0, "loading_rate": 0.25, "water_temperature": 50.0},
    "emitters": {"spacing": 2, "flow": 0.6, "pressure_least": 10, "pressure_most": 60},
    "tubing": {"bore": 0.57},
    "zones": {"count": 2, "longest": 300, "flush_velocity": 2.0, "height": 8.0},
    "manifold": {"pipe": "1-1/4 in", "feed": "left"},
    "supply": {"route": "supply.csv", "pipe": "1-1/2 in"},
    "return": {"route": "return.csv", "bore": 1.61},
    "pump": {
        "curve": [[0, 120], [15, 100], [30, 40]],
        "level": 92.5,
        "other_loss": [[7, 3], [16, 9]],
    },
}


def read(units: str = "ft", **tables: dict[str, Any]) -> Any:
    content = copy.deepcopy(PLAIN) | {name: dict(table) for name, table in tables.items()}
    content["site"]["units"] = units
    content["layout"] = {"spacing": 2.0} | content["layout"]
    return convert(content, Path("site.toml"))


def refusal(units: str = "ft", **tables: dict[str, Any]) -> str:
    with pytest.raises(InputError) as caught:
        read(units, **tables)
    return str(caught.value)


def test_the_tables_of_zones_are_read() -> None:
    file = read(**WHOLE)
    assert file.return_ is not None
    assert file.return_.bore == 1.61
    assert file.pump.curve == [(0.0, 120.0), (15.0, 100.0), (30.0, 40.0)]
    assert file.absorption_area == 1800.0  # 450 / 0.25


def test_every_table_of_zones_may_be_left_out_or_empty() -> None:
    assert read().pump is None
    for name in WHOLE:
        if name != "emitters":  # whose spacing always had to be given
            read(**{name: {}})


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        (
            {"pump": {"curve": [[0, 100], [10, 120]]}},
            "[pump] curve 2: the curve rises, from a head of 100 to 120; give points from the "
            "pump's own sheet on which head falls as flow grows",
        ),
        (
            {"pump": {"curve": [[10, 100], [5, 90]]}},
            "[pump] curve 2: the flow 5 does not come after 10; give the points in the order of "
            "flow, each flow once",
        ),
        (
            {"pump": {"curve": [[0, 100]]}},
            "[pump] curve: 1 entries were found; give at least 2",
        ),
        (
            {"pump": {"other_loss": [[0, 4], [5, 9]]}},
            "[pump] other_loss 1: 4 is lost without any flow; start at 0, 0 or leave this point "
            "out",
        ),
        (
            {"emitters": {"spacing": 2, "pressure_least": 60, "pressure_most": 10}},
            "[emitters] pressure_least: 60 is not less than pressure_most, 10; give the range "
            "from the tubing's own sheet",
        ),
        (
            {"emitters": {"spacing": 2, "exponent": 0.5}},
            "[emitters] exponent: 0.5 was found, and the pressure at which an emitter gives its "
            "flow is missing; add pressure_nominal",
        ),
        (
            {"supply": {"pipe": "2 in", "bore": 2.0}},
            "[supply] bore: pipe and bore are both given; give one of them",
        ),
        (
            {"pump": {"curv": []}},
            "[pump]: unknown key 'curv'; the closest known is 'curve'",
        ),
        (
            {"layout": {"stake_interval": 0.01}},
            "[layout] stake_interval: 0.01 was found, and closer stakes fill the bed, wider ones "
            "hold no line; give at least 0.5 and at most 300 ft",
        ),
        (
            {"layout": {"max_length": 0.5}},
            "[layout] max_length: 0.5 is less than the shortest piece that is laid or than the "
            "spacing, 5; give a longer one, or 0 for no limit",
        ),
        (
            {"tubing": {"bore": 14.5}},
            "[tubing] bore: 14.5 was found, and bores are in inches on a site in feet, in mm on a "
            "site in metres; give at least 0.1 and at most 3 in",
        ),
        (
            {"benchmark": {"name": "BM", "elevation": 1e200}},
            "[benchmark] elevation: 1e+200 is not a length or a number to work with; give a "
            "finite number, at most 1e9",
        ),
        (
            {"benchmark": {"name": "BM", "elevation": 10**400}},
            "[benchmark] elevation: 100000000000 … is not a length or a number to work with; give "
            "a finite number, at most 1e9",
        ),
    ],
)
def test_one_line(tables: dict[str, Any], message: str) -> None:
    assert refusal(**tables) == f"site.toml, {message}"


@pytest.mark.parametrize(
    ("table", "key", "value"),
    [
        ("layout", "bend_radius", 1e6),
        ("layout", "spacing", 1e6),
        ("layout", "spacing", 1e-6),
        ("layout", "level_tolerance", 1e-9),
        ("layout", "level_tolerance", 1e5),
        ("layout", "smoothing", 1e5),
        ("layout", "contour_interval", 1e-9),
        ("layout", "coverage_multiple", 1e-9),
        ("layout", "reserve", 0.6),
        ("layout", "panels", 10**6),
        ("crew", "rod_length", 1e-3),
        ("crew", "rod_length", 1e6),
        ("crew", "scale", 1e-6),
        ("crew", "square_error", 90.0),
        ("review", "offset_limit", 1e6),
        ("review", "shot_spacing", 1e-6),
        ("zones", "longest", 0.1),
        ("zones", "count", 10**6),
        ("design", "water_temperature", 400.0),
    ],
)
@pytest.mark.parametrize("units", ["ft", "m"])
def test_absurd_values_are_refused(units: str, table: str, key: str, value: float) -> None:
    message = refusal(units, **{table: {key: value}})
    assert message.startswith(f"site.toml, [{table}] {key}: ")


@pytest.mark.parametrize("units", ["ft", "ftUS", "m"])
def test_every_default_is_within_its_bounds(units: str) -> None:
    """The whole file with every default by unit filled in is accepted as it stands."""
    import msgspec

    from dripfield.core.units import Unit
    from dripfield.site.bounds import check_bounds, tables_in
    from dripfield.site.schema.key import resolve

    file = read(units)
    filled = {
        place: resolve(table, Unit(units)) for place, table in tables_in(file) if "[" not in place
    }
    tables = {name: filled[name] for name in ("layout", "crew", "review")}
    check_bounds(msgspec.structs.replace(file, **tables), Path("site.toml"))
    assert filled["crew"].rod_error == {"m": 0.006}.get(units, 0.02)
