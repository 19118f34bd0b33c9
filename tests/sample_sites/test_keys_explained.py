"""The pages beside the sample sites name every key of the tables that they explain."""

from __future__ import annotations

import re
from pathlib import Path

import msgspec
import pytest

from dripfield.site.schema.bed import BedTable
from dripfield.site.schema.bed_section import BedSection
from dripfield.site.schema.materials import Material
from dripfield.site.schema.survey import SurveyTable

SAMPLES = Path(__file__).parents[2] / "sample_sites"


@pytest.mark.parametrize(
    ("page", "table"),
    [
        ("README.md", SurveyTable),
        ("README.md", BedTable),
        ("sand_bed/BED.md", BedSection),
        ("sand_bed/BED.md", Material),
    ],
)
def test_every_key_is_named(page: str, table: type[msgspec.Struct]) -> None:
    text = (SAMPLES / page).read_text()
    names = [field.encode_name for field in msgspec.structs.fields(table)]
    missing = [name for name in names if not re.search(rf"`{name}\b|\b{name} = |\.{name}\]", text)]
    assert missing == []
