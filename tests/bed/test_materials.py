"""Swell, shrink, trucks, tonnes; what the site asks of its bed; cautions for a deep dig."""

from __future__ import annotations

from pathlib import Path

import pytest
from bed_sites import write_site

from dripfield.bed.balance import earth_balance
from dripfield.bed.design import BedDesign, design_bed
from dripfield.bed.frost import frost_cover
from dripfield.bed.materials import cubic_yards, in_states, mass, take_off, truck_loads
from dripfield.bed.notes import deepest_dig, design_notes, least_separation, note_lines
from dripfield.bed.remarks import bed_remarks
from dripfield.core.cautions import caution
from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.ground.ground import build_ground
from dripfield.sheets.bed.write import bed_cautions
from dripfield.site.schema.materials import Density, Material, Quantity, Weight

LEVEL = 'grade = "plane"\nstrike = 0.0\ndip = 0.0\n'


def level_bed(folder: Path, section: str, **more) -> BedDesign:
    site = write_site(folder, section + LEVEL, lambda x, y: 100.0 + 0.0 * x, **more)
    return design_bed(site, build_ground(site).surface)


def test_states_of_sand() -> None:
    # hand-derived from the factors: 100 yd3 compacted sand is 105.26 bank and 116.84 loose yd3
    # (the factors 1.11 and 0.95 are those of FM 5-434 table 1-1, from memory)
    sand = Material(name="sand", loose=1.11, compacted=0.95)
    states = in_states(100.0, "compacted", sand)
    assert states["bank"] == pytest.approx(105.26, abs=5e-3)
    assert states["loose"] == pytest.approx(116.84, abs=5e-3)
    assert in_states(100.0, "bank", sand)["loose"] == pytest.approx(111.0)
    assert in_states(100.0, "compacted", None) == {"compacted": 100.0}
    assert in_states(100.0, "compacted", Material(name="x", loose=1.2)) == {"compacted": 100.0}


def test_tonnes_and_yards() -> None:
    # definitions: 1 lb is 0.45359237 kg, 1 ft 0.3048 m, so 100 lb/ft3 is 1.6018 t/m3
    assert mass(1.0, Density(value=100.0, unit="lb/ft3"), Unit.METRE) == pytest.approx(
        1.601846, rel=1e-6
    )
    assert mass(27.0, Density(value=1.5, unit="ton/yd3"), Unit.FOOT) == pytest.approx(1.3607771)
    assert mass(10.0, Density(value=1600.0, unit="kg/m3"), Unit.METRE) == pytest.approx(16.0)
    assert mass(10.0, Density(value=1.6, unit="t/m3"), Unit.METRE) == pytest.approx(16.0)
    assert cubic_yards(27.0, Unit.FOOT) == pytest.approx(1.0)
    assert cubic_yards(0.764554857984, Unit.METRE) == pytest.approx(1.0)


def test_take_off_of_a_frustum(tmp_path: Path) -> None:
    section = (
        'sand = 2.0\ncorner = "hip"\n'
        'materials = [{ name = "sand", loose = 1.11, compacted = 0.95, '
        'density = { value = 100.0, unit = "lb/ft3" }, truck = { value = 14.0, unit = "yd3" } }]\n'
    )
    rows = take_off(level_bed(tmp_path, section))
    assert [row.material for row in rows] == [
        "stripped soil",
        "sand",
        "existing ground to finished grade",
    ]
    sand = rows[1]
    # hand-derived from the frustum of 3,456 ft3 = 128 yd3: loose 128 x 1.11 / 0.95 = 149.56 yd3
    assert cubic_yards(sand.compacted, Unit.FOOT) == pytest.approx(128.0)
    assert cubic_yards(sand.loose, Unit.FOOT) == pytest.approx(149.558, abs=1e-3)
    assert sand.loads == 11
    assert sand.tonnes == pytest.approx(3456.0 * 1.11 / 0.95 * 100.0 * 0.45359237e-3)
    assert rows[2].volume.net == pytest.approx(3456.0)


def test_trucks_by_weight_and_by_volume() -> None:
    # hand-derived: 100 loose yd3 at 1.5 ton/yd3 are 150 tons: 8 loads of 14 yd3, 12 of 13 tons
    sand = Material(
        name="sand",
        density=Density(value=1.5, unit="ton/yd3"),
        truck=Quantity(value=14.0, unit="yd3"),
        truck_weight=Weight(value=13.0, unit="ton"),
    )
    tonnes = mass(2700.0, sand.density, Unit.FOOT)
    assert tonnes == pytest.approx(150.0 * 0.90718474)
    assert truck_loads(2700.0, tonnes, sand, Unit.FOOT) == 12
    by_volume = Material(name="sand", truck=sand.truck)
    assert truck_loads(2700.0, None, by_volume, Unit.FOOT) == 8
    assert truck_loads(2700.0, None, sand, Unit.FOOT) is None  # the weight is not known
    assert (
        truck_loads(None, tonnes, Material(name="x", truck_weight=sand.truck_weight), Unit.FOOT)
        == 12
    )


