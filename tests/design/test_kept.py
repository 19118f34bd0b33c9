"""Layouts kept from run to run: the same as made anew, found only for the same site."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import box

from dripfield.bed.design import laying_surface
from dripfield.design import lay_out as module
from dripfield.design.kept import OFF, key_of
from dripfield.design.lay_out import lay_out
from dripfield.ground.ground import build_ground
from dripfield.site.reader import read_site

SITE = Path(__file__).parents[2] / "sample_sites" / "terrace"


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv(OFF, raising=False)
    return tmp_path / "dripfield" / "layouts"


def assert_same(one, other):
    assert one.code == other.code
    assert one.measured.merit == other.measured.merit
    assert one.layout.notes == other.layout.notes
    assert one.layout.options == other.layout.options
    assert one.layout.panels.keys() == other.layout.panels.keys()
    for a, b in zip(one.layout.laterals, other.layout.laterals, strict=True):
        assert (a.name, a.panel, a.elevation) == (b.name, b.panel, b.elevation)
        np.testing.assert_array_equal(a.xy, b.xy)


def test_a_kept_layout_is_the_one_that_would_be_made(folder, monkeypatch):
    site = read_site(SITE)
    ground = build_ground(site)
    said: list[str] = []
    made = lay_out(site, ground, compare=True, say=said.append)
    assert any(" of up to " in one and "merit 0." in one for one in said)
    assert len(list(folder.glob("*.json"))) == 2  # compared, and as without

    def never(*_):
        raise AssertionError("laid out anew")

    with monkeypatch.context() as patch:
        patch.setattr(module, "layouts_of", never)
        found = lay_out(site, ground, compare=True, say=said.append)
        plain = lay_out(site, ground)
    assert said[-1] == "laid out before: taken as it was"
    assert_same(made, found)
    assert [one.layout is not None for one in found.layout.options] == [True, True]
    monkeypatch.setenv(OFF, "0")
    assert_same(plain, lay_out(site, ground))


def test_nothing_is_kept_where_it_may_not_be_or_cannot(folder, monkeypatch, tmp_path):
    site = replace(read_site(SITE))
    monkeypatch.setenv(OFF, "0")
    lay_out(site, method="straight")
    assert not folder.exists()
    monkeypatch.delenv(OFF)
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert lay_out(site, method="straight").layout.laterals


def test_a_spoilt_file_is_laid_out_anew(folder):
    site = read_site(SITE)
    made = lay_out(site, method="straight")
    (path,) = folder.glob("*.json")
    path.write_text(path.read_text()[:500])
    assert_same(made, lay_out(site, method="straight"))


def test_the_key_hangs_on_all_that_a_layout_depends_on():
    site = read_site(SITE)
    surface = laying_surface(site, build_ground(site).surface)
    key = key_of(site, surface, "balanced", False)
    assert key == key_of(read_site(SITE), surface, "balanced", False)
    settings = replace(site.settings, min_length=9.0)
    bed = replace(site.bed, keepouts=(*site.bed.keepouts, box(0, 0, 1, 1)))
    others = (
        key_of(site, surface, "balanced", True),
        key_of(site, surface, "contour", False),
        key_of(site, replace(surface, smoothing=0.5), "balanced", False),
        key_of(replace(site, settings=settings), surface, "balanced", False),
        key_of(replace(site, bed=bed), surface, "balanced", False),
    )
    assert len({key, *others}) == 6
