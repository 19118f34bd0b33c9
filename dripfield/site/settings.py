"""``site.toml`` into :class:`SiteFile`: TOML from the standard library, validation by msgspec.

What is here beyond the two libraries turns their findings into a line that a person can act on:
which table, which key, what was found, what is wanted, and the closest known key.
"""

from __future__ import annotations

import datetime
import difflib
import math
import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import msgspec

from dripfield.errors import InputError, input_error
from dripfield.site.model import SiteFile
from dripfield.textfile import read_text

_MOST_BYTES = 1_000_000
_FINDING = re.compile(r"(?P<what>.*?)(?: - at `\$\.?(?P<path>.*)`)?", re.DOTALL)
_KINDS = {
    "float": "a number",
    "int": "a whole number",
    "str": "text in quotes",
    "bool": "true or false",
    "array": "a list",
    "object": "a table",
    "null": "nothing",
    "date": "a date",
    "datetime": "a date and time",
}


def read_settings(path: Path) -> SiteFile:
    """Read and validate ``site.toml``.

    Raises
    ------
    InputError
        Naming the row of a TOML error, or the table and key of a wrong value.
    """
    text = read_text(path, _MOST_BYTES)
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise _syntax_error(path, text, str(problem)) from None
    except RecursionError:
        raise input_error("lists are nested too deep", "write it plainly", file=path) from None
    return convert(content, path)


def convert(content: dict[str, Any], path: Path) -> SiteFile:
    """Validate the content of a ``site.toml`` (dates may stand without quotes)."""
    plain = _plain(content)
    for place, value in _numbers(plain, ""):
        if not math.isfinite(value):
            raise input_error(
                f"{value} is not a length or a number to work with",
                "give a finite number",
                file=path,
                field=_field(place),
            )
    try:
        return msgspec.convert(plain, SiteFile, strict=True)
    except msgspec.ValidationError as problem:
        raise _explain(path, plain, str(problem)) from None


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
    elif isinstance(value, float):
        yield place, value


def _syntax_error(path: Path, text: str, finding: str) -> InputError:
    place = re.search(r" \(at line (\d+), column \d+\)", finding)
    row = int(place.group(1)) if place else text.count("\n") + 1
    what = re.sub(r" \(at [^)]*\)", "", finding)
    repeated = re.match("Cannot (overwrite|declare|mutate)", what)
    remedy = "give each table and key once" if repeated else 'write key = value, text in "quotes"'
    problem = f"this is not TOML: {what[:1].lower()}{what[1:]}"
    return input_error(problem, remedy, file=path, row=row)


def _explain(path: Path, content: dict[str, Any], finding: str) -> InputError:
    """An :class:`InputError` for what msgspec found."""
    match = _FINDING.fullmatch(finding)
    what, place = (match["what"], match["path"] or "") if match else (finding, "")
    if unknown := re.fullmatch(r"Object contains unknown field `(.*)`", what):
        return _unknown_key(path, place, unknown[1])
    if missing := re.fullmatch(r"Object missing required field `(.*)`", what):
        if place:
            problem = f"the key {missing[1]!r} is missing"
            return input_error(problem, "add it", file=path, field=_table(place))
        return input_error(
            f"the table [{missing[1]}] is missing", "add it with its keys", file=path
        )
    value = _value_at(content, place)
    found = f"{value!r} was found" if isinstance(value, str | int | float) else "the value is wrong"
    if isinstance(value, bool):
        found = f"{str(value).lower()} was found"
    if wanted := re.fullmatch(r"Expected `(.*?)`, got `(.*?)`", what):
        kinds = [_KINDS.get(kind, kind) for kind in wanted[1].split(" | ") if kind != "null"]
        remedy = f"give {' or '.join(kinds)}"
        if value is None or isinstance(value, dict | list):
            found = f"{_KINDS.get(wanted[2], wanted[2])} was found"
    elif what.startswith("Invalid enum value"):
        remedy = f"give one of {_choices(place)}"
    elif size := re.fullmatch(r"Expected `(?:str|array)` of length (>= |<= )?(\d+).*", what):
        bound = {">= ": "at least ", "<= ": "at most ", None: ""}[size[1]]
        unit = "entries" if isinstance(value, list) else "characters"
        found = f"{len(value)} {unit} were found"
        remedy = f"give {bound}{size[2]}"
    elif limit := re.fullmatch(r"Expected `(?:float|int)` (<|<=|>|>=) (\S+)", what):
        words = {"<": "less than", "<=": "at most", ">": "greater than", ">=": "at least"}
        remedy = f"give a number {words[limit[1]]} {float(limit[2]):g}"
    else:
        remedy = f"{what[:1].lower()}{what[1:]}"
    is_table = isinstance(value, dict) and not what.startswith("Expected")
    return input_error(found, remedy, file=path, field=_table(place) if is_table else _field(place))