def test_stripped_soil_is_set_against_what_is_wanted(tmp_path: Path) -> None:
    # hand-derived: 0.5 ft off 32 x 72 ft are 1,152 ft3 in the bank; 0.8 of it is fit and packs to
    # 0.9: 829.44 ft3 in place. Topsoil is served first, then the side slopes
    section = (
        'strip = 0.5\nsand = 2.0\ncorner = "hip"\ncover = [{ name = "topsoil", depth = 0.25 }]\n'
        'side_material = "common fill"\nelevation = 101.75\n'
        'reuse = ["topsoil", "common fill"]\nreuse_share = 0.8\n'
        'materials = [{ name = "stripped soil", loose = 1.25, compacted = 0.9 }, '
        '{ name = "common fill", waste = 0.1, loose = 1.2, compacted = 0.9 }]\n'
    )
    bed = level_bed(tmp_path, section)
    rows = take_off(bed)
    balance = {row.material: row for row in earth_balance(bed, rows)}
    soil, top, fill = (balance[name] for name in ("stripped soil", "topsoil", "common fill"))
    assert soil.wanted == pytest.approx(1152.0, rel=1e-6)
    assert soil.from_site == pytest.approx(1152.0 * 0.8, rel=1e-6)
    assert soil.rest == pytest.approx(1152.0 * 0.2, rel=1e-6)
    assert soil.loose == pytest.approx(1152.0 * 0.2 * 1.25, rel=1e-6)
    assert top.from_site == top.wanted
    assert top.rest == 0.0
    assert top.from_site + fill.from_site == pytest.approx(829.44, rel=1e-6)
    assert fill.rest == pytest.approx(fill.wanted - fill.from_site)
    assert fill.to_order == pytest.approx(1.1 * fill.rest)
    assert fill.loose == pytest.approx(1.1 * fill.rest * 1.2 / 0.9)
    assert balance["sand"].rest == pytest.approx(balance["sand"].wanted)
    misspelt = section.replace('reuse = ["topsoil"', 'reuse = ["top"')
    wrong = level_bed(tmp_path / "wrong", misspelt)
    amounts = take_off(wrong)
    with pytest.raises(InputError, match="the closest it has is 'topsoil'"):
        earth_balance(wrong, amounts)


def test_frost_against_cover_insulation_and_settling(tmp_path: Path) -> None:
    # hand-derived: 1.00 of cover less 0.1 of it is 0.90; with insulation worth 0.50 it is 1.40
    section = (
        'sand = 1.0\ncover = [{ name = "loam", depth = 1.0 }]\nsettlement = 0.1\n'
        'frost_depth = 1.5\ninsulation = { name = "board", depth = 0.1, worth = 0.5 }\n'
    )
    bed = level_bed(tmp_path, section)
    cover = frost_cover(bed.section)
    assert cover.against == pytest.approx(1.40)
    assert not cover.ok
    assert bed_remarks(bed) == (
        "frost to 1.50 ft: 1.00 ft of cover over the tubing, 0.90 once settled, insulation worth "
        "0.50: 0.10 ft short",
    )
    enough = level_bed(tmp_path / "enough", section.replace("= 1.5", "= 1.4"))
    assert frost_cover(enough.section).ok
    assert frost_cover(level_bed(tmp_path / "none", "sand = 1.0\n").section) is None


def write_tilted_rock(folder: Path) -> None:
    """Rock at 95.00 under the bed's south-west corner, rising 0.02 east and 0.001 north."""
    corners = ((-30, -30), (90, -30), (90, 50), (-30, 50))
    lines = (
        f"{i},{9000 + y},{5000 + x},{95.0 + 0.02 * x + 0.001 * y}"
        for i, (x, y) in enumerate(corners, 1)
    )
    folder.joinpath("rock.csv").write_text("\n".join(lines) + "\n")


def test_what_the_site_asks_of_its_bed_is_a_note_and_no_rule(tmp_path: Path) -> None:
    write_tilted_rock(tmp_path)
    section = (
        'sand = 1.0\nlimiting_surface = "rock.csv"\nseparation = 5.0\n'
        'separation_source = "Code 4.2"\n'
    )
    sand, separation = design_notes(level_bed(tmp_path, section))
    assert (sand.name, sand.met) == ("sand depth", True)
    assert note_lines([separation]) == [
        "NOT MET: separation: 4.78 ft from the tubing down to the limiting layer at N 9020.0, "
        "E 5060.0, at least 5 ft wanted (design note: Code 4.2)",
    ]


def test_separation_is_least_to_a_tilted_surface(tmp_path: Path) -> None:
    write_tilted_rock(tmp_path)
    bed = level_bed(tmp_path, 'sand = 1.0\nlimiting_surface = "rock.csv"\nseparation = 4.78\n')
    height, x, y = least_separation(bed)
    assert height == pytest.approx(101.0 - 96.22)
    assert (x, y) == pytest.approx((5060.0, 9020.0))
    assert [note.met for note in design_notes(bed) if note.name == "separation"] == [True]


@pytest.mark.parametrize("strip", [0.0, 3.9, 4.0, 5.0])
def test_a_deep_dig_brings_its_caution(tmp_path: Path, strip: float) -> None:
    bed = level_bed(tmp_path, f"strip = {strip}\nsand = {max(strip, 1.0)}\n", around=60.0)
    assert deepest_dig(bed) == pytest.approx(strip, abs=1e-9)
    said = bed_cautions(bed)
    if strip < 4.0:  # 29 CFR 1926.651(c)(2): a way out from 4 ft
        assert said == []
    else:
        assert said == [f"the dig is up to {strip:.2f} ft deep. {caution('excavation')}"]
