"""Each key is declared once: starter, page of keys and JSON Schema follow the declarations."""

from __future__ import annotations

import json
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import pytest
from click.testing import CliRunner

from dripfield.cli import main
from dripfield.core.units import Unit
from dripfield.site.reference.generated import generated
from dripfield.site.reference.tables import shown_value, tables, toml
from dripfield.site.schema.key import Field, fields_of, resolve, setting

HOME = files("dripfield.site")
SAMPLES = Path(__file__).parents[2] / "sample_sites"
SCHEMA: dict[str, Any] = json.loads(
    HOME.joinpath("starter_files/site.schema.json").read_text(encoding="utf-8")
)
TABLES = tables()
FIELDS = [
    pytest.param(field, id=f"{table.place}.{field.name}")
    for table in TABLES
    for field in table.own_fields
]


@pytest.mark.parametrize("name", generated())
def test_what_is_shipped_is_what_the_declarations_give(name: str) -> None:
    """Otherwise run ``python -m dripfield.site.reference``."""
    assert HOME.joinpath(name).read_text(encoding="utf-8") == generated()[name]


@pytest.mark.parametrize("field", FIELDS)
def test_a_key_has_words_a_value_to_show_and_a_reason_for_its_bounds(field: Field) -> None:
    assert field.words
    assert shown_value(field) is not None, "give an example"
    key = field.key
    assert (key.least is None and key.most is None) == (not key.why)
    if key.default is not None:
        assert field.default is None
        for bound, sign in ((key.least, 1.0), (key.most, -1.0)):
            if bound is not None:
                assert all(sign * (v - b) >= 0 for v, b in zip(key.default, bound, strict=True))


def test_every_key_stands_in_a_table_of_its_own_or_has_words() -> None:
    places = {table.place for table in TABLES}
    for table in TABLES:
        for field in fields_of(table.kind):
            assert field.words or f"{table.place}.{field.name}" in places


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.place)
def test_the_page_has_a_row_for_every_key(table: Any) -> None:
    page = HOME.joinpath("KEYS.md").read_text(encoding="utf-8")
    section = page[page.index(f"## `{table.heading}`\n") :].split("\n## ")[0]
    for field in table.own_fields:
        row = next(line for line in section.splitlines() if line.startswith(f"| `{field.name}` |"))
        assert f"`{toml(shown_value(field))}`" in row


def test_the_command_shows_the_page() -> None:
    shown = CliRunner().invoke(main, ["new", "--keys"])
    assert shown.exit_code == 0
    assert shown.stdout == HOME.joinpath("KEYS.md").read_text(encoding="utf-8")


def test_the_schema_is_one_and_takes_the_sample_sites_and_the_starter() -> None:
    """Held against jsonschema, the reference library of the standard for Python."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    validator = jsonschema.Draft202012Validator(SCHEMA)
    found = [*SAMPLES.glob("*/site.toml"), HOME.joinpath("starter_files/site.toml")]
    assert len(found) > 4
    for path in found:
        content = json.loads(
            json.dumps(tomllib.loads(path.read_text(encoding="utf-8")), default=str)
        )
        assert list(validator.iter_errors(content)) == []


@pytest.mark.parametrize(
    ("table", "key", "value"),
    [
        ("layout", "spacng", 2.0),
        ("layout", "spacing", 0.0),
        ("layout", "spacing", "2 ft"),
        ("layout", "method", "level"),
        ("layout", "bend_radius", None),
        ("pump", "curve", [[0.0, 100.0]]),
        ("return", "pipe", "7 in"),
        ("retrun", "pipe", "2 in"),
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(table: str, key: str, value: object) -> None:
    content: dict[str, Any] = {
        "site": {"name": "A", "units": "ft"},
        "survey": {"points": "survey.csv"},
        "bed": {"boundary": "bed.csv", "keepouts": [{"points": "rock.csv", "name": "Ledge"}, "a"]},
        "layout": {"spacing": 2.0},
    }
    jsonschema.validate(content, SCHEMA)
    content.setdefault(table, {})[key] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(content, SCHEMA)


@pytest.mark.parametrize("field", FIELDS)
def test_the_schema_describes_every_key(field: Field) -> None:
    described = [
        definition["properties"][field.name]["description"]
        for definition in SCHEMA["$defs"].values()
        if field.name in definition["properties"]
        and "description" in definition["properties"][field.name]
    ]
    first = field.words.partition("; ")[0]
    assert any(text.startswith(first) for text in described)


@pytest.mark.parametrize("unit", [Unit.FOOT, Unit.METRE])
def test_defaults_by_unit_are_filled_in_where_nothing_is_given(unit: Unit) -> None:
    for table in TABLES:
        if any(field.required for field in table.own_fields):
            continue
        filled = resolve(table.kind(), unit)
        for field in table.own_fields:
            if field.key.default is not None:
                number = unit.default(*field.key.default)
                assert getattr(filled, field.attribute) == number
                assert setting(table.kind(), field.attribute, unit) == number
                given = msgspec.structs.replace(table.kind(), **{field.attribute: 7.0})
                assert getattr(resolve(given, unit), field.attribute) == 7.0
