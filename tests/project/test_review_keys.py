"""Every key of ``[review]`` is explained where the other keys are."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from dripfield.site.schema.review import ReferenceTable, ReviewSetbackTable, ReviewTable

PAGE = (Path(__file__).parents[2] / "sample_sites" / "README.md").read_text(encoding="utf-8")
SECTION = PAGE[PAGE.index("## `[review]`") :]


@pytest.mark.parametrize("table", [ReviewTable, ReferenceTable, ReviewSetbackTable])
def test_every_key_is_explained(table: type[msgspec.Struct]) -> None:
    for field in msgspec.structs.fields(table):
        name = field.encode_name
        shown = f"`{name}`" in SECTION or f"[[review.{name}]]" in SECTION
        assert shown, name
