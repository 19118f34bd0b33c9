"""The picture of the panels to choose from."""

from __future__ import annotations

from pathlib import Path

import pytest

from dripfield.layout.model import PanelOption
from dripfield.sheets.plan.panel_options import panel_figure, write_panels
from dripfield.site.model import Site
from dripfield.site.reader import read_site

NOSE = Path(__file__).parents[2] / "sample_sites" / "nose"
OPTIONS = (
    PanelOption(1, 40, 2677.4, 0.8123, False),
    PanelOption(2, 58, 2631.0, 0.9501, True),
    PanelOption(3, 73, 2556.0, 0.9472, False),
)


@pytest.fixture(scope="module")
def site() -> Site:
    return read_site(NOSE)


def test_every_figure_is_written_and_the_chosen_one_filled(site: Site) -> None:
    figure = panel_figure(site, OPTIONS)
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert titles == ["merit", "connections", "tubing, ft", "merit over connections"]
    words = [[note.get_text() for note in axes.texts] for axes in figure.axes]
    assert words == [
        ["0.812", "0.950", "0.947"],
        ["40", "58", "73"],
        ["2,677", "2,631", "2,556"],
        ["1", "2", "3"],
    ]
    for axes in figure.axes:
        dots = [line for line in axes.lines if line.get_marker() == "o"]
        filled = [dot.get_markerfacecolor() == dot.get_color() for dot in dots]
        assert filled == [False, True, False]


def test_texts_stay_on_the_picture_and_bytes_repeat(site: Site, tmp_path: Path) -> None:
    figure = panel_figure(site, OPTIONS)
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    FigureCanvasAgg(figure).draw()
    whole = figure.bbox
    for text in [*figure.texts, *(note for axes in figure.axes for note in axes.texts)]:
        box = text.get_window_extent()
        assert whole.x0 <= box.x0, text.get_text()
        assert box.x1 <= whole.x1, text.get_text()
        assert whole.y0 <= box.y0, text.get_text()
        assert box.y1 <= whole.y1, text.get_text()
    write_panels(site, OPTIONS, tmp_path / "one.png")
    write_panels(site, OPTIONS, tmp_path / "two.png")
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
