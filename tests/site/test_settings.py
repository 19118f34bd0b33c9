"""``site.toml`` in every wrong shape: always one clear line, never a traceback."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dripfield.core.errors import InputError
from dripfield.site.schema.site import SiteFile
from dripfield.site.settings import convert, read_settings

GOOD: dict[str, Any] = {
    "site": {"name": "A", "units": "ft"},
    "survey": {"points": "survey.csv", "exclude": [{"point": "7", "reason": "rod fell"}]},
    "bed": {
        "boundary": "bed.csv",
        "keepouts": ["rock.csv"],
        "setbacks": [{"name": "Well", "points": "well.csv", "distance": 50.0}],
        "section": {"sand": 1.0, "cover": [{"name": "loam", "depth": 0.5}]},
    },
    "layout": {"spacing": 2.0, "method": "balanced", "panels": 2},
    "rules": {"check": ["alabama"]},
    "benchmark": {"name": "BM1", "elevation": 100.0},
    "crew": {"paper": "A4", "base_line": ["BED1", "BED2"]},
    "emitters": {"spacing": 2.0},
    "review": {"references": [{"name": "oak", "northing": 1.0, "easting": 2.0}]},
}


def test_the_good_one_is_good() -> None:
    assert convert(GOOD, Path("site.toml")).site.name == "A"


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    found = [path] if path else []
    for key, item in inner:
        here = (*path, key)
        found += places(item, here) if isinstance(item, dict | list) else [here]
    return found


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=4,
)


@settings(max_examples=200, deadline=None)
@given(place=st.sampled_from(places(GOOD)), value=anything, more=st.text(min_size=1, max_size=6))
def test_any_value_at_any_place_is_read_or_refused_in_one_line(
    place: tuple[Any, ...], value: Any, more: str
) -> None:
    for change in ("replace", "add", "drop"):
        content = copy.deepcopy(GOOD)
        at = content
        for key in place[:-1]:
            at = at[key]
        if change == "replace":
            at[place[-1]] = value
        elif change == "drop":
            del at[place[-1]]
        elif isinstance(at, dict):
            at[more] = value
        try:
            file = convert(content, Path("site.toml"))
        except InputError as refusal:
            text = str(refusal)
            assert "; " in text
            assert text.startswith("site.toml")
            assert "\n" not in text
        else:
            assert isinstance(file, SiteFile)


@pytest.mark.parametrize(
    ("table", "key", "value", "message"),
    [
        (
            "survey",
            "ground_scale",
            "combned",
            "site.toml, [survey] ground_scale: 'combned' was found; give one of \"combined\"",
        ),
        (
            "crew",
            "base_line",
            ["BED1"],
            "site.toml, [crew] base_line: 1 entries were found; give 2",
        ),
        (
            "review",
            "references",
            [{"name": "", "northing": 1.0, "easting": 2.0}],
            "site.toml, [[review.references]] 1 name: 0 characters were found; give at least 1",
        ),
        (
            "survey",
            "exclude",
            [{"point": "7", "reason": " "}],
            "site.toml, [[survey.exclude]] 1 reason: ' ' says nothing; write it in words",
        ),
        (
            "crew",
            "paper",
            "A2",
            "site.toml, [crew] paper: 'A2' was found; "
            'give one of "A3", "A4", "letter", "tabloid"',
        ),
        (
            "layout",
            "panels",
            0,
            "site.toml, [layout] panels: 0 was found; give a number at least 1",
        ),
        (
            "layout",
            "panels",
            1.5,
            "site.toml, [layout] panels: 1.5 was found; give a whole number",
        ),
        (
            "layout",
            "bearing",
            360,
            "site.toml, [layout] bearing: 360 was found; give a number less than 360",
        ),
        (
            "survey",
            "points",
            7,
            "site.toml, [survey] points: 7 was found; give text in quotes",
        ),
    ],
)
def test_wrong_values(table: str, key: str, value: object, message: str) -> None:
    content = copy.deepcopy(GOOD)
    content[table][key] = value
    with pytest.raises(InputError) as caught:
        convert(content, Path("site.toml"))
    assert str(caught.value) == message


@pytest.mark.parametrize("key", [field.encode_name for field in msgspec.structs.fields(SiteFile)])
def test_every_table_misspelt_leads_back_to_itself(key: str) -> None:
    content = {**GOOD, key + "x": {}}
    with pytest.raises(InputError) as caught:
        convert(content, Path("site.toml"))
    assert str(caught.value) == (
        f"site.toml: unknown table or key '{key}x'; the closest known is '{key}'"
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a = " + "[" * 100_000, "lists are nested too deep; write it plainly"),
        ("a = " + "1" * 10_000, "a number is too long; write it plainly"),
    ],
)
def test_what_a_parser_breaks_on(tmp_path: Path, text: str, message: str) -> None:
    (tmp_path / "site.toml").write_text(text)
    with pytest.raises(InputError) as caught:
        read_settings(tmp_path / "site.toml")
    assert str(caught.value) == f"site.toml: {message}"
