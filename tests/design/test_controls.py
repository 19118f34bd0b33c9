"""What a person fixes after the first run: accepted, locked and dropped laterals, seams, panels."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from made_sites import BED, SURFACE, site_of
from shapely import box

from dripfield.core.errors import InputError
from dripfield.core.json_text import to_json
from dripfield.core.lines import line_length
from dripfield.design.lay_bed import choose_layout
from dripfield.design.layout_file import LayoutRecord, layout_from, read_record, record_of
from dripfield.design.totals import emitter_count, layout_code, totals_of
from dripfield.layout.model import Layout
from dripfield.measures.field import measure_layout
from dripfield.site.model import Bed, Site
from dripfield.site.schema.layout import SeamTable


def accepted(folder: Path, site: Site | None = None) -> Layout:
    """A straight layout written as an accepted one."""
    site = site or site_of(folder, method="offset")
    layout = choose_layout(site, SURFACE)
    content = {"unit": "ft", "code": layout_code(layout, "ft"), **record_of(layout)}
    (folder / "layout.json").write_text(to_json(content))
    return layout


def same(one: Layout, other: Layout) -> bool:
    return layout_code(one, "ft") == layout_code(other, "ft")


def test_a_layout_is_read_back_to_its_last_digit(tmp_path):
    layout = choose_layout(site_of(tmp_path, panels=2), SURFACE)
    (tmp_path / "layout.json").write_text(to_json({"unit": "ft", **record_of(layout)}))
    record = read_record(tmp_path / "layout.json", "ft", "accepted")
    back = layout_from(record, layout.area)
    for one, other in zip(layout.laterals, back.laterals, strict=True):
        assert (one.name, one.panel, one.elevation) == (other.name, other.panel, other.elevation)
        np.testing.assert_array_equal(one.xy, other.xy)
    assert back.panels.keys() == layout.panels.keys()
    for name, area in layout.panels.items():
        assert area.equals_exact(back.panels[name])
    np.testing.assert_array_equal(layout.seams, back.seams)
    assert isinstance(record, LayoutRecord)


def test_an_accepted_layout_is_laid_whatever_the_engine_would_do(tmp_path):
    before = accepted(tmp_path)
    other = site_of(tmp_path, method="straight", accepted="layout.json")
    now = choose_layout(other, SURFACE)
    assert same(before, now)
    assert now.notes[0].startswith("laid as accepted in layout.json (")
    assert not same(before, choose_layout(other, SURFACE, "straight"))  # asked for outright


def test_a_new_keepout_is_laid_round_and_what_is_laid_stays(tmp_path):
    before = accepted(tmp_path)
    names = [one.name for one in before.laterals]
    rock = box(30.0, 10.0, 40.0, 16.0)
    bed = Bed(BED, keepouts=(rock,), keepout_names=("rock",))
    locked = names[: len(names) // 2]
    site = site_of(tmp_path, bed, method="offset", accepted="layout.json", locked=locked)
    now = choose_layout(site, SURFACE)
    by_name = {one.name: one for one in now.laterals}
    for one in before.laterals:
        if one.name in locked:
            np.testing.assert_array_equal(by_name[one.name].xy, one.xy)
            assert by_name[one.name].elevation == one.elevation
    loose = [one for one in now.laterals if one.name not in locked]
    assert all(shapely.linestrings(one.xy).distance(rock) > 0.999 for one in loose)
    assert len(by_name) == len(now.laterals)
    was = sum(line_length(one.xy) for one in before.laterals)
    is_now = sum(line_length(one.xy) for one in now.laterals)
    # each row that the rock and a foot about it cut loses at most some 12 ft and two bends' chords
    assert was - 5 * 13.5 < is_now < was
    assert f"{was - is_now:,.1f} ft lost" in now.notes[0]


def test_an_accepted_lateral_that_enters_a_keepout_is_named(tmp_path):
    accepted(tmp_path)
    bed = Bed(BED, keepouts=(box(30.0, 0.0, 40.0, 40.0),), keepout_names=("trench",))
    now = choose_layout(site_of(tmp_path, bed, accepted="layout.json"), SURFACE)
    assert "leave the bed as it is now" in now.notes[-1]
    assert "name what is laid in locked" in now.notes[-1]


def test_dropped_laterals_are_not_laid_and_the_others_keep_their_names(tmp_path):
    whole = choose_layout(site_of(tmp_path, method="offset"), SURFACE)
    less = choose_layout(site_of(tmp_path, method="offset", dropped=["L03"]), SURFACE)
    assert [one.name for one in less.laterals] == [
        one.name for one in whole.laterals if one.name != "L03"
    ]
    assert less.notes[-1].startswith("dropped by [layout] dropped: L03, ")


def test_fixed_seams_divide_the_bed_where_they_run(tmp_path):
    """The fall runs north to south; looking down it, the left panel is the eastern one."""
    seams = [
        SeamTable(start=(38.0, 50.0), end=(2.0, 50.0)),
        SeamTable(start=(38.0, 20.0), end=(2.0, 24.0)),
    ]
    layout = choose_layout(site_of(tmp_path, seams=seams), SURFACE)
    assert sorted(layout.panels) == ["A", "B", "C"]
    assert layout.panels["A"].bounds[0] == pytest.approx(50.0, abs=0.01)
    east = [one.xy[:, 0].min() for one in layout.laterals if one.panel == "A"]
    assert min(east) >= 50.0 + 0.5 * 1.8 - 0.01  # half of the gap of 0.9 x 2 ft
    assert layout.options[0].panels == 3


def test_a_panel_can_have_a_method_of_its_own(tmp_path):
    seams = [SeamTable(start=(38.0, 35.0), end=(2.0, 35.0))]
    layout = choose_layout(site_of(tmp_path, seams=seams, panel_methods={"B": "straight"}), SURFACE)
    bends = {
        panel: max(
            np.ptp(np.diff(one.xy, axis=0)[:, 1] / np.diff(one.xy, axis=0)[:, 0])
            for one in layout.laterals
            if one.panel == panel
        )
        for panel in "AB"
    }
    assert bends["B"] < 1e-9 < 1e-3 < bends["A"]


@pytest.mark.parametrize(
    ("layout", "words"),
    [
        ({"seams": [SeamTable(start=(20.0, 0.0), end=(20.5, 70.0))]}, "runs along the laterals"),
        ({"seams": [SeamTable(start=(30.0, 900.0), end=(2.0, 900.0))]}, "does not cross the bed"),
        (
            {
                "seams": [
                    SeamTable(start=(40.0, 20.0), end=(0.0, 50.0)),
                    SeamTable(start=(40.0, 50.0), end=(0.0, 20.0)),
                ]
            },
            "crosses seam",
        ),
        (
            {"seams": [SeamTable(start=(38.0, 35.0), end=(2.0, 35.0))], "panels": 3},
            "panels is 3 and seams divide the bed into 2",
        ),
        ({"panel_methods": {"B": "offset"}}, "panels that are chosen anew have no fixed letters"),
        ({"panels": 2, "panel_methods": {"D": "offset"}}, "there is no panel 'D'"),
        ({"locked": ["L01"]}, "locked names laterals of an accepted layout"),
        ({"accepted": "none.json"}, "there is no none.json in the site folder"),
        ({"method": "offset", "dropped": ["L99"]}, "there is no lateral 'L99'; the closest is"),
        ({"panels": 40}, "40 panels leave each about 1.7 ft wide"),
    ],
)
def test_what_does_not_fit_is_refused_in_one_line(tmp_path, layout, words):
    with pytest.raises(InputError) as refused:
        choose_layout(site_of(tmp_path, **layout), SURFACE)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_panels_are_not_passed_over_in_silence(tmp_path):
    layout = choose_layout(site_of(tmp_path, method="contour", panels=3), SURFACE)
    assert layout.notes == (
        "panels under [layout] is passed over: the method contour lays the bed in one piece; "
        "balanced divides it",
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "this is no layout"),
        ('{"unit": "ft", "method": "x", "lines": []}', "holds no lateral"),
        ('{"unit": "m", "method": "x", "lines": []}', "this layout is in 'm', the site in 'ft'"),
        (
            json.dumps(
                {
                    "unit": "ft",
                    "method": "x",
                    "lines": [
                        {"lateral": "L01", "panel": "A", "elevation": 1.0, "vertices": [[0, 0]]}
                    ],
                }
            ),
            "lateral L01 has no length",
        ),
    ],
)
def test_a_file_that_is_no_layout_is_refused(tmp_path, text, words):
    (tmp_path / "layout.json").write_text(text)
    with pytest.raises(InputError, match=words):
        read_record(tmp_path / "layout.json", "ft", "[layout] accepted")


def test_the_code_names_the_laterals_and_nothing_else(tmp_path):
    layout = choose_layout(site_of(tmp_path, method="offset"), SURFACE)
    code = layout_code(layout, "ft")
    assert len(code) == 9
    assert code == layout_code(replace(layout, notes=("other",), method="x"), "ft")
    first = layout.laterals[0]
    moved = replace(first, xy=first.xy + np.array((0.01, 0.0)))
    for other in (moved, replace(first, name="L99"), replace(first, elevation=0.0)):
        assert code != layout_code(replace(layout, laterals=(other, *layout.laterals[1:])), "ft")
    assert code != layout_code(layout, "m")


def test_totals_by_panel_and_emitters(tmp_path):
    """Whole spacings in each length; a length of whole spacings but for rounding holds them."""
    assert [emitter_count(length, 2.0) for length in (1.9, 2.0, 3.999, 6.0 - 1e-12)] == [0, 1, 1, 3]
    site = site_of(tmp_path, panels=2)
    layout = choose_layout(site, SURFACE)
    measured = measure_layout(layout, SURFACE, site.settings, site.bed)
    totals = totals_of(measured.laterals, 2.0, 0.6)
    assert [one.panel for one in totals.panels] == ["A", "B"]
    assert totals.connections == len(layout.laterals)
    assert totals.tubing == pytest.approx(measured.tubing)
    assert totals.emitters == sum(int(one.length / 2.0 + 1e-9) for one in measured.laterals)
    assert totals.flow == pytest.approx(totals.emitters * 0.6 / 60.0)  # gal/h to gal/min
    assert totals_of(measured.laterals, None, None).emitters is None
