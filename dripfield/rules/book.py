"""The rules as data, and choosing among them by name."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Collection, Sequence
from functools import cache
from importlib.resources import files
from typing import Literal

import msgspec

from dripfield.core.errors import InputError, input_error


class Rule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One published rule; ``rules.toml`` says what each field holds."""

    id: str
    set: str
    jurisdiction: str
    title: str
    citation: str
    copy: str
    status: Literal["confirmed", "secondary", "memory"]
    text: str
    check: str
    parameters: dict[str, float] = {}


class _Book(msgspec.Struct, forbid_unknown_fields=True):
    rule: list[Rule]


@cache
def rule_book() -> tuple[Rule, ...]:
    """Every built-in rule, set by set."""
    text = (files("dripfield.rules") / "rules.toml").read_text(encoding="utf-8")
    return tuple(msgspec.convert(tomllib.loads(text), _Book).rule)


def chosen_rules(names: Sequence[str], off: Collection[str] = ()) -> tuple[Rule, ...]:
    """The rules of the named sets, less those switched off.

    Parameters
    ----------
    names : sequence of str
        Names of rule sets ("alabama"), as in ``[rules] check``.
    off : collection of str
        Ids of single rules, as in ``[rules] off``.

    Returns
    -------
    tuple of Rule
        In the book's order, each once.

    Raises
    ------
    InputError
        A name that is not known, with the closest one that is.
    """
    book = rule_book()
    sets = list(dict.fromkeys(rule.set for rule in book))
    ids = [rule.id for rule in book]
    for name in names:
        if name not in sets:
            raise _unknown("rule set", name, sets, "check")
    for name in off:
        if name not in ids:
            raise _unknown("rule", name, ids, "off")
    return tuple(rule for rule in book if rule.set in names and rule.id not in off)


def _unknown(kind: str, name: str, known: list[str], key: str) -> InputError:
    closest = difflib.get_close_matches(name.lower(), known, n=1, cutoff=0.0)[0]
    return input_error(
        f"unknown {kind} {name!r}",
        f"the closest known is {closest!r}",
        file="site.toml",
        field=f"[rules] {key}",
    )
