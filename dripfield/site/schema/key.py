"""How a key of ``site.toml`` is declared: once, with words, unit, default, bounds and example.

A key is a field of a table, annotated with what :func:`key` returns::

    rod_length: Annotated[
        Positive | None,
        key("greatest reading of the rod", unit="length", default=(13.0, 4.0), least=(2.0, 0.6)),
    ] = None

The starter site, the reference of keys and the JSON Schema are generated from these declarations
by :mod:`dripfield.site.reference`; :func:`resolve` and :func:`setting` fill in the defaults and
:mod:`dripfield.site.bounds` holds the bounds.
"""

from __future__ import annotations

import functools
import typing
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar

import msgspec
from msgspec import Meta

from dripfield.core.units import Unit

Positive = Annotated[float, Meta(gt=0)]
NotNegative = Annotated[float, Meta(ge=0)]
Fraction = Annotated[float, Meta(ge=0, lt=1)]
Words = Annotated[str, Meta(pattern=r"\S")]

UNITS = {
    "length": ("ft", "m"),
    "area": ("ft2", "m2"),
    "bore": ("in", "mm"),
    "pressure": ("psi", "kPa"),
    "head": ("ft", "m"),
    "flow": ("gal/min", "L/min"),
    "flow and head": ("gal/min, ft", "L/min, m"),
    "emitter flow": ("gal/h", "L/h"),
    "daily flow": ("gal/day", "L/day"),
    "loading": ("gal/ft2/day", "L/m2/day"),
    "velocity": ("ft/s", "m/s"),
    "temperature": ("degF", "degC"),
    "degrees": ("degrees", "degrees"),
}
"""What a quantity is measured in on a site in feet (US gallons) and on one in metres."""

Pair = tuple[float, float]
_Table = TypeVar("_Table", bound=msgspec.Struct)


@dataclass(frozen=True)
class Key:
    """What is declared of a key beside its type and its words.

    Attributes
    ----------
    unit : str
        A name from :data:`UNITS`; empty where there is none.
    default : (float, float) or None
        The round value used when the key is left out, for feet and for metres.
    absent : str
        What is done when it is left out, in words, where no default says it.
    instead : str
        The key in place of which this one may be given.
    least, most : (float, float) or None
        Bounds, for feet and for metres.
    why : str
        The reason of the bounds.
    """

    unit: str = ""
    default: Pair | None = None
    absent: str = ""
    least: Pair | None = None
    most: Pair | None = None
    why: str = ""
    instead: str = ""

    def unit_of(self, unit: Unit) -> str:
        """What the key is measured in on a site of this unit; empty for none."""
        return UNITS[self.unit][unit.is_metric] if self.unit else ""


def key(
    words: str,
    *,
    unit: str = "",
    example: Any = None,
    default: Pair | None = None,
    absent: str = "",
    least: Pair | None = None,
    most: Pair | None = None,
    why: str = "",
    instead: str = "",
) -> Meta:
    """The declaration of a key, to stand in its field's ``Annotated``.

    Parameters
    ----------
    words : str
        What the key says, in a line that reads on from "the key is …", without its unit.
    unit : str
        A name from :data:`UNITS`.
    example : object, optional
        A value that the starter shows, on a site in feet; left out: the default.
    default : (float, float), optional
        The round value for feet and for metres where the default depends on the unit; the field's
        own default is then None.
    absent : str
        What is done when the key is left out, where no default says it.
    least, most : (float, float), optional
        Bounds for feet and for metres.
    why : str
        The reason of the bounds, for the message.
    instead : str
        The key in place of which this one may be given.

    Returns
    -------
    msgspec.Meta
    """
    if unit and unit not in UNITS:
        raise KeyError(unit)
    declared = Key(unit, default, absent, least, most, why, instead)
    examples = None if example is None else [example]
    return Meta(description=words, examples=examples, extra={"key": declared})


@dataclass(frozen=True)
class Field:
    """A key as its table declares it.

    Attributes
    ----------
    name : str
        As written in ``site.toml``.
    attribute : str
        As a Python attribute.
    words : str
    key : Key
    example : object
        None where none is given.
    default : object
        The field's own default; ``msgspec.NODEFAULT`` where the key must be given.
    type : object
        Its annotated type.
    """

    name: str
    attribute: str
    words: str
    key: Key
    example: Any
    default: Any
    type: Any

    @property
    def required(self) -> bool:
        """True where the key must be given."""
        return self.default is msgspec.NODEFAULT


@functools.cache
def fields_of(table: type[msgspec.Struct]) -> tuple[Field, ...]:
    """Every key of a table in the order in which they are declared."""
    hints = typing.get_type_hints(table, include_extras=True)
    found = []
    for field in msgspec.structs.fields(table):
        metas = [m for m in getattr(hints[field.name], "__metadata__", ()) if isinstance(m, Meta)]
        meta = next((m for m in metas if (m.extra or {}).get("key")), Meta())
        default = field.default
        if field.default_factory is not msgspec.NODEFAULT:
            default = field.default_factory()
        found.append(
            Field(
                name=field.encode_name,
                attribute=field.name,
                words=meta.description or "",
                key=(meta.extra or {}).get("key", Key()),
                example=meta.examples[0] if meta.examples else None,
                default=default,
                type=hints[field.name],
            )
        )
    return tuple(found)


def resolve(table: _Table, unit: Unit) -> _Table:
    """The same table with every default that depends on the unit filled in."""
    found = {
        field.attribute: unit.default(*field.key.default)
        for field in fields_of(type(table))
        if field.key.default is not None and getattr(table, field.attribute) is None
    }
    return msgspec.structs.replace(table, **found) if found else table


def setting(table: msgspec.Struct, name: str, unit: Unit) -> float:
    """The number that a table gives for a key, or the key's default for the unit.

    Parameters
    ----------
    table : msgspec.Struct
        A table of ``site.toml``.
    name : str
        A key of it that always has a value: one with a default.
    unit : Unit
        The site's unit.

    Returns
    -------
    float
        In the key's unit.
    """
    given = getattr(table, name)
    if given is None:
        default = next(one.key.default for one in fields_of(type(table)) if one.attribute == name)
        if default is None:
            raise KeyError(f"{name} has no default")
        return unit.default(*default)
    return float(given)
