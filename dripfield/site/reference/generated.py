"""The files that are generated from the declarations of the keys."""

from __future__ import annotations

from dripfield.site.reference.json_schema import json_schema
from dripfield.site.reference.keys_page import keys_page
from dripfield.site.reference.starter_text import SCHEMA_FILE, starter_text


def generated() -> dict[str, str]:
    """Name under ``dripfield/site`` and text of each."""
    return {
        "starter_files/site.toml": starter_text(),
        f"starter_files/{SCHEMA_FILE}": json_schema(),
        "KEYS.md": keys_page(),
    }
