"""Shots of staked or laid tubing, and which lateral each belongs to."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import msgspec
import numpy as np
import shapely

from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import input_error
from dripfield.core.lengths import METRES, UNIT_WORDS
from dripfield.layout.model import Layout
from dripfield.review.model.plan import name_key
from dripfield.site.model import Site
from dripfield.survey.shots import Survey

_HEAD = 100_000  # bytes of a file that are looked at
_REACH = 0.75  # an unnamed shot farther from a lateral than so many spacings is not on it
_CLEAR = 0.6  # the nearest lateral must be nearer than this share of the next one's distance
_NAME = re.compile(r"(?:(?:lateral|lat|line|run)\b[\s.:#-]*)?(?P<name>\S+)", re.IGNORECASE)
_TUBING = frozenset(
    re.findall(
        r"[a-z]+",
        "tube tubes tubing tub tb drip dripline driptube dripper dl emitter emitters lat lats latl "
        "lateral laterals line lines ln laid lay shot shots stake staked stk flag flags built "
        "record start begin beginning bgn end ends mid middle pt pnt point on of at the top and as "
        "asbuilt ab",
    )
)
"""Words that a crew writes on shots of tubing (common practice, no source)."""
_FOREIGN = frozenset(
    re.findall(
        r"[a-z]+",
        "manifold header supply return valve tank pump box vault riser cleanout filter vent fence "
        "tree well house building corner property pin road drive ground gs grade bed edge boundary "
        "rock benchmark bm control cp main",
    )
)
"""Words of other things, never the code for tubing however often they stand there."""
PRINTED_PLACE = "place as printed"
"""In a description: northing and easting are those printed for the mark, and only its height was
measured."""
_LIKE_A_NAME = re.compile(r"(?:[A-Za-z]{1,2}-)?L-?\d{1,3}", re.IGNORECASE)


How = Literal["named", "nearest", "not in design", "mark", "none"]


@dataclass(frozen=True)
class LaidShot:
    """One shot and where it belongs.

    Attributes
    ----------
    point, description : str
        As in the file.
    xyz : (3,) float array
    lateral : str or None
        The lateral of the design that it is on, or the name it carries that the design has not.
    how : str
        ``named`` (in its description), ``nearest``, ``not in design``, ``mark`` (a reference or
        benchmark) or ``none``.
    why : str
        Why it belongs to none; empty otherwise.
    """

    point: str
    description: str
    xyz: Floats
    lateral: str | None
    how: How
    why: str = ""


def read_laid_shots(path: Path, site: Site) -> Survey:
    """Read the file of shots with the site's own survey settings, its kind known as a survey's."""
    from dripfield.survey.read.survey_file import read_survey

    options = msgspec.structs.replace(site.file.survey, points=path.name, exclude=[], control=None)
    if _has_printed_places(path):  # a mark that was set and not read has no elevation
        options = msgspec.structs.replace(options, no_reading="skip")
    return read_survey(path, options, site.unit, crs=site.file.site.crs)


def _has_printed_places(path: Path) -> bool:
    """Whether a file begins as the phone page's file of marks does."""
    if not path.is_file():
        return False
    with path.open("rb") as stream:
        return PRINTED_PLACE.encode() in stream.read(_HEAD)


def laterals_with_printed_places(shots: Sequence[LaidShot]) -> frozenset[str]:
    """Laterals of which some shot has the place printed for its mark: only its height is known."""
    return frozenset(
        shot.lateral
        for shot in shots
        if shot.lateral is not None and PRINTED_PLACE in shot.description
    )


