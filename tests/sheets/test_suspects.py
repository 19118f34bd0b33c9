"""Suspect shots drawn, named and told of on plan, drawing and cover; on invented surveys."""

from __future__ import annotations

from dataclasses import replace

import ezdxf
import numpy as np
import pytest

from dripfield.outputs.layout import write_layout_files
from dripfield.sheets.kit.notes import missed_facts
from dripfield.sheets.kit.relief import show_relief
from dripfield.sheets.kit.suspects import doubts, suspect_notes
from dripfield.sheets.plan.plan import plan_figure
from dripfield.survey.doubt.blunders import Suspect

OFF = {100: 1.5, 158: -0.9}  # shots of a plane without noise, by how much each was misread [ft]


@pytest.fixture(scope="module")
def field(plane):
    """The plane with two shots misread; laterals and measures stay those of the true ground."""
    survey = plane.ground.read
    xyz = survey.xyz.copy()
    for shot, error in OFF.items():
        xyz[shot, 2] += error
    changed = replace(survey, xyz=xyz)
    return replace(plane, ground=replace(plane.ground, read=changed, shots=changed))


def made_up(*reasons: str) -> list[Suspect]:
    return [
        Suspect(i, f"P{i}", i + 2, (0.0, 0.0), np.nan, reason) for i, reason in enumerate(reasons)
    ]


def test_the_misread_shots_are_found(field):
    relief = show_relief(field.ground, field.surface.surface)
    assert [one.shot for one in relief.suspects] == sorted(OFF)
    for one in relief.suspects:
        assert one.place == tuple(field.ground.read.xyz[one.shot, :2])
        assert one.residual == pytest.approx(OFF[one.shot], abs=0.02)  # hand-derived


def test_the_plan_marks_names_and_tells_of_them(field):
    relief = show_relief(field.ground, field.surface.surface)
    sheet = plan_figure(field, relief)
    axes = sheet.figure.axes[0]
    squares = np.array(
        [
            line.get_xydata()[0]
            for line in axes.lines
            if line.get_marker() == "s" and line.get_mec() == "#000000"
        ]
    )
    at = sheet.frame.to_paper(field.ground.read.xyz[sorted(OFF)])
    for place in at:
        assert np.hypot(*(squares - place).T).min() < 1e-6
    for shot, place in zip(sorted(OFF), at, strict=True):
        name = field.ground.read.names[shot]
        named = [text.get_position() for text in axes.texts if text.get_text() == name]
        assert min(np.hypot(*(np.array(named) - place).T)) < 30.0  # beside its square [pt]
    words = " ".join(text.get_text() for text in axes.texts)
    assert any(text.get_text() == "suspect shot" for text in axes.texts)  # the legend
    assert "2 suspect shots, kept unless site.toml excludes them: 101 stands 1.5" in words
    assert sheet.labels.unnamed_shots == ()


def test_of_a_long_run_the_ends_are_named(field):
    relief = show_relief(field.ground, field.surface.surface)
    xyz = field.ground.read.xyz
    run = [
        Suspect(i, f"run{i}", i + 2, tuple(xyz[i, :2]), np.nan, "one run") for i in range(95, 102)
    ]
    sheet = plan_figure(field, replace(relief, suspects=tuple(run)))
    texts = [text.get_text() for text in sheet.figure.axes[0].texts]
    assert [text for text in texts if text.startswith("run")] == ["run95", "run101"]
    squares = [line for line in sheet.figure.axes[0].lines if line.get_marker() == "s"]
    assert len(squares) >= 2 * len(run)  # every one has its square, white round it


def test_a_sound_survey_has_no_word_of_suspects(plane):
    relief = show_relief(plane.ground, plane.surface.surface)
    sheet = plan_figure(plane, relief)
    assert not any("suspect" in text.get_text() for text in sheet.figure.axes[0].texts)


def test_the_drawing_has_them_on_a_layer_of_their_own(field, tmp_path):
    write_layout_files(field, tmp_path)
    document = ezdxf.readfile(tmp_path / "staking.dxf")
    marks = document.modelspace().query('*[layer=="V-NODE-SUSP"]')
    rings = marks.query("LWPOLYLINE")
    middles = [np.mean([point[:2] for point in ring], axis=0) for ring in rings]
    np.testing.assert_allclose(middles, field.ground.read.xyz[sorted(OFF), :2], atol=1e-6)
    assert [text.dxf.text for text in marks.query("TEXT")] == ["101", "159"]
    assert len(document.modelspace().query('*[layer=="V-NODE-SPOT"]')) == len(
        field.ground.read.xyz
    )  # every shot still, suspect or not
    told = " ".join(
        t.dxf.text for t in document.layouts.get("NOTES").query('TEXT[layer=="C-ANNO-TTLB"]')
    )
    assert "2 suspect shots" in " ".join(told.split())


def test_words_group_shots_of_one_reason():
    found = made_up("rod height?", "rod height?", "stands 1.00 ft above")
    assert doubts(found) == [("P0, P1", "rod height?"), ("P2", "stands 1.00 ft above")]
    assert suspect_notes(found) == [
        "3 suspect shots, kept unless site.toml excludes them: P0, P1 rod height?; P2 stands "
        "1.00 ft above"
    ]
    assert suspect_notes(found[2:]) == [
        "1 suspect shot, kept unless site.toml excludes it: P2 stands 1.00 ft above"
    ]
    assert suspect_notes(made_up(*"abcde")) == [
        "5 suspect shots, kept unless site.toml excludes them: P0 a; P1 b; P2 c; 2 more shots: see "
        "dripfield survey"
    ]
    assert suspect_notes([]) == []
    assert doubts(made_up(*["one run"] * 5)) == [("P0 … P4", "one run")]


def test_facts_begin_with_a_capital_and_end_with_a_stop(plane):
    ground = replace(plane.ground)
    ground.__dict__["suspects"] = made_up("a")
    noted = replace(plane.layout, notes=("laid by hand", "As is."))
    facts = missed_facts(replace(plane, ground=ground, layout=noted))
    assert facts[-3:] == [
        "1 suspect shot, kept unless site.toml excludes it: P0 a.",
        "Laid by hand.",
        "As is.",
    ]
