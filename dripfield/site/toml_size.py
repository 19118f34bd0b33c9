"""How large and how deep a ``site.toml`` may be, looked at before and after it is parsed."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from dripfield.core.errors import input_error
from dripfield.core.limits import LIMITS, check_count, most

_KEY = r'[ \t]*(?:[A-Za-z0-9_-]+|"[^"\n]*"|\'[^\'\n]*\')[ \t]*\.'
_DEEP_KEY = re.compile(rf"^[ \t]*\[{{0,2}}(?:{_KEY}){{{most('key nesting')}}}", re.MULTILINE)


def check_text(path: Path, text: str) -> None:
    """Refuse keys of very many parts, which take the parser time that grows with their square.

    Raises
    ------
    InputError
        Naming the row.
    """
    deep = _DEEP_KEY.search(text)
    if deep is not None:
        raise input_error(
            f"a key has more than {most('key nesting')} parts",
            "write table and key as the starter does",
            file=path,
            row=text.count("\n", 0, deep.start()) + 1,
        )
    check_count("keys", text.count("="), path, "write each key once")


def check_content(path: Path, content: dict[str, Any]) -> None:
    """Refuse content that is too much, too deep or too long to be a site's settings.

    Raises
    ------
    InputError
        Naming what there is too much of.
    """
    values = 0
    level: list[Any] = [content]
    for _ in range(most("key nesting") + 1):
        below: list[Any] = []
        for value in level:
            if isinstance(value, dict):
                below.extend(value.values())
                for key in value:
                    _check_characters(path, key)
            elif isinstance(value, list):
                below.extend(value)
            elif isinstance(value, str):
                _check_characters(path, value)
            elif isinstance(value, int) and abs(value) >= 10 ** most("digits"):
                raise input_error("a number is too long", "write it plainly", file=path)
        values += len(below)
        check_count("keys", values, path, "write each key once")
        level = below
        if not level:
            return
    raise input_error(
        f"its tables and lists lie more than {most('key nesting')} deep", "write it plainly",
        file=path,
    )  # fmt: skip


def _check_characters(path: Path, text: str) -> None:
    if len(text) > most("characters"):
        raise input_error(
            f"the text {text[:30]!r} … has {len(text):,} {LIMITS['characters'].what} and at most "
            f"{most('characters'):,} are taken",
            "shorten it",
            file=path,
        )