def _unknown_key(path: Path, place: str, key: str) -> InputError:
    tables = dict(_tables(msgspec.inspect.type_info(SiteFile), ""))
    here = re.sub(r"\[\d+\]", "", place)
    known = tables.get(here, [])
    problem = f"unknown key {key!r}" if place else f"unknown table or key {key!r}"
    elsewhere = [table for table, keys in tables.items() if key in keys and table]
    if key not in known and elsewhere:
        remedy = f"it belongs in {_table(elsewhere[0])}"
    elif closest := difflib.get_close_matches(key, known, n=1, cutoff=0.0):
        remedy = f"the closest known is {closest[0]!r}"
    else:
        remedy = "this table has no keys yet: remove it"
    return input_error(problem, remedy, file=path, field=_table(place) if place else None)


def _tables(kind: msgspec.inspect.Type, place: str) -> Iterator[tuple[str, list[str]]]:
    """Every table under a type with its keys, by dotted name."""
    for part in _parts([kind]):
        if isinstance(part, msgspec.inspect.StructType):
            yield place, [field.encode_name for field in part.fields]
            for field in part.fields:
                name = f"{place}.{field.encode_name}" if place else field.encode_name
                yield from _tables(field.type, name)


def _choices(place: str) -> str:
    """The words that a key takes, quoted, in the model's order of them."""
    kinds = [msgspec.inspect.type_info(SiteFile)]
    for name in re.sub(r"\[\d+\]", "", place).split("."):
        kinds = [
            field.type
            for kind in _parts(kinds)
            if isinstance(kind, msgspec.inspect.StructType)
            for field in kind.fields
            if field.encode_name == name
        ]
    words = [
        f'"{value}"'
        for kind in _parts(kinds)
        if isinstance(kind, msgspec.inspect.LiteralType)
        for value in kind.values
    ]
    return ", ".join(words)


def _parts(kinds: Iterable[msgspec.inspect.Type]) -> Iterator[msgspec.inspect.Type]:
    """What lists, tuples and unions hold, at any depth, and every other type itself."""
    for kind in kinds:
        if isinstance(kind, msgspec.inspect.UnionType):
            yield from _parts(kind.types)
        elif isinstance(kind, msgspec.inspect.ListType):
            yield from _parts([kind.item_type])
        elif isinstance(kind, msgspec.inspect.TupleType):
            yield from _parts(kind.item_types)
        else:
            yield kind


def _value_at(content: Any, place: str) -> Any:
    for key, number in re.findall(r"([^.\[\]]+)|\[(\d+)\]", place):
        content = content[key] if key else content[int(number)]
    return content


def _table(place: str) -> str:
    """``bed.setbacks[0]`` as ``[[bed.setbacks]] 1``, ``layout`` as ``[layout]``."""
    if entry := re.fullmatch(r"(.*)\[(\d+)\]", place):
        return f"[[{entry[1]}]] {int(entry[2]) + 1}"
    return f"[{place}]"


def _field(place: str) -> str:
    """``layout.spacing`` as ``[layout] spacing``; ``bed.keepouts[1]`` as ``[bed] keepouts 2``."""
    if entry := re.fullmatch(r"(.*)\[(\d+)\]", place):
        return f"{_field(entry[1])} {int(entry[2]) + 1}"
    table, _, key = place.rpartition(".")
    return f"{_table(table)} {key}" if table else key