def sort_shots(survey: Survey, site: Site, layout: Layout) -> tuple[LaidShot, ...]:
    """Give every shot its lateral.

    A shot whose description begins with a lateral's name is that lateral's. One named after a
    reference or the benchmark is a check on the marks. Any other goes to the nearest lateral when
    it is within three quarters of a spacing and clearly nearer than the next, when its words are
    those of tubing or the code of most of the unnamed shots, and when its height is near that of
    the others.

    Parameters
    ----------
    survey : Survey
        Of what was laid.
    site : Site
    layout : Layout
        As designed.

    Returns
    -------
    tuple of LaidShot
        In the order of the survey.

    Raises
    ------
    InputError
        No shot belongs to any lateral, or those that carry names lie off the site; another unit, or
        coordinates exchanged, are named where the shots would fit so.
    """
    known = {name_key(one.name): one.name for one in layout.laterals}
    marks = {one.name.casefold() for one in site.file.review.references}
    if site.file.benchmark is not None:
        marks.add(site.file.benchmark.name.casefold())
    near = _nearest_two(survey.xyz[:, :2], layout)
    code = _common_code(survey.descriptions, known, marks)
    shots = []
    for i, (point, description) in enumerate(zip(survey.names, survey.descriptions, strict=True)):
        match = _NAME.match(description.strip())
        word = match["name"] if match else ""
        lateral: str | None = None
        how: How = "none"
        why = ""
        if word and name_key(word) in known:
            lateral, how = known[name_key(word)], "named"
        elif mark_of(point, description, marks) is not None:
            how = "mark"
        elif _LIKE_A_NAME.fullmatch(word):
            lateral, how, why = word, "not in design", f"the design has no lateral {word}"
        elif foreign := foreign_word(description, code):
            why = f"its description says {foreign!r}, which is no tubing"
        else:
            lateral, why = _by_place(near[i], layout, site)
            how = "nearest" if lateral is not None else "none"
        shots.append(LaidShot(point, description, survey.xyz[i], lateral, how, why))
    shots = _near_in_height(shots, site, layout)
    belong = np.array([shot.how in ("named", "nearest") for shot in shots])
    if not belong.any():
        raise _no_match(survey, site, layout)
    _check_place(survey, belong, site, layout)
    return tuple(shots)


def mark_of(point: str, description: str, marks: Collection[str]) -> str | None:
    """The mark, of names in lower case, that a shot's number or description begins with.

    Parameters
    ----------
    point, description : str
        Of a shot.
    marks : collection of str
        Names in lower case.

    Returns
    -------
    str or None
    """
    said = " ".join(description.casefold().split())
    for mark in sorted(marks, key=len, reverse=True):
        if point.casefold() == mark or said == mark or said.startswith(f"{mark} "):
            return mark
    return None


def foreign_word(description: str, code: str | None = None) -> str | None:
    """The first word of a description that says that the shot is on no tubing, if any.

    Parameters
    ----------
    description : str
        Of a shot without a lateral's name.
    code : str, optional
        The crew's own code for tubing.

    Returns
    -------
    str or None
        None for words of tubing, numbers, the code, or no words at all.
    """
    words: list[str] = re.findall(r"[A-Za-z]+", description.casefold())
    for word in words:
        if word not in _TUBING and word != code:
            return word
    return None


def _common_code(
    descriptions: Sequence[str], known: Collection[str], marks: Collection[str]
) -> str | None:
    """The one word that at least half of the shots without a lateral's name carry alone."""
    codes: Counter[str] = Counter()
    count = 0
    for description in descriptions:
        match = _NAME.match(description.strip())
        if match and name_key(match["name"]) in known:
            continue
        if mark_of("", description, marks) is not None:
            continue
        count += 1
        words = set(re.findall(r"[A-Za-z]+", description.casefold()))
        codes.update(words if len(words) == 1 else ())
    if not codes:
        return None
    code, often = codes.most_common(1)[0]
    return code if often >= max(0.5 * count, 4) and code not in _FOREIGN else None


def _near_in_height(shots: list[LaidShot], site: Site, layout: Layout) -> list[LaidShot]:
    """The shots, less those adopted by nearness whose height is far from what the others say."""
    height = {one.name: one.elevation for one in layout.laterals}
    off = np.array([float(s.xyz[2]) - height.get(s.lateral or "", math.nan) for s in shots])
    if not np.isfinite(off).any():
        return shots
    middle = float(np.nanmedian(off))
    reach = max(site.unit.default(1.0, 0.3), 5.0 * site.settings.level_tolerance)
    return [
        _not_adopted(shot, gap - middle, site)
        if shot.how == "nearest" and abs(gap - middle) > reach
        else shot
        for shot, gap in zip(shots, off, strict=True)
    ]


