"""The page of options: one plan for each number of panels, and words that none runs over."""

from __future__ import annotations

from pathlib import Path

import dripfield
from dripfield.sheets.plan.options_page import options_figure, write_options

TERRACE = Path(__file__).parents[2] / "sample_sites" / "terrace"


def test_a_plan_for_each_number_of_panels(tmp_path: Path) -> None:
    design = dripfield.lay_out(dripfield.read_site(TERRACE), compare=True)
    figure = options_figure(design)
    (page,) = figure.axes
    words = [text.get_text() for text in page.texts]
    assert [one for one in words if one in ("1 panel", "2 panels", "laid")] == [
        "1 panel",
        "2 panels",
        "laid",
    ]
    assert len(page.collections) == len(design.layout.options)
    for lines, option in zip(page.collections, design.layout.options, strict=True):
        assert len(lines.get_segments()) == option.laterals
    assert any(one.startswith("this step: +28 connections, -20 m of tubing") for one in words)
    assert any(design.code in one for one in words)
    assert all(text.get_fontsize() >= 8.0 for text in page.texts)
    figure.canvas.draw()
    width, height = figure.canvas.get_width_height()
    for text in page.texts:
        box = text.get_window_extent()
        assert min(box.x0, box.y0) >= 0
        assert box.x1 <= width
        assert box.y1 <= height
    for name in ("a.png", "b.png"):
        write_options(design, tmp_path / name)
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
