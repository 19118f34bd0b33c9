"""Strokes and words held as one artist, against matplotlib's own lines and texts."""

from __future__ import annotations

import io

import numpy as np
import pypdfium2
import pytest
from matplotlib.image import imread

from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.ink import ink_on
from dripfield.sheets.kit.style import DIM, INK, PAPERS, drawing_defaults, write_text

BOX = ((40.0, 60.0), (52.0, 60.0), (52.0, 72.0), (40.0, 72.0), (40.0, 60.0))
SLANT = ((100.0, 40.0), (180.0, 75.5))
WORDS = (("12", 60.0, 0.0, False), ("101.53", 150.0, 1.0, True), ("L1_2 $5", 220.0, 0.5, False))
ALIGN = {0.0: "left", 0.5: "center", 1.0: "right"}


def _by_ink(axes) -> None:
    ink = ink_on(axes)
    ink.stroke(BOX, 0.5)
    ink.stroke(SLANT, 1.5, DIM)
    for text, x, share, bold in WORDS:
        ink_on(axes).word(x, 100.0, text, 9.0, bold=bold, colour=DIM, share=share)


def _by_artists(axes) -> None:
    axes.plot(*np.array(BOX).T, color=INK, lw=0.5)
    axes.plot(*np.array(SLANT).T, color=DIM, lw=1.5)
    for text, x, share, bold in WORDS:
        write_text(axes, x, 100.0, text, 9.0, bold=bold, color=DIM, ha=ALIGN[share])


def _saved(draw, kind: str) -> bytes:
    figure, axes = blank_sheet(PAPERS["letter"])
    draw(axes)
    file = io.BytesIO()
    with drawing_defaults():
        figure.savefig(
            file, format=kind, dpi=100, metadata={"Software": None} if kind == "png" else None
        )
    return file.getvalue()


def test_a_picture_is_the_same_dot_for_dot():
    ours, theirs = (imread(io.BytesIO(_saved(draw, "png"))) for draw in (_by_ink, _by_artists))
    assert (ours < 0.9).any()
    np.testing.assert_array_equal(ours, theirs)


def test_a_pdf_shows_the_same_and_its_words_can_be_read():
    pages = [pypdfium2.PdfDocument(_saved(draw, "pdf"))[0] for draw in (_by_ink, _by_artists)]
    ours, theirs = (np.asarray(page.render(scale=2.0).to_numpy(), dtype=float) for page in pages)
    assert (ours < 200.0).any()
    assert np.abs(ours - theirs).max() <= 1.0
    read = pages[0].get_textpage().get_text_range()
    assert all(text in read for text, *_ in WORDS)


def test_what_comes_later_is_drawn_too_and_each_sheet_keeps_its_own():
    _, one = blank_sheet(PAPERS["letter"])
    _, other = blank_sheet(PAPERS["letter"])
    assert ink_on(one) is ink_on(one)
    assert ink_on(one) is not ink_on(other)
    assert len(one.artists) == 1


def test_nothing_on_it_draws_nothing():
    empty = imread(io.BytesIO(_saved(ink_on, "png")))
    assert empty.min() == pytest.approx(1.0)
