"""Suspect shots as a drawing shows them: a square and a name on the map, and a reason in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.words import counted
from dripfield.sheets.kit.labels import Label, Placer, Words
from dripfield.sheets.kit.pen import Pen
from dripfield.sheets.kit.style import INK, PAPER_WHITE, shorten, text_width
from dripfield.survey.doubt.blunders import Suspect

SUSPECT_MARK: dict[str, Any] = {"ls": "none", "marker": "s", "mew": 1.2, "mfc": "none"}
_NAME_WIDTH = 70.0  # a longer name is cut short [pt]
_RUN = 4  # more shots than these that share a reason are told of by the first and the last
_MOST_REASONS = 3  # in a note; the survey sheet has them all


def mark_suspects(
    pen: Pen, placer: Placer, suspects: Sequence[Suspect], size: float
) -> tuple[str, ...]:
    """Draw a square round each suspect shot with its name beside it; of many that share a reason
    the first and the last are named.

    Parameters
    ----------
    pen : Pen
    placer : Placer
        Marks and names are taken from it.
    suspects : sequence of Suspect
        Those off the map are left out.
    size : float
        Of the names [pt].

    Returns
    -------
    tuple of str
        Names that found no room beside their square.
    """
    places = pen.frame.to_paper(np.array([one.place for one in suspects]).reshape(-1, 2))
    shown = shapely.contains_xy(pen.frame.window, places)
    marks = [(one, at) for one, at, on in zip(suspects, places, shown, strict=True) if on]
    for _, at in marks:
        for look in ({"color": PAPER_WHITE, "mew": 3.0}, {"color": INK}):  # white round the square
            pen.line(at[None, :], ms=1.2 * size, zorder=6, **SUSPECT_MARK | look)
        placer.take(shapely.Point(at).buffer(0.7 * size))
    many: dict[str, list[Suspect]] = {}
    for one, _ in marks:
        many.setdefault(one.reason, []).append(one)
    named = {
        one.shot
        for group in many.values()
        for one in (group if len(group) <= _RUN else (group[0], group[-1]))
    }
    bare = []
    for one, at in marks:
        if one.shot not in named:
            continue
        name = shorten(one.point, _NAME_WIDTH, size, bold=True)
        if not pen.words(placer.first(beside(at, name, size, bold=True), over_lines=True)):
            bare.append(one.point)
    return tuple(bare)


def beside(at: Floats, text: str, size: float, *, bold: bool) -> Iterator[Words]:
    """Places for a name round a mark: right, left, above, below, then the corners.

    Parameters
    ----------
    at : (2,) float array
        Middle of the mark on the sheet [pt].
    text : str
    size : float
        Of the type [pt].
    bold : bool

    Yields
    ------
    Words
        One label.
    """
    aside = size + 0.5 * text_width(text, size, bold=bold)
    up = 1.35 * size
    sides = ((aside, 0.0), (-aside, 0.0), (0.0, up), (0.0, -up))
    corners = ((aside, up), (-aside, up), (aside, -up), (-aside, -up))
    for x, y in (*sides, *corners):
        yield (Label(text, float(at[0] + x), float(at[1] + y), 0.0, size, bold),)


def doubts(suspects: Sequence[Suspect]) -> list[tuple[str, str]]:
    """Suspects for reading: the points that share a reason, and the reason.

    Of many points the first and the last stand for all, ``658 … 697``.
    """
    by_reason: dict[str, list[str]] = {}
    for one in suspects:
        by_reason.setdefault(one.reason, []).append(one.point)
    return [
        (", ".join(points) if len(points) <= _RUN else f"{points[0]} … {points[-1]}", reason)
        for reason, points in by_reason.items()
    ]


def suspect_notes(suspects: Sequence[Suspect]) -> list[str]:
    """One sentence on the suspect shots with the first few reasons; none where there are none."""
    if not suspects:
        return []
    found = doubts(suspects)
    told = [f"{points} {reason}" for points, reason in found[:_MOST_REASONS]]
    left = len({one.reason for one in suspects}) - _MOST_REASONS
    if left > 0:
        reasons = {reason for _, reason in found[:_MOST_REASONS]}
        more = sum(one.reason not in reasons for one in suspects)
        told.append(f"{counted(more, 'more shot')}: see dripfield survey")
    several = len(suspects) > 1
    shots = f"{len(suspects)} suspect shots" if several else "1 suspect shot"
    them = "them" if several else "it"
    return [f"{shots}, kept unless site.toml excludes {them}: {'; '.join(told)}"]
