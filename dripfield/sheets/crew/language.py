"""The words of the crew's sheets, each in every language that they are printed in.

The table is ``words.json``: a key, then the phrase by language. ``{name}`` in a phrase is filled
in; a language has every key with the same names in braces. Another language is a further entry
beside each phrase, and its code in ``site/schema/crew.py``.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from importlib.resources import files

from dripfield.core.cautions import Topic, caution
from dripfield.core.units import Unit

Say = Callable[..., str]
"""A phrase by its key, filled in."""


@cache
def phrases() -> dict[str, dict[str, str]]:
    """Phrase by key and language."""
    text = (files("dripfield.sheets.crew") / "words.json").read_text(encoding="utf-8")
    table: dict[str, dict[str, str]] = json.loads(text)
    return table


def speaking(language: str) -> Say:
    """What gives phrases in a language.

    Parameters
    ----------
    language : str
        As in ``[crew] language``.

    Returns
    -------
    callable
        Takes a key and what stands in its braces.
    """
    table = phrases()

    def say(key: str, **values: object) -> str:
        return table[key][language].format(**values)

    return say


def say_unit(unit: Unit, language: str) -> str:
    """The unit's name."""
    return phrases()[f"unit_{unit.value}"][language]


def say_caution(topic: Topic, language: str) -> str:
    """A caution; the English words are those of every other sheet."""
    return caution(topic) if language == "en" else phrases()[f"caution_{topic}"][language]
