"""The starter site: accepted as it is, and every key it explains is one that is read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import msgspec
import numpy as np
import pytest
from click.testing import CliRunner

from dripfield.bed.design import design_bed
from dripfield.bed.notes import design_notes
from dripfield.cli import main
from dripfield.core.errors import InputError
from dripfield.ground.ground import build_ground
from dripfield.site.reader import layout_settings, read_site
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.site import SiteFile
from dripfield.site.settings import convert, read_settings
from dripfield.site.starter import write_starter
from dripfield.survey.read.site_survey import read_site_survey

OPTIONAL_LINE = re.compile(r"^# (?=\[|[a-z_]+ = )", re.MULTILINE)


@pytest.fixture
def starter(tmp_path: Path) -> Path:
    folder = tmp_path / "my site"
    write_starter(folder)
    return folder


def test_it_can_be_read_and_its_bed_is_surveyed(starter: Path) -> None:
    site = read_site(starter)
    surface = build_ground(site).surface
    assert 55 <= len(read_site_survey(site).xyz) <= 65
    assert surface.outline.contains(site.bed.boundary)
    slope = surface.slope(np.array([[2020.0, 5030.0], [2060.0, 5030.0], [2100.0, 5030.0]]))
    assert ((slope > 0.05) & (slope < 0.15)).all()  # a hillside such as drip fields lie on


def test_every_optional_line_may_be_taken_into_use(starter: Path) -> None:
    text = (starter / "site.toml").read_text()
    # a bore stands for a pipe: one of the two
    used = re.sub(r"^(# )?bore = .*\n", "", OPTIONAL_LINE.sub("", text), flags=re.MULTILINE)
    (starter / "site.toml").write_text(used)
    file = read_settings(starter / "site.toml")
    assert file.layout.panels == 1
    assert file.emitters is not None
    assert file.crew.base_line == ("BED1", "BED2")


def test_optional_lines_with_a_default_state_it(starter: Path) -> None:
    """What the comments show as the default of [layout] is what a site without the keys gets."""
    site = read_site(starter)
    text = (starter / "site.toml").read_text()
    (starter / "site.toml").write_text(OPTIONAL_LINE.sub("", text))
    content = tomllib.loads((starter / "site.toml").read_text())
    settings = layout_settings(msgspec.convert(content["layout"], LayoutTable), site.unit)
    examples = {"bearing", "panels", "contour_interval"}  # left out they mean "chosen"
    for field in msgspec.structs.fields(type(site.file.layout)):
        if field.name not in examples:
            assert getattr(settings, field.name) == getattr(site.settings, field.name), field.name


def test_every_key_is_explained(starter: Path) -> None:
    text = (starter / "site.toml").read_text()
    known = msgspec.inspect.type_info(SiteFile)
    assert isinstance(known, msgspec.inspect.StructType)
    missing = [
        f"{table.name}: {name}"
        for table in known.fields
        for name in keys_of(table.type)
        if not re.search(rf"^(# )?\[+[a-z.]*\b{name}\]|(^|^# |[{{,] ){name} = ", text, re.M)
    ]
    assert missing == []


def keys_of(kind: msgspec.inspect.Type) -> list[str]:
    """Every key of a table and of the tables in it."""
    if isinstance(kind, msgspec.inspect.UnionType):
        return [name for part in kind.types for name in keys_of(part)]
    if isinstance(kind, msgspec.inspect.ListType):
        return keys_of(kind.item_type)
    if isinstance(kind, msgspec.inspect.StructType):
        return [name for field in kind.fields for name in (field.encode_name, *keys_of(field.type))]
    return []


@pytest.mark.parametrize(
    ("grade", "its_keys"),
    [
        ("follow", "smoothing rise"),
        ("follow", "smoothing"),
        ("plane", "strike dip elevation at"),
        ("plane", "strike dip"),
        ("fit", "max_slope"),
    ],
)
def test_the_built_up_bed_it_explains_can_be_built(
    starter: Path, grade: str, its_keys: str
) -> None:
    """Taken into use with the keys of one grade, and one of two keys that say the same."""
    others = {"smoothing", "rise", "strike", "dip", "elevation", "at", "max_slope"}
    left_out = others.difference(its_keys.split()) | {
        "strip_to", "strip_to_surface", "limiting_surface", "reuse", "side_material"
    }  # fmt: skip
    head, section = (starter / "site.toml").read_text().split("# [bed.section]\n")
    section = section[: section.index("# [rules]")]
    lines = OPTIONAL_LINE.sub("", section).splitlines()
    kept = [line for line in lines if line.partition(" = ")[0] not in left_out]
    text = "\n".join((head, "[bed.section]", *kept))
    text = text.replace('grade = "follow"', f'grade = "{grade}"')
    if grade in ("plane", "fit"):  # on this rounded hill
        text = text.replace("deepen = false", "deepen = true")
    (starter / "site.toml").write_text(text)
    site = read_site(starter)
    design = design_bed(site, build_ground(site).surface)
    assert design.cover_depth == pytest.approx(0.75)
    assert design.sand_under_tubing().min() >= 1.0 - 1e-6
    assert {note.name for note in design_notes(design)} == {"separation", "sand depth"}


def test_a_folder_with_something_in_it_is_refused(starter: Path) -> None:
    before = {path.name: path.read_bytes() for path in starter.iterdir()}
    with pytest.raises(InputError) as caught:
        write_starter(starter)
    assert str(caught.value) == "my site: the folder is not empty; give a new or an empty one"
    assert {path.name: path.read_bytes() for path in starter.iterdir()} == before


def test_new_and_then_layout_as_it_says(tmp_path: Path) -> None:
    folder = tmp_path / "first"
    made = CliRunner().invoke(main, ["new", str(folder)])
    assert made.exit_code == 0
    assert made.stdout == (
        f"{folder}: bed.csv, rock.csv, site.schema.json, site.toml, survey.csv, well.csv\n"
        f"Next: dripfield layout {folder} --out {folder}-layout\n"
    )
    laid = CliRunner().invoke(main, ["layout", str(folder), "--out", f"{folder}-layout"])
    assert laid.exit_code == 0, laid.output
    written = {path.name for path in Path(f"{folder}-layout").iterdir()}
    assert {"laterals.csv", "stakes.csv", "staking.dxf", "plan.png"} <= written


def test_settings_can_be_validated_from_memory() -> None:
    with pytest.raises(InputError, match=r"^site\.toml: the table \[site\] is missing; "):
        convert({}, Path("site.toml"))
