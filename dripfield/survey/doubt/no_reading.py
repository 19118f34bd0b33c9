"""Elevations that instruments and programs write for "no reading": asked about, never swallowed."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import input_error
from dripfield.core.words import counted
from dripfield.survey.shots import Survey

MARKS = (0.0, -99.0, -999.0, -9999.0, 9999.0, -99999.0, 99999.0, -999999.0, -32768.0)
"""Values commonly written for a missing elevation (common practice, no source); the only list."""


def settle_no_readings(survey: Survey, choice: Literal["skip", "keep"] | None) -> Survey:
    """Ask about, skip or keep elevations that look like "no reading".

    An elevation is doubted when it equals one of :data:`MARKS` and lies farther outside the range
    of the others than that range is wide. Breaklines through such elevations are doubted with it.

    Raises
    ------
    InputError
        Where any is doubted and ``choice`` is None, or where nothing else is left.
    """
    if choice == "keep":
        return survey
    z = survey.xyz[:, 2]
    marked = np.isin(z, MARKS)
    lines = [bool(np.isin(line[:, 2], MARKS).any()) for line in survey.breaklines]
    if not marked.any() and not any(lines):
        return survey
    low, high = _usual_range(z, marked)
    doubted = marked & _far(z, low, high)
    doubted_lines = [
        marked_line and bool((np.isin(line[:, 2], MARKS) & _far(line[:, 2], low, high)).any())
        for line, marked_line in zip(survey.breaklines, lines, strict=True)
    ]
    if not doubted.any() and not any(doubted_lines):
        return survey
    if choice is None or doubted.all():
        raise input_error(
            _question(survey, doubted, doubted_lines, low, high),
            'write no_reading = "skip" or no_reading = "keep" under [survey] in site.toml'
            if not doubted.all()
            else "export the points with their elevations "
            '(or write no_reading = "keep" under [survey] in site.toml)',
            file=survey.source,
            row=int(survey.rows[doubted.argmax()]) if doubted.any() else None,
            field="elevation",
        )
    kept = survey.only(
        ~doubted,
        f"{survey.source.name}: {counted(int(doubted.sum()), 'shot')} and "
        f"{counted(sum(doubted_lines), 'breakline')} without a reading skipped, as no_reading says",
    )
    lines_kept = zip(survey.breaklines, doubted_lines, strict=True)
    return replace(kept, breaklines=tuple(line for line, doubt in lines_kept if not doubt))


def _usual_range(z: Floats, marked: Bools) -> tuple[float, float]:
    rest = z[~marked]
    return (float(rest.min()), float(rest.max())) if len(rest) else (np.inf, -np.inf)


def _far(z: Floats, low: float, high: float) -> Bools:
    """True outside the usual range by more than its width (everywhere, where there is none)."""
    if low > high:
        return np.ones(len(z), dtype=bool)
    margin = max(high - low, 1.0)
    return (z < low - margin) | (z > high + margin)


def _question(
    survey: Survey, doubted: Bools, doubted_lines: list[bool], low: float, high: float
) -> str:
    if doubted.any():
        first = int(doubted.argmax())
        value, more = survey.xyz[first, 2], int(doubted.sum()) - 1
        if doubted.all():
            return f"every shot has the elevation {value:g}"
        others = f" (and {more} more)" if more else ""
        subject = f"the elevation of point {survey.names[first]}{others} is {value:g}"
    else:
        line = survey.breaklines[doubted_lines.index(True)]
        value = line[np.isin(line[:, 2], MARKS), 2][0]
        subject = f"a breakline has the elevation {value:g}"
    return f"{subject} where the others lie between {low:g} and {high:g}: is it a reading?"
