"""``site.toml`` into :class:`SiteFile`: TOML from the standard library, validation by msgspec."""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from dripfield.core.errors import InputError, input_error
from dripfield.core.limits import FARTHEST, most
from dripfield.core.textfile import read_text
from dripfield.site.bounds import check_bounds
from dripfield.site.explain import explain, key_name
from dripfield.site.schema.site import SiteFile
from dripfield.site.toml_size import check_content, check_text


def read_settings(path: Path) -> SiteFile:
    """Read and validate ``site.toml``.

    Raises
    ------
    InputError
        Naming the row of a TOML error, or the table and key of a wrong value.
    """
    text = read_text(path, most("settings bytes"))
    check_text(path, text)
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise _syntax_error(path, text, str(problem)) from None
    except ValueError:  # a number of thousands of digits
        raise input_error("a number is too long", "write it plainly", file=path) from None
    except RecursionError:
        raise input_error("lists are nested too deep", "write it plainly", file=path) from None
    check_content(path, content)
    return convert(content, path)


def convert(content: dict[str, Any], path: Path) -> SiteFile:
    """Validate the content of a ``site.toml`` (dates may stand without quotes).

    Raises
    ------
    InputError
        A key that is not known, is missing, or holds what it may not.
    """
    plain = _plain(content)
    for place, value in _numbers(plain, ""):
        if not abs(value) <= FARTHEST:
            text = str(value)
            raise input_error(
                f"{text if len(text) < 30 else text[:12] + ' …'} is not a length or a number to "
                "work with",
                "give a finite number, at most 1e9",
                file=path,
                field=key_name(place),
            )
    try:
        file = msgspec.convert(plain, SiteFile, strict=True)
    except msgspec.ValidationError as problem:
        raise explain(path, plain, str(problem)) from None
    check_bounds(file, path)
    return file


def _plain(value: Any) -> Any:
    """The same content with TOML dates as the text a person would read."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return value


def _numbers(value: Any, place: str) -> Iterator[tuple[str, float]]:
    """Every floating point number with its place, written as msgspec writes it."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _numbers(item, f"{place}.{key}" if place else key)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _numbers(item, f"{place}[{number}]")
    elif isinstance(value, int | float):
        yield place, value


def _syntax_error(path: Path, text: str, finding: str) -> InputError:
    place = re.search(r" \(at line (\d+), column \d+\)", finding)
    row = int(place.group(1)) if place else text.count("\n") + 1
    what = re.sub(r" \(at [^)]*\)", "", finding)
    repeated = re.match("Cannot (overwrite|declare|mutate)", what)
    remedy = "give each table and key once" if repeated else 'write key = value, text in "quotes"'
    problem = f"this is not TOML: {what[:1].lower()}{what[1:]}"
    return input_error(problem, remedy, file=path, row=row)
