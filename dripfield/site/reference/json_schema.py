"""The JSON Schema of ``site.toml``, for completion and checking in editors."""

from __future__ import annotations

import json
from typing import Any

import msgspec

from dripfield.site.reference.tables import default_in_words, tables, unit_in_words, with_unit
from dripfield.site.schema.key import Field, fields_of
from dripfield.site.schema.site import SiteFile


def json_schema() -> str:
    """The schema as JSON text."""
    schema = _without_null(msgspec.json.schema(SiteFile))
    places = {table.kind.__name__: table for table in tables()}
    for name, table in places.items():
        definition = schema["$defs"][name]
        definition["description"] = " ".join(table.paragraphs).replace("``", "")
        for field in fields_of(table.kind):
            if field.words:
                definition["properties"][field.name]["description"] = _described(field)
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "site.toml"}
    return json.dumps(head | schema, indent=1, ensure_ascii=False) + "\n"


def _described(field: Field) -> str:
    left_out = "" if field.required else f" Left out: {default_in_words(field)}."
    return f"{with_unit(field, unit_in_words(field))}.{left_out}"


def _without_null(value: Any) -> Any:
    """The schema without what TOML cannot say: null as a type or as a default."""
    if isinstance(value, list):
        return [_without_null(one) for one in value if one != {"type": "null"}]
    if not isinstance(value, dict):
        return value
    kept = {
        name: _without_null(one)
        for name, one in value.items()
        if name != "default" or not (one is None or isinstance(one, dict))
    }
    if isinstance(kept.get("enum"), list):
        kept["enum"] = [one for one in kept["enum"] if one is not None]
    if isinstance(either := kept.get("anyOf"), list) and len(either) == 1:
        kept = {**either[0], **{name: one for name, one in kept.items() if name != "anyOf"}}
    return kept
