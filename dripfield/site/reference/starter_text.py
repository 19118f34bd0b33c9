"""The starter's ``site.toml``: what a site needs in use, every other key as a comment."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from dripfield.core.units import Unit
from dripfield.site.reference.tables import Table, shown_value, tables, toml, with_unit
from dripfield.site.schema.key import Field

SCHEMA_FILE = "site.schema.json"

_HEAD = """\
#:schema ./site.schema.json
# A starter site for dripfield. Change it into your own: put your survey and your bed beside this
# file, name them below, and run
#
#     dripfield layout THIS-FOLDER --out out
#
# Every length, coordinate and elevation is in the unit given under [site]. A line that begins with
# "# " and a key shows an optional key with its default or an example: take the "# " away to use it.
# The story and the survey are invented: a convex hillside above a farmhouse, with a ledge of rock.
"""
_IN_USE = {
    "site": "name units",
    "survey": "points",
    "bed": "boundary keepouts",
    "bed.setbacks": "name points distance shape source",
    "layout": "spacing edge_clearance method level_tolerance spacing_tolerance min_length"
    " max_length",
    "benchmark": "name elevation northing easting description",
}
_COLUMN = 36  # of the words beside a key
_WIDTH = 100


def starter_text() -> str:
    """The whole file; tables in use come first, the optional ones after them."""
    shown = [table for table in tables() if not table.inline]
    order = sorted(shown, key=lambda table: table.place not in _IN_USE)
    return "\n".join((_HEAD, *("\n".join((*_block(table), "")) for table in order)))


def _block(table: Table) -> Iterator[str]:
    in_use = table.place in _IN_USE
    yield from textwrap.wrap(
        _plain(table.words),
        _WIDTH,
        initial_indent="# ",
        subsequent_indent="# ",
        break_on_hyphens=False,
    )
    yield table.heading if in_use else f"# {table.heading}"
    used = _IN_USE.get(table.place, "").split()
    for field in table.own_fields:
        yield from _key_lines(field, in_use=field.name in used)


def _key_lines(field: Field, *, in_use: bool) -> Iterator[str]:
    """The key with its value, and its words beside it or, where they are long, under it."""
    start = f"{'' if in_use else '# '}{field.name} = {toml(shown_value(field))}"
    words = with_unit(field, field.key.unit_of(Unit.FOOT))
    if field.key.absent:
        words += f"; left out: {field.key.absent}"
    room = _WIDTH - max(len(start) + 1, _COLUMN) - 2
    if len(words) <= room or len(start) < _COLUMN:
        lines = _wrapped(words) if len(start) < _COLUMN else [words]
        yield f"{start:<{_COLUMN - 1}} # {lines[0]}"
        rest = lines[1:]
    else:
        yield start
        rest = _wrapped(words)
    yield from (f"{'':<{_COLUMN}}# {line}" for line in rest)


def _wrapped(words: str) -> list[str]:
    """Lines of the words; a unit stays with the word before it."""
    kept = words.replace(" [", "\0[")
    return [
        line.replace("\0", " ")
        for line in textwrap.wrap(kept, _WIDTH - _COLUMN - 2, break_on_hyphens=False)
    ]


def _plain(words: str) -> str:
    """Words without the marks of code."""
    return words.replace("``", "")
