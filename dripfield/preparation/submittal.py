"""What a named rule set asks a submittal to show, filled from the design, gaps named."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import msgspec

from dripfield.core.errors import input_error

FACTS = {  # name: what it is, and where it comes from
    "plan": "the plan, plan.pdf of layout",
    "section": "the section, section.png of bed",
    "profile": "the profile of supply and return",
    "details": "details of valves, vents, tanks and connections",
    "main_sizes": "nominal sizes of supply, return and manifolds: [supply], [return], [manifold]",
    "main_lengths": "lengths of supply, return and manifolds: zones",
    "line_lengths": "length of each lateral: lateral_table.csv",
    "flush_flow": "flow while flushing: duty.csv of zones",
    "static_head": "highest emitter over the water when the pump stops: [pump] level",
    "daily_flow": "[design] daily_flow",
    "tubing": "total length of tubing with emitters: layout.json",
    "emitter_spacing": "[emitters] spacing",
    "line_spacing": "[layout] spacing",
    "lines": "number of laterals: layout.json",
    "lines_per_flush": "joined laterals of each zone: zones.csv",
    "title_block": "name of the site, its address and the designer's: [site]",
    "seal": "the engineer's seal and signature, put on by the engineer",
    "index": "the list of sheets",
    "vicinity_map": "a map of how to find the site, added by the designer",
    "abbreviations": "abbreviations and symbols",
    "north_arrow": "the plan's north arrow",
    "scale_text": "the plan's scale in words",
    "scale_bar": "the plan's scale as a bar",
    "title": "[site] name",
    "date": "[site] survey_date, or the date of the drawing",
    "elevations": "elevations on the plan and their datum: [site] vertical_datum",
    "easements": "easements, or that there are none, added by the designer",
}


class _Set(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    name: str
    title: str
    scope: str
    copy: str
    status: str


class _Item(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    set: str
    citation: str
    text: str
    facts: list[str]


class _Book(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    set: list[_Set]
    item: list[_Item]


@dataclass(frozen=True)
class Shown:
    """One thing to be shown.

    Attributes
    ----------
    citation, text : str
    found : str
        The facts that show it; empty where there is a gap.
    gaps : tuple of str
        What is missing and where it would come from.
    """

    citation: str
    text: str
    found: str
    gaps: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """Whether every fact that it needs is there."""
        return not self.gaps


@dataclass(frozen=True)
class Submittal:
    """A rule set's list, filled.

    Attributes
    ----------
    name, title, scope, copy, status : str
        Of the set: ``copy`` says which copy of the text was read.
    shown : tuple of Shown
    """

    name: str
    title: str
    scope: str
    copy: str
    status: str
    shown: tuple[Shown, ...]

    @property
    def gaps(self) -> tuple[str, ...]:
        """Every gap, in the order of the list, each once."""
        return tuple(dict.fromkeys(gap for one in self.shown for gap in one.gaps))


def submittals(names: Sequence[str], facts: Mapping[str, str]) -> tuple[Submittal, ...]:
    """Fill the lists of the named rule sets from a design's facts.

    A named set without a list of its own gives none: not every set says what a plan must show.

    Raises
    ------
    InputError
        A fact that no list knows.
    """
    for fact in facts:
        if fact not in FACTS:
            closest = difflib.get_close_matches(fact, FACTS, n=1, cutoff=0.0)[0]
            raise input_error(f"unknown fact {fact!r}", f"the closest known is {closest!r}")
    book = _book()
    return tuple(
        Submittal(
            one.name,
            one.title,
            one.scope,
            one.copy,
            one.status,
            tuple(_shown(item, facts) for item in book.item if item.set == one.name),
        )
        for one in book.set
        if one.name in names
    )


def submittal_sets() -> tuple[str, ...]:
    """Names of the rule sets that say what a plan must show."""
    return tuple(one.name for one in _book().set)


@cache
def _book() -> _Book:
    text = (files("dripfield.preparation") / "submittals.toml").read_text(encoding="utf-8")
    return msgspec.convert(tomllib.loads(text), _Book)


def _shown(item: _Item, facts: Mapping[str, str]) -> Shown:
    given = [facts[name] for name in item.facts if facts.get(name, "").strip()]
    gaps = tuple(FACTS[name] for name in item.facts if not facts.get(name, "").strip())
    return Shown(item.citation, item.text, "; ".join(given), gaps)
