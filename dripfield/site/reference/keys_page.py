"""The page of keys: every table with every key, what it says, its unit, default and bounds."""

from __future__ import annotations

from collections.abc import Iterator

from dripfield.site.reference.tables import (
    Table,
    default_in_words,
    in_both,
    shown_value,
    tables,
    toml,
    unit_in_words,
)
from dripfield.site.schema.key import Field

_HEAD = """\
# Every key of `site.toml`

Generated from the declarations in `dripfield/site/schema` by `python -m dripfield.site.reference`.

Lengths, coordinates and elevations are in the site's unit. Where a unit or a value differs on a
site in metres, that of a site in feet stands first and the other in brackets. A key that is not
known, or a value out of its bounds, is refused with one line.
"""


def keys_page() -> str:
    """The page as Markdown."""
    return "\n".join((_HEAD, *("\n".join((*_section(table), "")) for table in tables())))


def _section(table: Table) -> Iterator[str]:
    yield f"## `{table.heading}`"
    yield ""
    for paragraph in table.paragraphs:
        yield paragraph.replace("``", "`")
        yield ""
    yield "| key | what it is | unit | left out | bounds | example |"
    yield "| --- | --- | --- | --- | --- | --- |"
    for field in table.own_fields:
        cells = (
            f"`{field.name}`",
            field.words,
            unit_in_words(field),
            default_in_words(field),
            _bounds(field),
            f"`{toml(shown_value(field))}`",
        )
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _bounds(field: Field) -> str:
    key = field.key
    parts = [
        f"{word} {in_both(bound, key.unit)}"
        for word, bound in (("at least", key.least), ("at most", key.most))
        if bound is not None
    ]
    return ", ".join(parts)
