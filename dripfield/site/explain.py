"""What msgspec finds wrong with ``site.toml``, as a line that a person can act on.

Which table, which key, what was found, what is wanted, and the closest known key. Places are
written as msgspec writes them: ``bed.setbacks[0].distance``.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import msgspec

from dripfield.core.errors import InputError, input_error
from dripfield.site.schema.site import SiteFile

_FINDING = re.compile(r"(?P<what>.*?)(?: - at `\$\.?(?P<place>.*)`)?", re.DOTALL)
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
_BOUNDS = {"<": "less than", "<=": "at most", ">": "greater than", ">=": "at least", "": ""}


def explain(path: Path, content: dict[str, Any], finding: str) -> InputError:
    """The error for what msgspec found.

    Parameters
    ----------
    path : Path
        The settings file, to be named.
    content : dict
        What was validated.
    finding : str
        The text of msgspec's ``ValidationError``.

    Returns
    -------
    InputError
        Not raised.
    """
    match = _FINDING.fullmatch(finding)
    assert match is not None  # the pattern takes any text
    what, place = match["what"], match["place"] or ""
    if unknown := re.fullmatch(r"Object contains unknown field `(.*)`", what):
        return _unknown_key(path, place, unknown[1])
    if missing := re.fullmatch(r"Object missing required field `(.*)`", what):
        if not place:
            problem = f"the table [{missing[1]}] is missing"
            return input_error(problem, "add it with its keys", file=path)
        problem = f"the key {missing[1]!r} is missing"
        return input_error(problem, "add it", file=path, field=table_name(place))
    value = _value_at(content, place)
    whole_table = isinstance(value, dict) and not what.startswith("Expected")
    name = table_name(place) if whole_table else key_name(place)
    return input_error(*_wrong_value(what, place, value), file=path, field=name)


def _wrong_value(what: str, place: str, value: Any) -> tuple[str, str]:
    """Problem and remedy for a value that is not as it should be."""
    found = _shown(value)
    if wanted := re.fullmatch(r"Expected `(.*?)`, got `(.*?)`", what):
        kinds = [_KINDS.get(kind, kind) for kind in wanted[1].split(" | ") if kind != "null"]
        return f"{found} was found", f"give {' or '.join(kinds)}"
    if what.startswith("Invalid enum value"):
        return f"{found} was found", f"give one of {_choices(place)}"
    if size := re.fullmatch(r"Expected `(?:str|array)` of length (<=|>=|) ?(\d+).*", what):
        things = "entries" if isinstance(value, list) else "characters"
        bound = f"{_BOUNDS[size[1]]} {size[2]}".strip()
        return f"{len(value)} {things} were found", f"give {bound}"
    if what.startswith("Expected `str` matching regex"):  # the model asks for no other pattern
        return f"{found} says nothing", "write it in words"
    if limit := re.fullmatch(r"Expected `(?:float|int)` (<|<=|>|>=) (\S+)", what):
        bound = f"{_BOUNDS[limit[1]]} {float(limit[2]):g}"
        return f"{found} was found", f"give a number {bound}"
    return "the value is wrong", f"{what[:1].lower()}{what[1:]}"


def _shown(value: Any) -> str:
    """A value as its file has it, or its kind where it is more than one."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return _KINDS["object"]
    if isinstance(value, list):
        return _KINDS["array"]
    return repr(value) if value is not None else _KINDS["null"]


_GONE = {
    "warnings_off": "take it out: published rules apply only where [rules] check names their set, "
    "and [rules] off switches single ones off"
}


def _unknown_key(path: Path, place: str, key: str) -> InputError:
    tables = dict(_tables(msgspec.inspect.type_info(SiteFile), ""))
    here = re.sub(r"\[\d+\]", "", place)
    known = tables.get(here, [])
    problem = f"unknown key {key!r}" if place else f"unknown table or key {key!r}"
    elsewhere = [table for table, keys in tables.items() if key in keys and table]
    if key in _GONE:
        remedy = _GONE[key]
    elif key not in known and elsewhere:
        remedy = f"it belongs in {table_name(elsewhere[0])}"
    elif closest := difflib.get_close_matches(key, known, n=1, cutoff=0.0):
        remedy = f"the closest known is {closest[0]!r}"
    else:
        remedy = "this table has no keys yet: remove it"
    return input_error(problem, remedy, file=path, field=table_name(place) if place else None)


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
        if isinstance(kind, msgspec.inspect.Metadata):
            yield from _parts([kind.type])
        elif isinstance(kind, msgspec.inspect.UnionType):
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


def table_name(place: str) -> str:
    """``bed.setbacks[0]`` as ``[[bed.setbacks]] 1``, ``layout`` as ``[layout]``."""
    if entry := re.fullmatch(r"(.*)\[(\d+)\]", place):
        return f"[[{entry[1]}]] {int(entry[2]) + 1}"
    return f"[{place}]"


def key_name(place: str) -> str:
    """``layout.spacing`` as ``[layout] spacing``; ``bed.keepouts[1]`` as ``[bed] keepouts 2``."""
    if entry := re.fullmatch(r"(.*)\[(\d+)\]", place):
        return f"{key_name(entry[1])} {int(entry[2]) + 1}"
    table, _, key = place.rpartition(".")
    return f"{table_name(table)} {key}" if table else key
