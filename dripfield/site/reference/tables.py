"""Every table of ``site.toml`` in the order in which its keys are declared."""

from __future__ import annotations

import re
import typing
from dataclasses import dataclass
from typing import Any

import msgspec

from dripfield.core.units import Unit
from dripfield.site.schema.key import UNITS, Field, fields_of
from dripfield.site.schema.site import SiteFile


@dataclass(frozen=True)
class Table:
    """A table of ``site.toml``.

    Attributes
    ----------
    place : str
        Its dotted name, ``bed.setbacks``.
    kind : type
        The struct that declares it.
    repeated : bool
        True for a list of tables, ``[[bed.setbacks]]``.
    inline : bool
        True where it is written inside its key's value, ``{ point = …, reason = … }``.
    """

    place: str
    kind: type[msgspec.Struct]
    repeated: bool
    inline: bool

    @property
    def heading(self) -> str:
        """As it is written in the file."""
        return f"[[{self.place}]]" if self.repeated else f"[{self.place}]"

    @property
    def words(self) -> str:
        """What it is, a paragraph, from its docstring."""
        return self.paragraphs[0]

    @property
    def paragraphs(self) -> tuple[str, ...]:
        """Its docstring without the name of the table, a line each."""
        text = re.sub(r"^``\S+``: ", "", (self.kind.__doc__ or "").strip())
        parts = [" ".join(part.split()) for part in text.split("\n\n")]
        return tuple(part[:1].upper() + part[1:] for part in parts)

    @property
    def own_fields(self) -> tuple[Field, ...]:
        """Its keys without those that are tables of their own."""
        return tuple(field for field in fields_of(self.kind) if field.words)


def tables(kind: type[msgspec.Struct] = SiteFile, place: str = "") -> list[Table]:
    """Every table under a struct, those that hold others before them."""
    found = []
    for field in fields_of(kind):
        name = f"{place}.{field.name}" if place else field.name
        for part, repeated in _structs(field.type, repeated=False):
            inline = field.example is not None
            found.append(Table(name, part, repeated, inline))
            found += tables(part, name)
    return found


def _structs(kind: Any, *, repeated: bool) -> list[tuple[type[msgspec.Struct], bool]]:
    """Structs that a type holds, and whether in a list."""
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        return [(kind, repeated)]
    repeated = repeated or typing.get_origin(kind) is list
    parts = typing.get_args(kind)
    if hasattr(kind, "__metadata__"):
        parts = parts[:1]
    return [found for part in parts for found in _structs(part, repeated=repeated)]


def shown_value(field: Field) -> Any:
    """The value that an example of the key shows: its own example or default, on a site in feet."""
    if field.example is not None:
        return field.example
    if field.key.default is not None:
        return field.key.default[0]
    return field.default


def toml(value: Any) -> str:
    """A value as TOML, on one line."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_name(key)} = {toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml(one) for one in value) + "]"
    if isinstance(value, float):
        return decimal(value)
    return f'"{value}"' if isinstance(value, str) else str(value)


def _name(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else f'"{key}"'


def decimal(value: float) -> str:
    """A number without an exponent: ``0.00006``, ``2.0``."""
    text = f"{value:.10f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else text


def in_both(pair: tuple[float, float], unit: str) -> str:
    """A pair of values with their units: ``0.1 ft (0.03 m)``, or one where they are the same."""
    names = UNITS[unit] if unit else ("", "")
    one, other = (f"{value:,.10g} {name}".strip() for value, name in zip(pair, names, strict=True))
    return one if one == other else f"{one} ({other})"


def default_in_words(field: Field) -> str:
    """What holds when the key is left out."""
    key = field.key
    if field.required:
        return "must be given"
    if key.default is not None:
        return in_both(key.default, key.unit)
    if key.absent:
        return key.absent
    if field.default is None or field.default in ("", {}, []):
        return "none"
    if isinstance(field.default, float) and key.unit and key.unit != "degrees":
        return decimal(field.default).removesuffix(".0")
    return toml(field.default)


def with_unit(field: Field, unit: str) -> str:
    """The words of a key with a unit in brackets after their first part."""
    first, mark, rest = field.words.partition("; ")
    return f"{first} [{unit}]{mark}{rest}" if unit else field.words


def unit_in_words(field: Field) -> str:
    """The units of a key, of a site in feet and of one in metres."""
    names = [field.key.unit_of(unit) for unit in (Unit.FOOT, Unit.METRE)]
    return names[0] if names[0] == names[1] else f"{names[0]} ({names[1]})"
