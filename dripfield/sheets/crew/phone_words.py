"""The words of the phone page, each in every language that the page speaks.

The table is ``page/words.json``: a key, then the phrase by language. ``{name}`` in a phrase is
filled in; a language has every key with the same names in braces.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files

LANGUAGES = ("en", "es")
"""The first is what the page is written in; a button changes to the next."""


@cache
def phrases() -> dict[str, dict[str, str]]:
    """Phrase by key and language."""
    text = (files("dripfield.sheets.crew") / "page" / "words.json").read_text(encoding="utf-8")
    table: dict[str, dict[str, str]] = json.loads(text)
    return table


def say(key: str, **values: str) -> str:
    """A phrase in the page's first language, filled in."""
    return phrases()[key][LANGUAGES[0]].format(**values)
