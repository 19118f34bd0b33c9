"""What a review sheet says, before it is set on paper or on a page."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.cautions import cautions
from dripfield.core.table import Table
from dripfield.core.units import Unit
from dripfield.core.verdict import Verdict
from dripfield.review.judge.revision import Revision, layout_files
from dripfield.review.model.limits import Limits
from dripfield.review.model.plan import Picture
from dripfield.site.model import Site
from dripfield.site.reader import input_files

STATEMENT = (
    "This sheet compares drawings, tables and shots as they were given. It does not approve a "
    "system: local code, the permit and licensed practice govern."
)
SAFETY = " ".join(cautions("utilities", "wastewater"))


@dataclass(frozen=True)
class DrawnLine:
    """A line of the overlay, its name, and a word to write beside it where it needs one.

    The name of a line of greater ``weight`` finds its place first.
    """

    name: str
    xy: Floats
    flag: str = ""
    weight: float = 0.0


@dataclass(frozen=True)
class Overlay:
    """What the map shows, in site coordinates.

    ``missing`` are lines of the plan that are not laid out, ``extra`` laterals that are not on it,
    each with a stroke of its own. ``marks`` are permanent points by name, ``numbered`` tied points
    by number; ``words`` name the three kinds of line and the missing and extra ones; ``large`` asks
    for the unit's larger sheet. ``picture`` is drawn under everything.
    """

    bed: Polygon
    approved: tuple[DrawnLine, ...] = ()
    designed: tuple[DrawnLine, ...] = ()
    laid: tuple[DrawnLine, ...] = ()
    missing: tuple[DrawnLine, ...] = ()
    extra: tuple[DrawnLine, ...] = ()
    approved_bed: Polygon | None = None
    keepouts: tuple[Polygon, ...] = ()
    features: tuple[tuple[str, BaseGeometry], ...] = ()
    marks: tuple[tuple[str, Floats], ...] = ()
    numbered: tuple[tuple[str, Floats], ...] = ()
    words: tuple[str, str, str] = ("approved plan", "laid out", "laid")
    odd: tuple[str, str] = ("on the plan, not laid out", "laid out, not on the plan")
    picture: Picture | None = None
    title: str = "overlay"
    large: bool = False


@dataclass(frozen=True)
class Section:
    """A heading with lines of text under it."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """One review sheet.

    Attributes
    ----------
    title, site : str
    facts : tuple of str
        What is compared with what.
    verdict : Verdict
    counts : str
        How many lines have each verdict.
    summary : tuple of Table
        Shown before the map.
    overlay : Overlay
    tables : tuple of Table
        Shown after the map.
    conditions : Section
        The reviewer's own; not shown where there are none.
    unchecked, notes : Section
        What could not be checked and why, and how it was done.
    files : tuple of (name, SHA-256)
    code : str
        Of the layout.
    version : str
    signature : tuple of str
        What is to be signed.
    """

    title: str
    site: str
    facts: tuple[str, ...]
    verdict: Verdict
    counts: str
    summary: tuple[Table, ...]
    overlay: Overlay
    tables: tuple[Table, ...]
    conditions: Section
    unchecked: Section
    notes: Section
    files: tuple[tuple[str, str], ...]
    code: str
    version: str
    signature: tuple[str, ...] = ("Name", "Licence or office", "Signature", "Date")
    statements: tuple[str, ...] = field(default=(STATEMENT, SAFETY))

    @property
    def answer(self) -> str:
        """The word, and the weightiest reason."""
        return f"{self.verdict.word}: {'; '.join(self.verdict.reasons[:1])}"

    @property
    def reasons(self) -> Section:
        """Every further reason, and how many places want measuring."""
        more = len(self.verdict.measure_more)
        places = (f"measure more at {more} places: they are in verdict.json",) if more else ()
        return Section("Reasons", (*self.verdict.reasons[1:], *places))


def site_facts(site: Site) -> tuple[str, ...]:
    """Permit, place, people and dates, as far as the site file gives them, in a line or two."""
    table = site.file.site
    first = (
        ("permit", table.permit_number),
        ("owner", table.owner),
        ("address", table.address),
        ("designer", table.designer),
    )
    second = (
        ("design of", table.design_date),
        ("revision", table.revision),
        ("revised", table.revision_date),
        ("survey of", table.survey_date),
        ("surveyor", table.surveyor),
    )
    lines = ("; ".join(f"{word} {text}" for word, text in row if text) for row in (first, second))
    return tuple(line[0].upper() + line[1:] for line in lines if line)


def conditions(site: Site) -> Section:
    """The reviewer's conditions."""
    return Section("Reviewer's conditions", tuple(site.file.review.conditions))


def file_hashes(site: Site, *more: Path) -> tuple[tuple[str, str], ...]:
    """Name and SHA-256 of every input file: those of the site by their place in it, then others."""
    named = [(path.relative_to(site.folder).as_posix(), path) for path in input_files(site)]
    named += [(path.name, path) for path in more]
    return tuple((name, _sha256(path)) for name, path in named)


def revision_hashes(*sides: Revision) -> tuple[tuple[str, str], ...]:
    """Name and SHA-256 of the files of both sides, each with its folder's name before it."""
    found: list[tuple[str, str]] = []
    for side in sides:
        folder = side.name.resolve().name
        files = (
            file_hashes(side.design.site)
            if side.written is None
            else tuple((name, _sha256(side.written / name)) for name in layout_files(side.written))
        )
        found += [(f"{folder}/{name}", digest) for name, digest in files]
    return tuple(found)


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def limits_line(limits: Limits, unit: Unit) -> str:
    """What counts as the same and what is allowed, in one line."""
    parts = [
        f"{name} {band.same:.{unit.places}f} / {band.limit:.{unit.places}f}"
        for name, band in (
            ("length", limits.length),
            ("elevation", limits.elevation),
            ("offset", limits.offset),
            ("spacing", limits.spacing),
        )
    ]
    parts.append(f"totals {limits.total.same:.1%} / {limits.total.limit:.1%}")
    return f"Limits (conforms up to / allowed up to, {unit.short}): {', '.join(parts)}"


def counts_line(counts: Mapping[str, int]) -> str:
    """How many lines have each verdict."""
    return ", ".join(f"{word}: {count}" for word, count in counts.items() if count)
