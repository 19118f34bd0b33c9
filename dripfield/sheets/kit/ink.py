"""Strokes and words that a sheet has thousands of, held and drawn as one artist.

An artist of matplotlib's for each would cost more to make than to draw.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from dripfield.core.words import plain
from dripfield.sheets.kit.lettering import draw_words, font
from dripfield.sheets.kit.style import INK

_ON: WeakKeyDictionary[Any, Ink] = WeakKeyDictionary()


class _Word(NamedTuple):
    x: float
    y: float
    text: str
    size: float
    bold: bool
    colour: str
    share: float


class _Stroke(NamedTuple):
    points: Sequence[tuple[float, float]]
    width: float
    colour: str


class Ink:
    """Strokes, and words over them, in points of the sheet."""

    def __init__(self) -> None:
        self.words: list[_Word] = []
        self.strokes: list[_Stroke] = []

    def word(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        colour: str = INK,
        share: float = 0.0,
    ) -> None:
        """Write one line of plain text.

        Parameters
        ----------
        x, y : float
            On its base line [pt].
        text : str
        size : float
            [pt]
        bold : bool
        colour : str
        share : float
            Of its width that stands before ``x``: 0 begins there, 1 ends there.
        """
        self.words.append(_Word(x, y, plain(text), size, bold, colour, share))

    def stroke(
        self, points: Sequence[tuple[float, float]], width: float, colour: str = INK
    ) -> None:
        """Draw a line.

        Parameters
        ----------
        points : sequence of (x, y)
            [pt]
        width : float
            [pt]
        colour : str
        """
        self.strokes.append(_Stroke(points, width, colour))

    def put_on(self, axes: Any) -> None:
        """Add everything, and what is still to come, to axes in points."""
        axes.add_artist(_artist()(self))


def ink_on(axes: Any) -> Ink:
    """What gathers the strokes and words of axes in points; put on them when first asked for."""
    if axes not in _ON:
        _ON[axes] = Ink()
        _ON[axes].put_on(axes)
    return _ON[axes]


@lru_cache(maxsize=1)
def _artist() -> Any:
    """A class made late, since matplotlib is imported late."""
    from matplotlib.artist import Artist
    from matplotlib.path import Path

    class InkArtist(Artist):  # type: ignore[misc, unused-ignore]
        zorder = 3  # as matplotlib's texts

        def __init__(self, ink: Ink) -> None:
            super().__init__()
            self._ink = ink

        def draw(self, renderer: Any) -> None:
            pen = renderer.new_gc()
            pen.set_capstyle("projecting")
            pen.set_joinstyle("round")
            for stroke in self._ink.strokes:
                pen.set_foreground(stroke.colour)
                pen.set_linewidth(stroke.width)
                renderer.draw_path(pen, Path(stroke.points), self.get_transform())
            words = self._ink.words
            places = self.get_transform().transform(
                np.array([(one.x, one.y) for one in words]).reshape(-1, 2)
            )
            for one, (x, y) in zip(words, places, strict=True):
                pen.set_foreground(one.colour)
                face = font(one.size, bold=one.bold)
                draw_words(renderer, pen, x, y, one.text, face, share=one.share)
            pen.restore()

    return InkArtist