def _not_adopted(shot: LaidShot, off: float, site: Site) -> LaidShot:
    """A shot that was near a lateral in plan alone."""
    unit, places = site.unit.short, site.unit.places
    word = "higher" if off > 0.0 else "lower"
    why = (
        f"{abs(off):.{places}f} {unit} {word} beside {shot.lateral} than the other shots beside "
        "their laterals"
    )
    return replace(shot, lateral=None, how="none", why=why)


def _check_place(survey: Survey, belong: Bools, site: Site, layout: Layout) -> None:
    """Refuse shots that carry laterals' names and lie off the site, but not in another unit or
    with their coordinates exchanged."""
    xy = survey.xyz[belong, :2]
    x0, y0, x1, y1 = site.bed.boundary.bounds
    if np.median(_gaps(xy, layout)) <= max(x1 - x0, y1 - y0):
        return
    if _on_laterals(xy[:, ::-1], site, layout) > len(xy) / 2:
        raise input_error(
            f"the shots lie on the laterals only with northing and easting exchanged, {len(xy)} "
            "of them",
            "name the columns in a header, northing first where there is none",
            file=survey.source,
        )
    _check_unit(xy, survey, site, layout)


def _check_unit(xy: Floats, survey: Survey, site: Site, layout: Layout) -> None:
    """Refuse shots that lie on the laterals in another unit."""
    count = len(xy)
    for name in ("m", "ft"):
        ratio = METRES[name] / site.unit.metres
        fits = _on_laterals(xy * ratio, site, layout)
        if abs(ratio - 1.0) > 1e-3 and fits > count / 2:
            raise input_error(
                f"none of the {count} shots lies on a lateral, and {fits} do when multiplied by "
                f"{ratio:.6g}: they are in {UNIT_WORDS[name]} and the site in "
                f"{UNIT_WORDS[site.unit.value]}",
                f"export them in the site's unit, {site.unit.label}",
                file=survey.source,
            )


def _on_laterals(xy: Floats, site: Site, layout: Layout) -> int:
    """How many shots are near enough to a lateral to be on it."""
    return int((_gaps(xy, layout) <= _REACH * site.settings.spacing).sum())


def _gaps(xy: Floats, layout: Layout) -> Floats:
    """Distance of each shot to the nearest lateral."""
    return np.array([first[0][0] for first in _nearest_two(xy, layout)])


def _nearest_two(xy: Floats, layout: Layout) -> list[list[tuple[float, int]]]:
    """For each shot the two nearest laterals, (distance, number)."""
    shift = np.round(layout.laterals[0].xy[0])
    lines = np.array([shapely.linestrings(one.xy - shift) for one in layout.laterals])
    gap = shapely.distance(shapely.points(xy - shift)[:, None], lines[None, :])
    order = np.argsort(gap, axis=1, kind="stable")[:, :2]
    return [[(float(row[j]), int(j)) for j in first] for row, first in zip(gap, order, strict=True)]


def _by_place(near: list[tuple[float, int]], layout: Layout, site: Site) -> tuple[str | None, str]:
    """The lateral that a shot without a name is on, or why it is on none."""
    unit, places = site.unit.short, site.unit.places
    distance, number = near[0]
    name = layout.laterals[number].name
    if distance > _REACH * site.settings.spacing:
        return None, f"{distance:.{places}f} {unit} from the nearest lateral, {name}"
    if len(near) > 1 and distance > _CLEAR * near[1][0]:
        other = layout.laterals[near[1][1]].name
        return None, (
            f"between {name} ({distance:.{places}f} {unit}) and {other} "
            f"({near[1][0]:.{places}f} {unit})"
        )
    return name, ""


def _no_match(survey: Survey, site: Site, layout: Layout) -> Exception:
    xy = survey.xyz[:, :2]
    count = len(xy)
    _check_unit(xy, survey, site, layout)
    distance, number = min(first[0] for first in _nearest_two(xy, layout))
    return input_error(
        f"none of the {count} shots belongs to a lateral: no description begins with a lateral's "
        f"name, and the nearest shot is {distance:.{site.unit.places}f} {site.unit.short} from "
        f"{layout.laterals[number].name}",
        "write the lateral's name first in each description, and check the coordinates",
        file=survey.source,
    )
